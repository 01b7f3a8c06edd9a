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
    w, s, e, n = window.bounds
    box = min(w, x) - 1.0, min(s, y) - 1.0, max(e, x) + 1.0, max(n, y) + 1.0
    lines = _lines(geometries, box)
    far = 4 * float(np.hypot(box[2] - box[0], box[3] - box[1]))
    eye = np.array([x, y])
    polygons = [_cast(run, eye, far) for line in lines for run in _runs(line, eye)]
    if not polygons:
        return np.zeros(window.shape, dtype=bool)
    return winding(sides(np.array(polygons, dtype=object)), window) > 0


def _lines(geometries: Geometries, box: tuple[float, float, float, float]) -> list[Floats]:
    """Return lines and outlines cut to a box: what lies beyond it hides nothing in it."""
    parts = shapely.get_parts(shapely.get_parts(geometries))
    dimension = shapely.get_dimensions(parts)
    every = np.concatenate([shapely.get_rings(parts[dimension == 2]), parts[dimension == 1]])
    cut = shapely.get_parts(shapely.intersection(every, shapely.box(*box)))
    return [shapely.get_coordinates(line) for line in cut[shapely.get_dimensions(cut) == 1]]


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
