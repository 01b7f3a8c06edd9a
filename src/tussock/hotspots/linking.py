"""Which calls are one incident: links between calls close in time and space.

The rule is single linkage: two calls close enough are one incident, so an incident is a chain of such
calls. A rule that measures from an incident's first call would depend on which call came first, and would
part two calls of ten days ago that the page says are one. A chain may grow long, therefore its length is
kept and can be said. Chaining joins calls, never makes more of them: what stands out stands out in spite
of it.

A call that is known only to a wide circle may be about any one of the calls inside, but does not make
them one: it joins the nearest well-placed one and links no two. Otherwise one call "somewhere in the suburb"
would make a single incident of everything that happened there in a month. And a circle wider than the limit
joins nothing at all: in a suburb there is always a call a fortnight old, and calls would vanish in it. Only
where two such calls are of one instant and one place are they the same call twice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.interval import TOLERANCE_M

Labels = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Linked:
    """Which calls are together, and why.

    Attributes
    ----------
    labels
        For each call the number of its incident, 0 upwards in order of appearance.
    by_radius
        Whether a call is in its incident only because its place is vague: farther from every well-placed
        call of it than well-placed calls may be.
    """

    labels: Labels
    by_radius: Flags


def linked(
    time_s: Floats,
    x: Floats,
    y: Floats,
    *,
    radius_m: Floats,
    within_s: float,
    within_m: float,
    rough_m: float,
) -> Linked:
    """Return the incident of each call.

    Which calls are together does not depend on their order.

    Parameters
    ----------
    time_s
        Instants [s].
    x, y, radius_m
        Places and their radii [m].
    within_s, within_m
        Calls at most so far apart in time [s] and space [m] are linked.
    rough_m
        Calls with a radius above it [m] are linked with nothing but themselves.
    """
    labels, by_radius = np.full(len(x), -1, dtype=np.int64), np.zeros(len(x), dtype=np.bool_)
    well, rough = radius_m <= within_m, radius_m > rough_m

    def chain(which: Flags, *, seconds: float, metres: float) -> None:
        found = _chained(time_s[which], x[which], y[which], within_s=seconds, within_m=metres)
        labels[which] = found + labels.max(initial=-1) + 1

    chain(well, seconds=within_s, metres=within_m)
    order = np.flatnonzero(well)[np.argsort(time_s[well], kind="stable")]
    begin = np.searchsorted(time_s[order], time_s - within_s, side="left")
    end = np.searchsorted(time_s[order], time_s + within_s, side="right")
    for i in np.flatnonzero(~well & ~rough).tolist():
        near = _nearest(i, time_s, x, y, others=order[begin[i] : end[i]], within_m=float(radius_m[i]))
        if near >= 0:
            labels[i] = labels[near]
            by_radius[i] = np.hypot(x[i] - x[near], y[i] - y[near]) > within_m + TOLERANCE_M
    chain(~well & ~rough & (labels < 0), seconds=within_s, metres=within_m)
    chain(rough, seconds=0.0, metres=0.0)
    return Linked(_in_order(labels), by_radius)


def _chained(time_s: Floats, x: Floats, y: Floats, *, within_s: float, within_m: float) -> Labels:
    """Return the connected parts of the calls that are close to each other."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    if not len(x):
        return np.empty(0, dtype=np.int64)
    reach = within_m + TOLERANCE_M
    # in the units of the two limits a box of side 2 holds what is close; then the distance itself decides
    scaled = np.column_stack([x / reach, y / reach, (time_s - time_s.min()) / max(within_s, 1e-6)])
    pairs = cKDTree(scaled).query_pairs(1.0 + 1e-9, p=np.inf, output_type="ndarray")
    i, j = pairs[:, 0], pairs[:, 1]
    close = (np.hypot(x[i] - x[j], y[i] - y[j]) <= reach) & (np.abs(time_s[i] - time_s[j]) <= within_s)
    n = len(x)
    graph = coo_array((np.ones(int(close.sum()), dtype=np.int8), (i[close], j[close])), shape=(n, n))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _nearest(i: int, time_s: Floats, x: Floats, y: Floats, *, others: Labels, within_m: float) -> int:
    """Return which of some calls lies nearest to call i within a distance [m], −1 where none does."""
    apart_m = np.hypot(x[others] - x[i], y[others] - y[i])
    inside = apart_m <= within_m + TOLERANCE_M
    near, apart_m = others[inside], apart_m[inside]
    if not len(near):
        return -1
    # ties are broken by what the calls are, never by where they stand in the table
    apart_s = np.abs(time_s[near] - time_s[i])
    return int(near[np.lexsort((y[near], x[near], time_s[near], apart_s, apart_m))[0]])


def _in_order(labels: Labels) -> Labels:
    """Return the labels renumbered in order of appearance."""
    _, first, inverse = np.unique(labels, return_index=True, return_inverse=True)
    return np.asarray(np.argsort(np.argsort(first))[inverse], dtype=np.int64)
