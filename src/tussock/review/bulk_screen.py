"""Surfaces over a whole region, read at the records' places: between what bounds a distance surely lies.

The same surfaces as in planning (:mod:`tussock.ground.surfaces`); a place lies some metres beside the
centre of its cell, and by so much a distance may differ.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from tussock.geodesy import Floats
from tussock.ground.areas import AreaSet
from tussock.ground.features import Features, Geometries, kept_with
from tussock.ground.lattice import Window
from tussock.ground.region import Region
from tussock.ground.surfaces import (
    SLACK_HIGH,
    SLACK_LOW,
    Outline,
    Surface,
    burnt,
    distances,
    outline,
    touched,
    winding,
)
from tussock.measure.scene import Places
from tussock.review.bulk_columns import Index, Mask

MOST_CELLS = 4_000_000
"""A region's surfaces have no more cells: 16 MB each."""
_MOST_KEPT = 40
_ROUNDING_M = 0.02
BEYOND_M = 10_000.0
"""How far beyond the window places are bounded [m]."""
Ends = tuple[Floats, Floats]


@dataclass(frozen=True, eq=False)
class Cells:
    """Where places lie in a window, shape (n,) each.

    Attributes
    ----------
    flat
        Each place's cell (row × columns + column).
    beside
        How far from the cell's centre it lies [m].
    beyond
        How far beyond the window it lies [m], 0 in it: everything that there is lies at least so far off.
    """

    flat: Index
    beside: Floats
    beyond: Floats

    def taken(self, which: Mask | Index) -> Cells:
        """Return some of them."""
        return Cells(self.flat[which], self.beside[which], self.beyond[which])


class Sheets:
    """Surfaces over a region, made when first asked for; the oldest leave when there are too many.

    Attributes
    ----------
    window
        Holds everything that the region has; its cells are halved or doubled to about MOST_CELLS.
    """

    def __init__(self, region: Region) -> None:
        self.window = _window(region)
        box = self.window.bounds
        west, south, east, north = box[0] - BEYOND_M, box[1] - BEYOND_M, box[2] + BEYOND_M, box[3] + BEYOND_M
        # a ground distance is shorter than in the plane by the scale at most; no distance is longer than this
        stretch = float(np.max(region.plane.scale(np.array([west, east])))) - 1
        self._more = stretch * float(np.hypot(east - west, north - south)) + _ROUNDING_M
        self._kept: dict[tuple[int, str], tuple[Any, Surface]] = {}
        self._lock = threading.Lock()

    def cells(self, at: Places) -> Cells:
        """Return the cell of each place, or for a place beyond the window the nearest one."""
        w = self.window
        west, south, east, north = w.bounds
        column = np.clip(np.floor(at.x / w.cell_m), w.column, w.column + w.columns - 1)
        row = np.clip(np.floor(at.y / w.cell_m), w.row, w.row + w.rows - 1)
        beside = np.hypot(at.x - (column + 0.5) * w.cell_m, at.y - (row + 0.5) * w.cell_m)
        out = np.maximum(np.maximum(west - at.x, at.x - east), 0.0)
        beyond = np.hypot(out, np.maximum(np.maximum(south - at.y, at.y - north), 0.0))
        flat = ((row - w.row) * w.columns + column - w.column).astype(np.int64)
        return Cells(flat, beside, beyond)

    def away(self, found: Features, at: Cells) -> Ends:
        """Return the least and the most that the distance [m] to features as drawn can be."""
        d = self._sheet(found, "away", lambda: self._away(found)).ravel()[at.flat].astype(np.float64)
        low = d - (SLACK_LOW * self.window.cell_m + self._more) - at.beside
        high = d + (SLACK_HIGH * self.window.cell_m + self._more) + at.beside
        return np.maximum(low, at.beyond - self._more), high

    def signed(self, areas: AreaSet, at: Cells) -> Ends:
        """Return the least and the most that the signed depth [m] in areas can be, inside positive."""
        s = self._sheet(areas, "signed", lambda: self._signed(areas)).ravel()[at.flat].astype(np.float64)
        slack = SLACK_LOW * self.window.cell_m + self._more + at.beside
        return s - slack, np.where(at.beyond > 0, np.minimum(s + slack, self._more - at.beyond), s + slack)

    def _sheet(self, holder: Any, sort: str, make: Callable[[], Surface]) -> Surface:
        key = (id(holder), sort)
        with self._lock:
            if key not in self._kept:
                while len(self._kept) >= _MOST_KEPT:
                    self._kept.pop(next(iter(self._kept)))
                self._kept[key] = holder, make()  # with its holder, so that its identity is not given away
            return self._kept[key][1]

    def _outline(self, holder: Features | AreaSet, geometries: Geometries) -> Outline:
        cell = self.window.cell_m
        shape: Outline = kept_with(holder, ("outline", cell), lambda: outline(geometries, cell_m=cell))
        return shape

    def _away(self, found: Features) -> Surface:
        shape = self._outline(found, found.geometries)
        return distances(burnt(shape, self.window), cell_m=self.window.cell_m)

    def _signed(self, areas: AreaSet) -> Surface:
        shape = self._outline(areas, areas.parts)
        edge = distances(touched(shape, self.window), cell_m=self.window.cell_m)
        if not len(shape.edges):
            return -edge
        return np.where(winding(shape.edges, self.window) > 0, edge, -edge)


def _window(region: Region) -> Window:
    """Return a window round everything that the region knows: what is not in it is nowhere."""
    boxes = np.array([region.bounds, region.data_bounds])
    west, south = boxes[:, :2].min(axis=0)
    east, north = boxes[:, 2:].max(axis=0)
    cell = region.cell_m
    while (east - west) * (north - south) / (cell / 2) ** 2 < MOST_CELLS:
        cell /= 2
    while (east - west) * (north - south) / cell**2 > MOST_CELLS:
        cell *= 2
    column, row = int(np.floor(west / cell)) - 1, int(np.floor(south / cell)) - 1
    columns, rows = int(np.ceil(east / cell)) + 1 - column, int(np.ceil(north / cell)) + 1 - row
    return Window(column, row, columns, rows, cell)
