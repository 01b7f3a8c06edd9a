"""Cells of the region's plane laid onto the web map's plane (EPSG:3857), by nearest cell."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats, Plane
from tussock.ground.lattice import Window

EARTH_M = 6_378_137.0
"""Radius of the web map's sphere [m] (EPSG:3857)."""
KNOTS = 25
"""Points a side at which the planes are joined exactly; between them bilinear (under a tenth of a cell
at 24 km, see tests/maps/test_warp.py)."""


def mercator(longitude: Floats | float, latitude: Floats | float) -> tuple[Floats, Floats]:
    """Return web-mercator easting and northing [m] of degrees. For drawing only, never for a distance."""
    x = EARTH_M * np.radians(np.asarray(longitude, float))
    y = EARTH_M * np.arctanh(np.sin(np.radians(np.asarray(latitude, float))))
    return x, y


def unmercator(x: Floats | float, y: Floats | float) -> tuple[Floats, Floats]:
    """Return degrees of web-mercator easting and northing [m]."""
    longitude = np.degrees(np.asarray(x, float) / EARTH_M)
    return longitude, np.degrees(np.arcsin(np.tanh(np.asarray(y, float) / EARTH_M)))


@dataclass(frozen=True)
class Warp:
    """Which cell of a window each pixel of a north-up web-mercator picture shows.

    Attributes
    ----------
    south, west, north, east
        Edges of the picture [degrees].
    cells
        (rows, columns), row 0 northernmost: flat index into the window, one past its end outside it.
    """

    south: float
    west: float
    north: float
    east: float
    cells: npt.NDArray[np.int32]

    def picture(self, values: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
        """Return the window's values as the picture's pixels; 0 outside the window."""
        padded = np.append(values.ravel(), np.uint8(0))
        return np.asarray(padded[self.cells], np.uint8)

    @property
    def bounds(self) -> list[list[float]]:
        """[[south, west], [north, east]] as the canvas takes them."""
        return [[self.south, self.west], [self.north, self.east]]


def warp(window: Window, plane: Plane) -> Warp:
    """Return the picture of a window: pixels no coarser than its cells at its middle."""
    lon, lat = window.corners(plane)
    x, y = mercator(lon, lat)
    west, east, south, north = float(x.min()), float(x.max()), float(y.min()), float(y.max())
    stretch = 1 / math.cos(math.radians(float(lat.mean())))
    pixel = window.cell_m * stretch
    columns, rows = max(1, math.ceil((east - west) / pixel)), max(1, math.ceil((north - south) / pixel))
    px = west + (np.arange(columns) + 0.5) * (east - west) / columns
    py = north - (np.arange(rows) + 0.5) * (north - south) / rows
    kx, ky = np.linspace(px[0], px[-1], KNOTS), np.linspace(py[0], py[-1], KNOTS)
    easting, northing = plane.project(*unmercator(*np.meshgrid(kx, ky)))
    column = _spread(easting / window.cell_m - window.column, columns=columns, rows=rows)
    row = _spread(northing / window.cell_m - window.row, columns=columns, rows=rows)
    cells = _flat(column, row, window)
    w, s = unmercator(west, south)
    e, n = unmercator(east, north)
    return Warp(float(s), float(w), float(n), float(e), cells)


def _spread(knots: Floats, *, columns: int, rows: int) -> npt.NDArray[np.float32]:
    """Return the bilinear values of a knot grid at every pixel: two products of small matrices."""
    across = _weights(columns)
    down = _weights(rows)
    return np.asarray(down @ (knots @ across.T).astype(np.float64), np.float32)


def _weights(count: int) -> Floats:
    """Return (count, KNOTS) weights that interpolate linearly between evenly spaced knots."""
    at = np.linspace(0.0, KNOTS - 1.0, count)
    left = np.minimum(at.astype(np.intp), KNOTS - 2)
    weights = np.zeros((count, KNOTS))
    weights[np.arange(count), left] = 1 - (at - left)
    weights[np.arange(count), left + 1] = at - left
    return weights


def _flat(
    column: npt.NDArray[np.float32], row: npt.NDArray[np.float32], window: Window
) -> npt.NDArray[np.int32]:
    i, j = np.floor(column).astype(np.int32), np.floor(row).astype(np.int32)
    inside = (i >= 0) & (i < window.columns) & (j >= 0) & (j < window.rows)
    last = np.int32(window.columns * window.rows)
    return np.asarray(np.where(inside, j * np.int32(window.columns) + i, last), np.int32)
