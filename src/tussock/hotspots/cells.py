"""Calls and homes counted in cells, cut by the same known extent: every call is accounted for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.errors import Faults
from tussock.geodesy import Floats, Plane

Whole = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Shapes = npt.NDArray[np.object_]

LEAST_KNOWN = 0.95
"""Share of a cell's area that must lie in the known extent for the cell to be tested (asked for)."""
NOWHERE = -1
"""The cell of a point that lies in none."""


@dataclass(frozen=True, eq=False)
class CallPlaces:
    """Where calls came from.

    Attributes
    ----------
    x, y
        Places in the region's plane [m], shape (calls,).
    stands
        Whether a call stands for its incident, one of each incident; all do when left out.
    radius_m
        To how wide a circle a place is known [m]; all are placed well enough when left out.
    """

    x: Floats
    y: Floats
    stands: Flags | None = None
    radius_m: Floats | None = None

    @property
    def incidents(self) -> Flags:
        """The flags of the calls that stand for an incident, written out."""
        return np.ones(len(self.x), dtype=np.bool_) if self.stands is None else self.stands


@dataclass(frozen=True, eq=False)
class HomePlaces:
    """Buildings that are or may be homes.

    Attributes
    ----------
    x, y
        Places in the region's plane [m], shape (buildings,).
    low, high
        Homes in each building: what is tagged as such, and with it what only may be (0 and 1 for a building
        of unknown use).
    """

    x: Floats
    y: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, eq=False)
class Ground:
    """What cuts calls and homes alike.

    Attributes
    ----------
    plane
        The region's plane.
    extent
        Inside which the homes are known to be complete, in the plane [m].
    region
        Outside which a call is none of the region's; left out, nothing is.
    """

    plane: Plane
    extent: BaseGeometry
    region: BaseGeometry | None = None


@dataclass(frozen=True)
class Tally:
    """Where calls ended up: the parts add up to what was read.

    Attributes
    ----------
    read
        All of them.
    in_cells
        In cells with homes.
    without_homes
        In the known extent, in cells without a home.
    in_no_cell
        In the known extent, in none of the polygons supplied.
    outside_extent
        In the region, where homes are not known.
    outside_region
        Beyond the region.
    too_vague
        In the known extent, known to a circle wider than the cell of its middle: in no cell.
    """

    read: int
    in_cells: int
    without_homes: int
    in_no_cell: int
    outside_extent: int
    outside_region: int
    too_vague: int = 0

    @property
    def mostly_vague(self) -> bool:
        """Whether more than half of what was read is known too roughly for its cell."""
        return 2 * self.too_vague > self.read

    def __post_init__(self) -> None:
        parts = self.in_cells + self.without_homes + self.in_no_cell + self.outside_extent
        if parts + self.too_vague + self.outside_region != self.read:
            raise ValueError(f"the parts of {self} do not add up")


@dataclass(frozen=True, eq=False)
class Cells:
    """Cells with homes or calls, one row each, in order of their names.

    Attributes
    ----------
    names
        H3 index in hexadecimal, or the name of a supplied polygon.
    polygons
        Their outlines in the plane [m].
    known
        Share of the area that lies in the known extent, 0 to 1.
    calls, incidents
        Counted in the known extent; an incident at the call that stands for it.
    homes_low, homes_high
        Exposure: homes tagged as such, and with them what may be homes.
    starts, neighbours
        Rows of the cells that touch cell i, ascending: ``neighbours[starts[i]:starts[i + 1]]``.
    call_tally, incident_tally
        Of calls, and of those that stand for an incident.
    homes_outside
        Homes [low, high] that were left out: beyond the known extent, the region or every polygon.
    resolution
        Of H3; None for supplied polygons.
    """

    names: tuple[str, ...]
    polygons: Shapes
    known: Floats
    calls: Whole
    incidents: Whole
    homes_low: Floats
    homes_high: Floats
    starts: Whole
    neighbours: Whole
    call_tally: Tally
    incident_tally: Tally
    homes_outside: tuple[float, float]
    resolution: int | None = None

    @property
    def homes(self) -> Floats:
        """The one figure where one must do, as for a colour on the map: the most homes.

        No test rests on it alone: sheds counted as homes in one quarter make the others seem to call more
        often, and a quarter that nobody has tagged does so over the least homes. Tests take both ends.
        """
        return self.homes_high

    @property
    def tested(self) -> Flags:
        """Whether a cell takes part in tests: it has homes and is known but for a twentieth."""
        return np.asarray((self.known >= LEAST_KNOWN) & (self.homes_high > 0))

    @property
    def centres(self) -> tuple[Floats, Floats]:
        """x and y of the cells' centroids [m]."""
        points = shapely.centroid(self.polygons)
        return np.asarray(shapely.get_x(points)), np.asarray(shapely.get_y(points))

    @property
    def mean_expected(self) -> float:
        """How many incidents a home's cell is to expect, averaged over homes, were all homes alike."""
        return mean_expected(self.homes, incidents=self.incident_tally.in_cells)

    def neighbours_of(self, row: int) -> Whole:
        """Return the rows of the cells that touch one."""
        return self.neighbours[self.starts[row] : self.starts[row + 1]]


