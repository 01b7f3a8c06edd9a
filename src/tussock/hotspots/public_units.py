"""Fixed units for published figures: the plane cut in two, again and again, by its dwellings alone.

The rule (choice of this project). The plane is laid out in squares of 100 m. The rectangle round all homes,
1 km wider on every side, is cut in two across the longer side of the homes' own extent, along the line of
the squares that leaves the homes on both sides most alike; of several such lines the westernmost or
southernmost. Where no line leaves enough homes on both sides, lines the other way are tried. Each half is cut
in the same manner; what cannot be cut is a unit. So units are rectangles that leave no gap and do not
overlap, each holds enough homes, and the same homes in any order give the same units. No call is read.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tussock.errors import Faults, InputError, UsageError
from tussock.geodesy import Floats

Whole = npt.NDArray[np.int64]

LATTICE_M = 100
"""Side of the squares that no line cuts [m]."""
BORDER_M = 1000
"""How far units reach beyond the outermost homes [m]: calls come from the ground beside a home too."""
LEAST_DWELLINGS = 500
"""Homes that a unit holds at least, unless stated otherwise."""
FLOOR_DWELLINGS = 100
"""Homes that a unit holds at least, whatever is stated."""
MOST_M = 150_000
"""Farthest from the plane's centre that a place may be [m]: a region is up to 150 km wide."""
_COLUMNS, _ROWS = 0, 1
_MOST_NAMED = 5


@dataclass(frozen=True)
class Unit:
    """A rectangle of the plane: its western and southern edges belong to it, the others to its neighbours.

    Attributes
    ----------
    west, south, east, north
        Edges [m], whole squares of the lattice.
    dwellings
        Homes in it when the units were made: those that surely are some.
    perhaps
        Buildings beside them of which it is not known that people live there; no unit is made by them.
    """

    id: str
    west: int
    south: int
    east: int
    north: int
    dwellings: int
    perhaps: int = 0


@dataclass(frozen=True, eq=False)
class _Part:
    """A rectangle still to be cut, in squares: `low` belongs to it, `high` does not."""

    low: tuple[int, int]
    high: tuple[int, int]
    squares: Whole
    homes: Whole

    def extent(self, axis: int) -> int:
        return int(np.ptp(self.squares[axis]))


def units_from_homes(
    x: Floats, y: Floats, *, homes: npt.ArrayLike, least: int = LEAST_DWELLINGS
) -> tuple[Unit, ...]:
    """Return the fixed units of a region, from its homes alone.

    Parameters
    ----------
    x, y
        Places of the dwellings in the region's plane [m].
    homes
        Whole number of homes at each, 0 or more.
    least
        Homes that each unit holds at least.

    Returns
    -------
    tuple
        Units numbered from 1, the western or southern half of each cut first; the order of the homes does
        not matter.

    Raises
    ------
    UsageError
        When `least` is below the floor.
    InputError
        Listing homes that cannot be used; or when all homes together are too few for one unit.
    """
    if least < FLOOR_DWELLINGS:
        raise UsageError(
            f"units of {least} dwellings were asked for",
            allowed=f"{FLOOR_DWELLINGS} dwellings or more, {LEAST_DWELLINGS} as a rule",
            fix="ask for larger units: smaller ones may point at a home",
        )
    whole = _part(*_checked(x, y, np.asarray(homes)))
    if int(whole.homes.sum()) < least:
        raise InputError(
            f"the region holds {int(whole.homes.sum())} dwellings",
            where="dwellings",
            allowed=f"{least} or more for figures to be published",
            fix="keep the figures to yourself, or add the dwellings that are not mapped yet",
        )
    return tuple(_unit(part, number) for number, part in enumerate(_cut_up(whole, least), start=1))


def squares_of(x: Floats, y: Floats) -> tuple[Whole, Whole]:
    """Return the column and the row of the square that each place lies in."""
    return _square(x), _square(y)


def _square(along: Floats) -> Whole:
    return np.floor(np.asarray(along, dtype=np.float64) / LATTICE_M).astype(np.int64)


