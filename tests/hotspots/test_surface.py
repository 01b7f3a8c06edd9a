"""The relative-risk surface: against kernel densities of another library, its exact spread, its envelope."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import gaussian_kde, multivariate_normal

from tussock.errors import InputError
from tussock.hotspots.surface import ALPHA, Points, Surface, relative_risk, usual_bandwidth_m

Array = np.ndarray[Any, Any]


def town(homes: int = 4000, *, seed: int = 1) -> Points:
    rng = np.random.default_rng(seed)
    x, y = np.concatenate([rng.normal(0, 1500, (homes // 2, 2)), rng.uniform(-4000, 4000, (homes // 2, 2))]).T
    return Points(x, y, np.ones(len(x)))


def called(homes: Points, calls: int, *, seed: int, risk: Array | None = None) -> Points:
    rng = np.random.default_rng(seed)
    weight = homes.weights * (1.0 if risk is None else risk)
    who = rng.choice(len(homes.x), calls, p=weight / weight.sum())
    return Points(homes.x[who], homes.y[who], np.ones(calls))


def centres(found: Surface) -> tuple[Array, Array]:
    lines, columns = np.indices(found.ratio.shape).astype(np.float64) + 0.5
    return np.asarray(found.west + columns * found.step_m), np.asarray(found.south + lines * found.step_m)


def test_calls_like_homes_have_a_ratio_of_one() -> None:
    homes = town()
    found = relative_risk(homes, homes, bandwidth_m=500, seed=1, replicates=19)
    drawn = found.ratio[np.isfinite(found.ratio)]
    assert len(drawn) > 1000
    assert drawn == pytest.approx(np.ones(len(drawn)))
    assert not found.above.any()


def test_the_ratio_is_that_of_kernel_densities() -> None:
    """Sums of scipy's normal densities over points moved to their squares' centres, and over the points.

    The kernel ends at four bandwidths, 0.03 % of its weight. Squares of a third of the bandwidth move the
    ratio by less than a third of a standard deviation of what chance does.
    """
    homes = town()
    calls = called(homes, 600, seed=2)
    found = relative_risk(calls, homes, bandwidth_m=600.0, seed=1, replicates=19)
    x, y = centres(found)
    live = np.isfinite(found.ratio)
    kernel = multivariate_normal(np.zeros(2), np.eye(2) * 600.0**2)

    def density(points: Points, *, moved: bool) -> Array:
        px, py = points.x, points.y
        if moved:
            px = found.west + ((px - found.west) // found.step_m + 0.5) * found.step_m
            py = found.south + ((py - found.south) // found.step_m + 0.5) * found.step_m
        apart = np.stack([x[live][:, None] - px, y[live][:, None] - py], axis=-1)
        return np.asarray(kernel.pdf(apart).mean(axis=1))

    in_squares, at_points = (density(calls, moved=m) / density(homes, moved=m) for m in (True, False))
    assert found.ratio[live] == pytest.approx(in_squares, abs=0.0003)
    weights = kernel.pdf(np.stack([x[live][:, None] - homes.x, y[live][:, None] - homes.y], axis=-1))
    by_chance = np.sqrt(((weights**2).mean(axis=1) / weights.mean(axis=1) ** 2 - 1) / 600)
    assert (np.abs(found.ratio[live] - at_points) / by_chance).max() < 1 / 3


def test_the_envelope_is_made_of_exact_deviations() -> None:
    """The standard deviation of the ratio over 600 maps of chance, relative to its greatest."""
    homes = town(1000)
    rng = np.random.default_rng(3)
    drawn = []
    for _ in range(600):
        who = rng.integers(0, 1000, 300)
        calls = Points(homes.x[who], homes.y[who], np.ones(300))
        drawn.append(relative_risk(calls, homes, bandwidth_m=900.0, seed=1, replicates=19).ratio)
    found = relative_risk(calls, homes, bandwidth_m=900.0, seed=1, replicates=19)
    live = np.isfinite(found.ratio)
    by_chance = np.array(drawn)[:, live]
    spread = (found.upper[live] - 1) / (found.upper[live] - 1).max()
    seen = by_chance.std(axis=0)
    # a deviation from 600 draws has a standard error of 3 %
    assert seen / seen.max() == pytest.approx(spread, rel=0.2)
    assert by_chance.mean(axis=0) == pytest.approx(np.ones(live.sum()), abs=0.1)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_is_above_and_its_p_agree(seed: int) -> None:
    homes = town(seed=seed)
    for risk in (None, 1 + 3.0 * (np.hypot(homes.x - 1500, homes.y) < 700)):
        calls = called(homes, 400, seed=seed, risk=risk)
        found = relative_risk(calls, homes, bandwidth_m=500.0, seed=seed, replicates=99)
        assert found.above.any() == (found.p <= ALPHA)
        assert found.p == pytest.approx(round(found.p * 100) / 100)


def test_a_planted_cluster_is_found_where_it_is() -> None:
    homes = town()
    risk = 1 + 3.0 * (np.hypot(homes.x - 1500, homes.y + 500) < 700)
    found = relative_risk(called(homes, 800, seed=5, risk=risk), homes, bandwidth_m=400.0, seed=1)
    x, y = centres(found)
    assert found.p <= 0.01
    assert found.above.any()
    assert np.hypot(x[found.above] - 1500, y[found.above] + 500).max() < 1500


def test_the_most_striking_of_twenty_maps_crosses_the_envelope() -> None:
    """19 maps of chance: the least p there is, 1/20, is just enough."""
    homes = town()
    risk = 1 + 3.0 * (np.hypot(homes.x - 1500, homes.y + 500) < 700)
    calls = called(homes, 800, seed=5, risk=risk)
    found = relative_risk(calls, homes, bandwidth_m=400.0, seed=1, replicates=19)
    assert found.p == ALPHA
    assert found.above.any()


def test_chance_crosses_the_envelope_as_often_as_said() -> None:
    """100 maps of chance, 39 replicates: p ≤ 0.05 in 5, within four standard deviations of 2.2."""
    homes = town(1500)
    alarms = sum(
        relative_risk(
            called(homes, 200, seed=seed), homes, bandwidth_m=700.0, seed=seed + 1000, replicates=39
        ).above.any()
        for seed in range(100)
    )
    assert alarms <= 5 + 4 * 2.2


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6), shift=st.sampled_from([0.0, 12_345.0, -7e5]))
def test_moving_everything_changes_nothing(seed: int, shift: float) -> None:
    homes = town(400, seed=seed)
    calls = called(homes, 80, seed=seed)
    one, two = (
        relative_risk(
            Points(calls.x + s, calls.y - s, calls.weights),
            Points(homes.x + s, homes.y - s, homes.weights),
            bandwidth_m=1000.0,
            seed=3,
            replicates=19,
        )
        for s in (0.0, shift)
    )
    assert one.p == two.p
    # a home on the border of two squares may fall to either side by rounding
    assert np.nanmedian(np.abs(one.ratio - two.ratio)) < 1e-6


def test_the_same_seed_gives_the_same_surface() -> None:
    homes = town(500)
    calls = called(homes, 100, seed=1)
    one, two = (relative_risk(calls, homes, bandwidth_m=800.0, seed=7, replicates=39) for _ in range(2))
    assert one.p == two.p
    assert np.array_equal(one.upper, two.upper, equal_nan=True)


def test_without_calls_or_with_very_few_there_is_no_surface() -> None:
    homes = town(500)
    none = np.zeros(0)
    for calls in (Points(none, none, none), called(homes, 1, seed=1)):
        found = relative_risk(calls, homes, bandwidth_m=100.0, seed=1, replicates=19)
        assert found.p == 1.0
        assert not found.above.any()
        assert not np.isfinite(found.ratio).any()


def test_a_wide_district_has_larger_squares() -> None:
    homes = Points(np.array([0.0, 1e5]), np.array([0.0, 1e5]), np.full(2, 50.0))
    found = relative_risk(homes, homes, bandwidth_m=300.0, seed=1, replicates=19)
    assert found.ratio.size <= 170_000
    assert found.step_m > 100


def test_scotts_bandwidth() -> None:
    homes = town(2000)
    factor = gaussian_kde(np.stack([homes.x[:64], homes.y[:64]])).scotts_factor()
    spread = math.sqrt((homes.x.var() + homes.y.var()) / 2)
    assert usual_bandwidth_m(homes, incidents=64) == pytest.approx(factor * spread)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"bandwidth_m": 0.0}, "a bandwidth of 0.0 m"),
        ({"homes": Points(np.zeros(1), np.zeros(1), np.zeros(1))}, "no homes"),
        ({"calls": Points(np.zeros(1), np.zeros(1), np.full(1, 0.5))}, "a part of a call"),
        ({"calls": Points(np.zeros(1), np.full(1, np.nan), np.ones(1))}, "a place or number that is none"),
        ({"replicates": 18}, "18 maps made up by chance"),
    ],
)
def test_what_cannot_be_drawn_is_refused(change: dict[str, Any], words: str) -> None:
    homes = town(100)
    use: dict[str, Any] = {"calls": homes, "homes": homes, "bandwidth_m": 500.0, "replicates": 19} | change
    with pytest.raises(InputError, match=words):
        relative_risk(
            use["calls"], use["homes"], bandwidth_m=use["bandwidth_m"], seed=1, replicates=use["replicates"]
        )
