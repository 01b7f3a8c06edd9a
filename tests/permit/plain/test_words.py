"""A permit in plain words: every kind says what it is about, what it reads and who decides."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tussock.names import STANDARD_LAYERS
from tussock.permit.condition import Condition, LayerUse
from tussock.permit.kinds import KINDS
from tussock.permit.permit_file import read_permit
from tussock.permit.plain.as_data import as_data
from tussock.permit.plain.clause_words import COUNTED, clause_words
from tussock.permit.plain.held import HeldLayer, HeldRegion, doubtful_layers, holdings
from tussock.permit.plain.sources import sources
from tussock.permit.plain.trade import TRADE, Topic, kinds_about, kinds_named
from tussock.permit.plain.words import in_words

if TYPE_CHECKING:
    from tests.permit.conftest import Desk

EVERY = Path(__file__).parents[1] / "every_kind.toml"
CLAUSES = {c.kind: c for c in read_permit(EVERY).versions[0].conditions}


def test_the_menu_has_every_kind_once() -> None:
    assert set(TRADE) == set(KINDS) == set(CLAUSES)
    assert sorted(k for topic in Topic for k in kinds_about(topic)) == sorted(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_found_by_its_own_name_and_shown_with_a_readable_line(kind: str) -> None:
    assert kinds_named(kind) == kinds_named(kind.replace("_", " ")) == (kind,)
    assert len(TRADE[kind].title) <= 66, "it fits a menu of 80 columns"
    assert TRADE[kind].example.endswith(".")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_says_what_it_reads(kind: str) -> None:
    clause = CLAUSES[kind]
    said = "; ".join(sources(clause))
    assert said
    for use in clause.layers():
        assert f"layer {use.layer}" in said
        assert all(name in said for name in use.classes or ())


# by the manual's table of kinds: what each must be worked out from
NEEDS: dict[str, tuple[str, ...]] = {
    "max_distance_from_capture": ("place of capture", "place of release"),
    "min_distance_from": ("place of release", "layer roads"),
    "habitat_in": ("place of release", "layer habitat"),
    "same_habitat_as_capture": ("place of capture", "place of release", "layer habitat", "home range"),
    "min_patch_area": ("place of release", "layer parcels", "consent register"),
    "within": ("place of capture", "place of release", "layer permit_area"),
    "not_within": ("place of capture", "place of release", "layer protected", "consent register"),
    "same_polygon_as_capture": ("place of capture", "place of release", "layer catchments"),
    "no_barrier_between": ("place of capture", "place of release", "layer barriers"),
    "nearest_suitable": ("place of capture", "place of release", "plan"),
    "max_releases_near": ("place of release", "eventDate", "individualCount", "scientificName"),
    "species_listed": ("scientificName",),
    "species_not_released": ("origin",),
    "animal_condition": ("animalCondition",),
    "species_in_range": ("place of release", "scientificName", "layer ranges"),
    "max_holding_hours": ("trapCheckDate", "when holding ended", "time zone"),
    "same_calendar_day": ("eventDate of the capture", "when holding ended", "time zone"),
    "release_window": ("eventDate of the release", "time zone"),
    "checked_every_hours": ("looked at",),
    "record_within_hours": ("recordedDate", "eventDate"),
    "incident_reported_within_hours": ("when each happened", "when it was reported"),
    "weather_within": ("air temperature",),
    "handled_by": ("recordedBy", "authorised_persons"),
    "quota": ("eventDate", "individualCount"),
    "disposed_to": ("disposal",),
    "record_complete": ("eventDate", "habitat"),
    "consent_recorded": ("place of release", "layer parcels", "consent register", "validFrom", "withdrawnOn"),
    "attested": ("your answer at the capture", "photo"),
    "return_due": ("every capture and release of the period",),
}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_names_what_it_needs(kind: str) -> None:
    said = "; ".join(sources(CLAUSES[kind]))
    assert [need for need in NEEDS[kind] if need not in said] == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_counted_once_and_decided_by_someone(kind: str) -> None:
    words = clause_words(CLAUSES[kind])
    assert words.counted in COUNTED
    assert words.decided and words.computed and words.applies


def test_sources_name_columns_profile_sun_and_register(desk: Desk) -> None:
    assert "active period in the species' profile" in sources(
        desk.clause("release_window", window="active_period")
    )
    assert any("height of the sun" in s for s in sources(desk.clause("release_window", window="daylight")))
    assert "trapCheckDate" in sources(desk.clause("max_holding_hours", limit_h=1, **{"from": "trap_check"}))
    assert any(
        "written, tenure" in s for s in sources(desk.clause("consent_recorded", written=True, tenures=["x"]))
    )
    assert not any("written" in s for s in sources(desk.clause("consent_recorded")))
    spared = desk.clause("not_within", layer="protected", unless_captured_within=True)
    assert any("consent register" in s for s in sources(spared))


def test_the_demo_permit_is_summed_up_by_hand() -> None:
    words = in_words(read_permit(Path(__file__).resolve().parents[3] / "data-demo" / "permit.toml"))
    # counted in the file: 3(a)-(e), 4(a)-(c), 5(a)-(c), 6(a) | 1(a), 2(a)-(c) | 7(a), 7(b) |
    # 1(b), 1(c), 7(c), 8(a), 9(a), 9(b) | 8(b) | 9(c)
    by_hand = {"map": 12, "animal": 4, "clock": 2, "record": 6, "attested": 1, "return": 1}
    assert [dict(v.counts) for v in words.versions] == [by_hand, by_hand]
    (gap,) = words.warnings
    assert "2026-07-01 to 2026-08-04" in gap


def test_what_changed_between_versions() -> None:
    words = in_words(read_permit(Path(__file__).resolve().parents[3] / "data-demo" / "permit.toml"))
    since = {c.condition.id: c.since for c in words.versions[1].clauses}
    assert (since["3(a)"], since["1(a)"]) == ("changed", "as before")
    assert {c.since for c in words.versions[0].clauses} == {""}
    every = in_words(read_permit(EVERY)).versions[1]
    assert "1(b)" in every.dropped and "1(a)" not in every.dropped


def test_a_version_without_clauses_and_a_permit_without_a_version_need_attention(desk: Desk) -> None:
    assert "holds no conditions" in in_words(desk.versions("valid_from = 2025-07-01")).warnings[0]


def test_what_cannot_be_known_depends_on_the_clauses(desk: Desk) -> None:
    place = in_words(desk.permit({"id": "1", "kind": "max_distance_from_capture", "limit_m": 1})).cannot_know
    asked = in_words(
        desk.permit({"id": "1", "kind": "attested", "question": "Is it so?", "ask_at": "site"})
    ).cannot_know
    assert any("mapped" in w for w in place) and not any("mapped" in w for w in asked)
    assert any("attests" in w for w in asked) and not any("attests" in w for w in place)
    assert place[0] == asked[0] and "what the paper says" in place[0]


def test_for_which_animals_and_months(desk: Desk) -> None:
    applies = {"danger": ["dangerously_venomous"], "found_in": ["yard", "road"], "months": [11, 12, 1]}
    words = clause_words(desk.clause("same_calendar_day", applies_to=applies)).applies
    assert (
        words
        == "danger dangerously venomous; found in yard or road; releases in November, December and January"
    )


def test_advice_is_never_in_the_way(desk: Desk) -> None:
    advice = clause_words(desk.clause("max_distance_from_capture", limit_m=5, mandatory=False))
    assert "no site is offered" not in advice.decided and "never in the way" in advice.decided


def test_data_is_plain_and_complete() -> None:
    made = as_data(in_words(read_permit(EVERY)))
    assert json.loads(json.dumps(made)) == made
    clauses = made["versions"][0]["conditions"]
    assert [c["kind"] for c in clauses] == [c.kind for c in read_permit(EVERY).versions[0].conditions]
    assert clauses[2]["applies_to"]["months"] == [10, 11, 12]


REGION = HeldRegion(
    "R",
    {
        "barriers": HeldLayer({"highway": 3, "fence": 1, "": 2}, frozenset({"canal"})),
        "roads": HeldLayer({"primary": 2}),
        "protected": HeldLayer({"": 4}, dated=1),
    },
    frozenset({"barriers", "roads", "protected", "parcels"}),
    {"private farm": 5, "council": 2},
)


def test_what_a_region_holds_of_the_classes_named(desk: Desk) -> None:
    clause = desk.clause("no_barrier_between", layer="barriers", classes=["highway", "hihgway", "canal"])
    (held,) = holdings(clause, REGION)
    assert held.counts == {"highway": 3, "hihgway": 0, "canal": 0}
    assert "hihgway none" in held.words and "2 without a class" in held.words
    (warning,) = held.warnings
    assert "hihgway" in warning and "write highway" in warning
    assert warning in clause_words(clause, region=REGION).warnings


def test_a_class_that_the_reader_knows_is_no_slip_of_the_pen(desk: Desk) -> None:
    (held,) = holdings(
        desk.clause("min_distance_from", layer="roads", limit_m=1, classes=["motorway"]), REGION
    )
    assert (held.counts, held.warnings) == ({"motorway": 0}, ())


def test_a_layer_that_the_region_lacks(desk: Desk) -> None:
    (held,) = holdings(desk.clause("within", layer="permit_area"), REGION)
    assert held.counts is None
    assert "no layer permit_area" in held.warnings[0]
    (there,) = holdings(desk.clause("not_within", layer="protected"), REGION)
    assert "4 features, 1 of them with dates" in there.words and there.warnings == ()


def test_tenures_are_counted_in_the_parcels(desk: Desk) -> None:
    clause = desk.clause("consent_recorded", tenures=["private farms", "council", "crown"])
    held = holdings(clause, REGION)[-1]
    assert held.counts == {"private farms": 0, "council": 2, "crown": 0}
    assert len(held.warnings) == 1 and "private farms" in held.warnings[0]


class _Reads(Condition):
    """A clause that reads a layer of that name."""

    kind: str = "reads"
    layer: str

    def layers(self) -> tuple[LayerUse, ...]:
        return (LayerUse(self.layer),)


def test_a_layer_called_nearly_like_a_standard_one_is_doubtful() -> None:
    assert "write dwellings" in doubtful_layers(_Reads(id="1", layer="dwelling"))[0]
    for name in (*STANDARD_LAYERS, "burnt", "catchments", "counties"):
        assert doubtful_layers(_Reads(id="1", layer=name)) == ()
