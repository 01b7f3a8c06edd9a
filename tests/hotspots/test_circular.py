"""The mean of times on a circle: worked by hand, against scipy, and how often its rule of modes errs."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.hotspots.circular import circular_mean, rayleigh_p

RNG = np.random.Generator(np.random.PCG64(20261125))


def heap(n: int, *, at: float, spread: float = 1.5) -> Floats:
    """Times as evenly placed as a normal law has it, round the clock."""
    return np.asarray(stats.norm.ppf((np.arange(n) + 0.5) / n, loc=at, scale=spread) % 24)


def test_before_and_after_midnight_the_mean_is_midnight() -> None:
    found = circular_mean(np.array([23.0, 1.0] * 20))
    assert min(found.mean, 24 - found.mean) == pytest.approx(0, abs=1e-9)
    assert found.length == pytest.approx(math.cos(math.pi / 12))  # by hand: half of 2 h apart
    assert found.low < 0 < found.high or found.low < 24 < found.high


def test_it_is_scipys_circular_mean() -> None:
    times = heap(60, at=22.5)
    assert circular_mean(times).mean == pytest.approx(stats.circmean(times, high=24, low=0))
    assert 1 - circular_mean(times).length == pytest.approx(stats.circvar(times, high=24, low=0))


def test_too_few_tell_no_mean() -> None:
    assert not circular_mean(heap(29, at=9)).told
    assert circular_mean(heap(30, at=9)).told
    assert circular_mean(np.array([])).modes == 0


def test_dawn_and_dusk_have_no_mean() -> None:
    found = circular_mean(np.concatenate([heap(60, at=7), heap(40, at=18)]))
    assert (found.modes, found.told) == (2, False)


def test_opposite_heaps_and_even_times_have_no_direction() -> None:
    assert circular_mean(np.concatenate([heap(50, at=6), heap(50, at=18)])).modes == 0
    assert circular_mean(np.arange(240) / 10).modes == 0


def test_what_is_no_time_is_refused() -> None:
    with pytest.raises(InputError, match="a time that is no number"):
        circular_mean(np.array([3.0, math.nan]))


def test_rayleighs_p_by_simulation() -> None:
    n, runs = 40, 20_000
    lengths = np.abs(np.exp(2j * math.pi * RNG.random((runs, n))).mean(axis=1))
    for length in (0.15, 0.25, 0.3):
        share = float((lengths >= length).mean())
        assert rayleigh_p(length, n) == pytest.approx(share, abs=4 * math.sqrt(share / runs) + 0.002)


def test_the_interval_holds_the_mean_about_as_often_as_it_says() -> None:
    """Von Mises times round 2 o'clock; 500 samples of 60: 95 % within four standard errors."""
    found = [circular_mean(RNG.vonmises(math.pi / 6, 2.0, 60) * 12 / math.pi % 24) for _ in range(500)]
    told = [f for f in found if f.told]
    # the interval may run past midnight: the truth is looked for on either turn of the clock
    held = np.mean([any(f.low <= 2 + turn <= f.high for turn in (-24, 0, 24)) for f in told])
    assert held == pytest.approx(0.95, abs=4 * math.sqrt(0.05 * 0.95 / len(told)))


@pytest.mark.parametrize(
    ("draw", "modes", "least"),
    [
        (lambda: RNG.vonmises(0.0, 1.0, 100), 1, 0.88),
        (lambda: np.where(RNG.random(100) < 0.5, *RNG.normal([[-0.9], [0.95]], 0.4, (2, 100))), 2, 0.95),
        (lambda: RNG.uniform(0, 2 * math.pi, 100), 0, 0.96),
    ],
    ids=["one heap", "two heaps 7 h apart", "all round"],
)
def test_how_often_the_rule_of_modes_is_right(draw: Callable[[], Floats], modes: int, least: float) -> None:
    """A wide heap (κ 1) is taken for two on 0.06 of days: what a stricter rule of two costs."""
    assert np.mean([circular_mean(draw(), period=2 * math.pi).modes == modes for _ in range(200)]) >= least


@pytest.mark.parametrize(
    ("n", "two", "even", "one"), [(30, 0.15, 0.04, 0.85), (60, 0.06, 0.04, 0.88)], ids=["30", "60"]
)
def test_few_times_are_seldom_given_a_false_mean(n: int, two: float, even: float, one: float) -> None:
    """Two heaps of 1.5 h seven hours apart; all round; one heap of κ 2. The shares are in circular.py.

    Bounds: three standard errors of 300 days from shares of 0.09 / 0.02, 0.01, and 0.91 / 0.95.
    """
    rng = np.random.Generator(np.random.PCG64(20261126))

    def told(draw: Callable[[], Floats]) -> float:
        return float(np.mean([circular_mean(draw()).told for _ in range(300)]))

    assert (
        told(lambda: np.where(rng.random(n) < 0.5, rng.normal(8, 1.5, n), rng.normal(15, 1.5, n)) % 24) <= two
    )
    assert told(lambda: rng.uniform(0, 24, n)) <= even
    assert told(lambda: rng.vonmises(0, 2, n) * 12 / math.pi % 24) >= one


@given(st.floats(-48, 48), st.integers(0, 2**32 - 1))
def test_turning_the_clock_turns_the_mean(shift: float, seed: int) -> None:
    times = np.random.default_rng(seed).permutation(heap(50, at=20, spread=2))
    one, two = circular_mean(times), circular_mean((times + shift) % 24)
    assert math.cos((two.mean - one.mean - shift) * math.pi / 12) == pytest.approx(1, abs=1e-9)
    assert two.high - two.low == pytest.approx(one.high - one.low)


@given(st.floats(0.1, 400))
def test_the_unit_of_time_scales_the_mean(period: float) -> None:
    one, two = circular_mean(heap(50, at=20)), circular_mean(heap(50, at=20) * period / 24, period=period)
    assert two.mean == pytest.approx(one.mean * period / 24)


def test_half_of_the_times_lie_between_the_quarters() -> None:
    """By hand: 31 times, 23:00 to 2:00 each six minutes; the quarters of the even run are 23:45 and 1:15."""
    times = np.array([(23 + k / 10) % 24 for k in range(31)])
    found = circular_mean(times)
    assert found.told
    first, third = found.quarters
    assert (first % 24, third % 24) == pytest.approx((23.75, 1.25), abs=1e-9)
    rng = np.random.default_rng(3)
    spread = rng.normal(14, 3, 400)
    wide = circular_mean(spread % 24)
    inside = (spread >= wide.quarters[0]) & (spread <= wide.quarters[1])
    assert wide.told and inside.mean() == pytest.approx(0.5, abs=0.01)
    assert wide.quarters[1] - wide.quarters[0] > 5 * (wide.high - wide.low)
