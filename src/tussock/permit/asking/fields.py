"""What is asked for each field of a clause, in the words of the trade."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic.fields import FieldInfo

from tussock.names import (
    ANIMAL_CONDITIONS,
    DISPOSALS,
    HABITAT_CLASSES,
    ORIGINS,
    ROAD_CLASSES,
)
from tussock.permit.asking import answers as sort
from tussock.permit.asking import calendar_answers as calendar
from tussock.permit.asking.talk import Answer, Question
from tussock.permit.plain.amounts import Measure

Raw = Mapping[str, Any]
COLUMNS = (
    "eventDate",
    "decimalLatitude",
    "decimalLongitude",
    "coordinateUncertaintyInMeters",
    "scientificName",
    "individualCount",
    "lifeStage",
    "sex",
    "animalCondition",
    "foundIn",
    "recordedBy",
    "recordedDate",
    "disposal",
    "consentReference",
    "habitat",
    "associatedMedia",
    "occurrenceRemarks",
)
"""Columns of a record that a clause is likely to ask for; others are taken too."""
_AREAS = {
    "habitat": "habitat",
    "parcels": "parcels: properties",
    "excluded": "excluded: sports grounds, quarries, airfields …",
    "protected": "protected: parks and reserves",
    "permit_area": "permit_area: the district the permit is for",
}
_FEATURES = {
    "dwellings": "dwellings: homes",
    "peopled_places": "peopled_places: schools, hospitals, playgrounds, campgrounds …",
    "roads": "roads",
    "railways": "railways",
    "water": "water",
    "barriers": "barriers: fenced highways, wide rivers …",
    **_AREAS,
}
_OWN_LAYER = "A name of your own is taken too, for a layer that you add to region.toml, such as counties."
_PLACES = {"site": "the place of release", "capture": "the place of capture", "both": "both"}


_EXCEPTIONS = ("captured_after", "then_within_h")


@dataclass(frozen=True)
class Field:
    """How a field is asked for.

    Attributes
    ----------
    words
        The question.
    answer
        Makes the sort of answer from what was answered so far.
    help
        What ``?`` says besides.
    default
        What an empty line takes, where the kind of clause does not say.
    asked
        Whether it is asked at all, given what was answered so far.
    """

    words: str
    answer: Callable[[Raw], Answer]
    help: str = ""
    default: Any = None
    asked: Callable[[Raw], bool] = lambda raw: True


def in_order(fields: Mapping[str, FieldInfo]) -> dict[str, FieldInfo]:
    """Return fields in the order they are asked: an exception after the rule."""
    return dict(sorted(fields.items(), key=lambda item: item[0] in _EXCEPTIONS))


def field_question(kind: str, key: str, *, info: FieldInfo, raw: Raw, earlier: Any = None) -> Question | None:
    """Return the question for a field; ``None`` where it is not asked.

    Parameters
    ----------
    info
        The field as the clause's class declares it.
    raw
        What was answered so far.
    earlier
        An answer given before, offered again.
    """
    field = FIELDS.get(f"{kind}.{key}") or FIELDS.get(key)
    if field is None:
        return None if not info.is_required() else Question(f"{key}?", sort.line(), info.description or "")
    if not field.asked(raw):
        return None
    standard = None if info.is_required() or info.default is None else info.default
    default = next((v for v in (earlier, field.default, standard) if v is not None), None)
    # a field that may be left out is, unless something else stands in for it
    optional = not info.is_required() and standard is None
    return Question(field.words, field.answer(raw), field.help, default, optional)


def _always(answer: Callable[[], Answer]) -> Callable[[Raw], Answer]:
    return lambda raw: answer()


def _amount(measure: Measure) -> Callable[[Raw], Answer]:
    return lambda raw: sort.amount(measure)


def _choice(options: Any, *, own: bool = False) -> Callable[[Raw], Answer]:
    return lambda raw: sort.choice(options, own=own)


def _several(options: Any, *, own: bool = False) -> Callable[[Raw], Answer]:
    return lambda raw: sort.several(options, own=own)


def _classes(raw: Raw) -> Answer:
    known = {"roads": ROAD_CLASSES, "habitat": HABITAT_CLASSES}.get(str(raw.get("layer")))
    return sort.several(known) if known else sort.names()


_METRES, _HOURS = _amount(Measure.METRES), _amount(Measure.HOURS)
_CLASSES_HELP = "Classes are the words of the region's layer; 'tussock permit check --region' counts them."
FIELDS: dict[str, Field] = {
    "max_distance_from_capture.limit_m": Field("At most how far from the place of capture?", _METRES),
    "min_distance_from.layer": Field("Not too near to what?", _choice(_FEATURES, own=True), _OWN_LAYER),
    "min_distance_from.limit_m": Field("At least how far from it?", _METRES),
    "classes": Field("Only which classes of it? (left out: all)", _classes, _CLASSES_HELP),
    "habitat_in.classes": Field("Which kinds of habitat?", _several(HABITAT_CLASSES)),
    "min_patch_area.limit_ha": Field("At least how large?", _amount(Measure.HECTARES)),
    "min_patch_area.of": Field(
        "Of what?",
        _choice({"habitat": "unbroken habitat", "property": "adjoining property under one consent"}),
    ),
    "min_patch_area.classes": Field(
        "Only which kinds of habitat? (left out: all natural ground)",
        _several(HABITAT_CLASSES),
        asked=lambda raw: raw.get("of") != "property",
    ),
    "within.layer": Field(
        "Inside the areas of which layer?", _choice(_AREAS, own=True), _OWN_LAYER, "permit_area"
    ),
    "not_within.layer": Field("Outside the areas of which layer?", _choice(_AREAS, own=True), _OWN_LAYER),
    "of": Field("Which place must that be?", _choice(_PLACES)),
    "unless_captured_within": Field(
        "Unless it was caught there, and a consent names the place?",
        _always(sort.yes_no),
        asked=lambda raw: raw.get("of", "site") == "site",
    ),
    "same_polygon_as_capture.layer": Field(
        "Which layer holds the counties, catchments or zones?", _choice(_AREAS, own=True), _OWN_LAYER
    ),
    "species_in_range.layer": Field(
        "Which layer holds the mapped ranges? (such as ranges)", _choice(_AREAS, own=True), _OWN_LAYER
    ),
    "no_barrier_between.layer": Field(
        "Which layer must not be crossed?", _choice(_FEATURES, own=True), _OWN_LAYER, "barriers"
    ),
    "tolerance_m": Field(
        "How much nearer may another suitable place be before it counts?",
        _METRES,
        "Permits seldom say; it keeps two places that are nearly as near from standing against each other.",
    ),
    "max_releases_near.count": Field(
        "From how many animals let go there on is the spot closed?",
        _always(sort.whole),
        "'No more than three' closes the spot for the fourth: answer 3.",
    ),
    "within_m": Field("Within how far of the spot?", _METRES),
    "within_days": Field("Counted over how many days before?", _amount(Measure.DAYS)),
    "max_releases_near.species": Field(
        "Animals of which species count?", _choice({"any": "any species", "same": "only the same species"})
    ),
    "species": Field("Which species? (scientific names)", _always(sort.names)),
    "quota.species": Field("Of which species? (scientific names; left out: all)", _always(sort.names)),
    "origin": Field(
        "Animals of which origin?",
        _several([o for o in ORIGINS if o != "unknown"]),
        "Where it comes from, as you answer when the animal is taken in.",
    ),
    "allowed": Field("In which state may it be released?", _several(ANIMAL_CONDITIONS), default=["fit"]),
    "max_holding_hours.limit_h": Field("At most how long may it be held?", _HOURS),
    "from": Field(
        "Counted from what?",
        _choice({"capture": "the capture", "trap_check": "the check of the trap it was found in"}),
    ),
    "captured_after": Field(
        "Another limit for animals caught late? Caught after what time? (left out: none)",
        _always(calendar.clock),
    ),
    "then_within_h": Field(
        "Then within how long?", _HOURS, asked=lambda raw: raw.get("captured_after") is not None
    ),
    "window": Field("Released when?", _always(calendar.window)),
    "checked_every_hours.limit_h": Field("Looked at every …? (such as 2 h)", _HOURS),
    "record_within_hours.limit_h": Field("Written down within how long?", _HOURS),
    "incident_reported_within_hours.limit_h": Field("Reported within how long?", _HOURS),
    "min_c": Field("At least how warm, in °C? (left out: no limit)", _always(sort.celsius)),
    "max_c": Field("At most how warm, in °C? (left out: no limit)", _always(sort.celsius)),
    "persons": Field(
        "Who? (left out: the persons named at the top)",
        _always(sort.names),
        "Names as recordedBy has them.",
    ),
    "quota.count": Field("At most how many animals?", _always(sort.whole)),
    "per": Field(
        "In what time?",
        _choice(
            {
                "day": "a day",
                "week": "a week",
                "month": "a month",
                "year": "a year of the calendar",
                "version": "the whole time this version is in force",
            }
        ),
    ),
    "disposals": Field("How may the holding end?", _several(DISPOSALS)),
    "fields": Field("What must be filled in?", _several(COLUMNS, own=True)),
    "written": Field("Must it be in writing?", _always(sort.yes_no)),
    "tenures": Field(
        "Only for which kinds of ground? (your words for tenure; left out: all)", _always(sort.names)
    ),
    "question": Field("What is the person to answer with yes or no?", _always(sort.line)),
    "ask_at": Field(
        "When is it asked?",
        _choice(
            {
                "capture": "at the capture",
                "plan": "when planning",
                "site": "at the spot, before the release",
                "release": "at the release",
                "return": "with the return",
            }
        ),
    ),
    "photo": Field("With a photo?", _always(sort.yes_no)),
    "period_end": Field("The period ends on which day of the year?", _always(calendar.month_day)),
    "due": Field("The return is due on which day of the year?", _always(calendar.month_day)),
    "nil_return": Field("Also when there is nothing to report?", _always(sort.yes_no)),
    "assigned_by": Field(
        "Which day puts an animal into a period?",
        _choice(
            {
                "disposal": "the day of each outcome; an animal taken before was held",
                "capture": "the day of capture, whenever its outcome came",
            }
        ),
    ),
    "recipients": Field(
        "Who gets the return? (names or addresses; left out: the authority)", _always(sort.names)
    ),
    "nil_species": Field("A line for each listed species without animals?", _always(sort.yes_no)),
}
"""Key, or kind and key, → how it is asked."""
