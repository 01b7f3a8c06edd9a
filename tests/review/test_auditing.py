"""The audit of a whole book: as record by record, and without ground data as far as no map is needed.

The referee is ``judge_record``, whose measures have outside checks of their own, with everything else on
record handed to it as it stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from tests.support.books import NOW, book, with_clauses
from tussock.ground.region import NO_GROUND, Region, open_region
from tussock.interval import Verdict
from tussock.measure.judging import ClauseResult
from tussock.measure.scene import EarlierRelease
from tussock.permit.capture_book import BookedCapture
from tussock.permit.condition import Condition
from tussock.permit.consents import read_consents
from tussock.permit.permit_file import Permit, read_permit
from tussock.permit.place_kinds import (
    MaxReleasesNear,
    MinDistanceFrom,
    NotWithin,
    SamePolygonAsCapture,
    Within,
)
from tussock.permit.record_kinds import Quota
from tussock.review import auditing
from tussock.review.audit import Audit, Kept
from tussock.review.auditing import Beside, audit, chance
from tussock.review.handling import Handling
from tussock.review.judged import Book, judge_record

DEMO = Path(__file__).parents[2] / "data-demo"
MORE: tuple[Condition, ...] = (
    SamePolygonAsCapture(id="parcel", layer="parcels"),
    MaxReleasesNear(id="own", count=2, within_m=900, within_days=90, species="same"),
    NotWithin(id="taken", layer="excluded", of="capture"),
    Within(id="both", layer="excluded", of="both"),
    MinDistanceFrom(id="none", layer="wells", limit_m=60),
    Quota(id="monthly", count=6, per="month", species=("Notechis spp.",)),
)
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


def _rich(n: int, seed: int) -> tuple[list[Handling], Permit, Beside]:
    """Return records that name consents, a permit of every sort of clause, and what is beside."""
    consents = read_consents(DEMO / "consents.csv")
    records = [
        replace(h, consent_reference=consents[i % len(consents)].id if i % 3 == 0 else "")
        for i, h in enumerate(book(n, seed=seed))
    ]
    records += [replace(h, captured=h.disposed or h.captured) for h in records[:5]]  # parts of one capture
    ids = tuple({c.id for v in _permit().versions for c in v.conditions})
    permit = with_clauses(_permit(), *MORE, ids=ids)
    first, *others = permit.versions
    permit = replace(permit, versions=(replace(first, valid_from=date(2025, 6, 27)), *others))
    booked = tuple(BookedCapture(h.captured, h.animal.scientific_name, 1, h.capture_id) for h in records)
    at = records[0].taken_at
    loose = (EarlierRelease(at.longitude, at.latitude, 5.0, records[0].captured, "Notechis", 2),)
    return records, permit, Beside(now=NOW, consents=consents, captures=booked, loose=loose)


def _plainly(records: Sequence[Handling], permit: Permit, beside: Beside) -> list[object]:
    """Return what the definition says of each, with every other record before it."""
    region, found = open_region(DEMO), list[object]()
    released = [h for h in records if h.disposal == "released" and h.let_go_at and h.disposed]
    for one in records:
        others = [r for h in released if h.capture_id != one.capture_id and (r := h.as_earlier) is not None]
        earlier = tuple(r for r in (*beside.loose, *others) if one.disposed and r.instant <= one.disposed)
        judged = judge_record(one, permit, region, Book(NOW, earlier, beside.consents, beside.captures))
        found.append((judged, {r.id: p for r in judged.results if (p := chance(r, one)) is not None}))
    return found


def _check(n: int, *, seed: int) -> None:
    records, permit, beside = _rich(n, seed)
    seen: list[tuple[int, int]] = []
    beside = replace(beside, progress=lambda done, of: seen.append((done, of)))
    records = [replace(h, answers={permit.id: {}}) for h in records]
    rows = audit([Kept(h.capture_id, h) for h in records], permit, open_region(DEMO), beside).rows
    for row, plain in zip(rows, _plainly(records, permit, beside), strict=True):
        assert (row.judged, row.probabilities) == plain
    assert seen[-1] == (len(records), len(records))
    verdicts = {r.verdict for row in rows if row.judged for r in row.judged.results}
    assert verdicts == {None, *Verdict}


@pytest.mark.parametrize("together", [9, 2048])
def test_every_field_is_that_of_one_record_alone(together: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(auditing, "MOST_TOGETHER", together)
    _check(40, seed=31)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [32, 33])
def test_every_field_of_400_records_is_that_of_one_alone(seed: int) -> None:
    _check(400, seed=seed)
