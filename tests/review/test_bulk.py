"""The fast audit says what the definition says, record by record and clause by clause.

The referee is ``judge_record`` itself, whose measures have outside checks of their own; the rough sun is held
against ephem, a zone's clock against the standard library.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from tests.support.books import NOW, book, with_clauses
from tussock.ground.region import Region, open_region
from tussock.permit.animal_kinds import AnimalConditionAllowed
from tussock.permit.condition import AppliesTo, Condition
from tussock.permit.consents import Consent
from tussock.permit.permit_file import Permit, read_permit
from tussock.permit.place_kinds import MinDistanceFrom, NotWithin, Within
from tussock.permit.record_kinds import DisposedTo
from tussock.permit.time_kinds import MaxHoldingHours, ReleaseWindow, SameCalendarDay
from tussock.position import Position
from tussock.review.bulk import BulkVerdicts, columns_of, judge_bulk
from tussock.review.bulk_clock import SUN_ERROR_DEG, Wall, sun_altitude_deg
from tussock.review.bulk_columns import Code, Codes, code_of
from tussock.review.bulk_ground import UNDECIDED, Ground, Spots
from tussock.review.judged import Book, Judged, judge_record
from tussock.sun import altitude_deg

DEMO = Path(__file__).parents[2] / "data-demo"
OURS = ("1(a)", "1(c)", "2(a)", "2(b)", "2(c)", "3(a)", "3(b)", "3(c)", "3(d)", "4(a)", "5(a)", "5(b)",
        "5(c)", "7(a)", "7(b)", "9(a)", "9(b)", "9(c)", "1(b)")  # fmt: skip
MORE: tuple[Condition, ...] = (
    MaxHoldingHours.model_validate({"id": "trap", "limit_h": 20, "from": "trap_check"}),
    SameCalendarDay(id="day", captured_after=datetime(2000, 1, 1, 18).time(), then_within_h=10),
    ReleaseWindow.model_validate({"id": "clock", "window": {"from": datetime(2000, 1, 1, 22).time(),
                                                            "to": datetime(2000, 1, 1, 7).time()}}),
    ReleaseWindow(id="active", window="active_period"),
    DisposedTo(id="ends", disposals=("released", "authority")),
    MinDistanceFrom(id="water", layer="water", limit_m=60, mandatory=False,
                    applies_to=AppliesTo(months=(1, 2, 11, 12))),
    MinDistanceFrom(id="none", layer="wells", limit_m=60),
    NotWithin(id="taken", layer="excluded", of="capture"),
    Within(id="both", layer="excluded", of="both"),
    AnimalConditionAllowed(id="well", allowed=("fit",), applies_to=AppliesTo(origin=("wild_local",))),
)  # fmt: skip


@cache
def _region() -> Region:
    return open_region(DEMO)


@cache
def _permit() -> Permit:
    """The demo's, but in force before the layers' as-of dates: what is undated may not have stood yet."""
    permit = with_clauses(read_permit(DEMO / "permit.toml"), *MORE, ids=OURS)
    first, *others = permit.versions
    return replace(permit, versions=(replace(first, valid_from=date(2025, 6, 27)), *others))


def _referee(n: int, seed: int) -> list[Judged]:
    plain = Book(NOW)
    return [judge_record(one, _permit(), _region(), plain) for one in book(n, seed=seed)]


def _check(n: int, seed: int) -> BulkVerdicts:
    found = judge_bulk(columns_of(book(n, seed=seed)), _permit(), _region(), now=NOW)
    wrong = []
    for i, judged in enumerate(_referee(n, seed)):
        said = _said(judged)
        for k, clause in enumerate(found.clauses):
            code = Code(found.codes[i, k])
            expected = said.get((clause.version, clause.condition.id), Code.NOT_ASKED)
            if code != expected and not (code is Code.LEFT and expected is not Code.NOT_ASKED):
                wrong.append((i, clause.version, clause.condition.id, code.name, expected.name))
        if not found.unfinished[i] and Code(found.worst[i]) != code_of(judged.verdict):
            wrong.append((i, "", "worst", Code(found.worst[i]).name, judged.verdict.name))
    assert not wrong, wrong[:20]
    return found


def _said(judged: Judged) -> dict[tuple[str, str], Code]:
    """Return the definition's verdicts by version and clause; those of the taking come first."""
    taking = {c.id for v in _permit().versions for c in v.conditions if c.of_taking}
    return {
        (judged.taking if r.id in taking else judged.disposal, r.id): code_of(r.verdict)
        for r in judged.results
    }


def test_300_records_are_judged_as_one_by_one() -> None:
    _occurs(_check(300, seed=4))


@pytest.mark.slow
def test_1000_records_are_judged_as_one_by_one() -> None:
    _occurs(_check(1000, seed=5))


def _occurs(found: BulkVerdicts) -> None:
    """Every verdict occurs at the distances, hardly anything but the quota is left, bounds decide most."""
    both = [dict.fromkeys(Code, 0) for _ in OURS]
    for clause, counts in zip(found.clauses, found.counts(), strict=True):
        if clause.condition.id in ("3(a)", "3(b)", "3(c)", "3(d)", "4(a)"):
            for code in Code:
                both[OURS.index(clause.condition.id)][code] += counts[code]
    for total in both:
        if sum(total.values()):
            assert min(total[c] for c in (Code.MET, Code.UNCERTAIN, Code.NOT_MET)) > 0, total
    left = {found.clauses[k].condition.id for _, k in found.left}
    assert left == {"1(b)"}
    assert found.screened > 0.8


