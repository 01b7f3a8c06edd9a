"""A clause of which nobody knows whether it applies: met whichever way it is, or missing an answer.

Worked by hand: a house stands 100 m east of the release, the clauses ask for 50 m or for 500 m.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from tests.review.test_spot import Case
from tests.support import cases
from tests.support.books import NOW, book, with_clauses
from tests.support.regions import Ground, MadeRegion, Thing, made_region
from tussock.ground.region import open_region
from tussock.interval import Verdict
from tussock.maps.audit_evidence import evidence_for
from tussock.measure.judging import ClauseResult
from tussock.permit.animal_kinds import AnimalConditionAllowed, SpeciesNotReleased
from tussock.permit.condition import AppliesTo, Condition
from tussock.permit.permit_file import Permit, read_permit
from tussock.permit.place_kinds import MinDistanceFrom
from tussock.permit.record_kinds import DisposedTo
from tussock.permit.time_kinds import MaxHoldingHours, ReleaseWindow
from tussock.planning.plan import plan
from tussock.review.bulk import judge_bulk
from tussock.review.bulk_columns import Code, code_of, columns_of
from tussock.review.handling import Handling
from tussock.review.judged import Book, Judged, judge_record
from tussock.review.spot_questions import LOOK, Answer
from tussock.species.animal import Animal, Gravid, Identification, LifeStage, Origin
from tussock.species.traits import Danger

DEMO = Path(__file__).parents[2] / "data-demo"
GROUND = Ground({"dwellings": [Thing(shapely.box(100, -5, 110, 5), "house")]})
TAKEN = datetime(2026, 11, 21, 3, 0, tzinfo=UTC)
SURE = cases.animal()
STRANGER = cases.profile(scientific_name="Ficticia exempli", known=False, danger=Danger.DANGEROUSLY_VENOMOUS)
OTHER = cases.profile(scientific_name="Other species", danger=Danger.HARMLESS)
GENUS = cases.animal(cases.profile(scientific_name="Ficticia"))
MISSING, MET, NOT = Verdict.MISSING, Verdict.MET, Verdict.NOT_MET
IN_DOUBT: list[tuple[dict[str, Any], Animal, str]] = [
    ({"found_in": ("yard",)}, replace(SURE, found_in=None), "foundIn"),
    ({"origin": ("brought_in",)}, replace(SURE, origin=Origin.UNKNOWN), "origin"),
    ({"life_stage": ("juvenile",)}, replace(SURE, life_stage=LifeStage.UNKNOWN), "lifeStage"),
    ({"gravid": ("yes",)}, replace(SURE, gravid=Gravid.UNKNOWN), "gravid"),
    ({"animal_condition": ("injured",)}, replace(SURE, condition=None), "animalCondition"),
    ({"species": ("Ficticia exempli",)}, GENUS, "scientificName"),
    ({"danger": ("dangerously_venomous",)}, cases.animal(STRANGER), "the species' danger class"),
    ({"danger": ("harmless",)}, cases.animal(STRANGER), "the species' danger class"),
    (
        {"danger": ("harmless",)},
        cases.animal(cases.profile(), OTHER),
        "which species it is (Invented species or Other species)",
    ),
]


def record(animal: Animal, region: MadeRegion, **changes: Any) -> Handling:
    """Return a release 10 m from its capture, an hour later."""
    base = Handling(
        capture_id="C-1",
        taken_at=cases.position(region, 0.0, 10.0),
        captured=TAKEN,
        animal=animal,
        disposal="released",
        disposed=TAKEN + timedelta(hours=1),
        let_go_at=cases.position(region, 0.0, 0.0),
    )
    return replace(base, **changes)


def judged(clause: Condition, animal: Animal, **changes: Any) -> ClauseResult:
    region = made_region(GROUND)
    made = record(animal, region, **changes)
    (found,) = judge_record(made, cases.permit(clause), region, Book(TAKEN + timedelta(days=1))).results
    return found


def homes(metres: float, **applies: Any) -> MinDistanceFrom:
    return MinDistanceFrom(id="h", layer="dwellings", limit_m=metres, applies_to=AppliesTo(**applies))


@pytest.mark.parametrize(("applies", "animal", "wanted"), IN_DOUBT)
def test_what_is_not_met_if_it_applies_is_missing_an_answer(
    applies: dict[str, Any], animal: Animal, wanted: str
) -> None:
    found = judged(homes(500, **applies), animal)
    assert (found.verdict, found.at_worst, found.doubt) == (MISSING, NOT, wanted)
    assert found.reason == f"whether it applies is not known, for want of {wanted}; if it does, it is not met"
    assert evidence_for(found).startswith(wanted)


@pytest.mark.parametrize(("applies", "animal", "wanted"), IN_DOUBT)
def test_what_is_uncertain_if_it_applies_is_missing_an_answer(
    applies: dict[str, Any], animal: Animal, wanted: str
) -> None:
    # 5 m of radius about 100 m
    found = judged(homes(100, **applies), animal)
    assert (found.verdict, found.at_worst) == (MISSING, Verdict.UNCERTAIN)
    assert str(found.reason).endswith("it is uncertain (position)")


@pytest.mark.parametrize(("applies", "animal", "wanted"), IN_DOUBT)
def test_what_is_met_is_met_whether_it_applies_or_not(
    applies: dict[str, Any], animal: Animal, wanted: str
) -> None:
    found = judged(homes(50, **applies), animal)
    assert (found.verdict, found.at_worst) == (MET, None)


@pytest.mark.parametrize(
    ("applies", "expected"),
    [
        ({"found_in": ("yard", "road")}, NOT),
        ({"found_in": ("road",)}, None),
        ({"origin": ("wild_local",)}, NOT),
        ({"danger": ("mildly_venomous",)}, NOT),
        ({"species": ("Invented",)}, NOT),
        ({"months": (11,)}, NOT),
        ({"months": (12,)}, None),
    ],
)
def test_what_is_known_to_apply_or_not_is_judged_so(
    applies: dict[str, Any], expected: Verdict | None
) -> None:
    found = judged(homes(500, **applies), SURE)
    assert (found.verdict, found.doubt) == (expected, "")


BY_OTHERS: list[Condition] = [
    MaxHoldingHours(id="c", limit_h=0.5, applies_to=AppliesTo(found_in=("yard",))),
    ReleaseWindow(id="c", window="daylight", applies_to=AppliesTo(found_in=("yard",))),
    DisposedTo(id="c", disposals=("authority",), applies_to=AppliesTo(found_in=("yard",))),
    AnimalConditionAllowed(id="c", allowed=("sick",), applies_to=AppliesTo(found_in=("yard",))),
]


@pytest.mark.parametrize("clause", BY_OTHERS)
def test_it_is_so_whatever_decides_the_clause(clause: Condition) -> None:
    # 04:00 UTC is 15:00 on the plane's meridian; let go at 13:00 UTC, at midnight, it is dark
    late = {"disposed": TAKEN + timedelta(hours=10)}
    assert judged(clause, SURE, **late).verdict is NOT
    found = judged(clause, replace(SURE, found_in=None), **late)
    assert (found.verdict, found.at_worst) == (MISSING, NOT)


def test_an_animal_that_was_not_released_leaves_nothing_in_doubt() -> None:
    found = judged(
        homes(500, found_in=("yard",)), replace(SURE, found_in=None), disposal="authority", let_go_at=None
    )
    assert (found.verdict, found.at_worst, found.applies) == (None, None, False)


def _blank(one: Handling, rng: np.random.Generator) -> Handling:
    changes: dict[str, Any] = {}
    if rng.random() < 0.4:
        changes["found_in"] = None
    if rng.random() < 0.3:
        changes["life_stage"] = LifeStage.UNKNOWN
    if rng.random() < 0.3:
        others = (OTHER, cases.profile())[: int(rng.integers(1, 3))]
        changes |= {"identification": Identification.PROBABLE, "others": others}
    return replace(one, animal=replace(one.animal, **changes))


BULK: tuple[Condition, ...] = (
    homes(150, found_in=("yard", "building")),
    homes(150, danger=("harmless",)).model_copy(update={"id": "danger"}),
    homes(150, species=("Notechis scutatus",)).model_copy(update={"id": "species"}),
    *(c.model_copy(update={"id": f"o{n}"}) for n, c in enumerate(BY_OTHERS)),
    AnimalConditionAllowed(id="stage", allowed=("fit",), applies_to=AppliesTo(life_stage=("juvenile",))),
    SpeciesNotReleased(id="not", species=("Other species",)),
)


def test_very_many_at_once_are_judged_so_too() -> None:
    rng = np.random.default_rng(11)
    records = [_blank(one, rng) for one in book(250, seed=31)]
    region = open_region(DEMO)
    permit = with_clauses(read_permit(DEMO / "permit.toml"), *BULK)
    permit = Permit(
        permit.id, "", "", permit.zone, (), (replace(permit.versions[0], valid_from=date(2025, 6, 1),
                                                     valid_to=None),)
    )  # fmt: skip
    found = judge_bulk(columns_of(records), permit, region, now=NOW)
    seen = set()
    for i, one in enumerate(records):
        said = judge_record(one, permit, region, Book(NOW))
        _same(found.codes[i].tolist(), [c.condition.id for c in found.clauses], said)
        assert Code(found.worst[i]) == code_of(said.verdict)
        seen |= {(r.id, r.verdict, r.at_worst) for r in said.results}
    for name in ("h", "danger", "species", "o0", "o1", "o2", "o3", "stage"):
        assert (name, MISSING, NOT) in seen
        assert (name, MET, None) in seen or name == "o3"  # nothing in the book is sick


def _same(codes: list[int], ids: list[str], said: Judged) -> None:
    verdicts = {r.id: code_of(r.verdict) for r in said.results}
    assert {k: Code(c) for k, c in zip(ids, codes, strict=True)} == verdicts


def test_a_plan_stops_where_the_animal_may_be_one_that_is_not_released() -> None:
    region = made_region(Ground({"habitat": [Thing(shapely.box(-900, -900, 900, 900), "forest")]}))
    kept = SpeciesNotReleased(id="k", species=("Invented species",), applies_to=AppliesTo(gravid=("yes",)))
    where = cases.position(region, 0.0, 0.0)
    capture = cases.capture(where)
    sure, unsure, other = (
        plan(replace(capture, animal=replace(capture.animal, gravid=g)), cases.setting(region, kept))
        for g in (Gravid.YES, Gravid.UNKNOWN, Gravid.NO)
    )
    assert sure.stop == ("No site: k is not met (Invented species must not be released).",)
    assert unsure.stop == (
        "No site: k is missing an answer (whether it applies is not known, for want of gravid; if it does, "
        "it is not met (Invented species must not be released)).",
    )
    assert other.stop == ()


def test_a_plan_offers_only_what_is_met_whichever_way_it_is(tmp_path: Path) -> None:
    region = made_region(
        Ground({**GROUND.layers, "habitat": [Thing(shapely.box(-900, -900, 900, 900), "forest")]})
    )
    capture = cases.capture(cases.position(region, 0.0, 0.0))
    capture = replace(capture, animal=replace(capture.animal, gravid=Gravid.UNKNOWN))
    found = plan(capture, cases.setting(region, homes(300, gravid=("yes",))))
    assert found.sites
    assert {(c.verdict, c.doubt) for s in found.sites for c in s.clauses} == {(MET, "gravid")}


def test_at_the_spot_a_clause_that_may_apply_rejects_it_all_the_same(tmp_path: Path) -> None:
    """Nothing is released on the chance that a clause is not for it: the next site is shown."""
    far = MinDistanceFrom(
        id="far", layer="dwellings", limit_m=350, applies_to=AppliesTo(life_stage=("juvenile",))
    )
    case = Case(tmp_path, far)
    yes = {q.key: Answer.YES for q in LOOK}
    young = replace(cases.animal(), life_stage=LifeStage.UNKNOWN)
    here = case.check(case.at(100.0, 0.0), yes, held={"animal": young})  # 300 m from the house
    assert here.verdict is MISSING
    assert here.strictest is NOT
    assert here.open_questions == ()
    assert here.ruled_out
    assert here.after is not None
    sure = case.check(case.at(100.0, 0.0), yes, held={"animal": cases.animal()})
    assert (sure.verdict, sure.ruled_out, sure.after) == (MET, False, None)
