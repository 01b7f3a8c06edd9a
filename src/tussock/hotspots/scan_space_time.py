"""The permutation scan: places and months with more calls together than either alone explains.

Nothing need be known of the homes: a place that always calls much, and a month in which all places do, are
no cluster. So what it finds is an *unusual combination of place and months*, not a place of many calls.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tussock.errors import Faults
from tussock.geodesy import Floats
from tussock.hotspots.compiling import compiled, in_threads
from tussock.hotspots.search import SAME, log_likelihood_ratio
from tussock.hotspots.windows import Flags, Whole, Windows, circular_windows

Found = tuple[int, int, int]
"""Place in the windows' members, first and last period."""


@dataclass(frozen=True, eq=False)
class Cylinder:
    """A circle and a run of periods that share more calls than expected.

    Attributes
    ----------
    units
        Its units that have calls at any time, ascending.
    centre, radius_m
        Of the circle [m].
    first, last
        Its periods, both included.
    observed, expected
        Calls in it, and how many if place and time had nothing to do with each other.
    llr
        Logarithm of the likelihood ratio.
    p
        Share of maps with times dealt out anew that hold a cylinder as striking.
    """

    units: Whole
    centre: tuple[float, float]
    radius_m: float
    first: int
    last: int
    observed: int
    expected: float
    llr: float
    p: float


@dataclass(frozen=True, eq=False)
class SpaceTimeScan:
    """What a permutation scan found.

    Attributes
    ----------
    cylinders
        Most striking first; no two share a unit and a period.
    calls
        Calls in all.
    greatest
        Greatest logarithm of the likelihood ratio of each map with times dealt out anew, ascending.
    seed
        Of these maps.
    """

    cylinders: tuple[Cylinder, ...]
    calls: int
    greatest: Floats
    seed: int

    def standing_out(self, *, p: float = 0.05) -> tuple[Cylinder, ...]:
        """Return the cylinders whose p is at most this."""
        return tuple(c for c in self.cylinders if c.p <= p)


def permutation_scan(
    unit: Whole,
    period: Whole,
    *,
    x: Floats,
    y: Floats,
    periods: int,
    seed: int,
    centres: tuple[Floats, Floats] | None = None,
    most_share: float = 0.5,
    most_periods: int | None = None,
    replicates: int = 999,
    most: int = 10,
    threads: int | None = None,
) -> SpaceTimeScan:
    """Return the circles and runs of periods that share the most surprising number of calls.

    Parameters
    ----------
    unit, period
        Of each call, counted from 0: periods are consecutive, such as months.
    x, y
        Places of the units [m].
    periods
        How many periods were observed.
    seed
        Of the permutations.
    centres
        x and y of the circles' centres [m]; None: the units with calls.
    most_share
        No circle holds more than this share of the calls, at most 0.5.
    most_periods
        No run is longer; None: half of the periods, and never more than that.
    replicates
        Maps with times dealt out anew.
    most, threads
        As of `tussock.hotspots.scan.scan`.

    Returns
    -------
    SpaceTimeScan
        Expected calls of a cylinder = calls of the circle × calls of the run / all calls.

    Raises
    ------
    InputError
        On calls of no unit or period, fewer than two periods, or arrays that do not fit.
    MissingDataError
        Without numba.

    Source
    ------
    Kulldorff, Heffernan, Hartman, Assunção & Mostashari (2005), PLoS Medicine 2 (3): e59.
    """
    _check(unit, period, x, y, periods=periods, replicates=replicates)
    used, row = np.unique(unit, return_inverse=True)
    if not len(used):
        return SpaceTimeScan((), 0, np.zeros(replicates), seed)
    calls = np.bincount(row).astype(np.float64)
    windows = circular_windows(x[used], y[used], calls, centres=centres, most_share=most_share)
    longest = min(most_periods or periods, max(periods // 2, 1))
    search = _Search(windows, calls, np.bincount(period, minlength=periods), longest)
    found = search.best(_table(row, period, periods), most=most)
    greatest = np.zeros(replicates)

    def replicate(one: int) -> None:
        dealt = _rng(seed, one).permutation(period)
        greatest[one] = search.greatest(_table(row, dealt, periods))

    in_threads(replicate, replicates, threads=threads)
    table = _table(row, period, periods)
    cylinders = tuple(_cylinder(search, used, table, place, greatest) for place in found)
    return SpaceTimeScan(cylinders, len(unit), np.sort(greatest), seed)


def _table(row: Whole, period: Whole, periods: int) -> Whole:
    cells = np.bincount(row * periods + period, minlength=(int(row.max()) + 1) * periods)
    return cells.reshape(-1, periods).astype(np.int64)


def _rng(seed: int, one: int) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(2, one))))


class _Search:
    """Looks through all cylinders of tables that share their row and column sums."""

    def __init__(self, windows: Windows, calls: Floats, per_period: Whole, longest: int) -> None:
        self.windows, self.longest, self.total = windows, longest, int(per_period.sum())
        self.sums = windows.summed(calls)
        self.until = np.concatenate([[0], np.cumsum(per_period)]).astype(np.float64) / self.total
        self._loop = compiled(_least_expected)

    def greatest(self, table: Whole) -> float:
        """Return the logarithm of the greatest ratio."""
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


def _cylinder(search: _Search, used: Whole, table: Whole, place: Found, greatest: Floats) -> Cylinder:
    end, first, last = place
    windows, units = search.windows, search.units(end)
    centre = int(windows.centre_of(np.array([end]))[0])
    observed = int(table[units, first : last + 1].sum())
    expected = float(table[units].sum()) * float(table[:, first : last + 1].sum()) / search.total
    ratio = float(log_likelihood_ratio(observed, expected, total=search.total))
    p = (1 + np.count_nonzero(greatest >= ratio * (1 - SAME))) / (1 + len(greatest))
    at = (float(windows.centre_x[centre]), float(windows.centre_y[centre]))
    radius = windows.radius_m(centre, end)
    return Cylinder(used[units], at, radius, first, last, observed, expected, ratio, float(p))


def _check(unit: Whole, period: Whole, x: Floats, y: Floats, *, periods: int, replicates: int) -> None:
    faults = Faults()
    if len(unit) != len(period):
        faults.add(f"units of {len(unit)} calls and periods of {len(period)}", allowed="one of each per call")
    if len(x) != len(y):
        faults.add(f"{len(x)} x and {len(y)} y of units", allowed="one of each per unit")
    if len(unit) and (unit.min() < 0 or unit.max() >= len(x)):
        faults.add("a call of no unit", allowed=f"units 0 to {len(x) - 1}")
    if periods < 2:
        faults.add(f"{periods} periods", allowed="2 or more", fix="a longer time, or shorter periods")
    elif len(period) and (period.min() < 0 or period.max() >= periods):
        faults.add("a call of no period", allowed=f"periods 0 to {periods - 1}")
    if replicates < 19:
        faults.add(f"{replicates} maps", allowed="19 or more: with fewer no p reaches 0.05")
    faults.raise_if_any()