def _checked(x: Floats, y: Floats, homes: npt.NDArray[np.generic]) -> tuple[Floats, Floats, Whole]:
    """Return the homes as they can be counted; those of no homes are left out."""
    x, y, count = (np.asarray(a, dtype=np.float64) for a in (x, y, homes))
    faults = Faults()
    if not x.shape == y.shape == count.shape or x.ndim != 1:
        faults.add(
            "places and homes differ in number", where="dwellings", fix="give one of each per dwelling"
        )
        faults.raise_if_any()
    allowed = f"within {MOST_M // 1000} km of the plane's centre"
    tell(faults, ~(np.maximum(abs(x), abs(y)) <= MOST_M), what="has no place in the region", allowed=allowed)
    wrong = ~((count >= 0) & (count < 2**31)) | (count != np.floor(count))
    tell(faults, wrong, what="has a number of homes that is none", allowed="whole numbers, 0 or more")
    faults.raise_if_any()
    there = count > 0
    return x[there], y[there], count[there].astype(np.int64)


def tell(
    faults: Faults, wrong: npt.NDArray[np.bool_], *, what: str, allowed: str, thing: str = "dwelling"
) -> None:
    """Note the rows of an array that cannot be used: the first few by number, counted from 1."""
    rows = np.flatnonzero(wrong) + 1
    for row in rows[:_MOST_NAMED]:
        more = f" (and {len(rows) - 1} more)" if row == rows[0] and len(rows) > 1 else ""
        faults.add(
            f"it {what}{more}", where=f"{thing} {row}", allowed=allowed, fix="correct it or leave it out"
        )


def _part(x: Floats, y: Floats, homes: Whole) -> _Part:
    """Return the rectangle round all homes and the border, the homes added up by square."""
    if not len(homes):
        return _Part((0, 0), (1, 1), np.zeros((2, 0), np.int64), homes)
    squares, place = np.unique(np.stack(squares_of(x, y)), axis=1, return_inverse=True)
    sums = np.zeros(squares.shape[1], np.int64)
    np.add.at(sums, place.ravel(), homes)
    border = BORDER_M // LATTICE_M
    (west, south), (east, north) = squares.min(axis=1) - border, squares.max(axis=1) + 1 + border
    return _Part((int(west), int(south)), (int(east), int(north)), squares, sums)


def _cut_up(whole: _Part, least: int) -> list[_Part]:
    """Return the parts that cannot be cut further, the lower half of each cut first."""
    done, waiting = [], [whole]
    while waiting:
        part = waiting.pop()
        halves = _halves(part, least)
        if halves is None:
            done.append(part)
        else:
            waiting.extend(reversed(halves))
    return done


def _halves(part: _Part, least: int) -> tuple[_Part, _Part] | None:
    longer = _COLUMNS if part.extent(_COLUMNS) >= part.extent(_ROWS) else _ROWS
    for axis in (longer, 1 - longer):
        line = _line(part, axis, least)
        if line is not None:
            return _below(part, axis, line), _above(part, axis, line)
    return None


def _line(part: _Part, axis: int, least: int) -> int | None:
    """Return the line that leaves the two sides most alike; ``None`` where a side would hold too few."""
    low, high = part.low[axis], part.high[axis]
    strips = np.zeros(high - low, np.int64)
    np.add.at(strips, part.squares[axis] - low, part.homes)
    below = np.cumsum(strips)[:-1]
    above = int(part.homes.sum()) - below
    enough = np.flatnonzero((below >= least) & (above >= least))
    if not len(enough):
        return None
    return low + 1 + int(enough[np.argmin(abs(above - below)[enough])])


def _below(part: _Part, axis: int, line: int) -> _Part:
    kept = part.squares[axis] < line
    return _Part(part.low, _moved(part.high, axis, line), part.squares[:, kept], part.homes[kept])


def _above(part: _Part, axis: int, line: int) -> _Part:
    kept = part.squares[axis] >= line
    return _Part(_moved(part.low, axis, line), part.high, part.squares[:, kept], part.homes[kept])


def _moved(corner: tuple[int, int], axis: int, line: int) -> tuple[int, int]:
    return (line, corner[1]) if axis == _COLUMNS else (corner[0], line)


def _unit(part: _Part, number: int) -> Unit:
    west, south, east, north = (LATTICE_M * square for square in (*part.low, *part.high))
    return Unit(f"unit-{number:04d}", west, south, east, north, int(part.homes.sum()))
