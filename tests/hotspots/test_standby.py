"""Standing by: demand gathered, sliced by AIC, and points tried on a season they were not fitted to."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.hotspots.demand import Demand, gathered, straight_line_m
from tussock.hotspots.slices import LEAST_IN_SLICE, Slice, _aic_gain, sliced
from tussock.hotspots.standby import LEAST_TRIED_ON, Past, Places, compared, standby

Array = np.ndarray[Any, Any]


def two_towns(calls: int, *, seed: int) -> tuple[Array, Array]:
    """Return calls in two towns 10 km apart."""
    rng = np.random.default_rng(seed)
    town = rng.integers(0, 2, calls)
    return town * 10_000.0 + rng.normal(0, 300, calls), rng.normal(0, 300, calls)


def even(x: Array, y: Array) -> Demand:
    return Demand(x, y, np.ones(len(x)))


def test_two_points_stand_in_the_two_towns() -> None:
    x, y = two_towns(400, seed=1)
    found = standby(even(x, y), count=2, seed=1)
    assert sorted(found.x.round(-3).tolist()) == [0.0, 10_000.0]
    assert found.share.sum() == pytest.approx(1.0)
    assert found.share == pytest.approx([0.5, 0.5], abs=0.1)
    by_hand = np.hypot(x[:, None] - found.x, y[:, None] - found.y).min(axis=1).mean()
    assert found.expected == pytest.approx(by_hand)
    assert (found.base, found.compared) == (None, None)
    assert "no base" in found.reason


def past_of(x: Array, y: Array, season: Array) -> tuple[Past, list[Array]]:
    asked: list[Array] = []

    def fitted(flags: Array) -> Demand:
        asked.append(flags)
        return even(x[flags], y[flags])

    return Past(x, y, season, fitted), asked


def test_points_are_tried_on_the_last_season_and_fitted_on_those_before() -> None:
    x, y = two_towns(300, seed=2)
    season = np.repeat([2023, 2024, 2025], 100)
    past, asked = past_of(x, y, season)
    found = standby(even(x, y), count=2, seed=1, bases=Places(np.array([5000.0]), np.array([0.0])), past=past)
    assert [a.tolist() for a in asked] == [(season < 2025).tolist()]
    assert found.compared is not None
    assert found.compared.calls == 100
    assert found.compared.better
    assert found.compared.saved[0] == pytest.approx(found.compared.base - found.compared.points)
    assert found.compared.base == pytest.approx(np.hypot(x[200:] - 5000, y[200:]).mean())
    assert found.base == pytest.approx(5000, abs=100)
    assert "nearer than your base by" in found.compared.verdict


def test_calls_of_the_last_season_do_not_move_the_points_they_are_tried_on() -> None:
    x, y = two_towns(300, seed=3)
    season = np.repeat([2023, 2024, 2025], 100)
    bases = Places(np.array([5000.0]), np.array([0.0]))
    tried = []
    for shift in (0.0, 400.0):
        late = y + np.where(season == 2025, shift, 0.0)
        past, _ = past_of(x, late, season)
        tried.append(standby(even(x, y), count=1, seed=1, bases=bases, past=past, candidates=bases).compared)
    assert tried[0] is not None
    assert tried[1] is not None
    # the only candidate is the base itself: nothing is ever saved
    assert tried[0].saved == tried[1].saved == (0.0, 0.0, 0.0)
    assert tried[0].verdict == "no better than your base"


def test_bases_in_the_right_places_already() -> None:
    x, y = two_towns(300, seed=4)
    past, _ = past_of(x, y, np.repeat([1, 2, 3], 100))
    found = standby(
        even(x, y), count=2, seed=1, bases=Places(np.array([0.0, 10_000.0]), np.zeros(2)), past=past
    )
    assert found.compared is not None
    assert not found.compared.better
    assert found.compared.verdict == "no better than your base"


def test_one_season_is_nothing_to_try_on() -> None:
    x, y = two_towns(50, seed=5)
    past, asked = past_of(x, y, np.full(50, 2025))
    found = standby(even(x, y), count=1, seed=1, bases=Places(np.zeros(1), np.zeros(1)), past=past)
    assert found.compared is None
    assert "two seasons" in found.reason
    assert asked == []


def test_few_calls_claim_nothing() -> None:
    short = compared(np.full(LEAST_TRIED_ON - 1, 900.0), np.full(LEAST_TRIED_ON - 1, 100.0), seed=1)
    enough = compared(np.full(LEAST_TRIED_ON, 900.0), np.full(LEAST_TRIED_ON, 100.0), seed=1)
    assert (short.better, enough.better) == (False, True)
    assert "9 calls in the last season" in short.verdict
    with pytest.raises(InputError, match="calls to compare"):
        compared(np.zeros(0), np.zeros(0), seed=1)


def test_the_interval_of_what_is_saved_holds_the_truth_as_often_as_said() -> None:
    """Savings drawn with mean 0: claimed better in about 2.5 % of 400 tries (mean 10, sd 3.1)."""
    rng = np.random.default_rng(6)
    claimed = 0
    for seed in range(400):
        saved = rng.normal(0, 500, 60)
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr("tussock.hotspots.standby.DRAWS", 400)
            claimed += compared(1000 + saved, np.full(60, 1000.0), seed=seed).better
    assert 1 <= claimed <= 22


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10**9), most=st.integers(1, 60))
def test_gathering_keeps_demand_and_its_middle(seed: int, most: int) -> None:
    rng = np.random.default_rng(seed)
    demand = Demand(rng.normal(0, 1000, 200), rng.normal(0, 500, 200), rng.gamma(0.3, 1.0, 200))
    thin = gathered(demand, most=most)
    assert len(thin.x) <= most
    assert thin.weights.sum() == pytest.approx(demand.weights.sum())
    for of in ("x", "y"):
        assert np.average(getattr(thin, of), weights=thin.weights) == pytest.approx(
            np.average(getattr(demand, of), weights=demand.weights), abs=1e-6
        )


def test_gathering_drops_places_without_demand() -> None:
    demand = Demand(np.arange(3.0), np.arange(3.0), np.array([1.0, 0.0, 2.0]))
    assert gathered(demand).x.tolist() == [0.0, 2.0]
    same = Demand(np.zeros(9), np.zeros(9), np.ones(9))
    assert gathered(same, most=4).weights.tolist() == [9.0]


def test_gathered_demand_costs_nearly_the_same() -> None:
    rng = np.random.default_rng(7)
    demand = Demand(rng.normal(0, 3000, 20_000), rng.normal(0, 3000, 20_000), rng.gamma(1.0, 1.0, 20_000))
    thin = gathered(demand)
    bases = np.array([1000.0]), np.array([0.0])
    costs = [
        float(np.average(straight_line_m(d.x, d.y, *bases)[:, 0], weights=d.weights)) for d in (demand, thin)
    ]
    assert costs[1] == pytest.approx(costs[0], rel=0.002)


def test_an_evening_past_midnight() -> None:
    hours, months = np.array([19, 20, 23, 0, 3, 4, 12]), np.array([1, 1, 12, 1, 2, 1, 1])
    assert Slice((20, 4)).holds(hours, months).tolist() == [False, True, True, True, True, False, False]
    assert Slice((20, 4), (12, 1)).holds(hours, months).tolist() == [
        False,
        True,
        True,
        True,
        False,
        False,
        False,
    ]
    assert Slice().holds(hours, months).all()


def test_the_gain_of_aic_by_hand() -> None:
    """Inside 30 and 20, outside 20 and 30: all expected 25; G² = 2 Σ O ln(O/25), less 2 for one more."""
    g2 = 2 * (2 * 30 * np.log(30 / 25) + 2 * 20 * np.log(20 / 25))
    assert _aic_gain(np.array([30.0, 20.0]), np.array([20.0, 30.0])) == pytest.approx(g2 - 2)
    assert _aic_gain(np.array([25.0, 25.0]), np.array([25.0, 25.0])) == pytest.approx(-2)
    assert _aic_gain(np.array([0.0, 0.0]), np.array([25.0, 25.0])) == 0.0


def sliced_case(inside: list[int], outside: list[int]) -> Any:
    call_area = np.repeat([0, 1, 0, 1], [*inside, *outside])
    in_slice = np.repeat([True, False], [sum(inside), sum(outside)])
    return sliced(np.array([1.0, 2.0, 3.0]), np.array([0, 0, 1]), call_area=call_area, in_slice=in_slice)


def test_places_differ_in_a_slice_only_where_calls_show_it() -> None:
    alike = sliced_case([30, 30], [60, 60])
    assert not alike.interaction
    assert alike.weights == pytest.approx(np.array([1, 2, 3]) / 3)
    differ = sliced_case([50, 10], [40, 80])
    assert differ.interaction
    assert differ.weights == pytest.approx([50 / 90, 100 / 90, 30 / 90])
    assert sliced_case([LEAST_IN_SLICE, 0], [40, 80]).interaction
    few = sliced_case([LEAST_IN_SLICE - 1, 0], [40, 80])
    assert few.gain > 0
    assert not few.interaction
    assert few.weights == pytest.approx(np.array([1, 2, 3]) * 49 / 169)
    assert "fewer than 50" in few.reason


def test_without_calls_a_slice_expects_none() -> None:
    found = sliced(np.ones(2), np.array([0, 1]), call_area=np.zeros(0, int), in_slice=np.zeros(0, bool))
    assert (found.weights.tolist(), found.interaction) == ([0.0, 0.0], False)


def test_chance_alone_seldom_makes_places_differ() -> None:
    """AIC takes one area more in P(χ²₁ > 2) = 15.7 % of null cases: of 400, 63, four deviations are 29."""
    rng = np.random.default_rng(8)
    taken = 0
    for _ in range(400):
        call_area, in_slice = rng.integers(0, 2, 400), rng.random(400) < 0.4
        found = sliced(np.ones(2), np.array([0, 1]), call_area=call_area, in_slice=in_slice)
        taken += found.interaction
    assert 63 - 29 <= taken <= 63 + 29
