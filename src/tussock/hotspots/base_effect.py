"""How calls per home change with the distance from the base: who lives near the relocator may call more."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.geodesy import Floats
from tussock.hotspots.cells import Whole
from tussock.hotspots.counts import Estimate
from tussock.hotspots.found import BaseEffect

_STEPS = 50
_NORMAL_975 = 1.959963984540054


@dataclass(frozen=True, eq=False)
class FittedByDistance:
    """Expected calls of each unit, and what a kilometre does to the rate."""

    expected: Floats
    effect: BaseEffect


def fitted_by_distance(counts: Whole, homes: Floats, away_m: Floats) -> FittedByDistance | None:
    """Return what homes and distance from the base let one expect: Poisson regression, log-linear in km.

    Parameters
    ----------
    counts, homes, away_m
        Of each unit: calls, homes, and distance from the base [m].

    Returns
    -------
    FittedByDistance or None
        ``None`` where nothing can be fitted: no calls, or all homes equally far.

    Source
    ------
    Poisson regression by iterated weighted least squares (McCullagh & Nelder 1989, § 2.5, from memory);
    checked by hand for two distances in tests/hotspots/test_base_effect.py.
    """
    used = homes > 0
    y, e, km = counts[used].astype(np.float64), homes[used], away_m[used] / 1000
    if not y.sum() or not np.ptp(km) > 0:
        return None
    middle = float(np.average(km, weights=e))
    design = np.column_stack([np.ones(len(y)), km - middle])
    beta = np.array([math.log(y.sum() / e.sum()), 0.0])
    for _ in range(_STEPS):
        mean = e * np.exp(np.clip(design @ beta, -50, 50))
        information = design.T @ (design * mean[:, None])
        step = np.linalg.solve(information, design.T @ (y - mean))
        beta = beta + np.clip(step, -2, 2)
        if np.abs(step).max() < 1e-12:
            break
    else:
        return None
    mean = e * np.exp(design @ beta)
    information = design.T @ (design * mean[:, None])
    error = _NORMAL_975 * math.sqrt(float(np.linalg.inv(information)[1, 1]))
    slope = float(beta[1])
    expected = np.zeros(len(homes))
    expected[used] = mean
    told = Estimate(*(math.exp(v) for v in (slope, slope - error, slope + error)))
    return FittedByDistance(expected, BaseEffect(told))
