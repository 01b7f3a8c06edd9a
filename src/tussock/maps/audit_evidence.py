"""What would settle a finding: which paper, track or word to look for, by reason and by kind of clause.

Wording of this project; no authority's list of what it accepts.
"""

from __future__ import annotations

from collections.abc import Iterable

from tussock.interval import Verdict
from tussock.measure.judging import ClauseResult

BY_REASON = {
    "position": "a track or photo with position, or a note of where exactly it was, that narrows the radius",
    "assumed": "the accuracy that the device showed, or a track: the radius was not recorded",
    "edge of data": "ground data, or a witness of the ground, beyond where the map ends",
    "layer": "the feature's place measured on the ground",
    "datum": "the datum that the device was set to",
    "date": "what stood there on the day: a dated photo, or the date it was built or closed",
    "grid": "the place measured exactly",
    "plane": "the place measured on the ground",
}
"""Reason that makes a value wide → what narrows it."""
BY_KIND = {
    "max_distance_from_capture": "a track from the capture to the release, or photos with position of both",
    "min_distance_from": "a track or photo with position of the release; what stood there on the day",
    "habitat_in": "a dated photo of the ground at the release",
    "same_habitat_as_capture": "dated photos of the ground at the capture and at the release",
    "min_patch_area": "a dated photo from the air, or a survey of the habitat round the release",
    "within": "a track or photo with position; the boundary in force on the day",
    "not_within": "a track or photo with position; the boundary in force on the day; leave of whoever "
    "manages the area",
    "same_polygon_as_capture": "a track or photo with position of the capture and of the release",
    "no_barrier_between": "the way taken, and where the barrier can be crossed by an animal",
    "nearest_suitable": "the plan that was followed",
    "species_listed": "a photo of the animal, or an identification by someone competent",
    "species_not_released": "a photo of the animal, or an identification by someone competent",
    "animal_condition": "notes or photos of the animal's state; a vet's or carer's record",
    "species_in_range": "a photo of the animal; a source for the species' range",
    "max_releases_near": "the places of the earlier releases, as exactly as they are known",
    "max_holding_hours": "the times of capture and of the end of holding: messages, photos, call records",
    "same_calendar_day": "the times of capture and of the end of holding: messages, photos, call records",
    "release_window": "the time of the release: a message, photo or track with its time",
    "checked_every_hours": "notes of when the held animal was looked at",
    "record_within_hours": "when the record was first written: notes or messages made at the time",
    "incident_reported_within_hours": "the report as sent, with its date",
    "weather_within": "the air temperature noted at the release, or of a station near it",
    "handled_by": "who handled the animal, and under whose authority",
    "quota": "the count of animals taken, and any leave for more",
    "disposed_to": "the receipt of whoever took the animal",
    "record_complete": "the notes that the empty fields can be filled from",
    "consent_recorded": "the written consent of whoever owns or manages the ground, with its dates",
    "attested": "a dated photo of the place, or the answer of whoever was there",
    "return_due": "the return as sent, with its date",
}
"""Kind of clause → what shows whether it was met."""
IN_FORCE = "a permit, or the authority's leave, for that day"
TIMES = "notes or messages made at the time, to correct the wrong one"
NO_CAPTURE = "the record of the capture, or the right captureID"
OTHER = "notes, photos or messages made at the time"


def evidence_for(result: ClauseResult) -> str:
    """Return what would settle one clause of a record.

    Where the value is only too wide, what narrows it; else what the clause is about.
    """
    if result.verdict is Verdict.UNCERTAIN and result.reason in BY_REASON:
        return BY_REASON[result.reason]
    if result.at_worst:
        return f"{result.doubt}: notes or photos made at the capture, or whoever saw the animal"
    return BY_KIND.get(result.kind, OTHER)


def evidence_list(results: Iterable[ClauseResult], *, gaps: bool, contradictions: bool) -> tuple[str, ...]:
    """Return what would settle several clauses of a record, each once."""
    found = [evidence_for(r) for r in results]
    more = [words for words, wanted in ((IN_FORCE, gaps), (TIMES, contradictions)) if wanted]
    return tuple(dict.fromkeys([*more, *found]))
