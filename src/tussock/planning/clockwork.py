"""The hours of a plan: when a release may be, until when each clause allows it, and what is said of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from tussock.measure.clauses import Clause
from tussock.measure.judging import Window
from tussock.measure.timetable import MINUTE_S, STAY_S, Timetable
from tussock.planning.record import ClockFacts, ClockLine
from tussock.planning.setting import Setting, drive_s, walk_s
from tussock.spans import Spans, instant, posix
from tussock.sun import sun_events

AHEAD_H = 48.0
"""How far ahead a time that suits every clause is looked for [h] (judgement)."""
HOUR_S = 3600.0


@dataclass(frozen=True)
class SiteTimes:
    """The hours of one place, as ISO 8601 in the permit's zone.

    Attributes
    ----------
    start, end
        Release between these; every clause of the clock is met throughout.
    deadline, deadline_of
        Until when all clauses go on allowing it, and the clause that ends it; empty where none does
        within two days.
    leave_by
        The latest departure that reaches the place before the deadline, by the estimate.
    drive_min, walk_min
        The estimate [min].
    """

    start: str
    end: str
    deadline: str
    deadline_of: str
    leave_by: str
    drive_min: float
    walk_min: float


def site_times(
    timetable: Timetable, window: Window, *, lon: float, lat: float, distance_m: float, zone: ZoneInfo
) -> SiteTimes:
    """Return the hours of a place whose window is known."""
    deadline, clause = _deadline(timetable, window, lon, lat)
    travel = drive_s(distance_m) + walk_s()
    return SiteTimes(
        start=iso(window[0], zone),
        end=iso(window[1], zone),
        deadline="" if deadline is None else iso(deadline, zone),
        deadline_of=clause,
        leave_by="" if deadline is None else iso(deadline - travel, zone),
        drive_min=drive_s(distance_m) / 60,
        walk_min=walk_s() / 60,
    )


def _deadline(timetable: Timetable, window: Window, lon: float, lat: float) -> tuple[float | None, str]:
    """Return until when all clauses allow the release, in whole minutes, and which clause ends it."""
    ahead = window[0], window[0] + AHEAD_H * HOUR_S
    ends = [(_end(timetable.in_force & Spans.of(*ahead), window[0], ahead[1]), "the permit's version")]
    for clause in timetable.clauses:
        allowed = timetable.allowed_by(clause, lon, lat, within=ahead)
        ends.append((_end(allowed, window[0], ahead[1]), clause.condition.id))
    first = min(ends, key=lambda e: e[0])
    return (None, "") if first[0] >= ahead[1] else (first[0] // MINUTE_S * MINUTE_S, first[1])


def _end(allowed: Spans, at: float, horizon: float) -> float:
    part = allowed.part_at(at)
    return horizon if part is None else part[1]


def iso(seconds: float, zone: ZoneInfo) -> str:
    """Return an instant as ISO 8601 local time with its offset."""
    return instant(seconds, zone).isoformat()


def clock_facts(timetable: Timetable | None, setting: Setting, *, lon: float, lat: float) -> ClockFacts:
    """Return the clock of a plan at the place of capture: the sun, and what each clause allows."""
    zone, now = setting.permits[0].zone, posix(setting.now)
    rise, fall = sun_events(lon, lat, after=now)
    lines: tuple[ClockLine, ...] = ()
    if timetable is not None:
        within = timetable.start, timetable.start + AHEAD_H * HOUR_S
        lines = tuple(_line(timetable, c, lon, lat, within) for c in timetable.clauses)
    return ClockFacts(
        sunrise="" if rise is None else iso(rise, zone),
        sunset="" if fall is None else iso(fall, zone),
        lines=lines,
        travel_assumed=setting.release_at is None,
    )


def _line(timetable: Timetable, clause: Clause, lon: float, lat: float, within: Window) -> ClockLine:
    allowed = timetable.allowed_by(clause, lon, lat, within=within)
    zone = clause.zone
    assert zone is not None  # clauses of the clock have one
    c = clause.condition
    spans = tuple((iso(a, zone), iso(b, zone)) for a, b in map(_inwards, allowed.parts) if a <= b)
    return ClockLine(c.id, clause.source, c.text or c.words(), spans, within_h=AHEAD_H)


def conflict(timetable: Timetable, setting: Setting, *, lon: float, lat: float) -> tuple[str, ...]:
    """Return why no time of the planned release suits, in sentences: the clauses, the clock, what to do."""
    zone = setting.permits[0].zone
    arrive, last = (iso(t, zone) for t in timetable.span)
    several = len(setting.permits) > 1
    clauses = "; ".join(_said(timetable, c, lon, lat, several=several) for c in timetable.clauses)
    said = (
        f"No site: at the time of the planned release the clauses of the clock cannot all be met. {clauses}."
    )
    clock = (
        f"The clock: it is {_clock(setting.now.astimezone(zone))}; a release would be between "
        f"{_clock(datetime.fromisoformat(arrive))} and {_clock(datetime.fromisoformat(last))}."
    )
    return said, clock, _next_time(timetable, lon, lat, zone, call=authorities(setting))


def authorities(setting: Setting) -> str:
    """Return who issued the permits, each once, as one calls them."""
    return " and ".join(dict.fromkeys(p.authority for p in setting.permits))


def _said(timetable: Timetable, clause: Clause, lon: float, lat: float, *, several: bool) -> str:
    within = timetable.start - HOUR_S, timetable.start + AHEAD_H * HOUR_S
    parts = timetable.allowed_by(clause, lon, lat, within=within).parts
    zone = clause.zone
    assert zone is not None  # clauses of the clock have one
    spans = " and ".join(_span(part, within, zone) for part in parts[:2])
    c = clause.condition
    never = f"no time in the next {AHEAD_H:.0f} hours"
    name = f"{c.id} of {clause.source}" if several else c.id
    return f"{name} ({(c.text or c.words()).rstrip('.')}) allows {spans or never}"


def _span(part: Window, within: Window, zone: ZoneInfo) -> str:
    first, last = (instant(t, zone) for t in _inwards(part))
    start, end = _clock(first), _clock(last)
    if part[0] <= within[0]:
        return f"until {end}" if part[1] < within[1] else "any time"
    if part[1] >= within[1]:
        return f"from {start}"
    return f"{first:%H:%M} to {end}" if first.date() == last.date() else f"{start} to {end}"


def _inwards(part: Window) -> Window:
    """Return a span in whole minutes, none of them outside it."""
    return math.ceil(part[0] / MINUTE_S) * MINUTE_S, math.floor(part[1] / MINUTE_S) * MINUTE_S


def _clock(when: datetime) -> str:
    return f"{when:%H:%M} on {when.day} {when:%B}"


def _next_time(timetable: Timetable, lon: float, lat: float, zone: ZoneInfo, *, call: str) -> str:
    within = timetable.start, timetable.start + AHEAD_H * HOUR_S
    for start, end in timetable.allowed(lon, lat, within=within).parts:
        if end - start >= STAY_S:
            first, last = (_clock(instant(t, zone)) for t in _inwards((start, end)))
            return (
                f"All of them can be met between {first} and {last}: where the animal may be held until "
                f"then, plan again for then; if not, call {call}."
            )
    return f"No time in the next {AHEAD_H:.0f} hours meets all of them: call {call}."
