"""What lies behind lines as seen from a point: the cells whose straight way to it crosses them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely

from tussock.geodesy import Floats
from tussock.ground.features import Geometries
from tussock.ground.lattice import Window
from tussock.ground.surfaces import sides, winding


def shadow(geometries: Geometries, x: float, y: float, window: Window) -> npt.NDArray[np.bool_]:
    """Return which centres have a line, or an outline of an area, between themselves and a point.

    Lines are taken apart into runs that turn one way round the point, so that each casts a simple
    shadow; points cast none.
    """
    lines = _lines(geometries)
    if not len(lines):
        return np.zeros(window.shape, dtype=bool)
    w, s, e, n = window.bounds
    far = 4 * float(np.hypot(max(abs(w - x), abs(e - x)), max(abs(s - y), abs(n - y)))) + window.cell_m
    polygons = [_cast(run, np.array([x, y]), far) for line in lines for run in _runs(line, np.array([x, y]))]
    if not polygons:
        return np.zeros(window.shape, dtype=bool)
    return winding(sides(np.array(polygons, dtype=object)), window) > 0


def _lines(geometries: Geometries) -> list[Floats]:
    parts = shapely.get_parts(shapely.get_parts(geometries))
    areas = shapely.get_dimensions(parts) == 2
    every = np.concatenate([shapely.get_rings(parts[areas]), parts[shapely.get_dimensions(parts) == 1]])
    return [shapely.get_coordinates(line) for line in every]


def _runs(line: Floats, eye: Floats) -> list[Floats]:
    """Return the line cut where its turn round the eye changes sign; radial pieces cast nothing."""
    a = line - eye
    turn = np.sign(a[:-1, 0] * a[1:, 1] - a[:-1, 1] * a[1:, 0])
    cuts = np.r_[0, np.flatnonzero(np.diff(turn)) + 1, len(turn)]
    return [line[i : j + 1] for i, j in pairwise(cuts) if j > i and turn[i] != 0]


def _cast(run: Floats, eye: Floats, far: float) -> shapely.Polygon:
    """Return the shadow of one run: the run, and its points pushed out beyond the window.

    The far side is cut into steps of at most 30°, so that its chords stay beyond the window.
    """
    angle = np.unwrap(np.arctan2(run[:, 1] - eye[1], run[:, 0] - eye[0]))
    steps = max(2, int(np.ceil(abs(angle[-1] - angle[0]) / (np.pi / 6))) + 1)
    out = np.linspace(angle[-1], angle[0], steps)
    rim = eye + far * np.column_stack([np.cos(out), np.sin(out)])
    ring = np.vstack([run, rim])
    return shapely.Polygon(ring)
