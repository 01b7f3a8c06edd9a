"""Distance from the base against the textbook's rate ratio of two groups, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tussock.hotspots.base_effect import fitted_by_distance


def test_two_distances_give_the_rate_ratio_of_two_groups() -> None:
    """With two distances the model is saturated: slope ln((a/A)/(b/B)) per km, variance 1/a + 1/b.

    Source: the variance of a log rate ratio, e.g. Breslow & Day 1987, vol. II, § 3.4 (from memory); the
    figures are computed here by that formula alone.
    """
    counts = np.array([20, 10, 6, 9], dtype=np.int64)
    homes, away = np.array([100.0, 50.0, 150.0, 150.0]), np.array([1000.0, 1000.0, 3000.0, 3000.0])
    found = fitted_by_distance(counts, homes, away)
    assert found is not None
    slope, error = math.log((15 / 300) / (30 / 150)) / 2, 1.959963984540054 * math.sqrt(1 / 30 + 1 / 15) / 2
    per_km = found.effect.per_km
    assert (per_km.value, per_km.low, per_km.high) == pytest.approx(
        (math.exp(slope), math.exp(slope - error), math.exp(slope + error)), rel=1e-9
    )
    assert found.expected == pytest.approx([20, 10, 7.5, 7.5], rel=1e-9)


def test_what_is_expected_adds_up_and_homeless_units_expect_none() -> None:
    rng = np.random.default_rng(3)
    homes, away = rng.integers(0, 40, 200).astype(np.float64), rng.random(200) * 9000
    counts = rng.poisson(homes * 0.1 * np.exp(-away / 4000))
    found = fitted_by_distance(counts, homes, away)
    assert found is not None
    assert found.expected.sum() == pytest.approx(counts.sum(), rel=1e-9)
    assert (found.expected[homes == 0] == 0).all()
    assert found.effect.per_km.low < math.exp(-1 / 4) < found.effect.per_km.high


@pytest.mark.parametrize(
    ("counts", "away"), [([0, 0, 0], [1.0, 2.0, 3.0]), ([1, 2, 3], [500.0, 500.0, 500.0])]
)
def test_nothing_is_fitted_where_nothing_can_be(counts: list[int], away: list[float]) -> None:
    homes = np.full(3, 10.0)
    assert fitted_by_distance(np.array(counts, dtype=np.int64), homes, np.array(away)) is None
