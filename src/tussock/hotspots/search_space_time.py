"""The search through all circles × runs of periods of many tables for each one's greatest likelihood ratio.

For the one table that was observed, it is asked which cylinder is the most striking. For a thousand made-up
ones only how striking it is: they stand side by side, and as in `tussock.hotspots.search` whole numbers are
compared with the least that could beat the greatest ratio so far.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.hotspots.compiling import compiled, in_threads
from tussock.hotspots.search import MAPS, SAME, STEPS, filled, log_likelihood_ratio
from tussock.hotspots.windows import Flags, Whole, Windows

Found = tuple[int, int, int]
"""Place in the windows' members, first and last period."""


class CylinderSearch:
    """Looks through all cylinders of tables that share their row and column sums.

    Parameters
    ----------
    windows
        The circles.
    calls
        Of each unit, at any time.
    per_period
        Calls of each period, anywhere.
    longest
        Run of periods.
    threads
        Batches of tables at a time; None: as many as there are processors.
    """

    def __init__(
        self, windows: Windows, calls: Floats, per_period: Whole, longest: int, threads: int | None
    ) -> None:
        self.windows, self.longest, self.total = windows, longest, int(per_period.sum())
        self.threads = threads
        self.sums = windows.summed(calls)
        self.until = np.concatenate([[0], np.cumsum(per_period)]).astype(np.float64) / self.total
        self._loop = compiled(_least_expected)

    def greatest(self, table: Callable[[int], Whole], *, maps: int) -> Floats:
        """Return the logarithm of the greatest ratio of each of several tables, made one by one."""
        greatest = np.zeros(maps)
        circles = _Circles(self)

        def batch(piece: int) -> None:
            part = range(piece * MAPS, min((piece + 1) * MAPS, maps))
            least = circles.least_expected([table(one) for one in part])
            greatest[part.start : part.stop] = self._ratios(least).max(axis=1)[: len(part)]

        in_threads(batch, -(-maps // MAPS), threads=self.threads)
        return greatest

    def greatest_of(self, table: Whole) -> float:
        """Return the logarithm of the greatest ratio of one table, by the search that also says where."""
        least, _ = self._least(table, np.zeros(table.shape, np.bool_))
        return float(self._ratios(least).max())

    def best(self, table: Whole, *, most: int) -> list[Found]:
        """Return the most striking cylinders in their order, none sharing a unit and a period."""
        found: list[Found] = []
        taken = np.zeros(table.shape, np.bool_)
        while len(found) < most and (place := self._one(table, taken)):
            end, first, last = place
            taken[self.units(end), first : last + 1] = True
            found.append(place)
        return found

    def units(self, end: int) -> Whole:
        """Return the units of the circle that ends at a place in the windows' members."""
        return self.windows.units(int(self.windows.centre_of(np.array([end]))[0]), end)

    def _one(self, table: Whole, taken: Flags) -> Found | None:
        least, at = self._least(table, taken)
        ratios = self._ratios(least)
        calls = int(np.argmax(ratios))
        if not ratios[calls] > 0:
            return None
        return self._tightest(int(at[calls, 0])), int(at[calls, 1]), int(at[calls, 2])

    def _tightest(self, end: int) -> int:
        """Return the end of the smallest circle that holds just the same units."""
        units = self.units(end)
        wanted = np.zeros(len(self.windows.x))
        wanted[units] = 1.0
        alike = (self.windows.summed(wanted) == len(units)) & self.windows.closed
        alike &= self.windows.summed(np.ones(len(wanted))) == len(units)
        places = np.flatnonzero(alike)
        radii = [
            self.windows.radius_m(int(c), int(k))
            for c, k in zip(self.windows.centre_of(places), places, strict=True)
        ]
        return int(places[int(np.argmin(radii))])

    def _least(self, table: Whole, taken: Flags) -> tuple[Floats, Whole]:
        least, at = np.full(self.total + 1, np.inf), np.zeros((self.total + 1, 3), np.int64)
        windows = self.windows
        circles = windows.starts, windows.members, windows.closed, self.sums
        self._loop(*circles, table, taken, self.until, self.longest, least, at)
        return least, at

    def _ratios(self, least: Floats) -> Floats:
        return log_likelihood_ratio(np.arange(self.total + 1), least, total=self.total)


class _Circles:
    """The circles of a search, for tables side by side."""

    def __init__(self, search: CylinderSearch) -> None:
        self.search, windows = search, search.windows
        self._fill, self._loop = compiled(filled), compiled(_least_side_by_side)
        self._opens = np.zeros(len(windows.members), np.bool_)
        self._opens[windows.starts[:-1][np.diff(windows.starts) > 0]] = True

    def least_expected(self, tables: Sequence[Whole]) -> Floats:
        """Return, per table and number of calls, the least expectation of a cylinder with so many.

        Infinite where none with so many is the table's most striking. Shape (`MAPS`, calls + 1).
        """
        search, windows = self.search, self.search.windows
        whole: npt.DTypeLike = np.int16 if search.total < np.iinfo(np.int16).max else np.int32
        units, periods = tables[0].shape
        side = np.zeros((units, periods, MAPS), dtype=whole)
        for one, table in enumerate(tables):
            side[:, :, one] = table
        calls, need = np.zeros((periods, MAPS), whole), np.zeros((STEPS + 1, MAPS), whole)
        least, best = np.full((MAPS, search.total + 1), np.inf), np.zeros(MAPS)
        risen = np.ones(MAPS, np.bool_)
        for start, stop in _pieces(len(windows.members)):
            self._fill(need, best, risen, search.total)
            circles = windows.members[start:stop], self._opens[start:stop], windows.closed[start:stop]
            self._loop(
                *circles,
                search.sums[start:stop],
                side,
                search.until,
                search.longest,
                search.total,
                calls,
                need,
                best,
                risen,
                least,
            )
        return least


def _pieces(length: int) -> Iterator[tuple[int, int]]:
    """Yield starts and stops of pieces of twice the length each: the numbers to reach rise fast at first."""
    start, step = 0, 8
    while start < length:
        yield start, min(start + step, length)
        start, step = start + step, min(start + step, 65_536)


def _least_side_by_side(  # noqa: PLR0917, PLR0912 – a loop for the compiler, in one piece
    members: npt.NDArray[np.uint32],
    opens: Flags,
    closed: Flags,
    sums: Floats,
    tables: Whole,
    until: Floats,
    longest: int,
    total: int,
    calls: Whole,
    need: Whole,
    best: Floats,
    risen: Flags,
    least: Floats,
) -> None:
    """Lower the least expectations of each table, and raise its greatest ratio `best`.

    Parameters
    ----------
    opens
        Whether a member is its centre's first.
    tables
        Calls, shape (units, periods, MAPS).
    calls
        Those of the circle so far, per period and table: kept from piece to piece.
    need
        Least number of calls, per step of expectation and table, that could beat `best`.
    """
    periods = tables.shape[1]
    both = np.zeros(MAPS, tables.dtype)
    lowest = np.zeros(STEPS + 1, np.int64)
    for step in range(STEPS + 1):
        lowest[step] = need[step, 0]
        for one in range(MAPS):
            lowest[step] = min(lowest[step], need[step, one])
    roots = np.zeros((periods, periods + 1))
    for first in range(periods):
        for last in range(first, periods):
            roots[first, last] = math.sqrt(until[last + 1] - until[first])
    for place in range(len(members)):
        unit = members[place]
        if opens[place]:
            for t in range(periods):
                for one in range(MAPS):
                    calls[t, one] = 0
        for t in range(periods):
            for one in range(MAPS):
                calls[t, one] += tables[unit, t, one]
        if not closed[place]:
            continue
        root = math.sqrt(sums[place] / total) * STEPS
        for first in range(periods):
            for one in range(MAPS):
                both[one] = 0
            for last in range(first, min(first + longest, periods)):
                step = int(root * roots[first, last])
                if lowest[step] > sums[place]:
                    break  # not even all calls of the circle would do, and longer runs expect more
                reached = False
                for one in range(MAPS):
                    both[one] += calls[last, one]
                    reached |= both[one] >= need[step, one]
                if reached:
                    expected = sums[place] * (until[last + 1] - until[first])
                    for one in range(MAPS):
                        c = both[one]
                        if c >= need[step, one] and c > expected > 0.0 and expected < least[one, c]:
                            ratio = c * math.log(c / expected)
                            if c < total:
                                ratio += (total - c) * math.log((total - c) / (total - expected))
                            if ratio >= best[one] * (1 - SAME):
                                least[one, c] = expected
                            if ratio > best[one]:
                                best[one] = ratio
                                risen[one] = True


def _least_expected(  # noqa: PLR0917, PLR0912 – a loop for the compiler, in one piece
    starts: Whole,
    members: npt.NDArray[np.uint32],
    closed: Flags,
    sums: Floats,
    table: Whole,
    taken: Flags,
    until: Floats,
    longest: int,
    least: Floats,
    at: Whole,
) -> None:
    """Lower, per number of calls, the least expectation of any cylinder with so many, and note which.

    Of cylinders with as many calls, the one where fewest are expected is the most striking. So only runs
    that begin and end with calls matter, and only those that hold a call new to the circle.
    """
    periods = table.shape[1]
    calls = np.zeros(periods, np.int64)
    barred = np.zeros(periods, np.bool_)
    new = np.zeros(periods, np.bool_)
    for centre in range(len(starts) - 1):
        for t in range(periods):
            calls[t], barred[t], new[t] = 0, False, False
        for place in range(starts[centre], starts[centre + 1]):
            unit = members[place]
            for t in range(periods):
                barred[t] |= taken[unit, t]
                if table[unit, t] > 0:
                    calls[t] += table[unit, t]
                    new[t] = True
            if not closed[place]:
                continue
            for t in range(periods):
                if not new[t]:
                    continue
                new[t] = False
                before = 0
                for first in range(t, max(t - longest, -1), -1):
                    if barred[first]:
                        break
                    if calls[first] == 0:
                        continue
                    before += calls[first]
                    both = before - calls[t]
                    for last in range(t, min(first + longest, periods)):
                        if barred[last]:
                            break
                        if calls[last] == 0:
                            continue
                        both += calls[last]
                        expected = sums[place] * (until[last + 1] - until[first])
                        if expected < least[both]:
                            least[both] = expected
                            at[both, 0], at[both, 1], at[both, 2] = place, first, last
