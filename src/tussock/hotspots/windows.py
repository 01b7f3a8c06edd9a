"""Circular windows: round each centre, the units in order of distance, up to a share of the homes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tussock.errors import Faults, InputError
from tussock.geodesy import Floats

Whole = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

ALIKE_M = 1e-6
"""Units whose distances differ by less [m] enter a window together: no order of theirs means anything."""


@dataclass(frozen=True, eq=False)
class Windows:
    """All circular windows over some units, centre after centre, each centre's from small to large.

    Attributes
    ----------
    x, y
        Places of the units [m], shape (units,).
    exposure
        What could have called in each [homes, or homes × time].
    centre_x, centre_y
        Centres [m], shape (centres,).
    starts
        Where each centre's units begin in `members`, shape (centres + 1,).
    members
        Units in order of distance from the centre.
    closed
        Whether a window ends with this member: no other is just as far.
    """

    x: Floats
    y: Floats
    exposure: Floats
    centre_x: Floats
    centre_y: Floats
    starts: Whole
    members: npt.NDArray[np.uint32]
    closed: Flags

    def units(self, centre: int, last: int) -> Whole:
        """Return the units of the window of a centre that ends at a place in `members`, ascending."""
        return np.sort(self.members[self.starts[centre] : last + 1]).astype(np.int64)

    def centre_of(self, places: Whole) -> Whole:
        """Return the centre to which each place in `members` belongs."""
        return np.searchsorted(self.starts, places, side="right") - 1

    def radius_m(self, centre: int, last: int) -> float:
        """Return how far the last unit of a window is from its centre [m]."""
        unit = self.members[last]
        return float(np.hypot(self.x[unit] - self.centre_x[centre], self.y[unit] - self.centre_y[centre]))

    def ends(self, last: int) -> int:
        """Return the place in `members` where the window that holds this member is complete."""
        return last + int(np.argmax(self.closed[last:]))

    def summed(self, values: Floats) -> Floats:
        """Return, for each member, the sum of a value over the smallest window that holds the member."""
        sums = values[self.members]
        for first, end in zip(self.starts[:-1], self.starts[1:], strict=True):
            np.cumsum(sums[first:end], out=sums[first:end])
        ends = np.flatnonzero(self.closed)
        return np.repeat(sums[ends], np.diff(ends, prepend=-1))

    def stops_before(self, taken: Flags) -> Whole:
        """Return where each centre's windows stop so that none holds a taken unit."""
        starts, ends = self.starts[:-1], np.flatnonzero(self.closed)
        hits = np.append(np.flatnonzero(taken[self.members]), len(self.members))
        first = np.minimum(hits[np.searchsorted(hits, starts)], self.starts[1:])
        before = np.searchsorted(ends, first) - 1
        stops = np.where(before >= 0, ends[before] + 1, 0) if len(ends) else starts
        return np.maximum(stops, starts)


def circular_windows(
    x: Floats,
    y: Floats,
    exposure: Floats,
    *,
    centres: tuple[Floats, Floats] | None = None,
    most_share: float = 0.5,
) -> Windows:
    """Return the circular windows over some units.

    Parameters
    ----------
    x, y
        Places of the units in a plane [m].
    exposure
        Homes of each, or homes × time; 0 or more.
    centres
        x and y of the centres [m], any points; None: the units themselves.
    most_share
        No window holds more than this share of the exposure, above 0 and at most 0.5.

    Returns
    -------
    Windows
        Discs that include their edge. A centre without a small enough window has none.

    Raises
    ------
    InputError
        On arrays of unlike length, numbers that are not finite, exposure below 0 or nowhere above 0, a share
        out of range.

    Source
    ------
    Kulldorff (1997), Communications in Statistics – Theory and Methods 26: 1481–1496: circles of every
    radius round a set of points, up to half of the population.
    """
    _check(x, y, exposure, most_share)
    at_x, at_y = (x, y) if centres is None else centres
    most = most_share * float(exposure.sum()) * (1 + 1e-12)  # rounding of a sum is no reason to leave out
    found = [_round(np.hypot(x - cx, y - cy), exposure, most) for cx, cy in zip(at_x, at_y, strict=True)]
    lengths = [len(members) for members, _ in found]
    return Windows(
        x,
        y,
        exposure,
        at_x,
        at_y,
        np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64),
        np.concatenate([np.empty(0, np.uint32), *(members for members, _ in found)]),
        np.concatenate([np.empty(0, np.bool_), *(closed for _, closed in found)]),
    )


def _round(away: Floats, exposure: Floats, most: float) -> tuple[npt.NDArray[np.uint32], Flags]:
    """Return the units of one centre by distance, and which of them complete a window."""
    order = np.argsort(away, kind="stable")
    closed = np.append(np.diff(away[order]) > ALIKE_M, True)
    small = np.cumsum(exposure[order]) <= most
    ends = np.flatnonzero(closed & small)
    stop = ends[-1] + 1 if len(ends) else 0
    return order[:stop].astype(np.uint32), closed[:stop]


def grid_centres(x: Floats, y: Floats, *, step_m: float) -> tuple[Floats, Floats]:
    """Return the points of a square grid over the units, those farther than a step from every unit left out.

    Parameters
    ----------
    step_m
        Distance of neighbouring points [m]; half the side of square cells gives their centres and corners.

    Raises
    ------
    InputError
        On a step that is not above 0, or more than a million points.
    """
    if not step_m > 0:
        raise InputError(f"a grid of centres every {step_m} m", allowed="a step above 0 m")
    columns, rows = (np.arange(v.min(), v.max() + step_m / 2, step_m) for v in (x, y))
    if len(columns) * len(rows) > 1_000_000:
        raise InputError(
            f"{len(columns)} × {len(rows)} centres of windows", allowed="a million", fix="take a longer step"
        )
    grid_x, grid_y = (part.ravel() for part in np.meshgrid(columns, rows))
    from scipy.spatial import cKDTree

    near = cKDTree(np.column_stack([x, y])).query(np.column_stack([grid_x, grid_y]))[0] <= step_m
    return grid_x[near], grid_y[near]


def _check(x: Floats, y: Floats, exposure: Floats, most_share: float) -> None:
    faults = Faults()
    if not len(x) == len(y) == len(exposure):
        faults.add(f"{len(x)} x, {len(y)} y and {len(exposure)} exposures", allowed="one of each per unit")
    if not all(np.isfinite(v).all() for v in (x, y, exposure)):
        faults.add("a place or an exposure that is no number", allowed="finite numbers")
    elif len(exposure) and exposure.min() < 0:
        faults.add(f"an exposure of {exposure.min():g}", allowed="0 or more")
    elif not exposure.sum() > 0:
        faults.add("no homes in any unit", allowed="some exposure", fix="check the dwellings layer")
    if not 0 < most_share <= 0.5:
        faults.add(f"windows up to {most_share:g} of the exposure", allowed="above 0, at most 0.5")
    faults.raise_if_any()
