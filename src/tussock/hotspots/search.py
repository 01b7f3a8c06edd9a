"""The search through all windows of many maps for each map's greatest likelihood ratio.

What lets a thousand maps be searched in seconds: a window can beat the greatest ratio of its map so far
only with so many calls, and how many depends on how many are expected there. These least numbers stand in
a table by expectation, for a batch of maps side by side, so that the loop adds and compares whole numbers
of all maps at once; a ratio, with its logarithms, is taken only where a number is reached.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.hotspots.compiling import compiled, in_threads
from tussock.hotspots.windows import Flags, Whole, Windows

SAME = 1e-9
"""Relative difference below which two likelihood ratios are the same, summed in another order."""
MAPS = 64
"""Maps searched side by side: enough for the processor to add many at once."""
STEPS = 256
"""Steps of expectation in the table of least numbers, evenly spaced in its square root."""


@dataclass(frozen=True, eq=False)
class Greatest:
    """The most striking window of each of several maps.

    Attributes
    ----------
    ratio
        Logarithm of its likelihood ratio, 0 where no window has more calls than expected.
    place
        Where it ends in the windows' members; −1 where there is none.
    """

    ratio: Floats
    place: Whole


def log_likelihood_ratio(observed: npt.ArrayLike, expected: npt.ArrayLike, *, total: int) -> Floats:
    """Return c ln(c/E) + (C − c) ln((C − c)/(C − E)) where c > E, else 0.

    Parameters
    ----------
    observed, expected
        Calls c in windows, and how many E were to be expected of the C in all.

    Source
    ------
    Kulldorff (1997), Communications in Statistics – Theory and Methods 26: 1481–1496.
    """
    from scipy.special import xlogy

    c, e = np.asarray(observed, np.float64), np.asarray(expected, np.float64)
    more = (c > e) & (e > 0) & (e < total)
    inside = np.where(more, e, 1.0)
    ratio = xlogy(c, c / inside) + xlogy(total - c, (total - c) / (total - np.where(more, e, 0.0)))
    return np.where(more, ratio, 0.0)


class Search:
    """Looks through all windows for the greatest likelihood ratio.

    Parameters
    ----------
    windows
        The circles.
    expected
        Calls to be expected in each unit; they sum to the total.
    total
        Calls in all.
    threads
        Batches of maps at a time; None: as many as there are processors.
    """

    def __init__(self, windows: Windows, expected: Floats, total: int, threads: int | None) -> None:
        self.windows, self.expected, self.total, self.threads = windows, expected, total, threads
        self.sums = windows.summed(expected)
        share = np.sqrt(np.clip(self.sums / max(total, 1), 0.0, 1.0))
        self._steps = (share * STEPS).astype(np.uint16)
        self._fill, self._loop = compiled(filled), compiled(_greatest)

    def greatest(self, maps: Whole) -> Greatest:
        """Return the most striking window of each map of calls per unit, shape (maps, units)."""
        return self._greatest(maps, self.windows.starts[1:])

    def best(self, counts: Whole, *, most: int) -> list[tuple[int, int]]:
        """Return centre and end of a map's most striking windows, in their order, none sharing a unit."""
        found: list[tuple[int, int]] = []
        taken = np.zeros(len(counts), dtype=np.bool_)
        calls = self.windows.summed(counts.astype(np.float64))
        while len(found) < most and (place := self._one(counts, calls, taken)):
            found.append(place)
            taken[self.windows.units(*place)] = True
        return found

    def _one(self, counts: Whole, calls: Floats, taken: Flags) -> tuple[int, int] | None:
        """Return the most striking window without a taken unit; of equal ones the smallest."""
        stops = self.windows.stops_before(taken)
        end = int(self._greatest(counts[None, :], stops).place[0])
        if end < 0:
            return None
        alike = np.flatnonzero((calls == calls[end]) & (self.sums <= self.sums[end] * (1 + SAME)))
        centres = self.windows.centre_of(alike)
        free = alike < stops[centres]
        places = [
            (int(c), self.windows.ends(int(k))) for c, k in zip(centres[free], alike[free], strict=True)
        ]
        return min(places, key=lambda place: (self.windows.radius_m(*place), place[0]))

    def _greatest(self, maps: Whole, stops: Whole) -> Greatest:
        ratio, place = np.zeros(len(maps)), np.full(len(maps), -1, dtype=np.int64)
        whole: npt.DTypeLike = np.int16 if self.total < np.iinfo(np.int16).max else np.int32
        begin, end = self.windows.starts[:-1].astype(np.uint64), stops.astype(np.uint64)
        pieces = _pieces(stops - self.windows.starts[:-1])

        def batch(piece: int) -> None:
            part = slice(piece * MAPS, min((piece + 1) * MAPS, len(maps)))
            side = np.zeros((maps.shape[1], MAPS), dtype=whole)
            side[:, : part.stop - part.start] = maps[part].T
            least = np.zeros((STEPS + 1, MAPS), dtype=whole)
            best, at = np.zeros(MAPS), np.full(MAPS, -1, dtype=np.int64)
            risen = np.ones(MAPS, np.bool_)
            for first, last in pieces:
                self._fill(least, best, risen, self.total)
                rings = begin[first:last], end[first:last], self.windows.members, self.sums, self._steps
                self._loop(*rings, self.total, side, least, best, at, risen)
            ratio[part], place[part] = best[: part.stop - part.start], at[: part.stop - part.start]

        in_threads(batch, -(-len(maps) // MAPS), threads=self.threads)
        return Greatest(ratio, place)


def _pieces(lengths: Whole) -> list[tuple[int, int]]:
    """Return firsts and lasts + 1 of centres between which the least numbers are worked out anew.

    They rise fast at first: so after as many members as were seen before, 2,000 to 500,000.
    """
    until = np.cumsum(lengths)
    ends, seen = [0], 0
    while ends[-1] < len(lengths):
        due = seen + min(max(seen, 2000), 500_000)
        ends.append(min(int(np.searchsorted(until, due)) + 1, len(lengths)))
        seen = int(until[ends[-1] - 1])
    return list(pairwise(ends))


def filled(least: Whole, best: Floats, risen: Flags, total: int) -> None:
    """Work out, for maps whose `best` has risen, the least numbers of calls that could beat it.

    Parameters
    ----------
    least
        Shape (STEPS + 1, MAPS): step s is for expectations from total · (s / STEPS)² on. A table that lags
        behind is only less strict.
    """
    for one in range(MAPS):
        if not risen[one]:
            continue
        risen[one] = False
        calls = 1
        for step in range(STEPS + 1):
            e = total * (step / STEPS) ** 2  # the least expectation of the step
            while e > 0.0 and calls <= total:
                if calls > e:
                    ratio = calls * math.log(calls / e)
                    if calls < total:
                        ratio += (total - calls) * math.log((total - calls) / (total - e))
                    if ratio >= best[one] * (1 - SAME):
                        break
                calls += 1
            least[step, one] = calls


def _greatest(  # noqa: PLR0917 – a loop for the compiler, in one piece
    starts: npt.NDArray[np.uint64],
    stops: npt.NDArray[np.uint64],
    members: npt.NDArray[np.uint32],
    sums: Floats,
    steps: npt.NDArray[np.uint16],
    total: int,
    maps: Whole,
    least: Whole,
    best: Floats,
    at: Whole,
    risen: Flags,
) -> None:
    """Raise `best` and `at` of each map to its greatest ratio and where that window ends.

    Parameters
    ----------
    steps
        Step of each member's `sums` in the table `least`.
    maps
        Calls, shape (units, MAPS).
    least
        Least number of calls per step and map that could beat `best`, as of `filled`.
    risen
        Raised for maps whose `best` was.

    Notes
    -----
    A member within a ring of equally far ones is weighed with the ring's whole expectation: never more
    striking than the ring itself, so it changes no maximum.
    """
    run = np.zeros(MAPS, maps.dtype)
    for centre in range(len(stops)):
        for one in range(MAPS):
            run[one] = 0
        for place in range(starts[centre], stops[centre]):
            unit, step = members[place], steps[place]
            reached = False
            for one in range(MAPS):
                run[one] += maps[unit, one]
                reached |= run[one] >= least[step, one]
            if reached:
                e = sums[place]
                for one in range(MAPS):
                    calls = run[one]
                    if calls >= least[step, one] and calls > e > 0.0:
                        ratio = calls * math.log(calls / e)
                        if calls < total:
                            ratio += (total - calls) * math.log((total - calls) / (total - e))
                        if ratio > best[one]:
                            best[one] = ratio
                            at[one] = place
                            risen[one] = True
