"""Every kind of clause: the manual's table, round trips, bad values, what each asks for."""

from __future__ import annotations

import math
from datetime import time
from typing import TYPE_CHECKING, Any

import pytest
from pyproj import Geod

from tussock.errors import InputError
from tussock.interval import Interval, Limit, Verdict
from tussock.names import HABITAT_CLASSES, STANDARD_LAYERS
from tussock.permit.condition import Condition, Decided
from tussock.permit.demands import (
    At,
    BarriersBetween,
    Demand,
    Depth,
    DistanceFromCapture,
    DistanceTo,
    PatchArea,
    ReleasesNear,
    SameHabitat,
    SamePolygon,
)
from tussock.permit.explain import fields_by_key
from tussock.permit.fields import MOST_M
from tussock.permit.kinds import KINDS
from tussock.permit.permit_file import read_permit
from tussock.permit.time_kinds import ClockWindow, ReleaseWindow

if TYPE_CHECKING:
    from tests.permit.conftest import Desk

P, A, T, R, N = Decided.PLACE, Decided.ANIMAL, Decided.TIME, Decided.RECORD, Decided.NONE
LATE = {"captured_after", "then_within_h"}

# The manual's table of kinds, copied by hand: kind → fields, decided by, judged by now
TABLE: dict[str, tuple[set[str], Decided, bool]] = {
    "max_distance_from_capture": ({"limit_m"}, P, True),
    "min_distance_from": ({"layer", "limit_m", "classes"}, P, True),
    "habitat_in": ({"classes"}, P, True),
    "same_habitat_as_capture": (set(), P, True),
    "min_patch_area": ({"limit_ha", "of", "classes"}, P, True),
    "within": ({"layer", "of"}, P, True),
    "not_within": ({"layer", "of", "unless_captured_within"}, P, True),
    "same_polygon_as_capture": ({"layer"}, P, True),
    "no_barrier_between": ({"layer", "classes"}, P, True),
    "nearest_suitable": ({"tolerance_m"}, P, False),
    "species_listed": ({"species", "origin"}, A, True),
    "species_not_released": ({"species", "origin"}, A, True),
    "animal_condition": ({"allowed"}, A, True),
    "species_in_range": ({"layer"}, P, True),
    "max_releases_near": ({"count", "within_m", "within_days", "species"}, P, True),
    "max_holding_hours": ({"limit_h", "from"} | LATE, T, True),
    "same_calendar_day": (LATE, T, True),
    "release_window": ({"window"}, T, True),
    "checked_every_hours": ({"limit_h"}, R, False),
    "record_within_hours": ({"limit_h"}, R, False),
    "incident_reported_within_hours": ({"limit_h"}, R, False),
    "weather_within": ({"min_c", "max_c"}, R, False),
    "handled_by": ({"persons"}, R, False),
    "quota": ({"count", "per", "species"}, R, False),
    "disposed_to": ({"disposals"}, R, False),
    "record_complete": ({"fields"}, R, False),
    "consent_recorded": ({"written", "tenures"}, R, False),
    "attested": ({"question", "ask_at", "photo"}, R, False),
    "return_due": (
        {"period_end", "due", "nil_return", "assigned_by", "recipients", "nil_species"},
        N,
        False,
    ),
}
COMMON = {"id", "kind", "text", "mandatory", "applies_to"}

