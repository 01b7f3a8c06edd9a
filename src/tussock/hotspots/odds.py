"""Odds that a home calls within a year, as two figures; and when to give none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tussock.errors import InputError
from tussock.hotspots.counts import LEVEL, garwood

NONE_MEANS = 3.69
"""Calls that may be behind none: the upper end of Garwood's 95 % interval of 0, 3.68888, rounded up."""
LEAST_HOMES = 100
"""Fewer homes than this have no odds of their own (asked for)."""
WIDEST_EXPOSURE = 2.0
"""Homes at most over homes at least, beyond which there are no odds (asked for)."""
LEAST_CALLS = 3
"""Calls below which no two figures are given (asked for)."""
LEAST_YEARS = 1.0
"""A year's odds are never made from less (asked for: never from a scaled-up week)."""
SMALLEST_ODDS = 2.0
"""One home in fewer than this is no odds but a rate (choice of this project)."""


@dataclass(frozen=True)
class Prior:
    """What is known of an area's rate before its own calls: a gamma distribution, fitted to all areas.

    Attributes
    ----------
    shape
        Infinite where areas differ by no more than chance: such a prior is left aside.
    mean
        Calls per home and year.
    """

    shape: float
    mean: float


@dataclass(frozen=True)
class Area:
    """Somewhere that odds may be given for.

    Attributes
    ----------
    name
        As printed.
    incidents
        Counted over the years: of them alone.
    homes_low, homes_high
        Homes at least and at most.
    prior
        From the areas of its kind; None for a whole district, which has no like.
    """

    name: str
    incidents: int
    homes_low: float
    homes_high: float
    prior: Prior | None = None


@dataclass(frozen=True)
class Odds:
    """Figures for a sentence, or the reason why there are none.

    Attributes
    ----------
    asked, area
        Where odds were wanted, and where they are from: the area or a parent of it.
    incidents, homes, years
        What they rest on: calls, homes [low, high], years observed.
    one_in
        Smaller and larger figure: between one home in the first and one in the second a year, rounded
        outwards to two digits. None where no calls came, or no odds are given.
    fewer_than_one_in
        Where no calls came: fewer than one home in so many a year, rounded down to two digits.
    moved
        Why each area before the one used was left.
    reason
        Why no odds are given; empty where they are.
    """

    asked: str
    area: str
    incidents: int
    homes: tuple[float, float]
    years: float
    one_in: tuple[float, float] | None = None
    fewer_than_one_in: float | None = None
    moved: tuple[str, ...] = ()
    reason: str = ""

    @property
    def sentence(self) -> str:
        """The odds in words, with what they rest on; the reason where there are none."""
        low, high = (f"{h:,.0f}" for h in self.homes)
        homes = low if low == high else f"{low} to {high}"
        over = f"{self.years:.3g} year{'s' if self.years != 1 else ''}"
        if self.fewer_than_one_in is not None:
            most = _text(self.fewer_than_one_in)
            return f"{self.area}: none from {low} homes in {over}: fewer than 1 in {most} a year"
        if self.one_in is None:
            return f"{self.asked}: no odds, {self.reason}"
        near, far = map(_text, self.one_in)
        basis = f"{self.incidents:,} calls from {homes} homes in {over}"
        return f"{self.area}: between one home in {near} and one in {far} a year ({basis})"


def odds(area: Area, *, years: float, parents: Sequence[Area] = ()) -> Odds:
    """Return the odds that a home of an area calls within a year, or of the first parent that can have any.

    The two figures are the ends of the 95 % interval of the rate: of its gamma–Poisson posterior with a
    prior, of Garwood's exact one without. The low rate is taken over the most homes there may be, the high
    one over the fewest. How sure the prior itself is does not enter.

    Parameters
    ----------
    years
        Whole years observed; a part of one bears no odds.
    parents
        Areas that contain it, from small to large.

    Raises
    ------
    InputError
        On counts, homes or years that are none.
    """
    for one in (area, *parents):
        _check(one)
    if not math.isfinite(years) or years <= 0:
        raise InputError(f"{years} years observed", allowed="a number above 0")
    if years < LEAST_YEARS:
        days = round(years * 366)
        said = "1 day was" if days == 1 else f"{days} days were"
        return _none(area, area, years, (), f"{said} observed, and a year is not made from less than one")
    moved: list[str] = []
    for one in (area, *parents):
        why = _unfit(one)
        if not why:
            return _given(area, one, years, tuple(moved))
        moved.append(f"{one.name}: {why}")
    return _none(area, area, years, (), "; ".join(moved))


