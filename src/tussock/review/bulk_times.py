"""Clauses of the clock over a batch of records: hours held, the calendar day, windows, the sun."""

from __future__ import annotations

import math
from datetime import time
from typing import Protocol

import numpy as np

from tussock.geodesy import Floats
from tussock.measure.scene import Places
from tussock.permit.time_kinds import (
    TOLERANCE_H,
    TWILIGHT_DEG,
    ClockWindow,
    MaxHoldingHours,
    ReleaseWindow,
    SameCalendarDay,
    TimeCondition,
    TimeFacts,
)
from tussock.review.bulk_clock import DAY_S, SUN_ERROR_DEG, Wall, sun_altitude_deg
from tussock.review.bulk_columns import Code, Codes, Columns, Mask, code_of
from tussock.species.animal import FoundIn
from tussock.sun import HORIZON_DEG, altitude_deg

_HOUR_S = 3600.0
_SLIP_S = 0.999
"""How far beside an allowed instant still counts [s]; as in TimeCondition.demand."""
_GUARD_S = 1e-4
_TURN_DEG = 0.01
"""The sun climbs by less in the second and the hundredth that instants are compared to [°]."""
_CHANGE_S = 3.0
_DAY_LONG_S = 1.25 * DAY_S
"""No local day is longer [s], so that a change of the clock farther off is not in it."""


class Timed(Protocol):
    """What the clauses of the clock read of a batch."""

    @property
    def columns(self) -> Columns:
        """The records."""

    @property
    def wall(self) -> Wall:
        """The permit's clock."""

    @property
    def ended(self) -> Floats:
        """End of holding [POSIX s]."""

    @property
    def site(self) -> Places:
        """Where the sun is looked at."""

    @property
    def contradicted(self) -> tuple[Mask, Mask]:
        """Whose times contradict each other, without and with the look at the trap."""


def judge_time(condition: TimeCondition, batch: Timed) -> Codes:
    """Return a clause's verdict for every record of the batch."""
    columns = batch.columns
    from_check = isinstance(condition, MaxHoldingHours) and condition.from_ == "trap_check"
    match condition:
        case MaxHoldingHours():
            found = _held(condition, batch)
        case SameCalendarDay():
            found = _same_day(condition, batch)
        case ReleaseWindow(window=ClockWindow() as window):
            found = _in_window(window, batch)
        case ReleaseWindow():
            found = _by_sun(condition, batch)
        case _:
            found = np.full(len(columns), Code.LEFT, dtype=np.uint8)
    for i in np.flatnonzero(found == Code.LEFT):
        found[i] = _one(condition, batch, int(i), _periods(batch, int(i)))
    if isinstance(condition, ReleaseWindow) and condition.window == "active_period":
        _of_either(found, condition, batch)
    found[np.isnan(columns.disposed) & (found == Code.MET)] = Code.NO_VERDICT  # held, and the clock goes on
    found[batch.contradicted[from_check]] = Code.MISSING
    if condition.releases_only:
        found[~columns.said_released] = Code.NO_VERDICT
    return found


def _of_either(found: Codes, condition: ReleaseWindow, batch: Timed) -> None:
    """Put in what is missing an answer: not met for one of the species it may be, and not for another."""
    several = np.array([len({p.active_period for p in a.profiles}) > 1 for a in batch.columns.animals])
    for i in np.flatnonzero((found == Code.NOT_MET) & several[batch.columns.animal]):
        each = [_one(condition, batch, int(i), (p,)) for p in _periods(batch, int(i))]
        if any(code != Code.NOT_MET for code in each):
            found[i] = Code.MISSING


def _periods(batch: Timed, i: int) -> tuple[str, ...]:
    """Return the active periods of every species that an animal may be."""
    animal = batch.columns.animals[batch.columns.animal[i]]
    return tuple(str(p.active_period or "") for p in animal.profiles)


def _one(condition: TimeCondition, batch: Timed, i: int, periods: tuple[str, ...]) -> Code:
    """Return the verdict of a record as the clause itself works it out, one by one."""
    columns, at, t = batch.columns, batch.site, float(batch.ended[i])
    facts = TimeFacts(
        captured=float(columns.captured[i]),
        zone=batch.wall.zone,
        longitude=float(at.lon[i]),
        latitude=float(at.lat[i]),
        active_periods=periods,
    )
    return code_of(condition.demand(facts).judge(condition.measured(facts, t, t)))


def _seconds(clock: time) -> float:
    return clock.hour * _HOUR_S + clock.minute * 60 + clock.second + clock.microsecond / 1e6


def _late(after: time | None, batch: Timed) -> Mask:
    """Return which animals were taken later in the day than that, to the second as the clauses read it."""
    if after is None:
        return np.zeros(len(batch.columns), dtype=bool)
    return np.asarray(batch.wall.local_s(np.round(batch.columns.captured)) % DAY_S > _seconds(after))