EXAMPLES: list[tuple[str, dict[str, Any]]] = [
    ("max_distance_from_capture", {"limit_m": 2000}),
    ("max_distance_from_capture", {"limit_m": 0.5, "mandatory": False, "text": "Half a metre."}),
    ("min_distance_from", {"layer": "dwellings", "limit_m": 150}),
    ("min_distance_from", {"layer": "roads", "limit_m": 40.5, "classes": ["primary", "track"]}),
    ("min_distance_from", {"layer": "burnt", "limit_m": 1, "classes": ["any word"]}),
    ("habitat_in", {"classes": ["forest", "wetland"]}),
    ("same_habitat_as_capture", {}),
    ("min_patch_area", {"limit_ha": 5}),
    ("min_patch_area", {"limit_ha": 5, "of": "habitat", "classes": ["forest"]}),
    ("min_patch_area", {"limit_ha": 16.187, "of": "property"}),
    ("within", {"layer": "permit_area"}),
    ("within", {"layer": "permit_area", "of": "both"}),
    ("not_within", {"layer": "protected", "unless_captured_within": True}),
    ("not_within", {"layer": "excluded", "of": "capture"}),
    ("same_polygon_as_capture", {"layer": "catchments"}),
    ("no_barrier_between", {"layer": "barriers", "classes": ["highway"]}),
    ("no_barrier_between", {"layer": "water"}),
    ("nearest_suitable", {"tolerance_m": 100}),
    ("species_listed", {"species": ["Notechis scutatus", "Pseudonaja spp."]}),
    ("species_listed", {"origin": ["wild_local"]}),
    ("species_not_released", {"origin": ["exotic", "possible_escapee", "unknown"]}),
    ("species_not_released", {"species": ["Pseudonaja textilis"], "origin": ["brought_in"]}),
    ("animal_condition", {"allowed": ["fit"]}),
    ("species_in_range", {"layer": "ranges"}),
    ("max_releases_near", {"count": 3, "within_m": 500, "within_days": 30}),
    ("max_releases_near", {"count": 3, "within_m": 500, "within_days": 30, "species": "same"}),
    ("max_holding_hours", {"limit_h": 24}),
    (
        "max_holding_hours",
        {"limit_h": 24, "from": "trap_check", "captured_after": "22:00", "then_within_h": 12},
    ),
    ("same_calendar_day", {}),
    ("same_calendar_day", {"captured_after": "23:30", "then_within_h": 2}),
    ("release_window", {"window": "daylight"}),
    ("release_window", {"window": "active_period"}),
    ("release_window", {"window": {"from": "20:00", "to": "05:30"}}),
    ("checked_every_hours", {"limit_h": 2}),
    ("record_within_hours", {"limit_h": 48}),
    ("incident_reported_within_hours", {"limit_h": 24}),
    ("weather_within", {"min_c": 12}),
    ("weather_within", {"min_c": -2.5, "max_c": 35}),
    ("handled_by", {}),
    ("handled_by", {"persons": ["A. Nother"]}),
    ("quota", {"count": 50, "per": "year"}),
    ("quota", {"count": 5, "per": "version", "species": ["Notechis"]}),
    ("disposed_to", {"disposals": ["released", "vet_or_carer"]}),
    ("record_complete", {"fields": ["eventDate", "habitat"]}),
    ("consent_recorded", {}),
    ("consent_recorded", {"written": True, "tenures": ["private", "crown"]}),
    ("attested", {"question": "Was the container labelled?", "ask_at": "capture"}),
    ("attested", {"question": "Is the officer there?", "ask_at": "site", "photo": True}),
    ("return_due", {"period_end": "03-31", "due": "04-14"}),
    ("return_due", {"period_end": "02-29", "due": "12-31", "nil_return": False}),
    ("return_due", {"period_end": "06-30", "due": "07-31", "assigned_by": "capture", "nil_species": True}),
    ("return_due", {"period_end": "06-30", "due": "07-31", "recipients": ["Returns desk", "Office"]}),
]


def test_the_kinds_and_their_fields_are_those_of_the_table() -> None:
    assert set(KINDS) == set(TABLE)
    for kind, (fields, decided, judged) in TABLE.items():
        known = set(fields_by_key(KINDS[kind]))
        assert known - COMMON == fields, kind
        assert known >= COMMON, kind
        assert (KINDS[kind].decided, KINDS[kind].judged) == (decided, judged), kind


def test_a_kind_that_is_not_judged_says_what_it_needs() -> None:
    for kind, cls in KINDS.items():
        start = "for you to see to: " if cls.decided is R else "not checked: it "
        assert cls.not_checked.startswith(start) != cls.judged, kind
        assert bool(cls.not_checked) != cls.judged, kind


def test_every_kind_and_every_field_has_an_example() -> None:
    shown: dict[str, set[str]] = {kind: set() for kind in TABLE}
    for kind, fields in EXAMPLES:
        shown[kind] |= set(fields) - COMMON
    assert shown == {kind: fields for kind, (fields, _, _) in TABLE.items()}


