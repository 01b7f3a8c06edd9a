"""H3 cells: hexagons of one size over the district, and which size to speak of."""

from __future__ import annotations

import functools
import importlib
import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from tussock.errors import InputError, MissingDataError
from tussock.geodesy import Floats, Plane
from tussock.hotspots.cells import (
    NOWHERE,
    CallPlaces,
    Cells,
    Flags,
    Ground,
    HomePlaces,
    Inside,
    Outlines,
    Shapes,
    Whole,
    counted,
    inside,
    mean_expected,
)

Indexes = npt.NDArray[np.uint64]

LEAST_EXPECTED = 5.0
"""Incidents that a home's cell must expect on average (asked for)."""
COARSEST, FINEST = 4, 10
"""H3 resolutions to choose from: 1,770 km², wider than a district, to 1.5 ha, whose edge of 76 m is more than
twice the radius that a place has when none is recorded (choice of this project)."""


@dataclass(frozen=True)
class Choice:
    """Which resolution was chosen, and why.

    Attributes
    ----------
    resolution
        Of H3.
    expected
        Resolution → incidents that a home's cell expects on average, for each that was looked at.
    reached
        Whether that is at least 5 anywhere; otherwise the coarsest resolution stands in.
    """

    resolution: int
    expected: dict[int, float]
    reached: bool

    @property
    def rule(self) -> str:
        """How it was chosen, in words."""
        mean = self.expected[self.resolution]
        if not self.reached:
            return (
                f"H3 resolution {self.resolution}, the coarsest: even there a home's cell expects {mean:.1f} "
                f"calls on average, and cells say little below {LEAST_EXPECTED:g}"
            )
        if self.resolution == FINEST:
            return (
                f"H3 resolution {FINEST}: a home's cell expects {mean:.1f} calls on average, and finer cells "
                "are not used, as places are known no better than that"
            )
        return (
            f"H3 resolution {self.resolution}: the finest at which a home's cell expects at least "
            f"{LEAST_EXPECTED:g} calls on average ({mean:.1f})"
        )


@dataclass(frozen=True, eq=False)
class Steps:
    """The cells to speak of, and the same a step coarser and finer to see whether what is said stands."""

    choice: Choice
    coarser: Cells
    chosen: Cells
    finer: Cells


def hexagon_steps(calls: CallPlaces, homes: HomePlaces, *, ground: Ground) -> Steps:
    """Return calls and homes in H3 cells of the finest fitting resolution, and one step to either side.

    The resolution is the finest of 4 to 10 whose expected count, averaged over homes, is at least 5: the
    number of homes and of incidents decides, never where the incidents are.

    Raises
    ------
    InputError
        On input that `inside` refuses.
    MissingDataError
        Without the package h3.
    """
    district = _District(calls, homes, ground=ground)
    choice = _chosen(district)
    r = choice.resolution
    return Steps(choice, district.cells(r - 1), district.cells(r), district.cells(r + 1))


def hexagon_cells(calls: CallPlaces, homes: HomePlaces, *, ground: Ground, resolution: int) -> Cells:
    """Return calls and homes in H3 cells of a given resolution.

    Raises
    ------
    InputError
        On a resolution that is none, or input that `inside` refuses.
    MissingDataError
        Without the package h3.
    """
    if not 0 <= resolution <= 15:
        raise InputError(f"an H3 resolution of {resolution}", allowed="0 (coarse) to 15 (fine)")
    return _District(calls, homes, ground=ground).cells(resolution)


def _chosen(district: _District) -> Choice:
    expected: dict[int, float] = {}
    for resolution in range(FINEST, COARSEST - 1, -1):
        expected[resolution] = district.mean_expected(resolution)
        if expected[resolution] >= LEAST_EXPECTED:
            return Choice(resolution, expected, reached=True)
    return Choice(COARSEST, expected, reached=False)


