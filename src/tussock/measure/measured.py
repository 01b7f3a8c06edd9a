"""Intervals of one quantity at many places, and coarse bounds on them over a window."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.interval import Interval, Limit

Surface = npt.NDArray[np.float32]
Ends = tuple[Surface, Surface]
Reasons = Mapping[str, Floats | float] | Callable[[], Mapping[str, Floats | float]]


class Measured:
    """Interval ends of a quantity at n places, with how much each reason widened.

    Attributes
    ----------
    low, high
        Shape (n,), in the quantity's unit; the high end is worked out when it is first asked for.
    value
        The quantity at the written points themselves, reasons left out; shape (n,).
    reasons
        Reason → width, shape (n,) or one number.
    """

    def __init__(
        self, low: Floats, high: Floats | Callable[[], Floats], value: Floats, reasons: Reasons | None = None
    ) -> None:
        self.low, self.value = low, value
        self._high, self._reasons = high, reasons or {}

    @cached_property
    def high(self) -> Floats:
        """The high ends."""
        return self._high() if callable(self._high) else self._high

    @property
    def has_high(self) -> bool:
        """Whether the high ends are there already."""
        return not callable(self._high) or "high" in self.__dict__

    @cached_property
    def reasons(self) -> Mapping[str, Floats | float]:
        """Reason → width."""
        return self._reasons() if callable(self._reasons) else self._reasons

    def repeated(self, n: int) -> Measured:
        """Return the measure of the one place measured, for n places."""
        reasons = {k: float(np.max(w)) for k, w in self.reasons.items()}
        low, high, value = (np.repeat(v, n) for v in (self.low, self.high, self.value))
        return Measured(low, high, value, reasons)

    def at(self, i: int) -> Interval:
        """Return the interval at one place."""
        reasons = {k: _one(w, i) for k, w in self.reasons.items()}
        return Interval(float(self.low[i]), float(self.high[i]), {k: w for k, w in reasons.items() if w > 0})

    def alone(self, i: int) -> Measured:
        """Return the measure at one of the places."""
        reasons = {k: _one(w, i) for k, w in self.reasons.items()}
        return Measured(self.low[i : i + 1], self.high[i : i + 1], self.value[i : i + 1], reasons)

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
        return self.margin(limit) >= -limit.tolerance


def _one(widths: Floats | float, i: int) -> float:
    """Return a reason's width at one of the places."""
    if not isinstance(widths, np.ndarray) or not widths.ndim:
        return float(widths)
    return float(widths[i if len(widths) > 1 else 0])


def hull(found: Sequence[Measured], *, reason: str) -> Measured:
    """Return the intervals that hold all of those found; what the others add to the first is for a reason."""
    first = found[0]
    if len(found) == 1:
        return first
    low = np.min([m.low for m in found], axis=0)
    high = np.max([m.high for m in found], axis=0)
    added = np.maximum(_gap(first.low, low), _gap(high, first.high))
    return Measured(low, high, first.value, {**first.reasons, reason: added})


def _gap(above: Floats, below: Floats) -> Floats:
    """Return how far one lies above the other; 0 where both are infinite."""
    with np.errstate(invalid="ignore"):
        return np.where(above > below, above - below, 0.0)


class Bounds:
    """Coarse bounds on the ends of a quantity's interval at n cells.

    For every cell: ``low_least ≤ exact low ≤ low_most`` and ``high_least ≤ exact high ≤ high_most``;
    shape (n,) each. An end is worked out when it is first asked for: most clauses ask for one.
    """

    def __init__(self, low: Callable[[], Ends], high: Callable[[], Ends]) -> None:
        self._low_ends, self._high_ends = low, high

    @cached_property
    def low(self) -> Ends:
        """The least and the most that the low end can be."""
        return self._low_ends()

    @cached_property
    def high(self) -> Ends:
        """The least and the most that the high end can be."""
        return self._high_ends()

    def best_margin(self, limit: Limit) -> Surface:
        """Return the most that the margin can be."""
        return self._margin(limit, best=True)

    def _margin(self, limit: Limit, *, best: bool) -> Surface:
        parts = []
        if np.isfinite(limit.at_least):
            parts.append(self.low[best] - np.float32(limit.at_least))
        if np.isfinite(limit.at_most):
            parts.append(np.float32(limit.at_most) - self.high[not best])
        return parts[0] if len(parts) == 1 else np.minimum(*parts)

    def states(self, limit: Limit) -> npt.NDArray[np.uint8]:
        """Return per cell 0 surely met, 1 undecided, 2 surely not met in full."""
        never = self._margin(limit, best=True) < -2 * limit.tolerance
        unsure = self._margin(limit, best=False) < 0
        return never.view(np.uint8) + unsure.view(np.uint8)

    def outside_of(self, found: Measured, *, slip: float) -> npt.NDArray[np.bool_]:
        """Return where exact ends lie outside the bounds by more than ``slip``.

        A high end that nobody asked for is not worked out for this.
        """
        wrong = (found.low < self.low[0] - slip) | (found.low > self.low[1] + slip)
        if found.has_high:
            wrong |= (found.high < self.high[0] - slip) | (found.high > self.high[1] + slip)
        return np.asarray(wrong)

    def at(self, index: npt.NDArray[np.int64]) -> Bounds:
        """Return the bounds at some of the cells."""
        return Bounds(
            lambda: (self.low[0][index], self.low[1][index]),
            lambda: (self.high[0][index], self.high[1][index]),
        )


def fixed_bounds(low_least: Surface, low_most: Surface, high_least: Surface, high_most: Surface) -> Bounds:
    """Return bounds from their four arrays."""
    return Bounds(lambda: (low_least, low_most), lambda: (high_least, high_most))


def hull_of(found: Sequence[Bounds]) -> Bounds:
    """Return bounds on the ends of the hull of intervals that are bounded so."""
    if len(found) == 1:
        return found[0]

    def ends(of: Callable[[Bounds], Ends], take: Callable[..., Surface]) -> Ends:
        each = [of(b) for b in found]
        return take([e[0] for e in each], axis=0), take([e[1] for e in each], axis=0)

    return Bounds(lambda: ends(lambda b: b.low, np.min), lambda: ends(lambda b: b.high, np.max))
