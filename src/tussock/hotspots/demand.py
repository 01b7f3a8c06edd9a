"""Where calls are expected, and what it costs to get there."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tussock.geodesy import Floats
from tussock.hotspots.cells import Whole

Cost = Callable[[Floats, Floats, Floats, Floats], Floats]
"""From x, y of demands and x, y of points to a matrix (demands × points): metres, or minutes of driving."""
MOST_DEMANDS = 2000
"""Places that demand is gathered to: more would be slower, not better (choice of this project)."""


def straight_line_m(x: Floats, y: Floats, to_x: Floats, to_y: Floats) -> Floats:
    """Return straight-line distances [m] in the plane: a `Cost` that knows no roads."""
    return np.hypot(x[:, None] - to_x[None, :], y[:, None] - to_y[None, :])


@dataclass(frozen=True, eq=False)
class Demand:
    """Where calls are expected.

    Attributes
    ----------
    x, y
        Places in the plane [m].
    weights
        Expected calls: homes × smoothed rate, in any unit of time.
    """

    x: Floats
    y: Floats
    weights: Floats


def gathered(demand: Demand, *, most: int = MOST_DEMANDS) -> Demand:
    """Return the demand gathered to at most so many places, each the mean of what lies in one square.

    Squares as small as fit, to a tenth, are taken; demand that is few places already stays as it is, but for
    those without any, which are left out. No place moves by more than a square's diagonal.
    """
    live = demand.weights > 0
    x, y, w = demand.x[live], demand.y[live], demand.weights[live]
    if len(x) <= most:
        return Demand(x, y, w)
    across = 8 * (math.isqrt(most) + 1)
    row = _squares(x, y, across)
    while row.max() >= most:
        across = across * 9 // 10
        row = _squares(x, y, across)
    total = np.bincount(row, weights=w).astype(np.float64)
    return Demand(np.bincount(row, x * w) / total, np.bincount(row, y * w) / total, total)


def _squares(x: Floats, y: Floats, across: int) -> Whole:
    """Return which of the occupied squares each place is in, 0 upwards, so many across the longer side."""
    step = max(float(np.ptp(x)), float(np.ptp(y))) / max(across, 1) or 1.0
    # the farthest place is the end of the last square, not the start of another
    column, line = (np.minimum((v - v.min()) // step, max(across, 1) - 1) for v in (x, y))
    return np.unique(column * max(across, 1) + line, return_inverse=True)[1].astype(np.int64)
