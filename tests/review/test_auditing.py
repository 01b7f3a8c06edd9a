"""The audit without ground data: what needs no map is judged as with one, the rest is missing and says so."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from tests.support.books import NOW, book
from tussock.ground.region import NO_GROUND, Region, open_region
from tussock.interval import Verdict
from tussock.measure.judging import ClauseResult
from tussock.permit.permit_file import Permit, read_permit
from tussock.permit.record_facts import BookedCapture
from tussock.review.audit import Audit, Kept
from tussock.review.auditing import Beside, audit

DEMO = Path(__file__).parents[2] / "data-demo"
ON_GROUND = {"3(b)", "3(c)", "3(d)", "3(e)", "4(a)", "4(b)", "4(c)", "5(a)", "5(b)", "5(c)", "8(a)"}
"""The demo permit's clauses that ask for a layer, read off its file by hand."""


@cache
def _permit() -> Permit:
    return read_permit(DEMO / "permit.toml")


@cache
def _audited(*, grounded: bool) -> Audit:
    records = book(120, seed=21)
    booked = tuple(
        BookedCapture(h.captured, h.animal.scientific_name, h.animal.individual_count, h.capture_id)
        for h in records
    )
    region: Region | None = open_region(DEMO) if grounded else None
    kept = [Kept(h.capture_id, h) for h in records]
    return audit(kept, _permit(), region, Beside(now=NOW, captures=booked))


def _pairs() -> list[tuple[ClauseResult, ClauseResult]]:
    """Return each clause of each row, judged without ground and with it."""
    without, with_it = _audited(grounded=False), _audited(grounded=True)
    pairs = []
    for one, other in zip(without.rows, with_it.rows, strict=True):
        assert one.judged is not None
        assert other.judged is not None
        pairs += list(zip(one.judged.results, other.judged.results, strict=True))
    return pairs


def test_clauses_that_ask_for_ground_are_missing_without_it() -> None:
    asked = [one for one, _ in _pairs() if one.id in ON_GROUND and one.applies]
    assert {one.id for one in asked} == ON_GROUND
    said = {
        (one.verdict, one.reason) for one in asked if one.reason != "the place of release is not recorded"
    }
    assert said == {(Verdict.MISSING, NO_GROUND)}
    assert all(one.value is None for one in asked)


def test_all_else_is_judged_as_with_it() -> None:
    others = [(one, other) for one, other in _pairs() if one.id not in ON_GROUND]
    assert all(one == other for one, other in others)
    far = {one.verdict for one, _ in others if one.id == "3(a)"}
    assert {Verdict.MET, Verdict.NOT_MET, Verdict.UNCERTAIN} <= far


def test_it_names_no_region_and_no_layer() -> None:
    found = _audited(grounded=False)
    assert (found.region, found.ground) == ("", ())
    assert _audited(grounded=True).region == "Pellerwick (invented)"
    assert all("3(a)" in row.probabilities for row in found.rows if row.kept.handling and row.judged
               and any(r.id == "3(a)" and r.value is not None for r in row.judged.results))  # fmt: skip


def test_an_empty_book_can_be_audited_without_ground() -> None:
    found = audit([], _permit(), None, Beside(now=NOW))
    assert (found.rows, found.totals.rows, found.region) == ((), 0, "")
