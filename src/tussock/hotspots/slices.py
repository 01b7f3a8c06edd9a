"""Demand by place, hour and month: places may differ in a slice of time only where the calls show it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.geodesy import Floats
from tussock.hotspots.cells import Flags, Whole

LEAST_IN_SLICE = 50
"""Calls that a slice of hours and months needs before places may differ in it (asked for)."""


@dataclass(frozen=True)
class Slice:
    """Some hours of some months.

    Attributes
    ----------
    hours
        From the first to before the second, local, 0–24; 20 to 4 goes past midnight.
    months
        1–12; all when empty.
    """

    hours: tuple[int, int] = (0, 24)
    months: tuple[int, ...] = ()

    def holds(self, hour: Whole, month: Whole) -> Flags:
        """Return which calls fall in it."""
        start, end = self.hours
        in_hours = (hour >= start) & (hour < end) if start < end else (hour >= start) | (hour < end)
        return np.asarray(in_hours & (np.isin(month, self.months) if self.months else True))


@dataclass(frozen=True, eq=False)
class Sliced:
    """Demand in a slice of hours and months.

    Attributes
    ----------
    weights
        Expected calls of each place in the slice.
    calls
        Calls that fell in it.
    gain
        AIC of places alike in and out of the slice less AIC of places that differ: above 0, they differ.
    interaction
        Whether the weights let places differ.
    reason
        Why or why not.
    """

    weights: Floats
    calls: int
    gain: float
    interaction: bool
    reason: str


def sliced(weights: Floats, area: Whole, *, call_area: Whole, in_slice: Flags) -> Sliced:
    """Return the demand of a slice: everywhere the same share, unless AIC says that areas differ in it.

    Parameters
    ----------
    weights
        Expected calls of each place over all hours and months.
    area
        Area of each place, 0 upwards: a few parts of the district, such as the territories of the points.
    call_area, in_slice
        Of each call, its area and whether it falls in the slice.
    """
    areas = int(max(area.max(initial=-1), call_area.max(initial=-1))) + 1
    inside = np.bincount(call_area[in_slice], minlength=areas).astype(np.float64)
    of_all = np.bincount(call_area, minlength=areas).astype(np.float64)
    calls, share = int(inside.sum()), float(in_slice.mean()) if len(in_slice) else 0.0
    gain = _aic_gain(inside, of_all - inside)
    if calls < LEAST_IN_SLICE:
        few = f"{calls} calls in these hours and months, fewer than {LEAST_IN_SLICE}"
        why = f"{few}: places as over the whole year"
        return Sliced(weights * share, calls, gain, False, why)
    if gain <= 0:
        why = "places call alike in these hours and months and at other times, as far as AIC can tell"
        return Sliced(weights * share, calls, gain, False, why)
    own = np.divide(inside, of_all, out=np.full(areas, share), where=of_all > 0)
    return Sliced(weights * own[area], calls, gain, True, "places differ in these hours and months (AIC)")


def _aic_gain(inside: Floats, outside: Floats) -> float:
    """Return by how much AIC falls when areas have each their own share: G² − 2 (areas − 1)."""
    from scipy.special import xlogy

    both = inside + outside
    used = both > 0
    total = float(both.sum())
    if not total or not inside.sum() or not outside.sum():
        return 0.0
    g2 = 0.0
    for part in (inside[used], outside[used]):
        expected = both[used] * part.sum() / total
        g2 += 2 * float(xlogy(part, part / expected).sum())
    return g2 - 2 * (int(used.sum()) - 1)
