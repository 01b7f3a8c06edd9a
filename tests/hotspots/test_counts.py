"""Counts, rates and corrected p-values: bad input, nothing known, and what must hold for any numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.hotspots.counts import benjamini_hochberg, clopper_pearson, garwood_ends, holm, rate, rate_ratio

COUNTS = st.integers(0, 400)
HOMES = st.floats(0.5, 1e6)
SHARES = st.lists(st.floats(0, 1) | st.just(math.nan), max_size=30)


def test_nothing_is_said_where_nothing_is_known() -> None:
    assert rate_ratio(0, 100, 0, 200).p == 1.0
    assert (rate_ratio(0, 100, 0, 200).low, rate_ratio(0, 100, 0, 200).high) == (0.0, math.inf)
    assert math.isnan(rate_ratio(5, 0, 3, 10).ratio)
    assert math.isnan(rate(5, 0).value)
    assert rate(5, 0).high == math.inf
    assert (clopper_pearson(0, 0).low, clopper_pearson(0, 0).high) == (0.0, 1.0)


def test_none_in_one_of_two() -> None:
    assert rate_ratio(5, 10, 0, 10).ratio == math.inf
    assert rate_ratio(5, 10, 0, 10).high == math.inf
    assert rate_ratio(0, 10, 5, 10).low == 0.0


@pytest.mark.parametrize("count", [-1, 2.5, math.nan, math.inf])
def test_what_is_no_count_is_refused(count: float) -> None:
    with pytest.raises(InputError, match=r"is no count\. Allowed: whole numbers from 0"):
        garwood_ends([3, count])


@pytest.mark.parametrize("exposure", [-1.0, math.nan, math.inf])
def test_what_is_no_exposure_is_refused(exposure: float) -> None:
    with pytest.raises(InputError, match="is no exposure"):
        rate(3, exposure)
    with pytest.raises(InputError, match="is no exposure"):
        rate_ratio(3, 5, 2, exposure)


def test_more_hits_than_tries_are_refused() -> None:
    with pytest.raises(InputError, match="5 of 4 is no share"):
        clopper_pearson(5, 4)


def test_a_p_value_beyond_one_is_refused() -> None:
    for adjust in (holm, benjamini_hochberg):
        with pytest.raises(InputError, match="a p-value outside its range"):
            adjust([0.2, 1.5])


@given(COUNTS, HOMES, COUNTS, HOMES)
def test_p_is_small_exactly_where_the_interval_leaves_out_one(c: int, e: float, d: int, f: float) -> None:
    found = rate_ratio(c, e, d, f)
    if abs(found.p - 0.05) > 1e-6:
        assert (found.p < 0.05) == (not found.low <= 1 <= found.high)


@given(COUNTS, HOMES, COUNTS, HOMES, st.floats(0.01, 100))
def test_a_ratio_does_not_depend_on_the_unit_of_exposure(
    c: int, e: float, d: int, f: float, k: float
) -> None:
    one, two = rate_ratio(c, e, d, f), rate_ratio(c, k * e, d, k * f)
    for a, b in zip((one.low, one.high, one.p), (two.low, two.high, two.p), strict=True):
        assert a == pytest.approx(b, rel=1e-6)


@given(COUNTS, HOMES, COUNTS, HOMES)
def test_turned_round_a_ratio_is_its_inverse(c: int, e: float, d: int, f: float) -> None:
    one, two = rate_ratio(c, e, d, f), rate_ratio(d, f, c, e)
    assert one.low * two.high == pytest.approx(1, rel=1e-6) or (one.low == 0 and two.high == math.inf)
    assert one.p == pytest.approx(two.p, rel=1e-6)


@given(SHARES)
def test_adjusted_p_values_go_with_their_hypotheses(p: list[float]) -> None:
    order = np.random.default_rng(7).permutation(len(p))
    for adjust in (holm, benjamini_hochberg):
        out = adjust(p)
        assert np.array_equal(adjust(np.array(p)[order]), out[order], equal_nan=True)
        assert (np.isnan(out) == np.isnan(np.array(p, dtype=float))).all()
        assert (out[~np.isnan(out)] >= np.array(p, dtype=float)[~np.isnan(out)] * (1 - 1e-12)).all()


@given(SHARES)
def test_holm_is_never_below_benjamini_hochberg(p: list[float]) -> None:
    one, two = holm(p), benjamini_hochberg(p)
    tested = ~np.isnan(one)
    assert (one[tested] >= two[tested] * (1 - 1e-12)).all()


@given(SHARES)
def test_what_was_not_tested_costs_nothing(p: list[float]) -> None:
    tested = [v for v in p if not math.isnan(v)]
    assert np.array_equal(holm(p)[~np.isnan(np.array(p, dtype=float))], holm(tested))
