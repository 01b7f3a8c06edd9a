"""Smoothed rates: what must hold for any counts, and where nothing can be said."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.hotspots.smoothing import gamma_poisson, marshall

UNITS = st.lists(st.tuples(st.integers(0, 60), st.floats(50, 5000)), min_size=2, max_size=30)
UNEVEN = np.array([2, 5, 1, 30, 0, 4, 40, 3])
HOMES = np.array([1000.0, 1500, 500, 2000, 800, 900, 1200, 1100])


def test_calls_as_even_as_chance_has_it_set_no_unit_apart() -> None:
    found = gamma_poisson([2, 3, 1, 4, 2], [1000, 1500, 500, 2000, 800])
    assert found.model.shape == math.inf
    assert found.ratio.tolist() == [1.0] * 5
    assert np.isnan(found.above).all()


def test_a_unit_without_homes_has_no_rate() -> None:
    for k in (gamma_poisson(np.append(UNEVEN, 0), np.append(HOMES, 0.0)),):
        assert np.isnan([k.ratio[-1], k.low[-1], k.high[-1], k.above[-1]]).all()
        assert k.ratio[:-1] == pytest.approx(gamma_poisson(UNEVEN, HOMES).ratio)
    assert np.isnan(marshall([3, 0], [10, 0]).rates[1])


def test_no_calls_at_all() -> None:
    assert np.isnan(gamma_poisson([0, 0, 0], [10, 20, 30]).ratio).all()
    assert marshall([0, 0, 0], [10, 20, 30]).rates.tolist() == [0.0, 0.0, 0.0]
    assert np.isnan(marshall([0, 0], [0, 0]).rates).all()
    assert gamma_poisson([], []).ratio.shape == (0,)


def test_rates_per_thousand() -> None:
    found = gamma_poisson(UNEVEN, HOMES)
    rate, low, high = found.rate()
    assert rate == pytest.approx(1000 * found.model.level * found.ratio)
    assert ((low < rate) & (rate < high)).all()


@pytest.mark.parametrize("bad", [([1.5, 2], [1, 1]), ([-1, 2], [1, 1]), ([1, 2], [1, -1]), ([1], [1, 1])])
def test_what_is_no_count_or_exposure_is_refused(bad: tuple[list[float], list[float]]) -> None:
    for smooth in (gamma_poisson, marshall):
        with pytest.raises(InputError, match="Allowed:"):
            smooth(*bad)


@given(UNITS)
def test_a_smoothed_ratio_lies_between_its_own_and_the_districts(units: list[tuple[int, float]]) -> None:
    counts, homes = (np.array(c, dtype=float) for c in zip(*units, strict=True))
    found = gamma_poisson(counts, homes)
    if not counts.sum():
        return
    own = counts / homes / found.model.level
    slack = 1e-9 * (1 + own)
    assert (found.ratio >= np.minimum(own, 1) - slack).all()
    assert (found.ratio <= np.maximum(own, 1) + slack).all()


@given(UNITS, st.floats(0.01, 100))
def test_ratios_do_not_depend_on_the_unit_of_exposure(units: list[tuple[int, float]], k: float) -> None:
    counts, homes = (np.array(c, dtype=float) for c in zip(*units, strict=True))
    one, two = marshall(counts, homes), marshall(counts, k * homes)
    assert two.rates * k == pytest.approx(one.rates, rel=1e-6, abs=1e-12)
    a, b = gamma_poisson(counts, homes), gamma_poisson(counts, k * homes)
    assert b.ratio == pytest.approx(a.ratio, rel=1e-6, nan_ok=True)


@given(UNITS, st.integers(0, 2**32 - 1))
def test_the_order_of_units_changes_nothing(units: list[tuple[int, float]], seed: int) -> None:
    counts, homes = (np.array(c, dtype=float) for c in zip(*units, strict=True))
    order = np.random.default_rng(seed).permutation(len(counts))
    one, two = gamma_poisson(counts, homes), gamma_poisson(counts[order], homes[order])
    assert two.ratio == pytest.approx(one.ratio[order], rel=1e-6, nan_ok=True)
    rates = marshall(counts, homes).rates
    assert marshall(counts[order], homes[order]).rates == pytest.approx(rates[order], rel=1e-9)


def test_the_posterior_by_simulation() -> None:
    """Draw units from the fitted law, keep those with the unit's count: their rates are the posterior."""
    found = gamma_poisson(UNEVEN, HOMES)
    rng = np.random.Generator(np.random.PCG64(20261125))
    shape = found.model.shape
    ratio = rng.gamma(shape, 1 / shape, 2_000_000)
    drawn = rng.poisson(ratio * found.model.level * HOMES[1])
    kept = ratio[drawn == UNEVEN[1]]
    error = kept.std() / math.sqrt(len(kept))
    assert found.ratio[1] == pytest.approx(kept.mean(), abs=4 * error)
    assert found.above[1] == pytest.approx((kept > 1).mean(), abs=4 * 0.5 / math.sqrt(len(kept)))
    assert (kept < found.low[1]).mean() == pytest.approx(0.025, abs=4 * 0.16 / math.sqrt(len(kept)))
