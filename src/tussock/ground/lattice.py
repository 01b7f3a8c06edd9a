"""The region's one lattice of cells, and windows of it.

Cell (row j, column i) has its centre at ((i + ½)c, (j + ½)c) in the region's plane; rows count
northwards. Every plan on a region considers the same cells, whatever its window.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats, Plane

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Window:
    """A rectangle of lattice cells.

    Attributes
    ----------
    column, row
        Lattice indices of the south-west cell.
    columns, rows
        Size in cells.
    cell_m
        Cell size [m].
    """

    column: int
    row: int
    columns: int
    rows: int
    cell_m: float

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns), as arrays over the window have; row 0 is the southernmost."""
        return self.rows, self.columns

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north in the plane [m]."""
        c = self.cell_m
        return self.column * c, self.row * c, (self.column + self.columns) * c, (self.row + self.rows) * c

    @cached_property
    def x(self) -> Floats:
        """Eastings of the columns' centres [m], shape (columns,)."""
        return np.asarray((np.arange(self.column, self.column + self.columns) + 0.5) * self.cell_m)

    @cached_property
    def y(self) -> Floats:
        """Northings of the rows' centres [m], shape (rows,)."""
        return np.asarray((np.arange(self.row, self.row + self.rows) + 0.5) * self.cell_m)

    def cut_to(self, box: tuple[float, float, float, float]) -> Window:
        """Return the part of the window whose cells' centres lie in a box: west, south, east, north [m].

        At least one cell is kept: the one nearest to the box.
        """
        west, south, east, north = box
        c = self.cell_m
        column = min(max(self.column, math.ceil(west / c - 0.5)), self.column + self.columns - 1)
        row = min(max(self.row, math.ceil(south / c - 0.5)), self.row + self.rows - 1)
        last_column = max(min(self.column + self.columns - 1, math.floor(east / c - 0.5)), column)
        last_row = max(min(self.row + self.rows - 1, math.floor(north / c - 0.5)), row)
        return Window(column, row, last_column - column + 1, last_row - row + 1, c)

    def corners(self, plane: Plane) -> tuple[Floats, Floats]:
        """Return longitudes and latitudes of the four corners: sw, se, ne, nw."""
        w, s, e, n = self.bounds
        return plane.unproject(np.array([w, e, e, w]), np.array([s, s, n, n]))


def window_around(x: float, y: float, *, reach_m: float, cell_m: float) -> Window:
    """Return the smallest window that holds every cell centre within ``reach_m`` of a point in the plane."""
    left, bottom = (math.floor((v - reach_m) / cell_m) for v in (x, y))
    right, top = (math.floor((v + reach_m) / cell_m) for v in (x, y))
    return Window(left, bottom, right - left + 1, top - bottom + 1, cell_m)