@pytest.mark.parametrize(("kind", "fields"), EXAMPLES)
def test_round_trip(desk: Desk, kind: str, fields: dict[str, Any]) -> None:
    clause = desk.clause(kind, **fields)
    again = clause.model_dump(by_alias=True, exclude_unset=True)
    assert set(again) == {"id", "kind"} | set(fields)
    assert _as_written(again) == {"id": "1", "kind": kind, **fields}
    assert desk.clause(**{k: v for k, v in again.items() if k != "id"}) == clause
    assert hash(desk.clause(kind, **fields)) == hash(clause)


def _as_written(value: Any) -> Any:
    """Return a dumped value with lists for tuples and HH:MM for times, as the examples have them."""
    if isinstance(value, dict):
        return {k: _as_written(v) for k, v in value.items()}
    if isinstance(value, tuple):
        return list(value)
    return f"{value:%H:%M}" if hasattr(value, "hour") else value


@pytest.mark.parametrize(("kind", "fields"), EXAMPLES)
def test_words_are_one_sentence_that_names_every_number_layer_and_class(
    desk: Desk, kind: str, fields: dict[str, Any]
) -> None:
    words = desk.clause(kind, **fields).words()
    assert words[0].isupper() and words[-1] in ".?" and "\n" not in words
    for key, value in fields.items():
        if key in COMMON or isinstance(value, bool | dict) or key in ("of", "from", "window"):
            continue
        for one in value if isinstance(value, list) else [value]:
            assert str(one) in words, (key, one, words)


def test_layers_are_named_by_the_clauses_that_read_them(desk: Desk) -> None:
    for kind, fields in EXAMPLES:
        named = {use.layer for use in desk.clause(kind, **fields).layers()}
        expected = {fields["layer"]} if "layer" in fields else set()
        if kind in ("habitat_in", "same_habitat_as_capture"):
            expected = {"habitat"}
        if kind == "min_patch_area":
            expected = {"parcels" if fields.get("of") == "property" else "habitat"}
        assert named == expected, kind


INSIDE = Limit(at_least=0.0)
DEMANDS: list[tuple[str, dict[str, Any], tuple[Demand, ...]]] = [
    ("max_distance_from_capture", {"limit_m": 2000}, (Demand(DistanceFromCapture(), Limit(at_most=2000)),)),
    ("min_distance_from", {"layer": "x", "limit_m": 9}, (Demand(DistanceTo("x"), Limit(at_least=9)),)),
    (
        "min_distance_from",
        {"layer": "roads", "limit_m": 9, "classes": ["path"]},
        (Demand(DistanceTo("roads", frozenset({"path"})), Limit(at_least=9)),),
    ),
    ("habitat_in", {"classes": ["rock"]}, (Demand(Depth("habitat", frozenset({"rock"})), INSIDE),)),
    ("same_habitat_as_capture", {}, (Demand(SameHabitat(), None),)),
    ("min_patch_area", {"limit_ha": 5}, (Demand(PatchArea(), Limit(at_least=5, tolerance=1e-6), "ha"),)),
    (
        "min_patch_area",
        {"limit_ha": 5, "classes": ["rock"]},
        (Demand(PatchArea("habitat", frozenset({"rock"})), Limit(at_least=5, tolerance=1e-6), "ha"),),
    ),
    (
        "min_patch_area",
        {"limit_ha": 5, "of": "property"},
        (Demand(PatchArea("property"), Limit(at_least=5, tolerance=1e-6), "ha"),),
    ),
    ("within", {"layer": "permit_area"}, (Demand(Depth("permit_area"), INSIDE),)),
    ("within", {"layer": "z", "of": "capture"}, (Demand(Depth("z", at=At.CAPTURE, taking=True), INSIDE),)),
    (
        "within",
        {"layer": "z", "of": "both"},
        (Demand(Depth("z", at=At.CAPTURE), INSIDE), Demand(Depth("z", at=At.SITE), INSIDE)),
    ),
    ("not_within", {"layer": "excluded"}, (Demand(Depth("excluded", outside=True), INSIDE),)),
    (
        "not_within",
        {"layer": "protected", "unless_captured_within": True},
        (Demand(Depth("protected", outside=True), INSIDE),),
    ),
    (
        "not_within",
        {"layer": "z", "of": "both"},
        (
            Demand(Depth("z", outside=True, at=At.CAPTURE), INSIDE),
            Demand(Depth("z", outside=True, at=At.SITE), INSIDE),
        ),
    ),
    ("species_in_range", {"layer": "ranges"}, (Demand(Depth("ranges"), INSIDE),)),
    ("same_polygon_as_capture", {"layer": "zones"}, (Demand(SamePolygon("zones"), INSIDE),)),
    (
        "no_barrier_between",
        {"layer": "barriers"},
        (Demand(BarriersBetween("barriers"), Limit(at_most=0), ""),),
    ),
    (
        "max_releases_near",
        {"count": 3, "within_m": 500, "within_days": 30, "species": "same"},
        (Demand(ReleasesNear(500, 30, True), Limit(at_most=2), "individuals"),),
    ),
    (
        "max_releases_near",
        {"count": 1, "within_m": 500, "within_days": 30},
        (Demand(ReleasesNear(500, 30, False), Limit(at_most=0), "individuals"),),
    ),
]


