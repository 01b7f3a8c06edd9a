"""The p-median: against every choice, and what must not change it."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.hotspots import medians as module
from tussock.hotspots.demand import straight_line_m
from tussock.hotspots.medians import _descended, _exchanges, _greedy, _mean, medians

Array = np.ndarray[Any, Any]


def case(seed: int, *, demands: int = 30, points: int = 9) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    x, y, to_x, to_y = (
        rng.uniform(0, 1000, demands),
        *rng.uniform(0, 1000, (1, demands)),
        *rng.uniform(0, 1000, (2, points)),
    )
    return straight_line_m(x, y, to_x, to_y), rng.gamma(0.5, 1.0, demands)


def by_trying_all(cost: Array, weights: Array, count: int) -> float:
    return min(
        float((weights * cost[:, list(c)].min(axis=1)).sum() / weights.sum())
        for c in itertools.combinations(range(cost.shape[1]), count)
    )


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**9), count=st.integers(1, 4))
def test_small_cases_are_exact(seed: int, count: int) -> None:
    cost, weights = case(seed)
    found = medians(cost, weights, count=count, seed=1)
    assert found.exact
    assert found.cost == pytest.approx(by_trying_all(cost, weights, count), rel=1e-12)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**9), count=st.integers(1, 4))
def test_exchanges_find_what_trying_all_finds(seed: int, count: int) -> None:
    """The way large cases go, on cases small enough to try all."""
    cost, weights = case(seed)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(module, "MOST_TRIED", 0)
        found = medians(cost, weights, count=count, seed=1)
    assert not found.exact
    assert found.cost == pytest.approx(by_trying_all(cost, weights, count), rel=1e-12)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10**9), count=st.integers(1, 5))
def test_what_an_exchange_changes(seed: int, count: int) -> None:
    """Each entry against the costs before and after."""
    cost, weights = case(seed)
    share = weights / weights.sum()
    chosen = np.random.default_rng(seed).choice(9, count, replace=False)
    change = _exchanges(cost, share, chosen)
    for leaves, enters in itertools.product(range(count), range(9)):
        after = chosen.copy()
        after[leaves] = enters
        if enters in chosen:
            assert change[leaves, enters] == np.inf
        else:
            by_hand = _mean(cost, share, after) - _mean(cost, share, chosen)
            assert change[leaves, enters] == pytest.approx(by_hand, abs=1e-9)


def test_the_end_of_a_descent_is_no_worse_than_its_start() -> None:
    cost, weights = case(3, demands=300, points=60)
    share = weights / weights.sum()
    start = _greedy(cost, share, 5)
    end = _descended(cost, share, start)
    assert _mean(cost, share, end) <= _mean(cost, share, start)
    assert _exchanges(cost, share, end).min() >= -1e-9


def test_the_same_seed_gives_the_same_points_and_input_is_untouched() -> None:
    cost, weights = case(5, demands=200, points=80)
    before = cost.copy(), weights.copy()
    one, two = (medians(cost, weights, count=6, seed=9) for _ in range(2))
    assert (one.chosen, one.cost) == (two.chosen, two.cost)
    assert not one.exact
    assert np.array_equal(one.serves, two.serves)
    assert np.array_equal(cost, before[0])
    assert np.array_equal(weights, before[1])


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**9))
def test_another_unit_of_cost_or_demand_changes_nothing_else(seed: int) -> None:
    cost, weights = case(seed)
    one, two = medians(cost, weights, count=3, seed=1), medians(cost * 7.0, weights * 11.0, count=3, seed=1)
    assert one.chosen == two.chosen
    assert two.cost == pytest.approx(7.0 * one.cost)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**9), count=st.integers(1, 8))
def test_one_point_more_is_never_farther(seed: int, count: int) -> None:
    cost, weights = case(seed)
    assert medians(cost, weights, count=count + 1, seed=1).cost <= medians(
        cost, weights, count=count, seed=1
    ).cost * (1 + 1e-12)


def test_each_demand_is_served_by_its_nearest() -> None:
    cost, weights = case(8)
    found = medians(cost, weights, count=3, seed=1)
    assert np.array_equal(cost[np.arange(30), found.serves], cost[:, list(found.chosen)].min(axis=1))


def test_costs_need_not_be_straight_lines() -> None:
    """A river: from the north bank the south bank is 30 minutes away, however near. One point per bank."""
    x = np.array([0.0, 100.0, 200.0, 0.0, 100.0, 200.0])
    bank = np.array([0, 0, 0, 1, 1, 1])
    minutes = np.abs(x[:, None] - x[None, :]) / 100 + 30.0 * (bank[:, None] != bank[None, :])
    assert medians(minutes, np.ones(6), count=2, seed=1).chosen == (1, 4)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"count": 0}, "0 points of 9 places"),
        ({"count": 10}, "10 points of 9 places"),
        ({"weights": np.zeros(30)}, "no calls are expected"),
        ({"weights": np.full(30, np.nan)}, "a demand below 0 or no number"),
        ({"weights": np.ones(29)}, "29 demands"),
        ({"cost": np.full((30, 9), np.inf)}, "where no road leads"),
    ],
)
def test_what_cannot_be_solved_is_refused(change: dict[str, Any], words: str) -> None:
    cost, weights = case(1)
    given_: dict[str, Any] = {"cost": cost, "weights": weights, "count": 2} | change
    with pytest.raises(InputError, match=words):
        medians(given_["cost"], given_["weights"], count=given_["count"], seed=1)
