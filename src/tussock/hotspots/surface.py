"""The relative-risk surface: calls smoothed over homes smoothed, with an envelope for the whole map at once.

A surface looks surer than it is. Therefore it is drawn with the line that chance alone crosses anywhere on
the map in one map of twenty, and is off at first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tussock.errors import Faults
from tussock.geodesy import Floats
from tussock.hotspots.cells import Flags, Whole

ALPHA = 0.05
"""Share of maps made up by chance that cross the envelope somewhere."""
REACH = 4.0
"""Bandwidths beyond which a call or a home weighs nothing: 0.03 % of the weight (choice of this project)."""
STEPS = 3.0
"""Squares of the grid to a bandwidth, where they are not too many (choice of this project)."""
MOST_SQUARES = 160_000
"""Squares of the grid; beyond, they are larger (choice of this project)."""
LEAST_HOMES = 20.0
"""Homes that a place must draw on, weighed by nearness, to have a ratio (choice of this project)."""
LEAST_EXPECTED = 1.0
"""Calls that it must expect, weighed in the same way: where hardly one is due, a single call stands out by
many deviations, and would widen the envelope everywhere (choice of this project)."""
REPLICATES = 999
"""Maps made up by chance."""


@dataclass(frozen=True, eq=False)
class Surface:
    """How many times as often homes near a place call as the district's homes do.

    Attributes
    ----------
    west, south
        Corner of the grid [m].
    step_m
        Side of its squares [m].
    ratio
        Relative risk in the squares' centres, shape (lines from the south, columns from the west); nan where
        too few homes are near, or too few calls due.
    upper
        The envelope: chance alone lies above it anywhere in one map of twenty; nan as in `ratio`.
    above
        Where the ratio lies above the envelope.
    p
        Share of maps, this one among them, that stand out as much somewhere.
    bandwidth_m
        Standard deviation of the kernel [m].
    replicates
        Maps made up by chance.
    """

    west: float
    south: float
    step_m: float
    ratio: Floats
    upper: Floats
    above: Flags
    p: float
    bandwidth_m: float
    replicates: int


@dataclass(frozen=True, eq=False)
class Points:
    """Places in the plane [m] with how much each counts: homes, or calls."""

    x: Floats
    y: Floats
    weights: Floats


def usual_bandwidth_m(homes: Points, *, incidents: int) -> float:
    """Return Scott's bandwidth [m] for so many incidents spread as the homes are: σ n^(−1/6).

    σ is the root of the mean variance of both directions. Calls bunched in a town deserve less; a smaller one
    shows more and is less sure.

    Source: Scott 1992, Multivariate Density Estimation, § 6.3 (from memory); scipy's ``scotts_factor``.
    """
    spread = [
        float(np.average(np.square(v - np.average(v, weights=homes.weights)), weights=homes.weights))
        for v in (homes.x, homes.y)
    ]
    return float(math.sqrt(sum(spread) / 2) * max(incidents, 1) ** (-1 / 6))


def relative_risk(
    calls: Points, homes: Points, *, bandwidth_m: float, seed: int, replicates: int = REPLICATES
) -> Surface:
    """Return the surface of relative risk with its global envelope.

    Both are counted in squares and smoothed with one Gaussian kernel, so that the edge of what is known takes
    from both alike. A map of chance throws as many calls on homes, each home as likely. The envelope is 1
    plus a common number of standard deviations, which are exact for such maps; that number is the one which
    a twentieth of them reach somewhere.

    Parameters
    ----------
    calls
        Incidents in the known extent; whole weights.
    homes
        Homes in the known extent.
    bandwidth_m
        Standard deviation of the kernel [m]; chosen before looking.
    seed
        Of the maps of chance.

    Raises
    ------
    InputError
        Without homes, on a bandwidth that is none, weights that are no counts, or too few replicates.

    Source
    ------
    Kelsall & Diggle 1995, Statistics in Medicine 14:2335–2342, for the ratio; the studentised maximum
    deviation of Myllymäki et al. 2015, Spatial Statistics 11:19–34, for the envelope (both from memory).
    """
    _check(calls, homes, bandwidth_m, replicates)
    grid = _Grid(homes, bandwidth_m)
    here = grid.counted(homes)
    near = _smoothed(here, grid.kernel)
    count = round(float(calls.weights.sum()))
    # what a place draws on: homes at hand in full, those farther off by their share of the kernel's peak
    drawn_on = near / grid.kernel.max() ** 2
    live = (drawn_on >= LEAST_HOMES) & (drawn_on * count / here.sum() >= LEAST_EXPECTED)
    nan = np.full(here.shape, math.nan)
    if not live.any():
        none = np.zeros(here.shape, dtype=np.bool_)
        return Surface(grid.west, grid.south, grid.step, nan, nan, none, 1.0, bandwidth_m, replicates)
    mean = near[live] / here.sum()
    spread = np.sqrt(
        np.maximum((_smoothed(here, grid.kernel**2)[live] / here.sum() / mean**2 - 1) / count, 0.0)
    )
    ratio = _smoothed(grid.counted(calls), grid.kernel)[live] / count / mean
    observed = _most(ratio, spread)
    chance = _by_chance(here, grid, live, mean, spread, count=count, seed=seed, replicates=replicates)
    same = 1e-9 * max(abs(observed), 1.0)
    p = (1 + int(np.count_nonzero(chance >= observed - same))) / (replicates + 1)
    # the largest deviation that is not among the ALPHA (R + 1) greatest, the map's own among them
    rank = math.floor(ALPHA * (replicates + 1) + 1e-9)
    line = float(np.sort(np.append(chance, observed))[-rank - 1]) if rank else math.inf
    drawn, upper = nan.copy(), nan.copy()
    drawn[live], upper[live] = ratio, 1 + line * spread
    # no comparison with nan is true
    above = np.asarray(drawn > upper) & (p <= ALPHA)
    return Surface(grid.west, grid.south, grid.step, drawn, upper, above, p, bandwidth_m, replicates)


class _Grid:
    def __init__(self, homes: Points, bandwidth_m: float) -> None:
        wide, high = (float(np.ptp(v)) for v in (homes.x, homes.y))
        step = bandwidth_m / STEPS
        while (wide / step + 1) * (high / step + 1) > MOST_SQUARES:
            step *= 1.25
        self.step = step
        self.west, self.south = float(homes.x.min()) - step / 2, float(homes.y.min()) - step / 2
        self.shape = math.ceil(high / step) + 1, math.ceil(wide / step) + 1
        at = np.arange(-math.ceil(REACH * bandwidth_m / step), math.ceil(REACH * bandwidth_m / step) + 1)
        weight = np.exp(-np.square(at * step / bandwidth_m) / 2)
        self.kernel: Floats = weight / weight.sum()

    def counted(self, points: Points) -> Floats:
        """Return the weight in each square; what lies beside the grid counts in the square at its edge."""
        line = np.clip((points.y - self.south) // self.step, 0, self.shape[0] - 1).astype(np.int64)
        column = np.clip((points.x - self.west) // self.step, 0, self.shape[1] - 1).astype(np.int64)
        found = np.bincount(
            line * self.shape[1] + column, weights=points.weights, minlength=self.shape[0] * self.shape[1]
        )
        return found.astype(np.float64).reshape(self.shape)


def _smoothed(values: Floats, kernel: Floats) -> Floats:
    from scipy.ndimage import convolve1d

    return np.asarray(
        convolve1d(convolve1d(values, kernel, axis=0, mode="constant"), kernel, axis=1, mode="constant")
    )


def _most(ratio: Floats, spread: Floats) -> float:
    """Return the greatest deviation above 1 in standard deviations; a place that cannot vary has none."""
    varies = spread > 0
    return float(((ratio[varies] - 1) / spread[varies]).max()) if varies.any() else 0.0


def _by_chance(
    here: Floats,
    grid: _Grid,
    live: Flags,
    mean: Floats,
    spread: Floats,
    *,
    count: int,
    seed: int,
    replicates: int,
) -> Floats:
    """Return the greatest deviation of each map made up by chance."""
    where: Whole = np.flatnonzero(here)
    share: npt.NDArray[np.float64] = here.ravel()[where] / here.sum()
    rng = np.random.Generator(np.random.PCG64(seed))
    found = np.empty(replicates)
    made = np.zeros(here.size)
    for r in range(replicates):
        made[where] = rng.multinomial(count, share)
        found[r] = _most(_smoothed(made.reshape(here.shape), grid.kernel)[live] / count / mean, spread)
    return found


def _check(calls: Points, homes: Points, bandwidth_m: float, replicates: int) -> None:
    faults = Faults()
    for points, what in ((calls, "calls"), (homes, "homes")):
        if not len(points.x) == len(points.y) == len(points.weights):
            faults.add(f"{len(points.x)} x and {len(points.y)} y of {what}", allowed="one of each")
        elif not all(np.isfinite(v).all() for v in (points.x, points.y, points.weights)):
            faults.add(f"{what} with a place or number that is none", allowed="finite numbers")
        elif points.weights.min(initial=0) < 0:
            faults.add(f"{what} that count less than 0", allowed="0 or more")
    faults.raise_if_any()
    if not homes.weights.sum() > 0:
        faults.add("no homes", allowed="some", fix="check the dwellings layer")
    if np.any(calls.weights != np.round(calls.weights)):
        faults.add("a part of a call", allowed="whole calls")
    if not 0 < bandwidth_m < math.inf:
        faults.add(f"a bandwidth of {bandwidth_m} m", allowed="above 0")
    if replicates < 1 / ALPHA - 1:
        faults.add(f"{replicates} maps made up by chance", allowed=f"{1 / ALPHA - 1:.0f} or more")
    faults.raise_if_any()