@pytest.mark.parametrize(("kind", "fields", "expected"), DEMANDS)
def test_demands(desk: Desk, kind: str, fields: dict[str, Any], expected: tuple[Demand, ...]) -> None:
    assert desk.clause(kind, **fields).demands() == expected


def test_every_judged_place_kind_demands_something_and_no_other_kind_does(desk: Desk) -> None:
    assert {kind for kind, _, _ in DEMANDS} == {
        k for k, (_, by, judged) in TABLE.items() if by is P and judged
    }
    for kind, fields in EXAMPLES:
        clause = desk.clause(kind, **fields)
        assert bool(clause.demands()) == (clause.decided is P and clause.judged), kind


def test_fewer_than_the_count_before(desk: Desk) -> None:
    """Three allowed near: the third may go there when two were released before, the fourth not."""
    clause = desk.clause("max_releases_near", count=3, within_m=500, within_days=30)
    limit = clause.demands()[0].limit
    assert limit is not None
    assert [limit.judge(Interval(n, n)) for n in (0, 2, 3)] == [Verdict.MET, Verdict.MET, Verdict.NOT_MET]


def test_limits_are_closed(desk: Desk) -> None:
    far = desk.clause("max_distance_from_capture", limit_m=2000).demands()[0].limit
    near = desk.clause("min_distance_from", layer="roads", limit_m=40).demands()[0].limit
    assert far is not None and near is not None
    assert far.judge(Interval(2000, 2000)) is Verdict.MET
    assert near.judge(Interval(40, 40)) is Verdict.MET
    assert far.judge(Interval(2000.01, 2000.01)) is Verdict.NOT_MET
    assert near.judge(Interval(39.99, 39.99)) is Verdict.NOT_MET


TAKING = {"species_listed", "quota", "handled_by", "checked_every_hours"}


def test_clauses_of_the_taking(desk: Desk) -> None:
    """The manual: those four, and anything with of = capture, go by the version at capture."""
    for kind, fields in EXAMPLES:
        expected = kind in TAKING or fields.get("of") == "capture"
        assert desk.clause(kind, **fields).of_taking is expected, (kind, fields)
    version = desk.permit(*({"id": str(i), "kind": k, **f} for i, (k, f) in enumerate(EXAMPLES))).versions[0]
    assert {c.kind for c in version.of_taking} == TAKING | {"not_within"}
    assert len(version.of_taking) + len(version.of_disposal) == len(EXAMPLES)


