"""The units of a region's published figures, and which unit a place lies in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from tussock.errors import InputError
from tussock.geodesy import Floats, Plane
from tussock.hotspots.public_choice import PublicChoice
from tussock.hotspots.public_units import FLOOR_DWELLINGS, LATTICE_M, MOST_M, Unit, Whole, squares_of


@dataclass(frozen=True)
class Partition:
    """The units of a region and the choice that holds for them.

    Attributes
    ----------
    least
        Dwellings that each unit holds at least.
    attribution
        What the source of the dwellings wants said.
    """

    region: str
    plane: Plane
    choice: PublicChoice
    units: tuple[Unit, ...]
    least: int
    attribution: str = ""

    def __post_init__(self) -> None:
        if (
            self.least < FLOOR_DWELLINGS
            or not self.units
            or any(u.dwellings < self.least for u in self.units)
        ):
            raise InputError(
                "a unit holds too few dwellings",
                where="units for published figures",
                allowed=f"{max(self.least, FLOOR_DWELLINGS)} or more in each",
                fix="let the units be made from the dwellings",
            )
        _ = self._squares

    @cached_property
    def _squares(self) -> tuple[int, int, Whole]:
        """First column and row, and which unit each square belongs to: -1 none."""
        boxes = np.array([(u.west, u.south, u.east, u.north) for u in self.units], dtype=np.int64)
        bad = (boxes % LATTICE_M != 0).any() or (abs(boxes) > 2 * MOST_M).any()
        if bad or (boxes[:, :2] >= boxes[:, 2:]).any():
            raise not_rectangles()
        boxes //= LATTICE_M
        column, row = (int(v) for v in boxes[:, :2].min(axis=0))
        wide, high = (int(v) for v in boxes[:, 2:].max(axis=0) - (column, row))
        grid = np.full((wide, high), -1, np.int64)
        for index, (west, south, east, north) in enumerate(boxes - (column, row, column, row)):
            if (grid[west:east, south:north] >= 0).any():
                raise not_rectangles()
            grid[west:east, south:north] = index
        return column, row, grid

    def unit_index(self, x: Floats, y: Floats) -> Whole:
        """Return the unit that each place [m] lies in, as its index in `units`; -1 beyond all."""
        first_column, first_row, grid = self._squares
        far = 4.0 * MOST_M
        columns, rows = squares_of(np.clip(x, -far, far), np.clip(y, -far, far))
        columns, rows = columns - first_column, rows - first_row
        inside = (columns >= 0) & (columns < grid.shape[0]) & (rows >= 0) & (rows < grid.shape[1])
        index = np.full(len(columns), -1, np.int64)
        index[inside] = grid[columns[inside], rows[inside]]
        return index

    @property
    def dwellings(self) -> int:
        """Dwellings of all units."""
        return sum(unit.dwellings for unit in self.units)

    @property
    def perhaps(self) -> int:
        """Buildings of all units of which it is not known that people live there."""
        return sum(unit.perhaps for unit in self.units)

    def with_perhaps(self, x: Floats, y: Floats, *, homes: Whole) -> Partition:
        """Return the units with the buildings [m] that may be homes, so many in each, counted in them."""
        unit = self.unit_index(x, y)
        within = unit >= 0
        sums = np.zeros(len(self.units), np.int64)
        np.add.at(sums, unit[within], homes[within])
        counted = zip(self.units, sums.tolist(), strict=True)
        return replace(self, units=tuple(replace(u, perhaps=n) for u, n in counted))


def not_rectangles() -> InputError:
    """Return the error of units that are no rectangles side by side."""
    return InputError(
        "units overlap, or are no rectangles of whole squares",
        where="units for published figures",
        allowed=f"rectangles whose edges are multiples of {LATTICE_M} m, without overlap",
        fix="let the units be made from the dwellings",
    )
