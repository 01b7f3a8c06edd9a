"""The p-median: which few of many points are nearest, on average, to where they will be needed."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import Faults
from tussock.geodesy import Floats
from tussock.hotspots.cells import Whole

MOST_TRIED = 20_000
"""Choices that are all tried; beyond, exchanges are looked for from several starts."""
STARTS = 8
"""Starts drawn at random beside the greedy one (choice of this project; a published case of 100 points is
solved from fewer)."""
SAME = 1e-12
"""Relative difference below which two costs are the same: rounding decides nothing."""


@dataclass(frozen=True, eq=False)
class Medians:
    """The points chosen.

    Attributes
    ----------
    chosen
        Rows of the candidates, ascending.
    cost
        Mean over the demand of the cost from the nearest of them [unit of the cost].
    serves
        For each demand, the candidate that is nearest.
    exact
        Whether every choice was tried: none is better. Otherwise no exchange of one point is better.
    """

    chosen: tuple[int, ...]
    cost: float
    serves: Whole
    exact: bool


def medians(cost: Floats, weights: Floats, *, count: int, seed: int) -> Medians:
    """Return the points of least mean cost, each demand served by its nearest.

    Parameters
    ----------
    cost
        From each candidate to each demand, shape (demands, candidates): metres, minutes.
    weights
        How much demand there is, shape (demands,).
    count
        How many points.
    seed
        Of the random starts; the same seed gives the same points.

    Raises
    ------
    InputError
        On costs or weights that are no numbers or below 0, no demand, or more points than candidates.

    Source
    ------
    Greedy choice and the exchange of one point at a time (Teitz & Bart 1968, Operations Research 16:955–961,
    from memory); checked against every choice, integer programming and a published case in the tests.
    """
    _check(cost, weights, count)
    share = weights / weights.sum()
    # places without demand weigh nothing and only cost time
    live = np.flatnonzero(share)
    part, share = cost[live], share[live]
    n = cost.shape[1]
    exact = math.comb(n, count) <= MOST_TRIED
    chosen = _of_all(part, share, count) if exact else _exchanged(part, share, count, seed)
    columns = np.array(chosen, dtype=np.int64)
    return Medians(chosen, _mean(part, share, columns), columns[cost[:, columns].argmin(axis=1)], exact)


def _mean(cost: Floats, share: Floats, columns: Whole) -> float:
    return float(share @ cost[:, columns].min(axis=1))


def _of_all(cost: Floats, share: Floats, count: int) -> tuple[int, ...]:
    best: tuple[int, ...] = ()
    least = math.inf
    for tried in itertools.combinations(range(cost.shape[1]), count):
        value = _mean(cost, share, np.array(tried, dtype=np.int64))
        if value < least * (1 - SAME):
            best, least = tried, value
    return best


def _exchanged(cost: Floats, share: Floats, count: int, seed: int) -> tuple[int, ...]:
    rng = np.random.Generator(np.random.PCG64(seed))
    starts = [_greedy(cost, share, count)]
    starts += [rng.choice(cost.shape[1], count, replace=False) for _ in range(STARTS)]
    best, least = np.zeros(0, np.int64), math.inf
    for start in starts:
        found = _descended(cost, share, start)
        value = _mean(cost, share, found)
        if value < least * (1 - SAME):
            best, least = found, value
    return tuple(sorted(int(i) for i in best))


def _greedy(cost: Floats, share: Floats, count: int) -> Whole:
    nearest = np.full(len(share), np.inf)
    chosen: list[int] = []
    for _ in range(count):
        value = share @ np.minimum(cost, nearest[:, None])
        value[chosen] = np.inf
        chosen.append(int(value.argmin()))
        nearest = np.minimum(nearest, cost[:, chosen[-1]])
    return np.array(chosen, dtype=np.int64)


def _descended(cost: Floats, share: Floats, start: Whole) -> Whole:
    """Return the points after the best exchange of one, again and again until none is better."""
    chosen = start.copy()
    value = _mean(cost, share, chosen)
    while True:
        change = _exchanges(cost, share, chosen)
        leaves, enters = np.unravel_index(int(change.argmin()), change.shape)
        if change[leaves, enters] >= -SAME * value:
            return chosen
        chosen[leaves] = enters
        value = _mean(cost, share, chosen)


def _exchanges(cost: Floats, share: Floats, chosen: Whole) -> Floats:
    """Return what each exchange changes: shape (points that leave, candidates that enter).

    A demand takes the newcomer where it is nearer; those of the point that leaves take the nearer of the
    newcomer and their second nearest.
    """
    to = cost[:, chosen]
    mine = to.argmin(axis=1)
    rows = np.arange(len(share))
    first = to[rows, mine]
    to[rows, mine] = np.inf
    second = to.min(axis=1)
    with_newcomer = np.minimum(cost, first[:, None])
    gained = share @ (with_newcomer - first[:, None])
    of_point = np.zeros((len(chosen), len(share)))
    of_point[mine, rows] = share
    lost = of_point @ (np.minimum(cost, second[:, None]) - with_newcomer)
    change: Floats = gained + lost
    change[:, chosen] = np.inf
    return change


def _check(cost: Floats, weights: Floats, count: int) -> None:
    faults = Faults()
    if cost.ndim != 2 or len(cost) != len(weights):
        faults.add(f"costs of shape {cost.shape} for {len(weights)} demands", allowed="a row per demand")
        faults.raise_if_any()
    if not np.isfinite(cost).all() or cost.min(initial=0) < 0:
        faults.add(
            "a cost below 0 or no number",
            allowed="0 or more",
            fix="where no road leads, leave the candidate out",
        )
    if not np.isfinite(weights).all() or weights.min(initial=0) < 0:
        faults.add("a demand below 0 or no number", allowed="0 or more")
    elif not weights.sum() > 0:
        faults.add("no calls are expected anywhere", allowed="some demand")
    if not 1 <= count <= cost.shape[1]:
        faults.add(
            f"{count} points of {cost.shape[1]} places to stand by at",
            where="--standby",
            allowed=f"1 to {cost.shape[1]} points",
            fix="ask for fewer",
        )
    faults.raise_if_any()
