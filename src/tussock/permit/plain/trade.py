"""What each kind of clause is about, in the words of the trade, and an invented clause as an example."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum


class Topic(StrEnum):
    """What a clause of a paper permit is about."""

    PLACE = "distance and place"
    ANIMAL = "the animal"
    TIME = "time and weather"
    RECORD = "records, people and consent"
    PERSON = "anything else: a person answers it"


@dataclass(frozen=True)
class Trade:
    """A kind of clause: its topic, its title, and how an authority may put it (invented)."""

    topic: Topic
    title: str
    example: str


TRADE: dict[str, Trade] = {
    "max_distance_from_capture": Trade(
        Topic.PLACE,
        "not too far from where it was caught",
        "Release within three kilometres of the place of capture.",
    ),
    "min_distance_from": Trade(
        Topic.PLACE,
        "not too near to homes, roads, schools, water …",
        "Release no nearer than 250 metres to a dwelling.",
    ),
    "habitat_in": Trade(
        Topic.PLACE, "in certain kinds of habitat", "Animals are let go in woodland or grassland."
    ),
    "same_habitat_as_capture": Trade(
        Topic.PLACE,
        "in the kind of habitat it was caught in",
        "The place of release resembles the place of capture.",
    ),
    "min_patch_area": Trade(
        Topic.PLACE,
        "on a large enough piece of habitat or property",
        "The property has at least 30 acres in one piece.",
    ),
    "within": Trade(
        Topic.PLACE,
        "inside an area: the permit's district …",
        "This permit is for the shire of Pellerwick only.",
    ),
    "not_within": Trade(
        Topic.PLACE, "outside an area: parks, burnt ground …", "No animal is let go in a nature reserve."
    ),
    "same_polygon_as_capture": Trade(
        Topic.PLACE,
        "in the same county, catchment or zone as the capture",
        "An animal stays in the county it was caught in.",
    ),
    "no_barrier_between": Trade(
        Topic.PLACE,
        "not across a barrier: a highway, a river …",
        "Do not take an animal across the river.",
    ),
    "nearest_suitable": Trade(
        Topic.PLACE, "at the nearest suitable place", "Release at the nearest place that suits the animal."
    ),
    "max_releases_near": Trade(
        Topic.PLACE,
        "not too many releases at one spot",
        "Not more than five animals within 200 metres in any 30 days.",
    ),
    "species_listed": Trade(
        Topic.ANIMAL, "only certain species may be taken", "Only the species of schedule 1 are taken."
    ),
    "species_not_released": Trade(
        Topic.ANIMAL,
        "certain species, or escaped or foreign animals, are not released",
        "Animals of foreign origin are handed to the authority.",
    ),
    "animal_condition": Trade(
        Topic.ANIMAL,
        "only animals in a certain state are released",
        "Injured animals are taken to a veterinarian.",
    ),
    "species_in_range": Trade(
        Topic.ANIMAL, "within the species' mapped range", "Release within the natural range of the species."
    ),
    "max_holding_hours": Trade(
        Topic.TIME, "not held longer than some hours", "No animal is held for more than 18 hours."
    ),
    "same_calendar_day": Trade(
        Topic.TIME, "let go on the day it was caught", "Animals are released on the day of capture."
    ),
    "release_window": Trade(
        Topic.TIME,
        "let go by daylight, in its active hours, or between two times",
        "Release between sunrise and sunset.",
    ),
    "checked_every_hours": Trade(
        Topic.TIME, "looked at every few hours while held", "Look at a held animal every three hours."
    ),
    "weather_within": Trade(
        Topic.TIME, "neither too cold nor too hot at release", "No release below 12 degrees."
    ),
    "record_within_hours": Trade(
        Topic.RECORD, "written down within some hours", "Entries are made within 36 hours."
    ),
    "incident_reported_within_hours": Trade(
        Topic.RECORD,
        "bites, escapes, deaths reported within some hours",
        "A bite is reported to the office within one day.",
    ),
    "handled_by": Trade(
        Topic.RECORD, "only certain people handle animals", "Only persons named above handle animals."
    ),
    "quota": Trade(
        Topic.RECORD, "no more than so many animals taken", "At most 60 animals a year are taken."
    ),
    "disposed_to": Trade(
        Topic.RECORD,
        "how holding may end: released, vet, authority …",
        "An animal is released, or handed to a carer.",
    ),
    "record_complete": Trade(
        Topic.RECORD, "what the record must say", "The book shows date, place and species."
    ),
    "consent_recorded": Trade(
        Topic.RECORD,
        "consent of whoever owns or manages the ground",
        "Release only with the landholder's written consent.",
    ),
    "return_due": Trade(
        Topic.RECORD,
        "a return or report due on a date",
        "Send your return for the year to 31 March by 30 April.",
    ),
    "attested": Trade(
        Topic.PERSON,
        "a question that you answer with yes or no",
        "The container is labelled with the permit's number.",
    ),
}
"""Kind → what it is about, in the order of the menu."""


_SHORTEST = 3
"""Shorter words point to nothing in particular [letters]."""


def trade_of(kind: str) -> Trade:
    """Return what a kind is about; for one without an entry its own name stands."""
    return TRADE.get(kind, Trade(Topic.PERSON, kind.replace("_", " "), ""))


def kinds_about(topic: Topic) -> tuple[str, ...]:
    """Return the kinds of a topic."""
    return tuple(kind for kind, trade in TRADE.items() if trade.topic is topic)


_ALSO = {
    "max_distance_from_capture": "distance radius far away kilometres miles",
    "min_distance_from": "distance buffer setback house building school playground road near",
    "habitat_in": "forest bush vegetation",
    "same_habitat_as_capture": "similar",
    "min_patch_area": "acres hectares size",
    "within": "county shire boundary region",
    "not_within": "reserve park national fire flood closed",
    "same_polygon_as_capture": "biosecurity district",
    "no_barrier_between": "fence road crossing",
    "max_releases_near": "same site repeated crowding",
    "species_listed": "list schedule taxa",
    "species_not_released": "exotic escaped foreign pet native",
    "animal_condition": "injured sick health vet veterinarian",
    "max_holding_hours": "keep kept possession hold time",
    "same_calendar_day": "midnight",
    "release_window": "night dusk dawn sunset nocturnal clock",
    "checked_every_hours": "check inspect transport",
    "weather_within": "temperature degrees heat rain",
    "record_within_hours": "log book entry register",
    "incident_reported_within_hours": "bite escape death report accident notify",
    "handled_by": "persons staff licensed agent",
    "quota": "number maximum limit count",
    "disposed_to": "euthanase carer disposal fate",
    "record_complete": "log book details columns",
    "consent_recorded": "permission landholder owner written approval",
    "return_due": "annual report",
    "attested": "label container shade refuge anything question",
}
"""Further words that authorities use, to find a kind by."""


def kinds_named(word: str) -> tuple[str, ...]:
    """Return the kinds that a word points to: in name, title, example or among further words.

    Examples
    --------
    >>> kinds_named("highway")
    ('no_barrier_between',)
    """
    low = " ".join(word.lower().split())
    if low.replace(" ", "_") in TRADE:
        return (low.replace(" ", "_"),)
    if len(low) < _SHORTEST:
        return ()
    begins = re.compile(rf"\b{re.escape(low)}")
    return tuple(kind for kind in TRADE if begins.search(_words(kind)))


def _words(kind: str) -> str:
    trade = TRADE[kind]
    return f"{kind.replace('_', ' ')} {trade.title} {trade.example} {_ALSO.get(kind, '')}".lower()