def _unfit(area: Area) -> str:
    """Return why an area's homes bear no odds."""
    if area.homes_low < LEAST_HOMES:
        return f"{area.homes_low:,.0f} homes, fewer than {LEAST_HOMES}"
    if area.homes_high > WIDEST_EXPOSURE * area.homes_low:
        return f"between {area.homes_low:,.0f} and {area.homes_high:,.0f} homes, too wide"
    return ""


def _given(asked: Area, area: Area, years: float, moved: tuple[str, ...]) -> Odds:
    if area.incidents == 0:
        most = _rounded(area.homes_low * years / NONE_MEANS, up=False)
        return _odds(asked, area, years, moved=moved, fewer_than_one_in=most)
    if area.incidents < LEAST_CALLS:
        few = f"{area.incidents} call{'s' if area.incidents > 1 else ''} from {area.name}"
        return _none(asked, area, years, moved, f"{few}, fewer than {LEAST_CALLS}")
    low, high = _rates(area, years)
    if 1 / high < SMALLEST_ODDS:
        often = f"calls from {area.name} may come from every other home or more often"
        return _none(asked, area, years, moved, f"{often}: give the rate")
    ends = _rounded(1 / high, up=False), _rounded(1 / low, up=True)
    return _odds(asked, area, years, moved=moved, one_in=ends)


def _rates(area: Area, years: float) -> tuple[float, float]:
    """Return the ends of the interval of calls per home and year."""
    most, fewest = area.homes_high * years, area.homes_low * years
    if area.prior is None or math.isinf(area.prior.shape):
        counted = garwood(area.incidents)
        return counted.low / most, counted.high / fewest
    from scipy.stats import gamma

    shape, own = area.prior.shape + area.incidents, area.prior.shape / area.prior.mean
    rest = (1 - LEVEL) / 2
    return float(gamma.ppf(rest, shape) / (own + most)), float(gamma.isf(rest, shape) / (own + fewest))


def _odds(
    asked: Area,
    area: Area,
    years: float,
    *,
    moved: tuple[str, ...],
    one_in: tuple[float, float] | None = None,
    fewer_than_one_in: float | None = None,
    reason: str = "",
) -> Odds:
    return Odds(
        asked=asked.name,
        area=area.name,
        incidents=area.incidents,
        homes=(area.homes_low, area.homes_high),
        years=years,
        one_in=one_in,
        fewer_than_one_in=fewer_than_one_in,
        moved=moved,
        reason=reason,
    )


def _none(asked: Area, area: Area, years: float, moved: tuple[str, ...], reason: str) -> Odds:
    return _odds(asked, area, years, moved=moved, reason=reason)


def _rounded(value: float, *, up: bool) -> float:
    """Return a figure to two digits, never across the value."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    # of 130 / 10 the quotient may be 13.000000000000002, which is 13
    steps = value / step
    near = round(steps)
    whole = near if math.isclose(steps, near, rel_tol=1e-12) else (math.ceil if up else math.floor)(steps)
    return float(f"{whole * step:.6g}")


def _text(figure: float) -> str:
    return f"{figure:,.10g}"


def _check(area: Area) -> None:
    homes = (area.homes_low, area.homes_high)
    if area.incidents < 0 or not all(map(math.isfinite, homes)) or not 0 <= homes[0] <= homes[1]:
        raise InputError(
            f"{area.incidents} calls from {homes[0]:g} to {homes[1]:g} homes",
            where=area.name,
            allowed="a count from 0 upwards, and 0 ≤ homes at least ≤ homes at most",
        )
    if area.prior is not None and not (area.prior.shape > 0 and 0 < area.prior.mean < math.inf):
        raise InputError(f"a prior with {area.prior}", where=area.name, allowed="shape and mean above 0")
