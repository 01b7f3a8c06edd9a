"""P(met) against worked values, scipy's normal law, and simulated fixes.

Sources: the worked values of the project's reference (Φ(gap/σ), σ = √(u₁²+u₂²)/2.4477: u 30 + 30 m, gap 20 m
0.8757, 40 m 0.9895), worked out anew here by scipy.stats; R95 = 2.44775 σ of a circular normal error.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from tussock.review.probability import R95_IN_SIGMAS, p_met


def test_the_worked_values() -> None:
    assert p_met(20.0, 30.0, 30.0) == pytest.approx(0.8757, abs=0.00005)
    assert p_met(40.0, 30.0, 30.0) == pytest.approx(0.9895, abs=0.00005)


def test_at_a_gap_of_both_radii_one_in_3700_exceeds() -> None:
    """Domain facts § 4a: at a gap of u₁+u₂ the true exceedance is 1 in 3,700 for equal radii."""
    assert 1 / (1 - p_met(60.0, 30.0, 30.0)) == pytest.approx(3700, rel=0.02)


def test_the_radius_is_the_95_percent_quantile_of_rayleighs_law() -> None:
    assert pytest.approx(stats.rayleigh.ppf(0.95), rel=1e-12) == R95_IN_SIGMAS


@pytest.mark.parametrize("gap", [-80.0, -3.5, 0.0, 0.25, 20.0, 61.0])
@pytest.mark.parametrize("radii", [(30.0,), (10.0, 100.0), (5.0, 5.0, 200.0)])
def test_it_is_the_normal_law(gap: float, radii: tuple[float, ...]) -> None:
    sigma = math.sqrt(sum(u * u for u in radii)) / stats.rayleigh.ppf(0.95)
    assert p_met(gap, *radii) == pytest.approx(stats.norm.cdf(gap, scale=sigma), rel=1e-10)


def test_simulated_fixes_keep_a_limit_that_often() -> None:
    """Two recorded places 4,970 m apart, radii 30 and 40 m, limit 5,000 m: how often the truth keeps."""
    rng = np.random.default_rng(20261125)
    n = 400_000
    one = rng.standard_normal((n, 2)) * 30.0 / stats.rayleigh.ppf(0.95)
    two = rng.standard_normal((n, 2)) * 40.0 / stats.rayleigh.ppf(0.95) + [4970.0, 0.0]
    kept = float((np.hypot(*(two - one).T) <= 5000.0).mean())
    # four standard errors of the share itself
    assert p_met(30.0, 30.0, 40.0) == pytest.approx(kept, abs=4 * math.sqrt(0.25 / n))


def test_without_radii_it_is_certain() -> None:
    assert (p_met(0.0), p_met(-0.001, 0.0), p_met(5.0, 0.0, 0.0)) == (1.0, 0.0, 1.0)
    assert p_met(-7.0, 1e400, 3.0) == 0.5


@pytest.mark.parametrize(("gap", "radius"), [(math.nan, 1.0), (1.0, -1.0), (1.0, math.nan)])
def test_no_number_no_probability(gap: float, radius: float) -> None:
    with pytest.raises(ValueError, match="no probability"):
        p_met(gap, radius)
