"""Sets of instants: closed spans of time, and the spans that a local day or a wall clock names.

A time clause is a set of instants at which something may be done. Instants are POSIX seconds, so that no
clock change comes between two of them; wall clocks enter only in :func:`clock_spans` and :func:`day_spans`.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import pairwise
from zoneinfo import ZoneInfo

_DAY_S = 86_400
_STEP_S = 86_400
"""Between two looks at a zone's offset: in the IANA data (2026) no zone's offset changes twice in 6 days."""

Part = tuple[float, float]


@dataclass(frozen=True)
class Spans:
    """A set of instants.

    Attributes
    ----------
    parts
        Disjoint closed spans [start, end] in POSIX seconds, ascending; ``±inf`` where nothing bounds them.
        A span may be one instant, ``start == end``.

    Examples
    --------
    >>> Spans.of(0, 10) & Spans.of(5, 20)
    Spans(parts=((5, 10),))
    """

    parts: tuple[Part, ...] = ()

    def __post_init__(self) -> None:
        apart = all(before[1] < after[0] for before, after in pairwise(self.parts))
        if not (apart and all(_is_span(part) for part in self.parts)):
            raise ValueError(f"not disjoint ascending spans: {self.parts}")

    @staticmethod
    def of(start: float, end: float) -> Spans:
        """Return the one span [start, end]; nothing when ``end`` lies before ``start``."""
        return Spans.joined([(start, end)])

    @staticmethod
    def joined(parts: Iterable[Part]) -> Spans:
        """Return the union of spans in any order: those that overlap or touch become one, empty ones none."""
        merged: list[Part] = []
        for start, end in sorted(part for part in parts if _is_span(part)):
            if merged and start <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
            else:
                merged.append((start, end))
        return Spans(tuple(merged))

    def __and__(self, other: Spans) -> Spans:
        return Spans.joined((max(a, c), min(b, d)) for a, b in self.parts for c, d in other._near(a, b))

    def __or__(self, other: Spans) -> Spans:
        return Spans.joined((*self.parts, *other.parts))

    def __bool__(self) -> bool:
        return bool(self.parts)

    def __len__(self) -> int:
        return len(self.parts)

    def complement(self) -> Spans:
        """Return all other instants, closed: it shares its ends with the set (one instant leaves no hole)."""
        starts = (-math.inf, *(end for _, end in self.parts))
        ends = (*(start for start, _ in self.parts), math.inf)
        return Spans.joined(zip(starts, ends, strict=True))

    def part_at(self, t: float) -> Part | None:
        """Return the span that holds instant ``t`` [POSIX s]; ``None`` when none does."""
        before = bisect_right(self.parts, (t, math.inf))
        return self.parts[before - 1] if before and t <= self.parts[before - 1][1] else None

    def holds(self, t: float, *, slip_s: float = 0.0) -> bool:
        """Return whether instant ``t`` [POSIX s] lies in the set, or at most ``slip_s`` [s] beside it."""
        return self.depth_s(t) >= -slip_s

    def depth_s(self, t: float) -> float:
        """Return the signed time [s] from instant ``t`` to the set's edge: positive inside, negative outside.

        ``inf`` when the set holds all instants, ``-inf`` when it holds none.
        """
        part = self.part_at(t)
        if part is not None:
            return min(t - part[0], part[1] - t)
        after = bisect_right(self.parts, (t, math.inf))
        ends = [t - self.parts[after - 1][1]] if after else []
        ends += [self.parts[after][0] - t] if after < len(self.parts) else []
        return -min(ends, default=math.inf)

    def shifted(self, early_s: float, late_s: float) -> Spans:
        """Return each span as [start + early_s, end + late_s] [s], joined; those so turned round are gone."""
        return Spans.joined((start + early_s, end + late_s) for start, end in self.parts)

    def _near(self, start: float, end: float) -> tuple[Part, ...]:
        """Return the spans that may share an instant with [start, end]."""
        first = max(bisect_right(self.parts, (start, -math.inf)) - 1, 0)
        return self.parts[first : bisect_right(self.parts, (end, math.inf))]


def _is_span(part: Part) -> bool:
    # Instants are finite: [inf, inf] holds none. Nan compares false.
    return part[0] <= part[1] and part[0] < math.inf and part[1] > -math.inf


ALWAYS = Spans(((-math.inf, math.inf),))
NEVER = Spans()


def posix(moment: datetime) -> float:
    """Return an instant in POSIX seconds.

    Raises
    ------
    ValueError
        When ``moment`` has no zone, so that the instant is not known.
    """
    if moment.utcoffset() is None:
        raise ValueError(f"{moment.isoformat()} has no zone")
    return moment.timestamp()


def instant(seconds: float, zone: ZoneInfo) -> datetime:
    """Return the instant of POSIX ``seconds`` on the zone's clock, to the nearest whole second.

    Raises
    ------
    ValueError
        When ``seconds`` is not finite: an open end of a span has no clock time.
    """
    if not math.isfinite(seconds):
        raise ValueError(f"{seconds} is no instant")
    return datetime.fromtimestamp(round(seconds), zone)


def local_day(day: date, zone: ZoneInfo) -> Part:
    """Return the first instant whose local date is ``day`` and the first instant after the day [POSIX s].

    Where a zone puts its clock back over midnight, the hour that has the date again belongs to it, so that
    two days can overlap. A day that the zone left out has both at the instant of the change.
    """
    parts = day_spans(day, zone).parts
    return parts[0][0], parts[-1][1]


def day_spans(day: date, zone: ZoneInfo) -> Spans:
    """Return the instants whose local date is ``day``, each stretch closed by the first instant after it.

    A day that the zone left out (Samoa, 30 December 2011) gives the one instant of the change.
    """
    midnight = (day - date(1970, 1, 1)).days * _DAY_S
    # Offsets lie within a day of UTC.
    stretches = list(_stretches(zone, midnight - _DAY_S, midnight + 2 * _DAY_S))
    parts = [
        (max(start, midnight - offset), min(end, midnight + _DAY_S - offset))
        for start, end, offset in stretches
    ]
    lived = [(start, end) for start, end in parts if start < end]
    left_out = [start for start, _, offset in stretches if start + offset >= midnight + _DAY_S]
    return Spans.joined(lived or [(left_out[0], left_out[0])])


def clock_spans(start: time, end: time, zone: ZoneInfo, *, within: Part) -> Spans:
    """Return all instants of ``within`` at which the zone's wall clock lies in [start, end].

    Parameters
    ----------
    start, end
        Wall clock times; ``end`` before ``start`` reaches past midnight; equal times are one instant a day.
    within
        Finite first and last instant [POSIX s].

    Returns
    -------
    Spans
        Exact over clock changes: a time that occurs twice counts both times, one that does not occur never.
        A span cut by a change ends a second before it: the instant of the change shows the clock after it.
    """
    first, last = _of_day(start), _of_day(end)
    last += _DAY_S if last < first else 0.0
    found: list[Part] = []
    stretches = list(_stretches(zone, *within))
    for number, (begin, until, offset) in enumerate(stretches, start=1):
        days = range(int((begin + offset) // _DAY_S) - 1, int((until + offset) // _DAY_S) + 1)
        cut = (
            (max(begin, day * _DAY_S + first - offset), min(until, day * _DAY_S + last - offset))
            for day in days
        )
        # The instant of a change shows the clock of after it, so alone it is no part of the stretch before.
        whole = number == len(stretches)
        found += [(a, b) for a, b in cut if a < b or (a == b and (whole or b < until))]
    after = [(begin, (begin + offset) % _DAY_S) for begin, _, offset in stretches[1:]]
    outside = {t for t, clock in after if not (first <= clock <= last or first <= clock + _DAY_S <= last)}
    return Spans.joined((a, b - 1.0 if b in outside else b) for a, b in Spans.joined(found).parts)


def _of_day(clock: time) -> float:
    return clock.hour * 3600 + clock.minute * 60 + clock.second + clock.microsecond / 1e6


def _stretches(zone: ZoneInfo, start: float, end: float) -> Iterator[tuple[float, float, float]]:
    """Yield the stretches of constant offset in [start, end]: first instant, end, offset from UTC [s]."""
    first, last = math.floor(start), math.floor(end)  # offsets change at whole seconds
    begin, offset = start, _offset(zone, first)
    looks = [*range(first, last, _STEP_S), last]
    for before, after in pairwise(looks):
        if _offset(zone, after) != offset:
            change = _change(zone, before, after)
            yield begin, change, offset
            begin, offset = change, _offset(zone, change)
    yield begin, end, offset


def _change(zone: ZoneInfo, before: int, after: int) -> int:
    """Return the whole second in (before, after] from which the offset of ``after`` holds."""
    then = _offset(zone, after)
    while after - before > 1:
        middle = (before + after) // 2
        before, after = (before, middle) if _offset(zone, middle) == then else (middle, after)
    return after


def _offset(zone: ZoneInfo, second: int) -> float:
    offset = datetime.fromtimestamp(second, zone).utcoffset()
    assert offset is not None  # a ZoneInfo always has one
    return offset.total_seconds()