# Bad values: kind, the other fields, the faulty one as TOML text, what the message must say
M = "Allowed: metres, a number above 0"
H = "Allowed: hours, a number above 0"
WORDS = "Allowed: a list in square brackets"
BAD: list[tuple[str, dict[str, Any], str, str, str]] = [
    ("max_distance_from_capture", {}, "limit_m", "0", rf"limit_m = 0\. {M}"),
    ("max_distance_from_capture", {}, "limit_m", "-0.0", rf"limit_m = -0.0\. {M}"),
    ("max_distance_from_capture", {}, "limit_m", "-5", rf"limit_m = -5\. {M}"),
    ("max_distance_from_capture", {}, "limit_m", "nan", rf"limit_m = nan\. {M}"),
    ("max_distance_from_capture", {}, "limit_m", "inf", rf"limit_m = inf\. {M}"),
    ("max_distance_from_capture", {}, "limit_m", "30000000", "at most 20004000"),
    ("max_distance_from_capture", {}, "limit_m", "9" * 400, "a number of more than 60 digits"),
    ("max_distance_from_capture", {}, "limit_m", '"2 km"', "write the number without quotes"),
    ("max_distance_from_capture", {}, "limit_m", "true", rf"limit_m = true\. {M}"),
    ("max_distance_from_capture", {}, "limit_m", "[5]", rf"limit_m = \[5\]\. {M}"),
    ("max_distance_from_capture", {"limit_m": 5}, "limit_km", "5", "give it in metres, as limit_m"),
    ("max_distance_from_capture", {"limit_m": 5}, "mandatry", "true", "write mandatory, if that is meant"),
    ("max_distance_from_capture", {"limit_m": 5}, "zzz", "1", "unknown key 'zzz'.*Do: remove it"),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "mandatory",
        '"no"',
        "mandatory = 'no'. Allowed: true or false",
    ),
    ("max_distance_from_capture", {"limit_m": 5}, "text", "7", "text = 7"),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "text",
        f'"{"x" * 4001}"',
        "4001 characters, more than 4000",
    ),
    ("max_distance_from_capture", {"limit_m": 5}, "applies_to", "{}", "applies_to names nothing"),
    ("max_distance_from_capture", {"limit_m": 5}, "applies_to", '"all"', "Allowed: a table"),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "applies_to",
        "{ months = [13] }",
        r"applies_to.months\[1\] = 13",
    ),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "applies_to",
        "{ months = [1.5] }",
        r"applies_to.months\[1\] = 1.5",
    ),
    ("max_distance_from_capture", {"limit_m": 5}, "applies_to", "{ months = [] }", "months = .*it is empty"),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "applies_to",
        '{ danger = ["deadly"] }',
        "Allowed: harmless, mildly",
    ),
    ("max_distance_from_capture", {"limit_m": 5}, "applies_to", '{ origin = ["wild"] }', "write wild_local"),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "applies_to",
        '{ gravid = "yes" }',
        "put it in square brackets",
    ),
    ("max_distance_from_capture", {"limit_m": 5}, "applies_to", "{ gravid = [true] }", r"gravid\[1\] = true"),
    ("max_distance_from_capture", {"limit_m": 5}, "applies_to", '{ life_stage = ["adlt"] }', "write adult"),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "applies_to",
        '{ animal_condition = ["ok"] }',
        "Allowed: fit, inj",
    ),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "applies_to",
        '{ found_in = ["shed"] }',
        "Allowed: building",
    ),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "applies_to",
        '{ species = ["Elapidae"] }',
        "no scientific name",
    ),
    (
        "max_distance_from_capture",
        {"limit_m": 5},
        "applies_to",
        '{ weather = "hot" }',
        "unknown key 'weather'",
    ),
    ("min_distance_from", {"layer": "roads"}, "limit_m", "0", M),
    ("min_distance_from", {"limit_m": 5}, "layer", '""', "layer = '': it is empty"),
    ("min_distance_from", {"limit_m": 5}, "layer", '"elevation"', "'elevation' is a raster"),
    ("min_distance_from", {"limit_m": 5}, "layer", '"a\\u0007b"', "control character U\\+0007"),
    ("min_distance_from", {"limit_m": 5}, "layer", '"a\\u202Eb"', "control character U\\+202E"),
    ("min_distance_from", {"limit_m": 5, "layer": "roads"}, "classes", "[]", "it is empty"),
    (
        "min_distance_from",
        {"limit_m": 5, "layer": "roads"},
        "classes",
        '["trunk", "trunk"]',
        "'trunk' stands 2 times",
    ),
    ("min_distance_from", {"limit_m": 5, "layer": "roads"}, "classes", '["trunc"]', "write trunk"),
    (
        "min_distance_from",
        {"limit_m": 5, "layer": "habitat"},
        "classes",
        '["swamp"]',
        "Allowed: forest, woodland",
    ),
    ("habitat_in", {}, "classes", '["unmapped"]', "classes.*'unmapped'.*Allowed"),
    ("habitat_in", {}, "classes", "[]", "it is empty"),
    ("habitat_in", {}, "classes", '"forest"', "put it in square brackets"),
    ("habitat_in", {}, "classes", "[1]", r"classes\[1\] = 1"),
    ("min_patch_area", {}, "limit_ha", "0", "Allowed: hectares, a number above 0"),
    ("min_patch_area", {"limit_ha": 5}, "of", '"farm"', "Allowed: habitat or property"),
    ("min_patch_area", {"limit_ha": 5}, "classes", '["tar"]', "Allowed: forest"),
    (
        "min_patch_area",
        {"limit_ha": 5, "of": "property"},
        "classes",
        '["forest"]',
        "of = property counts parcels",
    ),
    ("within", {}, "layer", '"roads"', "holds lines, nothing lies inside them"),
    ("within", {}, "layer", '"cover"', "is a raster"),
    ("within", {"layer": "z"}, "of", '"start"', "Allowed: site, capture or both"),
    ("within", {"layer": "z"}, "unless_captured_within", "true", "unknown key 'unless_captured_within'"),
    ("not_within", {}, "layer", '"railways"', "holds lines"),
    ("not_within", {"layer": "z"}, "of", "1", "Allowed: site, capture or both"),
    ("not_within", {"layer": "z"}, "unless_captured_within", '"yes"', "Allowed: true or false"),
    ("not_within", {"layer": "z", "of": "both"}, "unless_captured_within", "true", "contradicts of = both"),
    ("same_polygon_as_capture", {}, "layer", '"elevation"', "is a raster"),
    ("no_barrier_between", {}, "layer", "5", "layer = 5"),
    ("no_barrier_between", {"layer": "z"}, "classes", '[""]', r"classes\[1\] = '': it is empty"),
    ("nearest_suitable", {}, "tolerance_m", "0", M),
    ("species_listed", {}, "species", '["tiger snake"]', "no scientific name"),
    ("species_listed", {}, "species", "[]", "it is empty"),
    (
        "species_listed",
        {},
        "origin",
        '["unknown"]',
        "Allowed: wild_local, possible_escapee, brought_in, exotic",
    ),
    ("species_not_released", {}, "species", '["Elapidae"]', "no scientific name"),
    ("species_not_released", {}, "origin", '["exotc"]', "write exotic"),
    ("animal_condition", {}, "allowed", '["fit", "fine"]', r"allowed\[2\] holds 'fine'"),
    ("species_in_range", {}, "layer", '" "', "it is empty"),
    ("max_releases_near", {"within_m": 5, "within_days": 5}, "count", "0", "a whole number above 0"),
    ("max_releases_near", {"within_m": 5, "within_days": 5}, "count", "2.5", "a whole number above 0"),
    ("max_releases_near", {"count": 1, "within_days": 5}, "within_m", "0", M),
    ("max_releases_near", {"count": 1, "within_m": 5}, "within_days", "-1", "days, a number above 0"),
    (
        "max_releases_near",
        {"count": 1, "within_m": 5, "within_days": 5},
        "species",
        '["x"]',
        "Allowed: same or any",
    ),
    ("max_holding_hours", {}, "limit_h", "0", H),
    ("max_holding_hours", {}, "limit_h", "10000", "at most 8784"),
    ("max_holding_hours", {"limit_h": 5}, "from", '"trap"', "Allowed: capture or trap_check"),
    ("max_holding_hours", {"limit_h": 5}, "captured_after", '"22:00"', "go together, only one"),
    ("max_holding_hours", {"limit_h": 5}, "then_within_h", "5", "go together, only one"),
    (
        "same_calendar_day",
        {"then_within_h": 5},
        "captured_after",
        '"10 pm"',
        "Allowed: a local clock time HH:MM",
    ),
    (
        "same_calendar_day",
        {"then_within_h": 5},
        "captured_after",
        '"24:00"',
        "Allowed: a local clock time HH:MM",
    ),
    ("same_calendar_day", {"captured_after": "22:00"}, "then_within_h", "0", H),
    ("release_window", {}, "window", '"dusk"', 'Allowed: "daylight", "active_period" or'),
    ("release_window", {}, "window", "7", 'Allowed: "daylight", "active_period" or'),
    ("release_window", {}, "window", '{ from = "20:00" }', "window.to is missing"),
    ("release_window", {}, "window", '{ from = "20:00", to = "20:00" }', "begins and ends at 20:00"),
    ("release_window", {}, "window", '{ from = "20:00", to = "2:00" }', "window.to = '2:00'"),
    (
        "release_window",
        {},
        "window",
        '{ from = "20:00", to = "05:00", till = "02:00" }',
        "unknown key 'till'",
    ),
    ("checked_every_hours", {}, "limit_h", "0", H),
    ("record_within_hours", {}, "limit_h", "nan", H),
    ("incident_reported_within_hours", {}, "limit_h", "-1", H),
    ("weather_within", {}, "min_c", "99", "degrees Celsius"),
    ("weather_within", {"min_c": 20}, "max_c", "20", "min_c = 20 is not below max_c = 20"),
    ("weather_within", {}, "max_c", '"35"', "degrees Celsius.*without quotes"),
    ("handled_by", {}, "persons", "[]", "it is empty"),
    ("quota", {"per": "year"}, "count", "0", "a whole number above 0"),
    ("quota", {"count": 1}, "per", '"season"', "Allowed: day, week, month, year"),
    ("quota", {"count": 1, "per": "year"}, "species", '["snakes"]', "no scientific name"),
    ("disposed_to", {}, "disposals", '["kept"]', "Allowed: released, vet_or_carer"),
    ("record_complete", {}, "fields", '"eventDate"', "put it in square brackets"),
    ("consent_recorded", {}, "written", '"yes"', "Allowed: true or false"),
    ("consent_recorded", {}, "tenures", "[]", "it is empty"),
    ("attested", {"ask_at": "site"}, "question", '"  "', "question"),
    (
        "attested",
        {"question": "Well?"},
        "ask_at",
        '"dawn"',
        "Allowed: capture, plan, site, release or return",
    ),
    ("attested", {"question": "Well?", "ask_at": "site"}, "photo", "1", "Allowed: true or false"),
    ("return_due", {"due": "04-14"}, "period_end", '"02-30"', "not in the calendar"),
    ("return_due", {"due": "04-14"}, "period_end", '"31-03"', "not in the calendar"),
    ("return_due", {"period_end": "03-31"}, "due", '"14 April"', "Allowed: month and day as MM-DD"),
    ("return_due", {"period_end": "03-31", "due": "04-14"}, "nil_return", '"yes"', "Allowed: true or false"),
    (
        "return_due",
        {"period_end": "03-31", "due": "04-14"},
        "assigned_by",
        '"release"',
        "disposal or capture",
    ),
    ("return_due", {"period_end": "03-31", "due": "04-14"}, "recipients", "[]", "it is empty"),
    ("return_due", {"period_end": "03-31", "due": "04-14"}, "nil_species", "1", "Allowed: true or false"),
]


