"""Exact intervals of counts, rates and shares, and p-values corrected for how many were looked at."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special, stats

from tussock.errors import InputError

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
LEVEL = 0.95
"""Share of intervals that hold the truth, at least."""


@dataclass(frozen=True)
class Estimate:
    """A value and its interval, in the unit of what was asked."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class RateRatio:
    """How many times as high one rate is as another.

    Attributes
    ----------
    ratio
        ``inf`` where the second count is 0, ``nan`` where both are or an exposure is 0.
    low, high
        Clopper–Pearson ends through the conditional binomial; 0 and ``inf`` where nothing is known.
    p
        Two-sided, against equal rates: twice the smaller tail, at most 1.
    p_more
        One-sided, against a first rate that is not the higher: for a question asked beforehand.
    """

    ratio: float
    low: float
    high: float
    p: float
    p_more: float


def garwood_ends(counts: npt.ArrayLike, *, level: float = LEVEL) -> tuple[Floats, Floats]:
    """Return the exact ends of a Poisson mean for each count; broadcasts.

    Source: Garwood 1936, Biometrika 28:437–442 (through χ² quantiles); checked against R's
    ``poisson.test`` in tests/external/test_hotspot_counts.py.

    Raises
    ------
    InputError
        For a count that is negative, no whole number or no number.
    """
    c, rest = _whole(counts), (1 - level) / 2
    low = np.where(c > 0, stats.chi2.ppf(rest, 2 * np.maximum(c, 1)) / 2, 0.0)
    return low, np.asarray(stats.chi2.isf(rest, 2 * c + 2) / 2)


def garwood(count: int, *, level: float = LEVEL) -> Estimate:
    """Return a count with the exact interval of the mean behind it."""
    low, high = garwood_ends(count, level=level)
    return Estimate(float(count), float(low), float(high))


def rate(count: int, exposure: float, *, per: float = 1000.0, level: float = LEVEL) -> Estimate:
    """Return calls per ``per`` of exposure, with its exact interval.

    Without exposure the rate is ``nan`` and its interval [0, ∞].
    """
    _check_exposure(exposure)
    if exposure == 0:
        return Estimate(math.nan, 0.0, math.inf)
    found = garwood(count, level=level)
    return Estimate(*(per * v / exposure for v in (found.value, found.low, found.high)))


def clopper_pearson(hits: int, tries: int, *, level: float = LEVEL) -> Estimate:
    """Return a share with its exact interval; of no tries ``nan`` with [0, 1].

    Source: Clopper & Pearson 1934, Biometrika 26:404–413 (through β quantiles).

    Raises
    ------
    InputError
        For more hits than tries, or either below 0 or no whole number.
    """
    k, n = int(_whole(hits)), int(_whole(tries))
    if k > n:
        raise InputError(f"{k} of {n} is no share", allowed="at most as many hits as tries")
    rest = (1 - level) / 2
    low = float(special.betaincinv(k, n - k + 1, rest)) if k else 0.0
    high = float(special.betainccinv(k + 1, n - k, rest)) if k < n else 1.0
    return Estimate(k / n if n else math.nan, low, high)


def rate_ratio(
    count: int, exposure: float, other_count: int, other_exposure: float, *, level: float = LEVEL
) -> RateRatio:
    """Return the first rate over the other, exactly: given both counts, the first is binomial.

    The p-value is twice the smaller tail, not the sum of what is as unlikely (as R's ``poisson.test``
    has it): only so does p fall below 0.05 exactly where the interval leaves out 1, and the page shows
    both.

    Source: Przyborowski & Wilenski 1940, Biometrika 31:313–323; checked against R's interval.

    Raises
    ------
    InputError
        For a count or an exposure that is none.
    """
    c, d = int(_whole(count)), int(_whole(other_count))
    _check_exposure(exposure)
    _check_exposure(other_exposure)
    if exposure == 0 or other_exposure == 0 or c + d == 0:
        return RateRatio(math.nan, 0.0, math.inf, 1.0, 1.0)
    share, scale = clopper_pearson(c, c + d, level=level), other_exposure / exposure
    expected = exposure / (exposure + other_exposure)
    fewer = float(stats.binom.cdf(c, c + d, expected))
    more = float(stats.binom.sf(c - 1, c + d, expected))
    return RateRatio(
        ratio=c / d * scale if d else math.inf,
        low=scale * _odds(share.low),
        high=scale * _odds(share.high),
        p=min(1.0, 2 * min(fewer, more)),
        p_more=more,
    )


def _odds(share: float) -> float:
    return share / (1 - share) if share < 1 else math.inf


def holm(p: npt.ArrayLike) -> Floats:
    """Return p-values adjusted so that the chance of any false alarm stays at the level.

    ``nan`` marks what was not tested: it stays, and is not counted.

    Source: Holm 1979, Scandinavian Journal of Statistics 6:65–70.

    Raises
    ------
    InputError
        For a p-value outside 0 to 1.
    """
    return _adjusted(p, _holm)


def benjamini_hochberg(p: npt.ArrayLike) -> Floats:
    """Return p-values adjusted so that at most that share of the alarms is false, on average.

    ``nan`` marks what was not tested: it stays, and is not counted.

    Source: Benjamini & Hochberg 1995, J. R. Statist. Soc. B 57:289–300.

    Raises
    ------
    InputError
        For a p-value outside 0 to 1.
    """
    return _adjusted(p, lambda tested: np.asarray(stats.false_discovery_control(tested, method="bh")))


def _holm(tested: Floats) -> Floats:
    order = np.argsort(tested, kind="stable")
    steps = np.maximum.accumulate(tested[order] * np.arange(len(tested), 0, -1))
    out = np.empty(len(tested))
    out[order] = np.minimum(1.0, steps)
    return out


def _adjusted(p: npt.ArrayLike, adjust: Callable[[Floats], Floats]) -> Floats:
    """Apply an adjustment to the p-values that are there."""
    out = np.array(p, dtype=np.float64)
    tested = ~np.isnan(out)
    if ((out[tested] < 0) | (out[tested] > 1)).any():
        raise InputError("a p-value outside its range", allowed="0 to 1, nan where nothing was tested")
    if tested.any():
        out[tested] = adjust(out[tested])
    return out


def _whole(counts: npt.ArrayLike) -> Counts:
    """Return counts as integers; refuse what is none."""
    given = np.asarray(counts, dtype=np.float64)
    bad = ~((given >= 0) & (given == np.floor(given)) & np.isfinite(given))
    if bad.any():
        raise InputError(f"{given[bad].flat[0]} is no count", allowed="whole numbers from 0")
    return given.astype(np.int64)


def _check_exposure(exposure: float) -> None:
    if not (exposure >= 0 and math.isfinite(exposure)):
        raise InputError(f"{exposure} is no exposure", allowed="homes, 0 or more")