class _District:
    """Calls and homes, each point's cell found once a resolution."""

    def __init__(self, calls: CallPlaces, homes: HomePlaces, *, ground: Ground) -> None:
        self.all_calls, self.all_homes, self.ground = calls, homes, ground
        self.counts: Inside = inside(calls, homes, ground=ground)
        plane = ground.plane
        self._calls = _Points(calls.x[self.counts.calls], calls.y[self.counts.calls], plane=plane)
        self._homes = _Points(homes.x[self.counts.homes], homes.y[self.counts.homes], plane=plane)
        self._most = homes.high[self.counts.homes]

    def mean_expected(self, resolution: int) -> float:
        cells, row = np.unique(self._homes.indexes(resolution), return_inverse=True)
        homes = np.bincount(row, weights=self._most, minlength=len(cells)).astype(np.float64)
        incidents = int(np.count_nonzero(self.all_calls.incidents & self.counts.calls))
        return mean_expected(homes, incidents=incidents)

    def cells(self, resolution: int) -> Cells:
        homes, calls = self._homes.indexes(resolution), self._calls.indexes(resolution)
        cells = np.unique(np.concatenate([homes, calls]))
        starts, neighbours = _neighbours(cells)
        outlines = Outlines(
            names=tuple(f"{int(c):x}" for c in cells),
            polygons=_polygons(cells, self.ground.plane),
            starts=starts,
            neighbours=neighbours,
            resolution=resolution,
        )
        return counted(
            outlines,
            self.all_calls,
            self.all_homes,
            ground=self.ground,
            counts=self.counts,
            call_cell=_rows(cells, calls, self.counts.calls),
            home_cell=_rows(cells, homes, self.counts.homes),
        )


class _Points:
    def __init__(self, x: Floats, y: Floats, *, plane: Plane) -> None:
        lon, lat = plane.unproject(x, y)
        self._lon, self._lat = lon.tolist(), lat.tolist()
        self._found: dict[int, Indexes] = {}

    def indexes(self, resolution: int) -> Indexes:
        """Return the H3 index of each point's cell."""
        if resolution not in self._found:
            each = map(_h3().latlng_to_cell, self._lat, self._lon, [resolution] * len(self._lat))
            self._found[resolution] = np.fromiter(each, np.uint64, len(self._lat))
        return self._found[resolution]


def _rows(cells: Indexes, of_inside: Indexes, flags: Flags) -> Whole:
    rows = np.full(len(flags), NOWHERE, dtype=np.int64)
    rows[flags] = np.searchsorted(cells, of_inside)
    return rows


def _polygons(cells: Indexes, plane: Plane) -> Shapes:
    """Return the cells' outlines, their corners joined straight in the plane."""
    if not len(cells):
        return np.empty(0, dtype=np.object_)
    boundary = _h3().cell_to_boundary
    rings = [boundary(c) for c in cells.tolist()]
    corners = np.array([corner for ring in rings for corner in ring], dtype=np.float64)
    of = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    x, y = plane.project(corners[:, 1], corners[:, 0])
    return np.asarray(shapely.polygons(shapely.linearrings(x, y, indices=of)), dtype=np.object_)


def _neighbours(cells: Indexes) -> tuple[Whole, Whole]:
    """Return, of sorted cells, which of them touch each."""
    if not len(cells):
        return np.zeros(1, np.int64), np.zeros(0, np.int64)
    disk = _h3().grid_disk
    # lists of whole numbers: an array for each cell would take twice as long
    round_each = [disk(c, 1) for c in cells.tolist()]
    of = np.repeat(np.arange(len(cells)), [len(v) for v in round_each])
    other = np.fromiter(itertools.chain.from_iterable(round_each), np.uint64, len(of))
    row = np.minimum(np.searchsorted(cells, other), len(cells) - 1)
    kept = (cells[row] == other) & (row != of)
    of, row = of[kept], row[kept]
    order = np.lexsort((row, of))
    starts = np.concatenate([[0], np.cumsum(np.bincount(of, minlength=len(cells)))])
    return starts.astype(np.int64), row[order].astype(np.int64)


@functools.cache
def _h3() -> Any:
    try:
        return importlib.import_module("h3.api.basic_int")
    except ImportError as error:
        raise MissingDataError(
            "hexagonal cells are laid out with the package h3, which is not installed",
            allowed="polygons of your own as cells need nothing more",
            fix="pip install 'tussock[hotspots]'",
        ) from error
