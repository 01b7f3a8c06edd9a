"""A record that gives its animal two species: judged for both, and met or not met only where both are.

Worked by hand; the species have nothing in common but the animal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from tests.review.test_doubt import BULK, GROUND, homes
from tests.support import cases
from tests.support.books import NOW, book, with_clauses
from tests.support.regions import Ground, Thing, made_region
from tussock.ground.region import open_region
from tussock.interval import Verdict
from tussock.measure.judging import ClauseResult
from tussock.measure.scene import EarlierRelease
from tussock.permit.animal_kinds import SpeciesInRange, SpeciesListed, SpeciesNotReleased
from tussock.permit.capture_book import BookedCapture
from tussock.permit.condition import Condition
from tussock.permit.permit_file import Permit, read_permit
from tussock.permit.place_kinds import MaxReleasesNear, SameHabitatAsCapture
from tussock.permit.record_kinds import ConsentRecorded, Quota
from tussock.permit.time_kinds import MaxHoldingHours, ReleaseWindow
from tussock.planning.plan import plan
from tussock.review.bulk import judge_bulk
from tussock.review.bulk_columns import Code, code_of, columns_of
from tussock.review.handling import Handling
from tussock.review.judged import Book, judge_record
from tussock.species.animal import Identification
from tussock.species.profiles import load_profiles
from tussock.species.traits import ActivePeriod, Profile

DEMO = Path(__file__).parents[2] / "data-demo"
DAY = ActivePeriod.DIURNAL
ALDER = cases.profile(scientific_name="Alder species", active_period=DAY, home_range_ha=2.0)
BIRCH = cases.profile(
    scientific_name="Birch species", active_period=ActivePeriod.NOCTURNAL, home_range_ha=28.0
)
NOON = datetime.fromisoformat("2026-11-21T13:00:00+11:00")
MISSING, MET, NOT, OPEN = Verdict.MISSING, Verdict.MET, Verdict.NOT_MET, Verdict.UNCERTAIN
LEAVE = replace(cases.consent("K1", parcels="a"), species=("Alder species",))
EVERYWHERE = shapely.box(-900, -900, 900, 900)


def record(taken: Profile, ended: Profile | None, region: Any, **changes: Any) -> Handling:
    """Return a release 200 m east of its capture, at noon of the same day."""
    base = Handling(
        capture_id="C-1", taken_at=cases.position(region, 0.0, 0.0), captured=NOON - timedelta(hours=2),
        animal=cases.animal(taken), disposal="released", disposed=NOON, named_at_end=ended,
        let_go_at=cases.position(region, 200.0, 0.0),
    )  # fmt: skip
    return replace(base, **changes)


def judged(
    clause: Condition,
    taken: Profile,
    ended: Profile | None,
    layers: Mapping[str, Sequence[Thing]],
    **beside: Any,
) -> ClauseResult:
    region = made_region(Ground({"habitat": [Thing(EVERYWHERE, "forest")], **layers}))
    book = Book(NOON + timedelta(days=1), **{"earlier": (), "captures": (), **beside})
    (found,) = judge_record(record(taken, ended, region), cases.permit(clause), region, book).results
    return found


ONE_OF_TWO: list[tuple[Condition, dict[str, list[Thing]], dict[str, Any]]] = [
    (SpeciesNotReleased(id="c", species=("Birch species",)), {}, {}),
    (SpeciesListed(id="c", species=("Alder species",)), {}, {}),
    (homes(500, species=("Birch species",)), dict(GROUND.layers), {}),  # type: ignore[arg-type]  # its lists are of one kind of thing
    (ReleaseWindow(id="c", window="active_period"), {}, {}),
    (ConsentRecorded(id="c"), {"parcels": [Thing(EVERYWHERE, "", "a")]}, {"consents": (LEAVE,)}),
    (SpeciesInRange(id="c", layer="ranges"), {"ranges": [
        Thing(EVERYWHERE, "Alder species"), Thing(shapely.box(-900, -900, 0, 900), "Birch species"),
    ]}, {}),
]  # fmt: skip
"""Clauses that Alder meets, or that are not for it, and Birch does not meet."""


@pytest.mark.parametrize(("clause", "layers", "beside"), ONE_OF_TWO)
def test_what_one_of_them_does_not_meet_is_missing_an_answer(
    clause: Condition, layers: dict[str, list[Thing]], beside: dict[str, Any]
) -> None:
    assert judged(clause, ALDER, None, layers, **beside).verdict in (MET, None)
    assert judged(clause, BIRCH, None, layers, **beside).verdict is NOT
    for taken, ended in ((ALDER, BIRCH), (BIRCH, ALDER)):
        found = judged(clause, taken, ended, layers, **beside)
        assert found.verdict is MISSING
        assert "which species it is" in str(found.reason)
        assert "Alder species" in str(found.reason) and "Birch species" in str(found.reason)


def test_what_both_of_them_do_not_meet_is_not_met() -> None:
    both = SpeciesNotReleased(id="c", species=("Birch species", "Alder species"))
    assert judged(both, ALDER, BIRCH, {}).verdict is NOT
    night = replace(ALDER, active_period=ActivePeriod.NOCTURNAL)
    assert judged(ReleaseWindow(id="c", window="active_period"), night, BIRCH, {}).verdict is NOT
    parcel = {"parcels": [Thing(EVERYWHERE, "", "a")]}
    assert judged(ConsentRecorded(id="c"), ALDER, BIRCH, parcel).verdict is NOT
    assert judged(MaxHoldingHours(id="c", limit_h=1), ALDER, BIRCH, {}).verdict is NOT


def test_what_both_of_them_meet_is_met() -> None:
    listed = SpeciesListed(id="c", species=("Birch species", "Alder species"))
    assert judged(listed, ALDER, BIRCH, {}).verdict is MET
    assert judged(homes(50, species=("Birch species",)), ALDER, BIRCH, dict(GROUND.layers)).verdict is MET
    assert judged(MaxHoldingHours(id="c", limit_h=3), ALDER, BIRCH, {}).verdict is MET


def test_the_habitat_of_the_capture_reaches_as_far_as_the_species_does() -> None:
    # the forest begins 150 m from the capture: home-range radii are sqrt(2 ha / pi) = 80 m and 299 m
    ground = {"habitat": [Thing(shapely.box(-900, -900, 150, 900), "garden"),
                          Thing(shapely.box(150, -900, 900, 900), "forest")]}  # fmt: skip
    clause = SameHabitatAsCapture(id="c")
    assert judged(clause, BIRCH, None, ground).verdict is MET
    assert judged(clause, ALDER, None, ground).verdict is NOT
    assert judged(clause, ALDER, BIRCH, ground).verdict is MISSING


def test_an_animal_that_may_be_another_fills_no_quota_and_meets_none() -> None:
    before = (BookedCapture(NOON - timedelta(days=1), "Birch species", 1, "C-0"),)
    quota = Quota(id="c", count=1, per="year", species=("Birch species",))
    assert judged(quota, BIRCH, None, {}, captures=before).verdict is NOT
    assert judged(quota, ALDER, None, {}, captures=before).verdict is None
    for taken, ended in ((ALDER, BIRCH), (BIRCH, ALDER)):
        found = judged(quota, taken, ended, {}, captures=before)
        assert (found.verdict, found.value and (found.value.low, found.value.high)) == (OPEN, (1, 2))
    assert judged(quota, ALDER, BIRCH, {}).verdict is MET  # none before


def test_an_earlier_release_of_either_name_may_count_for_a_later_one() -> None:
    clause = MaxReleasesNear(id="c", count=1, within_m=500, within_days=9, species="same")
    region = made_region(Ground({}))
    first = record(ALDER, BIRCH, region, disposed=NOON - timedelta(days=1)).as_earlier
    assert isinstance(first, EarlierRelease)
    assert (first.scientific_name, first.other_name) == ("Alder species", "Birch species")
    sure = replace(first, other_name="")
    assert judged(clause, ALDER, None, {}, earlier=(sure,)).verdict is NOT
    assert judged(clause, BIRCH, None, {}, earlier=(sure,)).verdict is MET
    assert judged(clause, ALDER, None, {}, earlier=(first,)).verdict is OPEN
    assert judged(clause, BIRCH, None, {}, earlier=(first,)).verdict is OPEN


def test_the_record_is_probable_where_it_gives_two_species() -> None:
    made = record(ALDER, BIRCH, made_region(Ground({})))
    assert made.animal.identification is Identification.CERTAIN
    assert (made.judged_as.identification, made.judged_as.names) == (
        Identification.PROBABLE,
        ("Alder species", "Birch species"),
    )
    assert replace(made, named_at_end=None).judged_as is made.animal


def test_a_plan_says_that_it_depends_on_the_species() -> None:
    region = made_region(Ground({"habitat": [Thing(EVERYWHERE, "forest")]}))
    clause = SpeciesNotReleased(id="k", species=("Birch species",))
    found = plan(cases.capture(cases.position(region, 0, 0), ALDER, BIRCH), cases.setting(region, clause))
    assert found.stop == (
        "No site: k is missing an answer (it depends on which species it is (Alder species or Birch "
        "species): Birch species must not be released).",
    )


MORE: tuple[Condition, ...] = (*BULK, ReleaseWindow(id="active", window="active_period"))


def test_very_many_at_once_are_judged_for_both_too() -> None:
    shipped = load_profiles()
    others = [None, shipped.of_species("Pseudonaja textilis"), BIRCH, ALDER]
    night = replace(shipped.of_species("Notechis scutatus"), active_period=ActivePeriod.NOCTURNAL)
    rng = np.random.default_rng(3)
    records = [
        replace(one, named_at_end=others[n % 4],
                animal=replace(one.animal, profile=night) if rng.random() < 0.2 else one.animal)
        for n, one in enumerate(book(200, seed=44))
    ]  # fmt: skip
    region = open_region(DEMO)
    demo = with_clauses(read_permit(DEMO / "permit.toml"), *MORE)
    version = replace(demo.versions[0], valid_from=date(2025, 6, 1), valid_to=None)
    permit = Permit(demo.id, "", "", demo.zone, (), (version,))
    found = judge_bulk(columns_of(records), permit, region, now=NOW)
    ids = [c.condition.id for c in found.clauses]
    seen = set()
    for i, one in enumerate(records):
        said = judge_record(one, permit, region, Book(NOW, ()))
        assert {r.id: code_of(r.verdict) for r in said.results} == {
            k: Code(c) for k, c in zip(ids, found.codes[i].tolist(), strict=True)
        }
        seen |= {(r.id, r.verdict) for r in said.results if one.named_at_end}
    assert {("active", v) for v in (MET, NOT, MISSING)} <= seen
    assert {("not", MISSING), ("species", MISSING)} <= seen
