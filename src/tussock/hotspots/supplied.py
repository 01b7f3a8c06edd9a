"""Cells as the user drew them: suburbs, wards, patrol areas."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely

from tussock.errors import Faults
from tussock.geodesy import Floats
from tussock.hotspots.cells import (
    NOWHERE,
    CallPlaces,
    Cells,
    Ground,
    HomePlaces,
    Outlines,
    Shapes,
    Whole,
    counted,
    inside,
    row_lists,
)

OPTION = "--units"
"""The option of the command line by which they are given."""
TOUCH_M = 1.0
"""Polygons no farther apart are neighbours: drawn borders seldom meet exactly (choice of this project)."""
MOST_OVERLAP = 0.01
"""Share of the smaller polygon that two may have in common: slivers of drawing (choice of this project)."""


def polygon_cells(
    calls: CallPlaces, homes: HomePlaces, *, ground: Ground, polygons: Shapes, names: Sequence[str]
) -> Cells:
    """Return calls and homes in polygons, in order of their names, those with neither as well.

    A point on a border or in a sliver that two share belongs to the polygon whose name comes first.

    Parameters
    ----------
    polygons
        Outlines in the plane [m], shape (polygons,).
    names
        One of each, no two alike.

    Raises
    ------
    InputError
        On polygons that overlap, are empty or not valid, names that repeat, or input that `inside` refuses.
    """
    order = np.array(sorted(range(len(names)), key=names.__getitem__), dtype=np.int64)
    _check(polygons, names)
    shapes, called = polygons[order], tuple(names[i] for i in order)
    starts, neighbours = _neighbours(shapes, called)
    return counted(
        Outlines(called, shapes, starts, neighbours),
        calls,
        homes,
        ground=ground,
        counts=inside(calls, homes, ground=ground),
        call_cell=_rows(shapes, calls.x, calls.y),
        home_cell=_rows(shapes, homes.x, homes.y),
    )


def _rows(shapes: Shapes, x: Floats, y: Floats) -> Whole:
    point, row = shapely.STRtree(shapes).query(shapely.points(x, y), predicate="intersects")
    rows = np.full(len(x), len(shapes), dtype=np.int64)
    np.minimum.at(rows, point, row)
    return np.where(rows == len(shapes), NOWHERE, rows)


def _neighbours(shapes: Shapes, names: Sequence[str]) -> tuple[Whole, Whole]:
    one, other = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=TOUCH_M)
    apart = one != other
    one, other = one[apart], other[apart]
    common = shapely.area(shapely.intersection(shapes[one], shapes[other]))
    smaller = np.minimum(shapely.area(shapes[one]), shapely.area(shapes[other]))
    faults = Faults()
    for i in np.flatnonzero((common > MOST_OVERLAP * smaller) & (one < other)):
        faults.add(
            f"the areas '{names[one[i]]}' and '{names[other[i]]}' overlap by {common[i] / 10_000:.2f} ha",
            where=OPTION,
            allowed="areas that share borders only",
            fix="cut one by the other",
        )
    faults.raise_if_any()
    ordered = other[np.lexsort((other, one))]
    ends = np.cumsum(np.bincount(one, minlength=len(shapes)))
    return row_lists(np.split(ordered, ends[:-1]))


def _check(polygons: Shapes, names: Sequence[str]) -> None:
    faults = Faults()
    if len(polygons) != len(names):
        faults.add(
            f"{len(polygons)} areas with {len(names)} names", where=OPTION, allowed="one name per area"
        )
        faults.raise_if_any()
    if not len(polygons):
        faults.add("no areas", where=OPTION, allowed="at least one polygon")
    for name in sorted(n for n, times in Counter(names).items() if times > 1):
        faults.add(f"several areas called '{name}'", where=OPTION, fix="give each its own name")
    for name, shape in zip(names, polygons, strict=True):
        if shape is None or shape.area == 0 or not shape.is_valid:
            why = "nothing" if shape is None else shapely.is_valid_reason(shape)
            faults.add(f"'{name}' is no area ({why})", where=OPTION, allowed="valid polygons")
    faults.raise_if_any()
