"""Rates of units with few calls, drawn towards the district's: empirical Bayes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.hotspots.counts import LEVEL
from tussock.hotspots.unevenness import Unevenness, fitted_unevenness


@dataclass(frozen=True, eq=False)
class Smoothed:
    """What each unit's rate probably is, relative to the district's.

    Attributes
    ----------
    model
        How unevenly calls fall on units; ``level`` is the district's rate per unit of exposure.
    ratio
        Posterior mean of the unit's rate over the district's, shape (n,); 1 for every unit where no
        unevenness beyond chance is seen; ``nan`` where there is no exposure or nothing was counted.
    low, high
        Ends of the posterior interval.
    above
        Posterior probability that the rate is above the district's; ``nan`` where no unevenness is
        seen: there is no ground to call any unit higher.

    The interval is that of the fitted model: that shape and level are themselves estimates is not in it.
    """

    model: Unevenness
    ratio: Floats
    low: Floats
    high: Floats
    above: Floats

    def rate(self, *, per: float = 1000.0) -> tuple[Floats, Floats, Floats]:
        """Return the rates per ``per`` of exposure and the ends of their intervals."""
        k = per * self.model.level
        return k * self.ratio, k * self.low, k * self.high


def gamma_poisson(counts: npt.ArrayLike, exposure: npt.ArrayLike, *, level: float = LEVEL) -> Smoothed:
    """Return the rates of units by the gamma–Poisson model of greatest likelihood.

    A unit with c calls from e of exposure has a gamma posterior of shape a + c and, relative to the
    district's rate m, of rate a + m·e.

    Source: Clayton & Kaldor 1987, Biometrics 43:671–681; R's MASS::glm.nb with an offset, see
    tests/external/test_hotspot_smoothing.py.

    Raises
    ------
    InputError
        For counts or exposures that are none, or not one of each per unit.
    """
    c, e = _checked(counts, exposure)
    model = fitted_unevenness(c.astype(np.int64), e)
    told = (e > 0) & (model.level > 0)
    if math.isinf(model.shape):
        even = np.where(told, 1.0, math.nan)
        return Smoothed(model, even, even, even, np.full(len(c), math.nan))
    shape, scale = model.shape + c, model.shape + model.level * e
    rest = (1 - level) / 2
    found = (
        shape / scale,
        special.gammaincinv(shape, rest) / scale,
        special.gammainccinv(shape, rest) / scale,
        special.gammaincc(shape, scale),
    )
    return Smoothed(model, *(np.where(told, v, math.nan) for v in found))


@dataclass(frozen=True, eq=False)
class Marshalled:
    """Marshall's smoothed rates.

    Attributes
    ----------
    rates
        Calls per unit of exposure, shape (n,); ``nan`` without exposure.
    weights
        How much a unit's own rate counts, 0 to 1.
    mean
        The district's rate.
    variance
        Of the units' true rates; 0 where the counts vary no more than chance has it.
    """

    rates: Floats
    weights: Floats
    mean: float
    variance: float


def marshall(counts: npt.ArrayLike, exposure: npt.ArrayLike) -> Marshalled:
    """Return rates drawn towards the mean by moments; quicker than :func:`gamma_poisson`, and no interval.

    A variance below 0 is taken for 0: all units are then given the district's rate.

    Source: Marshall 1991, Applied Statistics 40:283–294; cases in tests/external/test_hotspot_smoothing.py.

    Raises
    ------
    InputError
        For counts or exposures that are none, or not one of each per unit.
    """
    c, e = _checked(counts, exposure)
    used = e > 0
    rates, weights = np.full(len(c), math.nan), np.full(len(c), math.nan)
    if not used.any():
        return Marshalled(rates, weights, math.nan, math.nan)
    y, b = c[used], e[used]
    mean = float(y.sum() / b.sum())
    spread = float((b * np.square(y / b - mean)).sum() / b.sum())
    variance = max(0.0, spread - mean / float(b.mean()))
    # where all calls are none the weight is none too: 0/0
    weights[used] = variance / (variance + mean / b) if variance > 0 else 0.0
    rates[used] = weights[used] * y / b + (1 - weights[used]) * mean
    return Marshalled(rates, weights, mean, variance)


def _checked(counts: npt.ArrayLike, exposure: npt.ArrayLike) -> tuple[Floats, Floats]:
    c, e = np.asarray(counts, dtype=np.float64), np.asarray(exposure, dtype=np.float64)
    if c.shape != e.shape or c.ndim != 1:
        raise InputError(f"{c.size} counts and {e.size} exposures", allowed="one of each per unit")
    if not ((c >= 0) & (c == np.floor(c)) & np.isfinite(c)).all():
        raise InputError("a count that is none", allowed="whole numbers from 0")
    if not ((e >= 0) & np.isfinite(e)).all():
        raise InputError("an exposure that is none", allowed="homes, 0 or more")
    return c, e
