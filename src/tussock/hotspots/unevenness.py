"""How unevenly calls usually fall on units: the gamma–Poisson model, fitted by maximum likelihood."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.geodesy import Floats
from tussock.hotspots.windows import Whole


@dataclass(frozen=True)
class Unevenness:
    """Each unit's own rate is a common one times a gamma variable of mean 1.

    Attributes
    ----------
    shape
        Of the gamma distribution; infinite where calls fall as evenly as chance has it.
    level
        Common rate: calls per expected call.
    units
        How many units it was fitted to.
    """

    shape: float
    level: float
    units: int

    @property
    def variation(self) -> float:
        """Coefficient of variation of the units' rates, 0 for even ones."""
        return 1.0 / math.sqrt(self.shape)


def fitted_unevenness(counts: Whole, expected: Floats) -> Unevenness:
    """Return the gamma–Poisson model of greatest likelihood: shape and level together.

    Parameters
    ----------
    counts
        Calls of each unit.
    expected
        What even rates let one expect there, in any unit; those with none are left out.

    Returns
    -------
    Unevenness
        With shape infinite where no unevenness beyond chance is seen, as without calls or with one unit.

    Source
    ------
    The negative binomial model with an offset: R's MASS::glm.nb gives shape 6.371976749 and
    2.123662839 per 1,000 births for North Carolina 1974–78 (tests/external/test_scan.py).
    """
    from scipy.optimize import minimize_scalar

    used = expected > 0
    y, e = counts[used].astype(np.float64), expected[used]
    if len(y) < 2 or not y.sum():
        return Unevenness(math.inf, _ratio(y, e), len(y))
    best = minimize_scalar(
        lambda log_shape: -_likelihood(math.exp(log_shape), y, e),
        bounds=(math.log(1e-3), math.log(1e6)),
        method="bounded",
        options={"xatol": 1e-10, "maxiter": 500},
    )
    shape, even = math.exp(float(best.x)), _ratio(y, e)
    if -float(best.fun) <= _poisson(even * e, y) + 1e-9 * len(y):
        return Unevenness(math.inf, even, len(y))
    return Unevenness(shape, _level(shape, y, e), len(y))


def _ratio(y: Floats, e: Floats) -> float:
    total = float(e.sum())
    return float(y.sum()) / total if total > 0 else 0.0


def _level(shape: float, y: Floats, e: Floats) -> float:
    """Return the level of greatest likelihood under a shape: where its score, which falls, is 0."""
    from scipy.optimize import brentq

    ratios = y / e
    low, high = float(ratios.min()), float(ratios.max())
    if low == high:
        return low

    def score(level: float) -> float:  # positive at the least ratio, negative at the greatest
        return float(((y - level * e) / (1 + level * e / shape)).sum())  # over each count's variance

    return float(brentq(score, low, high, xtol=1e-300, rtol=1e-14))


def _likelihood(shape: float, y: Floats, e: Floats) -> float:
    """Return the log likelihood of a shape, at its best level, but for what depends on the counts alone."""
    from scipy.special import gammaln, xlogy

    mean = _level(shape, y, e) * e
    rising = gammaln(y + shape) - gammaln(shape) - y * math.log(shape)
    return float((rising + xlogy(y, mean) - (y + shape) * np.log1p(mean / shape)).sum())


def _poisson(mean: Floats, y: Floats) -> float:
    """Return what `_likelihood` tends to as the shape grows."""
    from scipy.special import xlogy

    return float((xlogy(y, mean) - mean).sum())
