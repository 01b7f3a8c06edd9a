"""What a clause is worked out from: layers and classes, columns of the record, profile, sun, register."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tussock.permit.condition import Condition

CAPTURE, RELEASE = "place of capture", "place of release"
LEGEND = (
    f"{CAPTURE}, {RELEASE}: decimalLatitude, decimalLongitude, coordinateUncertaintyInMeters; "
    "before a release the planned site with its radius"
)
"""Short names used in the lists, spelt out once."""
_PROFILE = "the species' profile"
_REGISTER = "consent register"
_SUN = "height of the sun there and then, calculated"
_ZONE = "the permit's time zone"


def sources(clause: Condition) -> tuple[str, ...]:
    """Return what a clause reads; its layers with the classes that count."""
    own = _OF_KIND.get(clause.kind)
    return own(clause) if own else _layers(clause)


def listed(words: tuple[str, ...]) -> str:
    """Return words as people write a list.

    Examples
    --------
    >>> listed(("a", "b", "c"))
    'a, b and c'
    """
    return " and ".join(", ".join(words).rsplit(", ", 1)) if words else ""


def _layers(clause: Condition) -> tuple[str, ...]:
    return tuple(
        f"layer {use.layer}, {_class_words(use.classes, areas=use.areas)}" for use in clause.layers()
    )


def _class_words(classes: tuple[str, ...] | None, *, areas: bool) -> str:
    if classes is None:
        return "every polygon" if areas else "every class"
    return f"class{'' if len(classes) == 1 else 'es'} {listed(classes)}"


def _placed(clause: Any) -> tuple[str, ...]:
    return (RELEASE, *_layers(clause))


def _both_placed(clause: Any) -> tuple[str, ...]:
    return (CAPTURE, RELEASE, *_layers(clause))


def _same_habitat(clause: Any) -> tuple[str, ...]:
    return (CAPTURE, RELEASE, "layer habitat, its natural classes", f"home range in {_PROFILE}")


def _patch(clause: Any) -> tuple[str, ...]:
    if clause.of == "property":
        return (RELEASE, "layer parcels, every polygon", f"{_REGISTER}: which parcels one consent covers")
    classes = "its natural classes" if clause.classes is None else _class_words(clause.classes, areas=True)
    return (RELEASE, f"layer habitat, {classes}", "layer barriers, which divide habitat")


def _area(clause: Any) -> tuple[str, ...]:
    places = {"site": (RELEASE,), "capture": (CAPTURE,), "both": (CAPTURE, RELEASE)}[clause.of]
    if getattr(clause, "unless_captured_within", False):
        return (CAPTURE, *places, *_layers(clause), f"{_REGISTER}: layer, featureID, validFrom, validTo")
    return (*places, *_layers(clause))


def _releases_near(clause: Any) -> tuple[str, ...]:
    species = ", scientificName" if clause.species == "same" else ""
    return (RELEASE, f"earlier releases in your record: place, eventDate, individualCount{species}")


def _listed_animal(clause: Any) -> tuple[str, ...]:
    named = ("scientificName of the animal",) if clause.species else ()
    return (*named, "origin, as answered") if clause.origin else named


def _holding(clause: Any) -> tuple[str, ...]:
    start = "trapCheckDate" if clause.from_ == "trap_check" else "eventDate of the capture"
    return (start, "when holding ended (eventDate of the release)", *_late(clause))


def _same_day(clause: Any) -> tuple[str, ...]:
    return ("eventDate of the capture", "when holding ended (eventDate of the release)", _ZONE)


def _late(clause: Any) -> tuple[str, ...]:
    return (_ZONE,) if clause.captured_after is not None else ()


def _window(clause: Any) -> tuple[str, ...]:
    moment = "eventDate of the release"
    if clause.window == "daylight":
        return (moment, RELEASE, _SUN)
    if clause.window == "active_period":
        return (moment, f"active period in {_PROFILE}", RELEASE, _SUN)
    return (moment, _ZONE)


def _weather(clause: Any) -> tuple[str, ...]:
    return ("air temperature recorded at release",)


def _handlers(clause: Any) -> tuple[str, ...]:
    persons = "persons of this clause" if clause.persons else "authorised_persons at the top of this file"
    return ("recordedBy of the capture and of the end of holding", persons)


def _quota(clause: Any) -> tuple[str, ...]:
    species = ", scientificName" if clause.species else ""
    return (f"every capture of the period in your record: eventDate, individualCount{species}", _ZONE)


def _consent(clause: Any) -> tuple[str, ...]:
    columns = ["parcelID", "validFrom", "validTo", "withdrawnOn", "species", "number"]
    columns += [*(["written"] if clause.written else []), *(["tenure"] if clause.tenures else [])]
    return (RELEASE, "layer parcels, every polygon", f"{_REGISTER}: {', '.join(columns)}")


def _answer(clause: Any) -> tuple[str, ...]:
    photo = (f"a photo taken {_ASKED[clause.ask_at]}",) if clause.photo else ()
    return (f"your answer {_ASKED[clause.ask_at]}", *photo)


_ASKED = {
    "capture": "at the capture",
    "plan": "when planning",
    "site": "at the spot",
    "release": "at the release",
    "return": "with the return",
}
_OF_KIND: dict[str, Callable[[Any], tuple[str, ...]]] = {
    "max_distance_from_capture": _both_placed,
    "min_distance_from": _placed,
    "habitat_in": _placed,
    "same_habitat_as_capture": _same_habitat,
    "min_patch_area": _patch,
    "within": _area,
    "not_within": _area,
    "same_polygon_as_capture": _both_placed,
    "no_barrier_between": _both_placed,
    "nearest_suitable": lambda c: ("the sites of the plan that was followed", CAPTURE, RELEASE),
    "max_releases_near": _releases_near,
    "species_listed": _listed_animal,
    "species_not_released": _listed_animal,
    "animal_condition": lambda c: ("animalCondition, as answered",),
    "species_in_range": lambda c: (
        RELEASE,
        "scientificName of the animal",
        f"layer {c.layer}, the class that is the species' name",
    ),
    "max_holding_hours": _holding,
    "same_calendar_day": _same_day,
    "release_window": _window,
    "checked_every_hours": lambda c: ("times at which the held animal was looked at, in your record",),
    "record_within_hours": lambda c: ("recordedDate", "eventDate of what it is about"),
    "incident_reported_within_hours": lambda c: (
        "incidents in your record: when each happened and when it was reported",
    ),
    "weather_within": _weather,
    "handled_by": _handlers,
    "quota": _quota,
    "disposed_to": lambda c: ("disposal: how holding ended",),
    "record_complete": lambda c: (f"columns {listed(c.fields)}",),
    "consent_recorded": _consent,
    "attested": _answer,
    "return_due": lambda c: ("every capture and release of the period in your record",),
}
