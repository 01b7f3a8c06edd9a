"""Which calls are one incident: links between calls close in time and space.

The rule is single linkage: two calls close enough are one incident, so an incident is a chain of such
calls. A rule that measures from an incident's first call would depend on which call came first, and would
part two calls of ten days ago that the page says are one. A chain may grow long, therefore its length is
kept and can be said. Chaining joins calls, never makes more of them: what stands out stands out in spite
of it.

A call that is known only to a wide circle may be about any one of the calls inside, but does not make
them one: it joins the nearest and links no two. Otherwise one call "somewhere in the suburb" would make a
single incident of everything that happened there in a month.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.interval import TOLERANCE_M

Labels = npt.NDArray[np.int64]


def linked(
    time_s: Floats, x: Floats, y: Floats, *, radius_m: Floats, within_s: float, within_m: float
) -> Labels:
    """Return for each call the number of its incident, 0 upwards in order of appearance.

    Which calls are together does not depend on their order.

    Parameters
    ----------
    time_s
        Instants [s].
    x, y, radius_m
        Places and their radii [m].
    within_s, within_m
        Calls at most so far apart in time [s] and space [m] are linked.
    """
    wide = radius_m > within_m
    labels = np.full(len(x), -1, dtype=np.int64)
    labels[~wide] = _chained(time_s[~wide], x[~wide], y[~wide], within_s=within_s, within_m=within_m)
    following = int(labels.max(initial=-1)) + 1
    by_time = np.argsort(time_s, kind="stable")
    begin = np.searchsorted(time_s, time_s - within_s, side="left", sorter=by_time)
    end = np.searchsorted(time_s, time_s + within_s, side="right", sorter=by_time)
    for i in np.lexsort((y, x, time_s, radius_m))[(~wide).sum() :]:  # the least vague first
        others = by_time[begin[i] : end[i]]
        near = _nearest(i, time_s, x, y, others=others[labels[others] >= 0], within_m=float(radius_m[i]))
        labels[i] = following if near < 0 else labels[near]
        following += near < 0
    return _in_order(labels)


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
