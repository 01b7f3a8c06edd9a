"""Where to stand by: the points from which the next call is nearest, and whether they beat the base."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.hotspots.cells import Flags, Whole
from tussock.hotspots.demand import Cost, Demand, gathered, straight_line_m
from tussock.hotspots.medians import medians

MOST_POINTS = 400
"""Places to stand by at that are weighed when none are given (choice of this project)."""
LEAST_TRIED_ON = 10
"""Calls in the last season below which no saving is claimed (choice of this project)."""
DRAWS = 2000
"""Times that the last season's calls are drawn anew for the interval (choice of this project)."""


@dataclass(frozen=True, eq=False)
class Compared:
    """What the points would have saved on calls they were not fitted to.

    Attributes
    ----------
    calls
        In the last season.
    base, points
        Mean cost of a call from the nearest base and from the nearest point [unit of the cost].
    saved
        Their difference: estimate, low and high end of its 95 % interval (calls drawn anew).
    better
        Whether the whole interval is above 0.
    """

    calls: int
    base: float
    points: float
    saved: tuple[float, float, float]
    better: bool

    @property
    def verdict(self) -> str:
        """In words, whether to move."""
        if self.better:
            mean, low, high = self.saved
            return f"nearer than your base by {mean:,.0f} ({low:,.0f} to {high:,.0f})"
        if self.calls < LEAST_TRIED_ON:
            return f"not shown to be better than your base: {self.calls} calls in the last season"
        return "no better than your base"


@dataclass(frozen=True, eq=False)
class Standby:
    """Points to stand by at.

    Attributes
    ----------
    x, y
        Places in the plane [m], in order of the candidates.
    expected
        Mean cost from the nearest of them to the next call [unit of the cost].
    share
        Of the calls expected, how many are nearest to each point.
    exact
        Whether no better points of the candidates exist; otherwise no exchange of one is better.
    base
        Mean cost from the nearest of the present bases; None without any.
    compared
        On the last season, fitted on those before; None where that cannot be asked.
    reason
        Why it cannot.
    """

    x: Floats
    y: Floats
    expected: float
    share: Floats
    exact: bool
    base: float | None = None
    compared: Compared | None = None
    reason: str = ""


@dataclass(frozen=True, eq=False)
class Past:
    """Calls to try points on.

    Attributes
    ----------
    x, y, season
        Place [m] and number of the season of each call; the last is the greatest, ended seasons only.
    fitted
        From flags of calls to the demand that they let one expect; asked with the earlier seasons alone.
    """

    x: Floats
    y: Floats
    season: Whole
    fitted: Callable[[Flags], Demand]


@dataclass(frozen=True, eq=False)
class Places:
    """Points in the plane [m]."""

    x: Floats
    y: Floats


def standby(
    demand: Demand,
    *,
    count: int,
    seed: int,
    candidates: Places | None = None,
    bases: Places | None = None,
    past: Past | None = None,
    cost: Cost = straight_line_m,
) -> Standby:
    """Return the points that are nearest to the next call, and how they compare with the base.

    Parameters
    ----------
    demand
        Where calls are expected.
    count
        How many points.
    seed
        Of the random starts and of the interval.
    candidates
        Places to stand by at, such as those on a road; the places of the demand, gathered, when left out.
    bases
        Where one starts from now.
    past
        Calls to try the points on.
    cost
        What is to be small.

    Raises
    ------
    InputError
        On input that `medians` refuses.
    """
    where = _candidates(demand, candidates)
    found = _fitted(demand, where, count=count, seed=seed, cost=cost)
    if bases is None or not len(bases.x):
        return _standby(found, where, reason="no base is given to compare with")
    thin = gathered(demand)
    now = cost(thin.x, thin.y, bases.x, bases.y).min(axis=1)
    base = float(np.average(now, weights=thin.weights))
    if past is None or len(np.unique(past.season)) < 2:
        return _standby(
            found, where, base=base, reason="there are not two seasons, one to fit on and one to try"
        )
    compared = _tried(past, bases, candidates, count=count, seed=seed, cost=cost)
    return _standby(found, where, base=base, compared=compared)


@dataclass(frozen=True, eq=False)
class _Found:
    chosen: Whole
    expected: float
    share: Floats
    exact: bool


def _candidates(demand: Demand, given: Places | None) -> Places:
    if given is not None:
        return given
    thin = gathered(demand, most=MOST_POINTS)
    return Places(thin.x, thin.y)


def _fitted(demand: Demand, where: Places, *, count: int, seed: int, cost: Cost) -> _Found:
    thin = gathered(demand)
    found = medians(cost(thin.x, thin.y, where.x, where.y), thin.weights, count=count, seed=seed)
    chosen = np.array(found.chosen, dtype=np.int64)
    served = np.bincount(found.serves, weights=thin.weights, minlength=len(where.x))[chosen]
    return _Found(chosen, found.cost, served / served.sum(), found.exact)


def _standby(
    found: _Found,
    where: Places,
    *,
    base: float | None = None,
    compared: Compared | None = None,
    reason: str = "",
) -> Standby:
    x, y = where.x[found.chosen], where.y[found.chosen]
    return Standby(x, y, found.expected, found.share, found.exact, base, compared, reason)


def _tried(
    past: Past, bases: Places, candidates: Places | None, *, count: int, seed: int, cost: Cost
) -> Compared:
    last = past.season == past.season.max()
    earlier = past.fitted(~last)
    where = _candidates(earlier, candidates)
    found = _fitted(earlier, where, count=count, seed=seed, cost=cost)
    x, y = past.x[last], past.y[last]
    near = cost(x, y, where.x[found.chosen], where.y[found.chosen]).min(axis=1)
    return compared(cost(x, y, bases.x, bases.y).min(axis=1), near, seed=seed)


def compared(base: Floats, points: Floats, *, seed: int) -> Compared:
    """Return what standing by at points would have saved on calls, with the interval of the mean.

    Parameters
    ----------
    base, points
        Cost of each call from the nearest base and the nearest point, shape (calls,).

    Raises
    ------
    InputError
        Without calls.
    """
    if not len(base) or len(base) != len(points):
        raise InputError(f"{len(base)} and {len(points)} calls to compare", allowed="the same, at least one")
    each = base - points
    rng = np.random.Generator(np.random.PCG64(seed))
    drawn = [each[rng.integers(0, len(each), len(each))].mean() for _ in range(DRAWS)]
    low, high = (float(v) for v in np.quantile(drawn, (0.025, 0.975)))
    better = len(each) >= LEAST_TRIED_ON and low > 0
    return Compared(
        len(each), float(base.mean()), float(points.mean()), (float(each.mean()), low, high), better
    )
