"""Coarse surfaces on a window of the lattice: they bound, vectors decide.

Features are burnt with every cell that their outline passes through, by points set along it no
farther apart than :data:`SPACING` cells. A distance transform between cell centres then bounds the
true distance d of a centre: with D the transform, in cells of size c,

    D − (1/√2 + SPACING/2) c  ≤  d  ≤  D + c/√2

since each outline point lies within SPACING/2 cells of a set point, and each set point within c/√2
of its cell's centre; the other way round each burnt cell holds a set point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from tussock.geodesy import Floats
from tussock.ground.features import Geometries, polygons_of
from tussock.ground.lattice import Window

Mask = npt.NDArray[np.bool_]
Surface = npt.NDArray[np.float32]
SPACING = 0.25
"""Distance between points set along an outline [cells]."""
TRANSFORM_ERROR = 0.01
"""Bound on rounding in the transform and its storage [cells]; tests hold it against an exact one."""
SLACK_LOW = 1 / math.sqrt(2) + SPACING / 2 + TRANSFORM_ERROR
"""How far the transform may lie above the true distance [cells]."""
SLACK_HIGH = 1 / math.sqrt(2) + TRANSFORM_ERROR
"""How far the transform may lie below the true distance [cells]."""


@dataclass(frozen=True, eq=False)
class Outline:
    """What burning needs of some geometries, whatever the window.

    Attributes
    ----------
    cells
        Lattice column and row of each cell that holds a point set along the outlines no farther
        apart than SPACING cells, shape (n, 2).
    edges
        Sides of the polygons' rings, anticlockwise, shape (m, 4): ax, ay, bx, by [m].
    """

    cells: npt.NDArray[np.int32]
    edges: Floats


def outline(geometries: Geometries, *, cell_m: float) -> Outline:
    """Return the outline of geometries for cells of a size [m]."""
    if not len(geometries):
        return Outline(np.empty((0, 2), dtype=np.int32), np.empty((0, 4)))
    points = shapely.get_coordinates(shapely.segmentize(geometries, SPACING * cell_m))
    cells = np.floor(points / cell_m).astype(np.int32)
    fresh = np.ones(len(cells), dtype=bool)
    fresh[1:] = (cells[1:] != cells[:-1]).any(axis=1)
    return Outline(cells[fresh], sides(polygons_of(geometries)))


def sides(polygons: Geometries) -> Floats:
    """Return the sides of polygons' rings, exteriors anticlockwise and holes clockwise, shape (m, 4)."""
    rings = shapely.get_rings(shapely.orient_polygons(polygons))
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return np.hstack([xy[:-1][same], xy[1:][same]])


def touched(shape: Outline, window: Window) -> Mask:
    """Return which cells of the window hold at least one point of the outline."""
    mask = np.zeros(window.shape, dtype=bool)
    column, row = shape.cells[:, 0] - window.column, shape.cells[:, 1] - window.row
    here = (column >= 0) & (column < window.columns) & (row >= 0) & (row < window.rows)
    mask[row[here], column[here]] = True
    return mask


def winding(edges: Floats, window: Window, *, weights: Floats | None = None) -> npt.NDArray[np.int32]:
    """Return how many polygons hold each cell's centre, or the sum of the weights of their sides.

    Parameters
    ----------
    edges
        Sides as :func:`sides` gives them.
    weights
        One whole number per side, shape (m,); 1 when left out.
    """
    c = window.cell_m
    rising = edges[:, 3] > edges[:, 1]
    # always from the lower end, so that neighbours agree on where their shared side crosses
    ax, ay, bx, by = np.where(rising, edges.T, edges.T[[2, 3, 0, 1]])
    # centre lines crossed: those with ay <= y < by
    first = np.ceil(ay / c - 0.5).astype(np.int64) - window.row
    last = np.ceil(by / c - 0.5).astype(np.int64) - window.row
    first, last = np.clip(first, 0, window.rows), np.clip(last, 0, window.rows)
    count = last - first
    edge = np.repeat(np.arange(len(ax)), count)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count) + first[edge]
    y = (row + window.row + 0.5) * c
    x = ax[edge] + (y - ay[edge]) * (bx[edge] - ax[edge]) / (by[edge] - ay[edge])
    # a crossing counts for every centre to its right; downward sides open a polygon, upward ones close it
    column = np.clip(np.ceil(x / c - 0.5).astype(np.int64) - window.column, 0, window.columns)
    sign = np.where(rising, -1.0, 1.0)[edge]
    if weights is not None:
        sign *= weights[edge]
    size = window.rows * (window.columns + 1)
    flat = np.bincount(row * (window.columns + 1) + column, weights=sign, minlength=size)
    grid = flat.reshape(window.rows, window.columns + 1)[:, : window.columns]
    return np.cumsum(np.rint(grid).astype(np.int32), axis=1, dtype=np.int32)


def labels(polygons: Geometries, window: Window) -> npt.NDArray[np.int32]:
    """Return per cell the index of the polygon that holds its centre, −1 for none; none may overlap."""
    if not len(polygons):
        return np.full(window.shape, -1, dtype=np.int32)
    edges = sides(polygons)
    owner = shapely.get_coordinates(shapely.get_rings(polygons), return_index=True)[1]
    ring_polygon = shapely.get_rings(polygons, return_index=True)[1]
    same = owner[1:] == owner[:-1]
    return winding(edges, window, weights=ring_polygon[owner[1:][same]] + 1.0) - 1


def burnt(shape: Outline, window: Window) -> Mask:
    """Return which cells geometries touch: outlines by their points, areas by centres inside."""
    mask = touched(shape, window)
    if len(shape.edges):
        mask |= winding(shape.edges, window) > 0
    return mask


def distances(mask: Mask, *, cell_m: float) -> Surface:
    """Return the distance [m] from each cell's centre to the nearest burnt cell's; ∞ where none is."""
    import cv2

    if not mask.any():
        return np.full(mask.shape, np.inf, dtype=np.float32)
    away = np.asarray(cv2.distanceTransform((~mask).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE))
    return np.asarray(away * np.float32(cell_m), dtype=np.float32)
