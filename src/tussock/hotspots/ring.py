"""The ring test: is a cell called more often than it and the cells round it let one expect?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.hotspots.counts import benjamini_hochberg

Whole = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
FALSE_SHARE = 0.05
"""Share of the flagged cells that may be false alarms, on average (asked for)."""


@dataclass(frozen=True, eq=False)
class Ring:
    """The ring test of every cell.

    Attributes
    ----------
    expected
        Calls in the cell, had the calls of cell and ring fallen on their homes alike: least and most over
        the interval of homes; shape (n,); ``nan`` where not tested.
    p
        One-sided, the larger over the interval of homes; ``nan`` where not tested.
    p_adjusted
        Benjamini–Hochberg over the cells that were tested.
    flagged
        Where that is at most `FALSE_SHARE`.
    """

    expected: tuple[Floats, Floats]
    p: Floats
    p_adjusted: Floats
    flagged: Flags

    @property
    def tested(self) -> int:
        """How many cells were."""
        return int((~np.isnan(self.p)).sum())


def ring_test(
    counts: Whole,
    *,
    homes_low: Floats,
    homes_high: Floats,
    starts: Whole,
    neighbours: Whole,
    tested: Flags | None = None,
) -> Ring:
    """Return for each cell whether its count stands out from its ring of neighbours.

    Given the calls of cell and ring together, the cell's own are binomial with its share of their homes.
    A large warm quarter does not stand out from itself: this finds single cells, the scan finds quarters.

    Parameters
    ----------
    counts, homes_low, homes_high
        Per cell, shape (n,).
    starts, neighbours
        Rows of the cells that touch cell i: ``neighbours[starts[i]:starts[i + 1]]``, i not among them.
    tested
        Which cells to test; those left out still stand in the rings of others, since calls and homes are
        cut by the same ground. Cells that may have no home, or whose ring may, are never tested.

    Raises
    ------
    InputError
        When the columns do not belong to the same cells, or a cell is its own neighbour.
    """
    _check(counts, homes_low, homes_high, starts, neighbours)
    cell = np.repeat(np.arange(len(counts)), np.diff(starts))
    told = np.ones(len(counts), dtype=np.bool_) if tested is None else tested
    p, expected = np.zeros(len(counts)), []
    together = counts + _sums(counts, cell, neighbours).astype(np.int64)
    for homes in (homes_low, homes_high):
        ring = _sums(homes, cell, neighbours)
        told = told & (homes > 0) & (ring > 0)
        share = homes / np.where(told, homes + ring, np.inf)
        expected.append(together * share)
        p = np.maximum(p, stats.binom.sf(counts - 1, together, share))
    p = np.where(told, p, np.nan)
    adjusted = benjamini_hochberg(p)
    low, high = np.where(told, np.sort(expected, axis=0), np.nan)
    return Ring((low, high), p, adjusted, adjusted <= FALSE_SHARE)


def _sums(values: npt.NDArray[np.generic], cell: Whole, neighbours: Whole, /) -> Floats:
    """Return the sum of each cell's neighbours, shape (n,)."""
    weights = values.astype(np.float64)[neighbours]
    return np.bincount(cell, weights=weights, minlength=len(values)).astype(np.float64)


def _check(counts: Whole, low: Floats, high: Floats, starts: Whole, neighbours: Whole) -> None:
    n = len(counts)
    if not len(low) == len(high) == n == len(starts) - 1:
        raise InputError(
            f"{n} counts, {len(low)} and {len(high)} homes, {len(starts)} starts of rings",
            allowed="one of each per cell, and one start more",
        )
    if len(neighbours) and not (neighbours.min() >= 0 and neighbours.max() < n):
        raise InputError("a neighbour that is no cell", allowed=f"rows 0 to {n - 1}")
    if (np.repeat(np.arange(n), np.diff(starts)) == neighbours).any():
        raise InputError("a cell that is its own neighbour", fix="leave it out of its ring")
    if not ((counts >= 0).all() and (low >= 0).all() and (high >= low).all()):
        raise InputError("counts or homes below 0, or most homes below least", allowed="0 or more")