def test_every_field_of_every_kind_has_a_bad_value() -> None:
    for kind, (fields, _, _) in TABLE.items():
        assert fields <= {key for k, _, key, _, _ in BAD if k == kind}, kind


@pytest.mark.parametrize("bad", BAD)
def test_bad_values(desk: Desk, bad: tuple[str, dict[str, Any], str, str, str]) -> None:
    kind, others, key, value, message = bad
    text = desk.text({"id": "3(a)", "kind": kind, **others}) + f"{key} = {value}\n"
    with pytest.raises(InputError, match=message) as caught:
        read_permit(desk.write(text))
    assert "permit.toml, version 2025-07-01, clause 3(a)" in str(caught.value)
    assert "faults" not in str(caught.value).partition("\n")[0], "one fault, one message"
    assert len(str(caught.value)) < 1000


REQUIRED = [
    (kind, key)
    for kind, cls in KINDS.items()
    for key, field in fields_by_key(cls).items()
    if field.is_required()
]


@pytest.mark.parametrize(("kind", "key"), REQUIRED)
def test_missing_fields_are_named(desk: Desk, kind: str, key: str) -> None:
    fields = next(f for k, f in EXAMPLES if k == kind)
    table = {k: v for k, v in {"id": "9", "kind": kind, **fields}.items() if k != key}
    with pytest.raises(InputError, match=f"{key} is missing.*Do: add {key}"):
        desk.permit(table)


