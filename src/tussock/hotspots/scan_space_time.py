"""The permutation scan: places and months with more calls together than either alone explains.

Nothing need be known of the homes: a place that always calls much, and a month in which all places do, are
no cluster. So what it finds is an *unusual combination of place and months*, not a place of many calls.

A month that was observed in part has fewer calls everywhere, and so fewer are expected: that is no bias.
What is one: homes built in one quarter during the time observed. Its later months then hold more calls for
no other reason, and the scan cannot tell (population shift; the source warns of it, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.errors import Faults
from tussock.geodesy import Floats
from tussock.hotspots.search import SAME, log_likelihood_ratio
from tussock.hotspots.search_space_time import CylinderSearch, Found
from tussock.hotspots.windows import Whole, circular_windows


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
    search = CylinderSearch(windows, calls, np.bincount(period, minlength=periods), longest, threads)
    table = _table(row, period, periods)
    found = search.best(table, most=most)
    greatest = search.greatest(
        lambda one: _table(row, _rng(seed, one).permutation(period), periods), maps=replicates
    )
    cylinders = tuple(_cylinder(search, used, table, place, greatest) for place in found)
    return SpaceTimeScan(cylinders, len(unit), np.sort(greatest), seed)


def _table(row: Whole, period: Whole, periods: int) -> Whole:
    cells = np.bincount(row * periods + period, minlength=(int(row.max()) + 1) * periods)
    return cells.reshape(-1, periods).astype(np.int64)


def _rng(seed: int, one: int) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(2, one))))


def _cylinder(search: CylinderSearch, used: Whole, table: Whole, place: Found, greatest: Floats) -> Cylinder:
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