def _held(condition: MaxHoldingHours, batch: Timed) -> Codes:
    columns = batch.columns
    start, lacking = columns.captured, np.zeros(len(columns), dtype=bool)
    if condition.from_ == "trap_check":
        unseen = np.isnan(columns.trap_checked)
        in_trap = [a.found_in is None or a.found_in is FoundIn.TRAP_OR_NETTING for a in columns.animals]
        lacking = unseen & np.array(in_trap, dtype=bool)[columns.animal]
        start = np.where(unseen, start, columns.trap_checked)
    late = _late(condition.captured_after, batch)
    limit = np.where(late, condition.then_within_h or 0.0, condition.limit_h)
    hours = (batch.ended - start) / _HOUR_S
    found = np.where(hours > limit + TOLERANCE_H, Code.NOT_MET, Code.UNCERTAIN)
    found[limit - hours >= -TOLERANCE_H] = Code.MET
    found[lacking] = Code.MISSING
    return found.astype(np.uint8)


def _same_day(condition: SameCalendarDay, batch: Timed) -> Codes:
    """Return whether holding ended on its day; about a change of the clock it is worked out singly."""
    captured, wall, t = np.round(batch.columns.captured), batch.wall, batch.ended
    local = wall.local_s(captured)
    start = captured - local % DAY_S
    end = start + DAY_S - 1.0
    if condition.then_within_h is not None:
        late = _late(condition.captured_after, batch)
        extra = batch.columns.captured + condition.then_within_h * _HOUR_S
        end = np.where(late & (extra >= end), extra, end)
    deep = np.minimum(t - start, end - t)
    found = np.where(deep >= -_SLIP_S, Code.MET, Code.NOT_MET).astype(np.uint8)
    found[np.abs(deep + _SLIP_S) <= _GUARD_S] = Code.LEFT
    found[wall.near_change(captured, within_s=_DAY_LONG_S)] = Code.LEFT
    return found


def _in_window(window: ClockWindow, batch: Timed) -> Codes:
    """Return whether holding ended between two clock times; next to a change of the clock singly."""
    first, last = _seconds(window.from_), _seconds(window.to)
    length = (last - first) % DAY_S
    since = (batch.wall.local_s(batch.ended) - first) % DAY_S
    inside = (since <= length + _SLIP_S) | (since >= DAY_S - _SLIP_S)
    found = np.where(inside, Code.MET, Code.NOT_MET).astype(np.uint8)
    near = [np.abs(since - bar) <= _GUARD_S for bar in (length + _SLIP_S, DAY_S - _SLIP_S)]
    found[near[0] | near[1] | batch.wall.near_change(batch.ended, within_s=_CHANGE_S)] = Code.LEFT
    return found


def _by_sun(condition: ReleaseWindow, batch: Timed) -> Codes:
    """Return whether the sun stood as it must: by its rough altitude, exactly where that does not decide."""
    columns, at = batch.columns, batch.site
    ranges = np.array([_altitudes(condition, n, columns) for n in range(len(columns.animals))])
    low, high = ranges[columns.animal].T
    rough = sun_altitude_deg(at.lon, at.lat, batch.ended)
    found = _between(rough, low, high, slack=SUN_ERROR_DEG)
    for i in np.flatnonzero((found == Code.LEFT) & ~np.isnan(low)):
        exact = np.array([altitude_deg(float(at.lon[i]), float(at.lat[i]), float(batch.ended[i]))])
        found[i] = _between(exact, low[i : i + 1], high[i : i + 1], slack=0.0)[0]
    found[np.isnan(low)] = Code.MISSING
    return found


def _between(altitude: Floats, low: Floats, high: Floats, *, slack: float) -> Codes:
    """Return which altitudes lie in their range, which outside; next to its ends they are left."""
    with np.errstate(invalid="ignore"):
        found = np.full(len(altitude), Code.LEFT, dtype=np.uint8)
        more = slack + _TURN_DEG
        found[(altitude >= low + more) & (altitude <= high - more)] = Code.MET
        found[(altitude < low - more) | (altitude > high + more)] = Code.NOT_MET
    return found


def _altitudes(condition: ReleaseWindow, number: int, columns: Columns) -> tuple[float, float]:
    """Return between which altitudes [°] the sun must stand; not a number where that is not known."""
    periods: tuple[str, ...] = ("diurnal",)
    if condition.window != "daylight":
        periods = tuple(str(p.active_period or "") for p in columns.animals[number].profiles)
    ranges = {
        "diurnal": (HORIZON_DEG, math.inf),
        "nocturnal": (-math.inf, HORIZON_DEG),
        "crepuscular": (HORIZON_DEG - TWILIGHT_DEG, HORIZON_DEG + TWILIGHT_DEG),
        "": (math.nan, math.nan),
    }
    chosen = [ranges.get(p, (-math.inf, math.inf)) for p in periods]
    return float(np.max([low for low, _ in chosen])), float(np.min([high for _, high in chosen]))
