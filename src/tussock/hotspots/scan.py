"""The circular scan: the places where calls are more than their homes explain, and by how much."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import Faults
from tussock.geodesy import Floats
from tussock.hotspots.search import SAME, Search, log_likelihood_ratio
from tussock.hotspots.unevenness import Unevenness, fitted_unevenness
from tussock.hotspots.windows import Whole, Windows


@dataclass(frozen=True, eq=False)
class Cluster:
    """A circle in which calls are more than expected.

    Attributes
    ----------
    units
        Its units, ascending.
    centre
        x and y of the circle [m].
    radius_m
        To the farthest of its units [m].
    observed, expected
        Calls in it, and how many were to be expected.
    relative_risk
        Rate inside over the rate outside; infinite without calls outside.
    llr
        Logarithm of the likelihood ratio.
    p_chance, p_uneven
        Share of maps that hold a circle as striking: made up by chance alone, and made up with the usual
        unevenness between units.
    """

    units: Whole
    centre: tuple[float, float]
    radius_m: float
    observed: int
    expected: float
    relative_risk: float
    llr: float
    p_chance: float
    p_uneven: float

    @property
    def p(self) -> float:
        """The larger of the two: the one to speak of."""
        return max(self.p_chance, self.p_uneven)


@dataclass(frozen=True, eq=False)
class Scan:
    """What a circular scan found.

    Attributes
    ----------
    clusters
        Most striking first; no two share a unit. Whether they are more than chance is in their p.
    calls
        Calls in all.
    unevenness
        Between the units outside the first cluster.
    greatest_by_chance, greatest_if_uneven
        Greatest logarithm of the likelihood ratio of each made-up map, ascending.
    seed
        Of the made-up maps.
    """

    clusters: tuple[Cluster, ...]
    calls: int
    unevenness: Unevenness
    greatest_by_chance: Floats
    greatest_if_uneven: Floats
    seed: int

    def standing_out(self, *, p: float = 0.05) -> tuple[Cluster, ...]:
        """Return the clusters whose larger p is at most this; often none, and that is a result."""
        return tuple(c for c in self.clusters if c.p <= p)


def scan(
    counts: Whole,
    windows: Windows,
    *,
    seed: int,
    expected: Floats | None = None,
    replicates: int = 999,
    most: int = 10,
    threads: int | None = None,
) -> Scan:
    """Return the circles with the most surprising surplus of calls.

    Parameters
    ----------
    counts
        Calls of each unit.
    windows
        The circles to look at.
    seed
        Of the made-up maps.
    expected
        What is to be expected in each unit, in any unit: as a covariate has it. None: the exposure.
        It is scaled to the calls in all.
    replicates
        Made-up maps of each of the two kinds.
    most
        Clusters at most.
    threads
        Searching at a time; None: as many as there are processors. No result depends on it.

    Returns
    -------
    Scan
        p of a cluster = (1 + maps whose greatest ratio is as great or greater) / (1 + maps), for the
        first cluster and for the others alike.

    Raises
    ------
    InputError
        On calls where none can be expected, or arrays that do not fit.
    MissingDataError
        Without numba.

    Source
    ------
    Kulldorff (1997) as above; North Carolina in tests/external/test_scan.py. The second kind of map, with
    rates that vary as they do outside the first cluster, is a choice of this project.
    """
    weights = windows.exposure if expected is None else expected
    _check(counts, weights, windows, replicates)
    total = int(counts.sum())
    chances = weights / weights.sum()
    search = Search(windows, chances * total, total, threads)
    found = search.best(counts, most=most)
    outside = np.ones(len(counts), dtype=np.bool_)
    if found:
        outside[windows.units(*found[0])] = False
    uneven = fitted_unevenness(counts[outside], search.expected[outside])
    by_chance = search.greatest(made_up(chances, total, replicates, seed=seed)).ratio
    if_uneven = by_chance
    if math.isfinite(uneven.shape):
        if_uneven = search.greatest(made_up(chances, total, replicates, seed=seed, shape=uneven.shape)).ratio
    clusters = tuple(_cluster(search, counts, place, by_chance, if_uneven) for place in found)
    return Scan(clusters, total, uneven, np.sort(by_chance), np.sort(if_uneven), seed)


def made_up(chances: Floats, total: int, maps: int, *, seed: int, shape: float = math.inf) -> Whole:
    """Return the calls per unit of maps made up at random, shape (maps, units).

    Parameters
    ----------
    chances
        Of one call to fall on each unit; they sum to 1.
    total
        Calls on each map.
    shape
        Of the gamma distribution by which units differ; infinite: they do not.
    """
    if not math.isfinite(shape):
        return _rng(seed, 0).multinomial(total, chances, size=maps).astype(np.int64)
    rng = _rng(seed, 1)
    # a tiny shape can make every draw 0; the least positive number keeps the shares defined
    rates = np.maximum(rng.gamma(shape, 1.0 / shape, (maps, len(chances))), np.finfo(float).tiny) * chances
    return rng.multinomial(total, rates / rates.sum(axis=1, keepdims=True)).astype(np.int64)


def _rng(seed: int, kind: int) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(kind,))))


def _cluster(
    search: Search, counts: Whole, place: tuple[int, int], by_chance: Floats, if_uneven: Floats
) -> Cluster:
    windows = search.windows
    units = windows.units(*place)
    centre = (float(windows.centre_x[place[0]]), float(windows.centre_y[place[0]]))
    bare = Cluster(units, centre, windows.radius_m(*place), 0, 0.0, math.nan, 0.0, 1.0, 1.0)
    return _judged(bare, counts, search.expected, (by_chance, if_uneven))


def judged(circle: Cluster, counts: Whole, weights: Floats, *, beside: Scan) -> Cluster:
    """Return what a circle found elsewhere is worth in another scan of the same windows.

    Parameters
    ----------
    circle
        Its units, centre and radius are taken.
    counts, weights
        What the other scan was given: calls and expectations, in any unit.
    beside
        That scan: with its made-up maps the circle is compared. One without anything to be expected in it
        is worth nothing: its p are 1.
    """
    expected = weights / weights.sum() * beside.calls
    return _judged(circle, counts, expected, (beside.greatest_by_chance, beside.greatest_if_uneven))


def _judged(circle: Cluster, counts: Whole, each: Floats, greatest: tuple[Floats, Floats]) -> Cluster:
    total, units = int(counts.sum()), circle.units
    observed, expected = int(counts[units].sum()), float(each[units].sum())
    if not expected > 0:
        return replace(
            circle, observed=0, expected=0.0, relative_risk=math.nan, llr=0.0, p_chance=1.0, p_uneven=1.0
        )
    ratio = float(log_likelihood_ratio(observed, expected, total=total))
    outside, others = total - observed, total - expected
    risk = observed / expected / (outside / others) if outside and others > 0 else math.inf
    chance, uneven = (_p(ratio, of) for of in greatest)
    return replace(
        circle,
        observed=observed,
        expected=expected,
        relative_risk=risk,
        llr=ratio,
        p_chance=chance,
        p_uneven=uneven,
    )


def _p(ratio: float, greatest: Floats) -> float:
    return float((1 + np.count_nonzero(greatest >= ratio * (1 - SAME))) / (1 + len(greatest)))


def _check(counts: Whole, weights: Floats, windows: Windows, replicates: int) -> None:
    faults = Faults()
    if not len(counts) == len(weights) == len(windows.x):
        faults.add(
            f"{len(counts)} counts and {len(weights)} expectations for {len(windows.x)} units",
            allowed="one of each per unit",
        )
    elif not np.isfinite(weights).all() or weights.min() < 0 or not weights.sum() > 0:
        faults.add("an expectation below 0, no number, or none at all", allowed="0 or more, some above 0")
    elif len(counts) and counts.min() < 0:
        faults.add(f"a unit with {counts.min()} calls", allowed="0 or more")
    elif (bare := np.flatnonzero((counts > 0) & (weights == 0))).size:
        faults.add(
            f"{counts[bare].sum()} calls in {len(bare)} units without homes (the first is unit {bare[0]})",
            allowed="calls where calls can be expected",
            fix="count them apart, or complete the dwellings layer",
        )
    if replicates < 19:
        faults.add(f"{replicates} made-up maps", allowed="19 or more: with fewer no p reaches 0.05")
    faults.raise_if_any()