def mean_expected(homes: Floats, *, incidents: int) -> float:
    """Return the expected count of a cell averaged over homes: incidents × Σ homes² / (Σ homes)².

    A district with a few dense cells and many empty ones is judged by where its homes are. 0 without homes.
    """
    total = float(homes.sum())
    return incidents * float(np.square(homes).sum()) / total**2 if total > 0 else 0.0


@dataclass(frozen=True, eq=False)
class Inside:
    """Which points count at all.

    Attributes
    ----------
    calls, homes
        Flags: in the region and in the known extent.
    in_region
        Of the calls, whether they are in the region.
    """

    calls: Flags
    homes: Flags
    in_region: Flags


def inside(calls: CallPlaces, homes: HomePlaces, *, ground: Ground) -> Inside:
    """Return which calls and homes lie in the region and the known extent; on its edge is in it.

    Raises
    ------
    InputError
        On places that are no numbers, homes below 0, a low end above the high one, unequal lengths, an extent
        or a region that is no area.
    """
    _check(calls, homes)
    _check_areas(ground)
    region = _within(ground.region, calls.x, calls.y)
    in_calls = region & _within(ground.extent, calls.x, calls.y)
    in_homes = _within(ground.region, homes.x, homes.y) & _within(ground.extent, homes.x, homes.y)
    return Inside(in_calls, in_homes, region)


def _within(area: BaseGeometry | None, x: Floats, y: Floats) -> Flags:
    if area is None:
        return np.ones(len(x), dtype=np.bool_)
    shapely.prepare(area)
    return np.asarray(shapely.intersects_xy(area, x, y), dtype=np.bool_)


@dataclass(frozen=True, eq=False)
class Outlines:
    """Cells before anything is counted in them; fields as of `Cells`."""

    names: tuple[str, ...]
    polygons: Shapes
    starts: Whole
    neighbours: Whole
    resolution: int | None = None


def counted(
    outlines: Outlines,
    calls: CallPlaces,
    homes: HomePlaces,
    *,
    ground: Ground,
    counts: Inside,
    call_cell: Whole,
    home_cell: Whole,
) -> Cells:
    """Return the cells with what lies in them.

    Parameters
    ----------
    call_cell, home_cell
        Row of the cell of each call and building; `NOWHERE` for none. Those that do not count are ignored.
    """
    n = len(outlines.names)
    there = counts.homes & (home_cell != NOWHERE)
    low, high = (
        np.bincount(home_cell[there], weights=v[there], minlength=n).astype(np.float64)
        for v in (homes.low, homes.high)
    )
    vague = counts.calls & too_vague(outlines.polygons, call_cell, calls.radius_m)
    called = counts.calls & (call_cell != NOWHERE) & ~vague
    has_homes = np.zeros(len(call_cell), dtype=np.bool_)
    has_homes[called] = high[call_cell[called]] > 0
    return Cells(
        names=outlines.names,
        polygons=outlines.polygons,
        known=known_share(outlines.polygons, ground.extent),
        calls=np.bincount(call_cell[called], minlength=n).astype(np.int64),
        incidents=np.bincount(call_cell[called & calls.incidents], minlength=n).astype(np.int64),
        homes_low=low,
        homes_high=high,
        starts=outlines.starts,
        neighbours=outlines.neighbours,
        call_tally=_tally(np.ones(len(called), np.bool_), counts, called, vague, has_homes),
        incident_tally=_tally(calls.incidents, counts, called, vague, has_homes),
        homes_outside=(float(homes.low[~there].sum()), float(homes.high[~there].sum())),
        resolution=outlines.resolution,
    )