@pytest.mark.parametrize(("batch", "threads"), [(7, 1), (64, 2), (10_000, 1)])
def test_batches_of_any_size_say_the_same(batch: int, threads: int) -> None:
    columns = columns_of(book(400, seed=6))
    seen: list[tuple[int, int]] = []
    whole = judge_bulk(columns, _permit(), _region(), now=NOW)
    found = judge_bulk(
        columns, _permit(), _region(), now=NOW, batch=batch, threads=threads,
        progress=lambda done, of: seen.append((done, of)),
    )  # fmt: skip
    assert (found.codes == whole.codes).all()
    assert (found.worst == whole.worst).all()
    assert seen[-1] == (400, 400)
    assert (found.by_bounds, found.by_vectors) == (whole.by_bounds, whole.by_vectors)


def test_bounds_decide_nothing_else_than_the_vectors(monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything judged by the exact measures alone: the surfaces only save work."""
    columns = columns_of(book(2500, seed=8))
    bounded = judge_bulk(columns, _permit(), _region(), now=NOW)

    def nothing(ground: Ground, asked: object, limit: object, spots: Spots) -> Codes:
        return np.full(len(spots.day), UNDECIDED, dtype=np.uint8)

    monkeypatch.setattr(Ground, "_bounded", nothing)
    exact = judge_bulk(columns, _permit(), _region(), now=NOW)
    assert (bounded.codes == exact.codes).all()
    assert sum(exact.by_vectors) > 8 * sum(bounded.by_vectors)


def test_an_empty_book_has_no_verdicts() -> None:
    found = judge_bulk(columns_of([]), _permit(), _region(), now=NOW)
    assert found.codes.shape == (0, len(found.clauses))
    assert not len(found.left)


def test_the_rough_sun_is_good_to_its_bound() -> None:
    """Against ephem over the globe, 1900–2100; no worse than two thirds of the bound."""
    rng = np.random.default_rng(1)
    lon, lat, t = rng.uniform(-180, 180, 5000), rng.uniform(-89, 89, 5000), rng.uniform(-2.2e9, 4.1e9, 5000)
    exact = [altitude_deg(*at) for at in zip(lon.tolist(), lat.tolist(), t.tolist(), strict=True)]
    assert np.abs(sun_altitude_deg(lon, lat, t) - exact).max() < SUN_ERROR_DEG * 2 / 3


@pytest.mark.parametrize(
    "name", ["Australia/Hobart", "Australia/Lord_Howe", "America/New_York", "Asia/Kolkata"]
)
def test_the_clock_on_the_wall_is_the_zones(name: str) -> None:
    zone = ZoneInfo(name)
    rng = np.random.default_rng(2)
    changes = [datetime(2026, 4, 4, 16, tzinfo=UTC), datetime(2026, 10, 3, 16, tzinfo=UTC)]
    near = [(c + timedelta(seconds=s)).timestamp() for c in changes for s in (-1800, -1, 0, 1, 1800)]
    t = np.r_[rng.uniform(1.5e9, 1.9e9, 2000).round(3), near]
    wall = Wall(zone, float(t.min()), float(t.max()))
    for at, shown, day in zip(t.tolist(), wall.local_s(t).tolist(), wall.day(t).tolist(), strict=True):
        real = datetime.fromtimestamp(at, zone)
        assert (datetime(1970, 1, 1) + timedelta(days=day)).date() == real.date()
        assert shown == pytest.approx(real.replace(tzinfo=UTC).timestamp(), abs=1e-3)


def test_an_area_that_a_consent_names_is_left_to_the_definition() -> None:
    """``unless_captured_within`` spares an area by capture and consent: the bulk does not guess at it."""
    named = Consent(
        "K1", "", "protected", "R-1", "reserve", "manager", written=True, valid_from=date(2025, 1, 1),
        valid_to=None, species=(), number=None, withdrawn_on=None, where="",
    )  # fmt: skip
    columns = columns_of(book(100, seed=9))
    found = judge_bulk(columns, _permit(), _region(), now=NOW, consents=[named])
    plain = judge_bulk(columns, _permit(), _region(), now=NOW)
    spared = [k for k, c in enumerate(found.clauses) if c.condition.id == "5(b)"]
    released = columns.released
    for k in spared:
        asked = released & (plain.codes[:, k] <= Code.NOT_MET)
        assert asked.any()
        assert (found.codes[asked, k] == Code.LEFT).all()
    others = [k for k in range(len(found.clauses)) if k not in spared]
    assert (found.codes[:, others] == plain.codes[:, others]).all()


def test_a_place_far_from_the_region_is_judged_like_any_other() -> None:
    """Beyond what the surfaces bound the vectors decide: 60 km away, and just beyond the window."""
    far = []
    for n, (lon, lat) in enumerate([(148.3, -42.1), (147.658, -42.1), (147.6, -42.1431), (147.54, -42.3)]):
        one = book(1, seed=40 + n)[0]
        at = Position(lon, lat, 25.0)
        start = datetime(2026, 1, 10, 1, tzinfo=UTC)
        far.append(
            replace(one, taken_at=at, let_go_at=at, disposal="released", captured=start,
                    disposed=start + timedelta(hours=1), trap_checked=None)
        )  # fmt: skip
    found = judge_bulk(columns_of(far), _permit(), _region(), now=NOW)
    for i, one in enumerate(far):
        said = _said(judge_record(one, _permit(), _region(), Book(NOW)))
        for k, clause in enumerate(found.clauses):
            if found.codes[i, k] not in (Code.LEFT, Code.NOT_ASKED):
                assert found.codes[i, k] == said[clause.version, clause.condition.id], clause
