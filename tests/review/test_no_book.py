"""Nobody said what was released before: what counts it is for a person to confirm, or missing; never met.

Worked by hand: a wood, a clause that allows two animals within 200 m in 30 days.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import shapely

from tests.review.test_spot import CAPTURED, YES, Case, result
from tests.support import cases
from tests.support.regions import Ground, MadeRegion, Thing, made_region
from tussock.interval import Verdict
from tussock.measure.judging import NO_BOOK
from tussock.measure.scene import EarlierRelease
from tussock.permit.place_kinds import MaxReleasesNear
from tussock.permit.record_kinds import ConsentRecorded
from tussock.planning.plan import plan
from tussock.planning.record import Plan
from tussock.review.handling import Handling
from tussock.review.judged import Book, judge_record
from tussock.review.spot_questions import Answer

FEW = MaxReleasesNear(id="few", count=3, within_m=200, within_days=30)
WOOD = Thing(shapely.box(-900, -900, 900, 900), "forest", "w")
PARCEL = Thing(shapely.box(-5000, -5000, 5000, 5000), "", "a")
LEAVE = ConsentRecorded(id="leave")
FOR_TWO = replace(cases.consent("K1", parcels="a"), number=2)
MISSING, MET, NOT = Verdict.MISSING, Verdict.MET, Verdict.NOT_MET


def made(**layers: Any) -> MadeRegion:
    return made_region(Ground({"habitat": [WOOD], **layers}))


def released(region: MadeRegion, count: int, *, days: float = 1.0, consent: str = "") -> EarlierRelease:
    at = cases.position(region, 0.0, 0.0)
    when = cases.RELEASED - timedelta(days=days)
    return EarlierRelease(at.longitude, at.latitude, 5.0, when, "Invented species", count, consent)


def planned(region: MadeRegion, clause: Any, **more: Any) -> Plan:
    where = cases.position(region, 0.0, 0.0)
    return plan(cases.capture(where), cases.setting(region, clause, **more))


def test_a_plan_without_a_book_leaves_it_to_the_person() -> None:
    found = planned(made(), FEW)
    assert found.sites
    for site in found.sites:
        (said,) = site.clauses
        assert (said.verdict, said.reason, said.value) == (None, NO_BOOK, None)
        assert (site.checked, site.confirm, site.not_checked) == (0, 1, 0)
        assert site.todo[0].startswith("few: Fewer than 3 individuals")
    assert any("none are given" in w for w in found.warnings)


@pytest.mark.parametrize("days", [None, 31.0])
def test_with_a_book_that_holds_nothing_near_in_time_it_is_met(days: float | None) -> None:
    region = made()
    book = () if days is None else (released(region, 9, days=days),)
    found = planned(region, FEW, earlier=book)
    assert {c.verdict for s in found.sites for c in s.clauses} == {MET}
    assert not any("none are given" in w for w in found.warnings)


def test_the_sites_of_a_batch_count_whether_a_book_is_given_or_not() -> None:
    region = made()
    full = planned(region, FEW, beside=(released(region, 3),))
    # 200 m about the place, 5 m and 30 m of radius, are full; farther off it is not known
    assert full.sites
    assert all(s.distance_m > 200 for s in full.sites)
    assert {c.verdict for s in full.sites for c in s.clauses} == {None}


def _judged(book: tuple[EarlierRelease, ...] | None) -> Any:
    region = made()
    at = cases.position(region, 0.0, 0.0)
    ended = cases.RELEASED
    record = Handling(
        capture_id="C", taken_at=at, captured=ended - timedelta(hours=1), animal=cases.animal(),
        disposal="released", disposed=ended, let_go_at=at,
    )  # fmt: skip
    now = ended + timedelta(days=1)
    (found,) = judge_record(record, cases.permit(FEW), region, Book(now, book)).results
    return found


def test_a_record_without_a_book_is_missing_and_with_an_empty_one_met() -> None:
    assert (_judged(None).verdict, _judged(None).reason) == (MISSING, NO_BOOK)
    assert _judged(()).verdict is MET
    assert _judged((released(made(), 3),)).verdict is NOT


def test_at_the_spot_it_is_asked(tmp_path: Path) -> None:
    case = Case(tmp_path, FEW)
    silent = case.check()
    assert [(q.key, q.text) for q in silent.unanswered] == [
        (
            "few",
            "No book of earlier releases is given: were fewer than 3 animals let go within 200 m of here in "
            "the last 30 days?",
        )
    ]
    assert silent.verdict is MISSING
    yes = case.check(answers={**YES, "few": Answer.YES})
    assert (yes.verdict, result(yes, "few").verdict, yes.counts) == (MET, MET, (3, 1, 0, 0))
    no = case.check(answers={**YES, "few": Answer.NO})
    assert (no.verdict, no.rejected) == (NOT, True)
    assert case.check(answers={**YES, "few": Answer.UNCLEAR}).verdict is Verdict.UNCERTAIN
    given = case.check(held={"earlier": ()})
    assert (given.verdict, given.unanswered, result(given, "few").verdict) == (MET, (), MET)


@pytest.mark.parametrize(
    ("consents", "book", "verdict"),
    [
        ((FOR_TWO,), None, None),
        ((FOR_TWO,), (), MET),
        ((replace(FOR_TWO, number=None),), None, MET),
        ((FOR_TWO, replace(FOR_TWO, id="K2", number=None)), None, MET),  # the other one has no number
    ],
)
def test_a_consent_for_some_animals_is_counted_in_a_book_or_by_a_person(
    consents: Any, book: Any, verdict: Verdict | None
) -> None:
    found = planned(made(parcels=[PARCEL]), LEAVE, consents=consents, earlier=book)
    assert {c.verdict for s in found.sites for c in s.clauses} == {verdict}
    if verdict is None:
        assert found.sites[0].todo[0].startswith("leave: ")
        assert "consent K1 is for a number of animals" in found.sites[0].todo[0]


def test_a_consent_that_is_used_up_by_the_book_leaves_no_site() -> None:
    region = made(parcels=[PARCEL])
    found = planned(region, LEAVE, consents=(FOR_TWO,), earlier=(released(region, 2, consent="K1"),))
    assert not found.sites


def test_at_the_spot_it_is_asked_whether_enough_is_left_of_the_consent(tmp_path: Path) -> None:
    case = Case(tmp_path, LEAVE, layers={"parcels": (PARCEL,)}, consents=(FOR_TWO,))
    silent = case.check()
    assert [q.text for q in silent.unanswered] == [
        "Consent K1 is for a number of animals: are enough left of it for this one?"
    ]
    assert silent.verdict is MISSING
    assert case.check(answers={**YES, "leave": Answer.YES}).verdict is MET
    assert case.check(answers={**YES, "leave": Answer.NO}).verdict is NOT
    assert case.check(held={"earlier": ()}).verdict is MET
    assert case.now > CAPTURED