@pytest.mark.parametrize("kind", ["species_listed", "species_not_released"])
def test_a_list_of_nothing(desk: Desk, kind: str) -> None:
    with pytest.raises(InputError, match="neither species nor origin"):
        desk.clause(kind)


def test_weather_without_an_end(desk: Desk) -> None:
    with pytest.raises(InputError, match="neither min_c nor max_c"):
        desk.clause("weather_within")


def test_handled_by_needs_somebody(desk: Desk) -> None:
    text = desk.text({"id": "9", "kind": "handled_by"}).replace('authorised_persons = ["N. O. Body"]\n', "")
    with pytest.raises(InputError, match="clause 9: handled_by names nobody"):
        read_permit(desk.write(text))


def test_unknown_kind_names_the_nearest_and_all(desk: Desk) -> None:
    with pytest.raises(
        InputError, match=r"clause 4\(b\): unknown kind 'max_distance'.*write max_distance_from_c"
    ) as e:
        desk.permit({"id": "4(b)", "kind": "max_distance", "limit_m": 5})
    assert all(kind in str(e.value) for kind in TABLE)


@pytest.mark.parametrize(
    ("kind", "found"), [(3, "unknown kind 3"), (["x"], "unknown kind"), (None, "kind is missing")]
)
def test_kinds_that_are_no_words(desk: Desk, kind: Any, found: str) -> None:
    with pytest.raises(InputError, match=found):
        desk.permit({"id": "1"} if kind is None else {"id": "1", "kind": kind})