def known_share(polygons: Shapes, extent: BaseGeometry) -> Floats:
    """Return how much of each polygon's area lies in the extent, 0 to 1."""
    shapely.prepare(extent)
    share = shapely.contains_properly(extent, polygons).astype(np.float64)
    cut = np.flatnonzero((share == 0) & shapely.intersects(extent, polygons))
    parts = shapely.area(shapely.intersection(polygons[cut], extent)) / shapely.area(polygons[cut])
    # the sum of an area's pieces may exceed it by a rounding
    share[cut] = np.minimum(parts, 1.0)
    return share


def too_vague(polygons: Shapes, cell: Whole, radius_m: Floats | None) -> Flags:
    """Return which places are known to a circle wider than the cell of their middle, which says nothing then.

    Parameters
    ----------
    cell
        Row of the cell of each place; `NOWHERE` for none.
    radius_m
        Of each place [m]; a cell is as wide as a square of its area.
    """
    out = np.zeros(len(cell), dtype=np.bool_)
    if radius_m is not None:
        placed = cell != NOWHERE
        out[placed] = radius_m[placed] > np.sqrt(shapely.area(polygons))[cell[placed]]
    return out


def _tally(of: Flags, counts: Inside, called: Flags, vague: Flags, has_homes: Flags) -> Tally:
    def number(flags: Flags) -> int:
        return int(np.count_nonzero(of & flags))

    return Tally(
        read=int(np.count_nonzero(of)),
        in_cells=number(called & has_homes),
        without_homes=number(called & ~has_homes),
        in_no_cell=number(counts.calls & ~called & ~vague),
        outside_extent=number(counts.in_region & ~counts.calls),
        outside_region=number(~counts.in_region),
        too_vague=number(vague),
    )


def row_lists(lists: Sequence[Whole]) -> tuple[Whole, Whole]:
    """Return lists of rows, end to end, with where each begins."""
    starts = np.concatenate([[0], np.cumsum([len(v) for v in lists], dtype=np.int64)]).astype(np.int64)
    return starts, np.concatenate(lists).astype(np.int64) if lists else np.zeros(0, np.int64)


def _check_areas(ground: Ground) -> None:
    faults = Faults()
    for area, what in ((ground.extent, "known extent"), (ground.region, "region")):
        if area is not None and not (area.is_valid and area.area > 0):
            faults.add(
                f"the {what} is no area ({shapely.is_valid_reason(area)})",
                allowed="valid polygons, not empty",
            )
    faults.raise_if_any()


def _check(calls: CallPlaces, homes: HomePlaces) -> None:
    faults = Faults()
    if not len(calls.x) == len(calls.y) == len(calls.incidents):
        faults.add(f"{len(calls.x)} x and {len(calls.y)} y of calls", allowed="one of each per call")
    if not len(homes.x) == len(homes.y) == len(homes.low) == len(homes.high):
        faults.add(f"{len(homes.x)} x and {len(homes.y)} y of homes", allowed="one of each per building")
    if not all(np.isfinite(v).all() for v in (calls.x, calls.y, homes.x, homes.y, homes.low, homes.high)):
        faults.add(
            "a place or a number of homes that is no number",
            allowed="finite numbers",
            fix="leave out calls without a place, and count them",
        )
    faults.raise_if_any()
    if np.any(homes.low < 0) or np.any(homes.low > homes.high):
        faults.add(
            "a building with homes below 0, or more for certain than at most", allowed="0 ≤ low ≤ high"
        )
    faults.raise_if_any()
