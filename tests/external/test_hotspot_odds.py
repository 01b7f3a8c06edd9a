"""Odds against published intervals, R's gamma–Poisson fit, and a week's counts.

Sources: domain facts § 4m: Garwood's interval of 0 is [0, 3.68888] (R's epitools documentation prints 3.689)
and of 10 [4.79539, 18.39036]; R's MASS::glm.nb on North Carolina 1974–78 gives shape 6.371976749 and mean
2.123662839 per 1,000, and for Anson a relative risk of 2.201906 [1.369429, 3.228881].
Common practice, no source: one week in a district of about 50,000 dwellings had 11 callouts and 9 captures of
6 species.
"""

from __future__ import annotations

import pytest

from tussock.hotspots.counts import clopper_pearson, garwood, rate
from tussock.hotspots.odds import LEAST_YEARS, NONE_MEANS, Area, Prior, odds


def test_none_means_the_end_of_garwoods_interval() -> None:
    assert garwood(0).high == pytest.approx(3.68888, abs=0.000005)
    assert pytest.approx(garwood(0).high, abs=0.005) == NONE_MEANS
    assert garwood(0).high <= NONE_MEANS


def test_ten_calls_by_hand() -> None:
    """1,000 homes for a year: 1,000 / 18.39036 = 54.4 and 1,000 / 4.79539 = 208.5, rounded outwards."""
    assert odds(Area("a", 10, 1000, 1000), years=1.0).one_in == (54.0, 210.0)


def test_anson_as_the_negative_binomial_of_r_has_it() -> None:
    """15 deaths of 1,570 births in 1974–78 (nc.sids); births stand in for homes in one year.

    Rates are 2.123662839 per 1,000 × [1.369429, 3.228881] = [0.00290820, 0.00685706]: one in 145.8 to 343.9.
    """
    mean = 2.123662839 / 1000
    found = odds(Area("Anson", 15, 1570, 1570, Prior(6.371976749, mean)), years=1.0)
    assert 1 / (mean * 3.228881) == pytest.approx(145.83, abs=0.01)
    assert 1 / (mean * 1.369429) == pytest.approx(343.85, abs=0.01)
    assert found.one_in == (140.0, 350.0)


def test_the_ends_behind_the_rounding() -> None:
    from tussock.hotspots.odds import _rates

    mean = 2.123662839 / 1000
    low, high = _rates(Area("Anson", 15, 1570, 1570, Prior(6.371976749, mean)), 1.0)
    assert low / mean == pytest.approx(1.369429, abs=0.0000005)
    assert high / mean == pytest.approx(3.228881, abs=0.0000005)


def test_a_week_of_a_district() -> None:
    """0.22 [0.110, 0.394] callouts per 1,000 dwellings a week, 82 % [48–98 %] captured; no year's odds."""
    found = rate(11, 50_000, per=1000.0)
    assert round(found.value, 2) == 0.22
    assert (round(found.low, 3), round(found.high, 3)) == (0.110, 0.394)
    share = clopper_pearson(9, 11)
    assert [round(100 * v) for v in (share.value, share.low, share.high)] == [82, 48, 98]
    week = 7 / 365.25
    assert week < LEAST_YEARS
    assert odds(Area("the district", 11, 50_000, 50_000), years=week).one_in is None
