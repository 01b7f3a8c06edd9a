"""The clock's clauses against the plain reading of a wall clock, in every zone and round its changes.

The oracle reads two clocks: ``zoneinfo``'s local date and time of the capture and of the release. It knows no
spans. Instants lie half a minute off the whole minutes that limits are drawn from, so no tolerance decides.
"""

from __future__ import annotations

import random
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

import pytest

from tussock.interval import Verdict
from tussock.permit.time_kinds import (
    ClockWindow,
    MaxHoldingHours,
    ReleaseWindow,
    SameCalendarDay,
    TimeCondition,
    TimeFacts,
)

YEARS = (1995, 2011, 2025, 2026)
"""2011: Samoa left a day out."""


def changes(zone: ZoneInfo, year: int) -> list[datetime]:
    """Return the days of a year after whose start at UTC a zone's offset has changed."""
    days = [datetime(year, 1, 1, tzinfo=UTC) + timedelta(days=d) for d in range(367)]
    offsets = [d.astimezone(zone).utcoffset() for d in days]
    return [d for d, now, before in zip(days[1:], offsets[1:], offsets, strict=False) if now != before]


def a_capture(rng: random.Random, zone: ZoneInfo) -> datetime:
    """Return an instant, mostly within two days of a clock change."""
    year = rng.choice(YEARS)
    near = changes(zone, year)
    day = rng.choice(near) if near and rng.random() < 0.8 else datetime(year, 7, 1, tzinfo=UTC)
    return (day + timedelta(seconds=rng.randrange(-2 * 86400, 86400))).replace(second=30)


def clauses(rng: random.Random) -> tuple[TimeCondition, ...]:
    """Return one clause of each kind, with drawn limits on whole minutes."""
    late: dict[str, Any] = {}
    if rng.random() < 0.7:
        late = {
            "captured_after": time(rng.randrange(24), rng.choice((0, 30, 59))),
            "then_within_h": rng.choice((1.0, 2.0, 6.5, 30.0)),
        }
    start, end = rng.sample([f"{h:02d}:{m:02d}" for h in range(24) for m in (0, 15, 30, 45)], 2)
    window = ClockWindow.model_validate({"from": start, "to": end})
    return (
        SameCalendarDay(id="day", **late),
        MaxHoldingHours(id="held", limit_h=rng.choice((1.0, 12.0, 24.0)), **late),
        ReleaseWindow(id="window", window=window),
    )


def plainly(clause: TimeCondition, captured: datetime, released: datetime) -> bool:
    """Return whether a clause is met, read off two wall clocks (both in the permit's zone)."""
    hours = (released.astimezone(UTC) - captured.astimezone(UTC)).total_seconds() / 3600
    if isinstance(clause, ReleaseWindow):
        assert isinstance(clause.window, ClockWindow)
        start, end, clock = clause.window.from_, clause.window.to, released.time()
        return start <= clock <= end if start < end else clock >= start or clock <= end
    assert isinstance(clause, SameCalendarDay | MaxHoldingHours)
    late = clause.captured_after is not None and captured.time() > clause.captured_after
    within = clause.then_within_h if late else None
    if isinstance(clause, SameCalendarDay):
        return captured.date() == released.date() or (within is not None and hours <= within)
    return hours <= (clause.limit_h if within is None else within)


@pytest.mark.parametrize("seed", range(6))
def test_instants_allowed_are_those_that_the_wall_clock_allows(seed: int) -> None:
    rng = random.Random(seed)
    names = sorted(available_timezones())
    met = 0
    for _ in range(120):
        zone = ZoneInfo(rng.choice(names))
        captured = a_capture(rng, zone)
        facts = TimeFacts(captured.timestamp(), zone, 0.0, 0.0, ("",))
        for clause in clauses(rng):
            for _ in range(12):
                released = (captured + timedelta(seconds=rng.randrange(60, 2 * 86400))).replace(second=30)
                at = released.timestamp()
                expected = plainly(clause, captured.astimezone(zone), released.astimezone(zone))
                verdict = clause.demand(facts).judge(clause.measured(facts, at, at))
                said = f"{zone.key}, {clause}, {captured.astimezone(zone)}, {released.astimezone(zone)}"
                assert (verdict is Verdict.MET) is expected, said
                assert clause.allowed(facts, within=(at - 900, at + 900)).holds(at) is expected, said
                met += expected
    assert 1000 < met < 3300, "both answers come up"
