"""Barriers between capture and place: do they touch the hull of the two discs, do they separate them?"""

from __future__ import annotations

import math

import numpy as np
import shapely

from tussock.ground.features import Geometries
from tussock.measure.measured import Measured
from tussock.measure.scene import Places, Scene

_QUADRANT = 16
ROUND_OUT = 1 / math.cos(math.pi / (4 * _QUADRANT))
"""Makes the polygon that stands for a disc hold it."""
_HAIR_M = 0.001


def barriers_between(scene: Scene, at: Places, layer: str, classes: frozenset[str] | None) -> Measured:
    """Return [0, 0] where no barrier touches the hull of the two discs, [1, 1] where they separate
    the discs, [0, 1] otherwise or where the hull leaves the known extent.

    A barrier that touches a disc cannot separate the two: the animal may be on either side.
    """
    found = scene.features(layer, classes)
    error = scene.error_m(layer)
    hulls = _hulls(scene, at, error=error)
    low, high = np.zeros(len(at)), np.zeros(len(at))
    if len(found):
        which, barrier = found.tree.query(hulls, predicate="intersects")
        high[which] = 1.0
        for i in np.unique(which):
            if _separates(found.geometries[barrier[which == i]], hulls[i], scene, at, int(i), error=error):
                low[i] = 1.0
    known = shapely.multipolygons(list(scene.extent(layer).parts))
    shapely.prepare(known)
    beyond = ~shapely.covers(known, hulls)
    high = np.where(beyond, 1.0, high)
    reason = {
        "position": np.where(high > low, 1.0, 0.0),
        "edge of data": np.where(beyond & (low < 1), 2.0, 0.0),
    }
    return Measured(low, high, high, reason)


def _hulls(scene: Scene, at: Places, *, error: float) -> Geometries:
    """Return the convex hulls of the capture's disc and each place's."""
    one = shapely.buffer(
        scene.capture.points, (scene.capture.radius_m + error) * ROUND_OUT, quad_segs=_QUADRANT
    )
    others = shapely.buffer(at.points, (at.radius_m + error) * ROUND_OUT, quad_segs=_QUADRANT)
    pairs = shapely.geometrycollections(np.column_stack([np.broadcast_to(one, len(at)), others]))
    return np.atleast_1d(np.asarray(shapely.convex_hull(pairs), dtype=object))


def _separates(
    barriers: Geometries, hull: shapely.Geometry, scene: Scene, at: Places, i: int, *, error: float
) -> bool:
    """Return whether the barriers cut the hull so that the discs lie in different pieces."""
    k = i if len(scene.capture) == len(at) else 0
    start, end = scene.capture.points[k], at.points[i]
    wall = shapely.union_all(shapely.buffer(barriers, _HAIR_M, cap_style="flat"))
    discs = ((start, _radius_m(scene.capture, k)), (end, _radius_m(at, i)))
    if any(shapely.dwithin(wall, middle, radius + error) for middle, radius in discs):
        return False
    pieces = shapely.get_parts(shapely.difference(hull, wall))
    return not bool((shapely.intersects(pieces, start) & shapely.intersects(pieces, end)).any())


def _radius_m(at: Places, i: int) -> float:
    return float(np.broadcast_to(at.radius_m, len(at))[i])
