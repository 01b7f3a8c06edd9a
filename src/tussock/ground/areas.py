"""Sets of areas: dissolved polygons with an index of their edge."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely import STRtree

from tussock.ground.features import Features, Geometries, polygons_of

GRID_M = 1e-4
"""Grid of the overlay [m]: closes the cracks of 1e-9 m that floating overlay leaves between neighbours
and moves nothing by more than 0.07 mm."""
_CHUNK = 8
"""Edge segments per indexed piece: small enough to be found fast, few enough to be built fast."""


@dataclass(frozen=True, eq=False)
class AreaSet:
    """A set of ground, as disjoint polygons in the plane [m]."""

    parts: Geometries
    _kept: dict[Any, Any] = field(default_factory=dict, repr=False)

    @cached_property
    def tree(self) -> STRtree:
        """Index over the parts."""
        shapely.prepare(self.parts)
        return STRtree(self.parts)

    @cached_property
    def edge(self) -> Geometries:
        """The outline as short line strings."""
        return chunks(shapely.get_rings(self.parts))

    @cached_property
    def edge_tree(self) -> STRtree:
        """Index over the outline."""
        return STRtree(self.edge)

    def part_of(self, points: Geometries) -> npt.NDArray[np.int64]:
        """Return the index of the part that holds each point (edges count as inside), −1 where none does."""
        out = np.full(len(points), -1, dtype=np.int64)
        which, part = self.tree.query(points, predicate="intersects")
        out[which] = part
        return out


def chunks(lines: Geometries, *, size: int = _CHUNK) -> Geometries:
    """Return line strings cut into pieces of at most ``size`` segments, together the same line."""
    if not len(lines):
        return lines
    xy, line = shapely.get_coordinates(lines, return_index=True)
    starts = np.r_[0, np.flatnonzero(np.diff(line)) + 1]
    counts = np.diff(np.r_[starts, len(xy)])
    pieces = -(-(counts - 1) // size)
    owner = np.repeat(np.arange(len(counts)), pieces)
    nth = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    begin = starts[owner] + nth * size
    length = np.minimum(size + 1, starts[owner] + counts[owner] - begin)
    index = np.repeat(begin - np.r_[0, np.cumsum(length)[:-1]], length) + np.arange(length.sum())
    return np.asarray(shapely.linestrings(xy[index], indices=np.repeat(np.arange(len(owner)), length)))


def dissolved(geometries: Geometries) -> AreaSet:
    """Return the union of areas as a set of disjoint polygons."""
    if not len(geometries):
        return AreaSet(np.empty(0, dtype=object))
    merged = shapely.union_all(geometries, grid_size=GRID_M)
    return AreaSet(polygons_of(np.array([merged], dtype=object)))


def flattened(layer: Features) -> Features:
    """Return the areas without overlaps: the higher priority wins, then the smaller area, then the later row.

    Features that lose everything are left out; the rest keep their attributes.
    """
    order = np.lexsort((np.arange(len(layer)), -shapely.area(layer.geometries), layer.priority))
    rank = np.empty(len(layer), dtype=np.int64)
    rank[order] = np.arange(len(layer))
    one, other = layer.tree.query(layer.geometries, predicate="intersects")
    loses = rank[one] < rank[other]
    one, other = one[loses], other[loses]
    overlap = shapely.relate_pattern(layer.geometries[one], layer.geometries[other], "T********")
    one, other = one[overlap], other[overlap]
    if not len(one):
        return layer
    geometries = layer.geometries.copy()
    for loser in np.unique(one):
        winners = shapely.union_all(layer.geometries[other[one == loser]], grid_size=GRID_M)
        geometries[loser] = _areas_only(shapely.difference(geometries[loser], winners, grid_size=GRID_M))
    left = ~shapely.is_empty(geometries)
    changed = layer.taken(np.ones(len(layer), dtype=bool))
    return _with_geometries(changed, geometries).taken(left)


def _areas_only(geometry: shapely.Geometry) -> shapely.Geometry:
    parts = polygons_of(np.array([geometry], dtype=object))
    return shapely.multipolygons(list(parts)) if len(parts) else shapely.Polygon()


def _with_geometries(layer: Features, geometries: Geometries) -> Features:
    return replace(layer, geometries=geometries, _kept={})
