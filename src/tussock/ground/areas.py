"""Sets of areas: dissolved polygons with an index of their edge."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely import STRtree

from tussock.ground.features import Features, Geometries, polygons_of

GRID_M = 1e-4
"""Grid on which outlines are noded [m]: nothing moves by more than 0.07 mm."""
CRACK_M = 0.05
"""Narrowest gap between areas that counts as one [m]: thinner ones come of coordinates rounded to
7 decimals (1 cm) where one neighbour has a vertex and the other none (choice of this project)."""
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


@dataclass(frozen=True, eq=False)
class Faces:
    """The pieces that outlines cut the plane into, exactly matched along their edges.

    Attributes
    ----------
    polygons
        Disjoint pieces, each inside one or several of the areas, shape (n,).
    owner
        Index of the area that each belongs to: the one with the highest rank, shape (n,).
    """

    polygons: Geometries
    owner: npt.NDArray[np.int64]


def faces(areas: Geometries, *, rank: npt.NDArray[np.int64], cuts: Geometries | None = None) -> Faces:
    """Return the pieces of overlapping areas, cut by lines too; a line that ends inside cuts nothing.

    All outlines are noded together, so that neighbours share every vertex and no crack is left.

    Parameters
    ----------
    areas
        Polygons or multi-polygons in the plane [m].
    rank
        Whose each piece is: the highest of the areas over it.
    cuts
        Lines that part areas.
    """
    lines = shapely.boundary(areas)
    if cuts is not None and len(cuts):
        lines = np.concatenate([lines, cuts])
    network = shapely.union_all(lines, grid_size=GRID_M)
    pieces: Geometries = shapely.get_parts(shapely.polygonize([network]))
    owner = _owners(pieces, areas, rank)
    return Faces(pieces[owner >= 0], owner[owner >= 0])


def _owners(pieces: Geometries, areas: Geometries, rank: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Return per piece the area of the highest rank over it, −1 where none is; cracks go to a neighbour."""
    by_rank = np.argsort(rank)
    tree = STRtree(areas)
    best = np.full(len(pieces), -1, dtype=np.int64)
    points = shapely.point_on_surface(pieces)
    piece, area = tree.query(points, predicate="intersects")
    np.maximum.at(best, piece, rank[area])
    crack = np.flatnonzero((best < 0) & (2 * shapely.area(pieces) < CRACK_M * shapely.length(pieces)))
    piece, area = tree.query(points[crack], predicate="dwithin", distance=CRACK_M)
    np.maximum.at(best, crack[piece], rank[area])
    return np.where(best >= 0, by_rank[best], -1)


def dissolved(geometries: Geometries) -> AreaSet:
    """Return the union of areas as a set of disjoint polygons."""
    if not len(geometries):
        return AreaSet(np.empty(0, dtype=object))
    return joined(faces(geometries, rank=np.arange(len(geometries))).polygons)


def joined(matched: Geometries) -> AreaSet:
    """Return the union of disjoint pieces whose edges match exactly, as :func:`faces` makes them."""
    if not len(matched):
        return AreaSet(np.empty(0, dtype=object))
    return AreaSet(polygons_of(np.array([shapely.coverage_union_all(matched)], dtype=object)))


def flattened(layer: Features) -> Features:
    """Return the areas without overlaps, as pieces whose edges match exactly.

    The higher priority wins, then the smaller area, then the later row. A piece keeps the attributes of
    the feature that it belongs to.
    """
    order = np.lexsort((np.arange(len(layer)), -shapely.area(layer.geometries), layer.priority))
    rank = np.empty(len(layer), dtype=np.int64)
    rank[order] = np.arange(len(layer))
    found = faces(layer.geometries, rank=rank)
    return layer.picked(found.owner, geometries=found.polygons)