def test_clock_windows(desk: Desk) -> None:
    """Worked by hand: 20:00 to 05:30 holds both ends and midnight, not noon."""
    night = desk.clause("release_window", window={"from": "20:00", "to": "05:30"})
    assert isinstance(night, ReleaseWindow) and isinstance(night.window, ClockWindow)
    assert night.window.crosses_midnight
    hours = [time(20), time(0), time(5, 30), time(5, 31), time(12), time(19, 59)]
    assert [night.window.holds(h) for h in hours] == [True, True, True, False, False, False]
    day = desk.clause("release_window", window={"from": time(8), "to": time(17, 0, 30)})
    assert isinstance(day, ReleaseWindow) and isinstance(day.window, ClockWindow)
    assert not day.window.crosses_midnight
    assert [day.window.holds(h) for h in (time(8), time(17, 0, 30), time(7, 59), time(20))] == [
        True,
        True,
        False,
        False,
    ]


def test_the_longest_distance_is_half_a_meridian() -> None:
    """Referee: PROJ's geodesic from pole to pole on WGS 84."""
    _, _, pole_to_pole = Geod(ellps="WGS84").inv(0, -90, 0, 90)
    assert 0 <= MOST_M - pole_to_pole < 100


def test_names_are_consistent() -> None:
    assert len(set(STANDARD_LAYERS)) == len(STANDARD_LAYERS) == 13
    assert len(set(HABITAT_CLASSES)) == 11


def test_clauses_cannot_be_changed(desk: Desk) -> None:
    clause = desk.clause("max_distance_from_capture", limit_m=5)
    with pytest.raises(ValueError, match="frozen"):
        clause.mandatory = False
    assert isinstance(clause, Condition) and math.isinf(clause.demands()[0].limit.at_least)  # type: ignore[union-attr]  # this kind has one
