"""Odds: two figures or none, from the area or a parent of it, never more sure than the counts are."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.hotspots.odds import Area, Odds, Prior, odds

TOWN = Area("the town", 30, 4000, 4400)
EAST = Area("the east side", 12, 900, 1000)


def test_without_a_prior_the_figures_are_garwoods() -> None:
    """12 calls: [6.20058, 20.96158] (from memory of Garwood's table; R's poisson.test(12)).

    3 years of 900 to 1,000 homes: 2,700 / 20.96158 = 128.8 and 3,000 / 6.20058 = 483.8, rounded outwards.
    """
    found = odds(EAST, years=3.0)
    assert found.one_in == (120.0, 490.0)
    assert (found.area, found.moved, found.reason, found.fewer_than_one_in) == ("the east side", (), "", None)
    assert found.sentence == (
        "the east side: between one home in 120 and one in 490 a year"
        " (12 calls from 900 to 1,000 homes in 3 years)"
    )


def test_no_calls() -> None:
    """900 homes × 3 years / 3.69 = 731.7."""
    found = odds(replace(EAST, incidents=0), years=3.0)
    assert (found.fewer_than_one_in, found.one_in) == (730.0, None)
    assert found.sentence == "the east side: none from 900 homes in 3 years: fewer than 1 in 730 a year"


def test_no_calls_with_a_prior_are_no_calls() -> None:
    found = odds(replace(EAST, incidents=0, prior=Prior(6.4, 0.002)), years=3.0)
    assert found.fewer_than_one_in == 730.0


@pytest.mark.parametrize(("incidents", "words"), [(1, "1 call from"), (2, "2 calls from")])
def test_one_or_two_calls_have_no_odds(incidents: int, words: str) -> None:
    found = odds(replace(EAST, incidents=incidents), years=3.0, parents=[TOWN])
    assert found.one_in is None
    assert found.fewer_than_one_in is None
    assert words in found.reason
    assert "no odds" in found.sentence


@pytest.mark.parametrize(
    ("area", "why"),
    [
        (replace(EAST, homes_low=99, homes_high=110), "99 homes, fewer than 100"),
        (replace(EAST, homes_low=400, homes_high=801), "between 400 and 801 homes, too wide"),
        (replace(EAST, homes_low=0, homes_high=0), "0 homes"),
    ],
)
def test_too_few_or_too_uncertain_homes_go_to_the_parent(area: Area, why: str) -> None:
    found = odds(area, years=3.0, parents=[TOWN])
    assert (found.asked, found.area) == ("the east side", "the town")
    assert why in found.moved[0]
    assert found.one_in == odds(TOWN, years=3.0).one_in
    alone = odds(area, years=3.0)
    assert alone.one_in is None
    assert why in alone.reason


def test_exactly_100_homes_and_twice_as_many_are_enough() -> None:
    assert odds(replace(EAST, homes_low=100, homes_high=200, incidents=3), years=2.0).one_in is not None


def test_a_week_is_never_scaled_up() -> None:
    """11 calls in a week from 50,000 dwellings are no odds for a year."""
    found = odds(Area("the district", 11, 50_000, 50_000), years=7 / 365.25)
    assert found.one_in is None
    assert "7 days were observed" in found.reason


def test_more_calls_than_odds_can_say() -> None:
    found = odds(Area("the camp", 500, 100, 100), years=1.0)
    assert found.one_in is None
    assert "give the rate" in found.reason


@given(
    incidents=st.integers(3, 400),
    homes=st.floats(100, 1e5),
    width=st.floats(1, 2),
    years=st.floats(1, 30),
    shape=st.one_of(st.none(), st.just(math.inf), st.floats(0.2, 100)),
)
def test_figures_hold_the_rate_and_widen_with_the_exposure(
    incidents: int, homes: float, width: float, years: float, shape: float | None
) -> None:
    prior = None if shape is None else Prior(shape, incidents / homes / years)
    exact = odds(Area("a", incidents, homes, homes, prior), years=years)
    wide = odds(Area("a", incidents, homes, homes * width, prior), years=years)
    if exact.one_in is None or wide.one_in is None:
        assert incidents / homes / years > 0.2
        return
    rate = incidents / (homes * years)
    assert exact.one_in[0] <= 1 / rate <= exact.one_in[1]
    assert wide.one_in[0] == exact.one_in[0]
    assert wide.one_in[1] >= exact.one_in[1]


@given(incidents=st.integers(3, 200), years=st.floats(1, 20))
def test_more_calls_are_shorter_odds(incidents: int, years: float) -> None:
    one, other = (odds(Area("a", n, 5000, 5000), years=years).one_in for n in (incidents, incidents + 5))
    assert one is not None
    assert other is not None
    assert other[0] <= one[0]
    assert other[1] <= one[1]


@given(st.floats(1e-3, 1e9))
def test_figures_are_rounded_outwards_to_two_digits(value: float) -> None:
    from tussock.hotspots.odds import _rounded

    down, up = _rounded(value, up=False), _rounded(value, up=True)
    assert down <= value * (1 + 1e-11)
    assert up >= value * (1 - 1e-11)
    assert float(f"{down:.2g}") == pytest.approx(down)
    assert up / down <= 1.1 + 1e-9


def test_a_posterior_lies_between_its_area_and_the_prior() -> None:
    """A prior pulls the figures towards its mean, and narrows them."""
    alone = odds(EAST, years=3.0).one_in
    pulled = odds(replace(EAST, prior=Prior(50.0, 0.001)), years=3.0).one_in
    assert alone is not None
    assert pulled is not None
    assert pulled[0] > alone[0]
    assert pulled[1] / pulled[0] < alone[1] / alone[0]


def test_with_a_prior_too_the_low_rate_is_over_the_most_homes() -> None:
    """The far figure is that of exactly 1,000 homes, the near one that of exactly 900."""
    prior = Prior(6.0, 0.004)
    both = odds(replace(EAST, prior=prior), years=3.0).one_in
    most = odds(Area("a", 12, 1000, 1000, prior), years=3.0).one_in
    fewest = odds(Area("a", 12, 900, 900, prior), years=3.0).one_in
    assert both is not None
    assert most is not None
    assert fewest is not None
    assert both == (fewest[0], most[1])
    assert most[1] > fewest[1]


def test_drawn_rates_lie_between_the_figures_as_often_as_said() -> None:
    """Rates drawn from the prior, calls drawn from the rates: 95 % of the rates are held."""
    rng = np.random.default_rng(np.random.PCG64(5))
    prior, homes, years, tries = Prior(6.0, 0.01), 800.0, 3.0, 3000
    rates = rng.gamma(prior.shape, prior.mean / prior.shape, tries)
    held = given_odds = 0
    for rate, calls in zip(rates, rng.poisson(rates * homes * years), strict=True):
        found: Odds = odds(Area("a", int(calls), homes, homes, prior), years=years)
        if found.one_in is not None:
            given_odds += 1
            held += found.one_in[0] <= 1 / rate <= found.one_in[1]
    # rounding outwards adds a little; four standard errors below is a fault
    assert held / given_odds > 0.95 - 4 * math.sqrt(0.95 * 0.05 / given_odds)
    assert held / given_odds < 0.985


@pytest.mark.parametrize(
    ("area", "years", "words"),
    [
        (replace(EAST, incidents=-1), 3.0, "the east side: -1 calls"),
        (replace(EAST, homes_high=10), 3.0, "900 to 10 homes"),
        (replace(EAST, prior=Prior(0.0, 1.0)), 3.0, "a prior with"),
        (EAST, 0.0, "0.0 years"),
        (EAST, math.nan, "nan years"),
    ],
)
def test_what_is_no_count_is_refused(area: Area, years: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        odds(area, years=years)
