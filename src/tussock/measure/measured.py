"""Intervals of one quantity at many places, and coarse bounds on them over a window."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.interval import TOLERANCE_M, Interval, Limit

Surface = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Measured:
    """Interval ends of a quantity at n places, with how much each reason widened.

    Attributes
    ----------
    low, high
        Shape (n,), in the quantity's unit.
    value
        The quantity at the written points themselves, reasons left out; shape (n,).
    reasons
        Reason → width, shape (n,) or one number.
    """

    low: Floats
    high: Floats
    value: Floats
    reasons: Mapping[str, Floats | float] = field(default_factory=dict)

    def at(self, i: int) -> Interval:
        """Return the interval at one place."""
        reasons = {k: float(np.broadcast_to(np.asarray(w), self.low.shape)[i]) for k, w in self.reasons.items()}
        return Interval(float(self.low[i]), float(self.high[i]), {k: w for k, w in reasons.items() if w > 0})

    def margin(self, limit: Limit) -> Floats:
        """Return the margins at the worse end, shape (n,)."""
        out = np.full(len(self.low), np.inf)
        if np.isfinite(limit.at_least):
            out = np.minimum(out, self.low - limit.at_least)
        if np.isfinite(limit.at_most):
            out = np.minimum(out, limit.at_most - self.high)
        return out

    def met(self, limit: Limit) -> npt.NDArray[np.bool_]:
        """Return where the interval lies wholly inside the limit."""
        return self.margin(limit) >= -TOLERANCE_M


@dataclass(frozen=True, eq=False)
class Bounds:
    """Coarse bounds on the ends of a quantity's interval at n cells.

    For every cell: ``low_least ≤ exact low ≤ low_most`` and ``high_least ≤ exact high ≤ high_most``;
    shape (n,) each.
    """

    low_least: Surface
    low_most: Surface
    high_least: Surface
    high_most: Surface

    def best_margin(self, limit: Limit) -> Surface:
        """Return the most that the margin can be."""
        return _margin(self.low_most, self.high_least, limit)

    def states(self, limit: Limit) -> npt.NDArray[np.uint8]:
        """Return per cell 0 surely met, 1 undecided, 2 surely not met in full."""
        out = np.ones(self.low_least.shape, dtype=np.uint8)
        out[_margin(self.low_least, self.high_most, limit) >= 0] = 0
        out[self.best_margin(limit) < -2 * TOLERANCE_M] = 2
        return out

    def outside_of(self, low: Floats, high: Floats, *, slip: float) -> npt.NDArray[np.bool_]:
        """Return where exact ends lie outside the bounds by more than ``slip``."""
        wrong = (low < self.low_least - slip) | (low > self.low_most + slip)
        return np.asarray(wrong | (high < self.high_least - slip) | (high > self.high_most + slip))

    def at(self, index: npt.NDArray[np.int64]) -> Bounds:
        """Return the bounds at some of the cells."""
        return Bounds(self.low_least[index], self.low_most[index], self.high_least[index], self.high_most[index])


def _margin(low: Surface, high: Surface, limit: Limit) -> Surface:
    if not np.isfinite(limit.at_most):
        return low - np.float32(limit.at_least)
    if not np.isfinite(limit.at_least):
        return np.float32(limit.at_most) - high
    return np.minimum(low - np.float32(limit.at_least), np.float32(limit.at_most) - high)
