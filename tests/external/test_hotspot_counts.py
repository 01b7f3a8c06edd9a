"""Exact intervals of counts, rates, shares and corrected p-values against other programs and papers.

Sources, per test: R's ``poisson.test`` as saved in the project's reference (scipy gives the same);
R epitools' documentation (3.689 for a count of 0); scipy.stats.binomtest; published worked examples.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from tussock.hotspots.counts import (
    benjamini_hochberg,
    clopper_pearson,
    garwood,
    garwood_ends,
    holm,
    rate,
    rate_ratio,
)

# R: poisson.test(c)$conf.int; count, low, high as printed
GARWOOD = (
    (0, 0.0, 3.68888),
    (1, 0.02532, 5.57164),
    (2, 0.24221, 7.22469),
    (3, 0.61867, 8.76727),
    (5, 1.62349, 11.66833),
    (10, 4.79539, 18.39036),
    (11, 5.49116, 19.68204),
    (100, 81.36399, 121.62679),
)


@pytest.mark.parametrize(("count", "low", "high"), GARWOOD)
def test_garwood_as_r_prints_it(count: int, low: float, high: float) -> None:
    found = garwood(count)
    assert found.value == count
    assert found.low == pytest.approx(low, abs=0.5e-5)
    assert found.high == pytest.approx(high, abs=0.5e-5)


def test_garwood_of_none_as_epitools_documents_it() -> None:
    assert garwood(0).high == pytest.approx(3.689, abs=0.5e-3)
    assert garwood(0).high == pytest.approx(-math.log(0.025), rel=1e-12)  # by hand: e^−m = 0.025


def test_garwoods_ends_leave_two_and_a_half_percent_each() -> None:
    """The definition itself, by scipy's Poisson law."""
    counts = np.array([1, 2, 7, 40, 1000, 250_000])
    low, high = garwood_ends(counts)
    assert stats.poisson.sf(counts - 1, low) == pytest.approx(np.full(6, 0.025), rel=1e-8)
    assert stats.poisson.cdf(counts, high) == pytest.approx(np.full(6, 0.025), rel=1e-8)


def test_the_rate_ratio_as_r_prints_it() -> None:
    """R: poisson.test(c(20, 30), c(1000, 9000)): 6 [3.229564, 10.920582]."""
    found = rate_ratio(20, 1000, 30, 9000)
    assert found.ratio == pytest.approx(6.0, rel=1e-14)
    assert found.low == pytest.approx(3.229564, abs=0.5e-6)
    assert found.high == pytest.approx(10.920582, abs=0.5e-6)


def test_the_rate_ratio_of_rs_own_example() -> None:
    """R, help page of poisson.test, leukaemia near a site: 11 of 800 against 21 of 3,011 person-years.

    Printed by R: 1.971488, 95 percent interval 0.8584264 to 4.2772659 (from memory).
    """
    found = rate_ratio(11, 800, 6 + 8 + 7, 1083 + 1050 + 878)
    assert found.ratio == pytest.approx(1.971488, abs=0.5e-6)
    assert (found.low, found.high) == pytest.approx((0.8584264, 4.2772659), abs=0.5e-7)


def test_its_p_is_twice_scipys_smaller_tail() -> None:
    for c, e, d, f in ((20, 1000, 30, 9000), (3, 500, 9, 400), (0, 10, 5, 10), (4, 1, 4, 1)):
        sides = ("less", "greater")
        tails = [stats.binomtest(c, c + d, e / (e + f), alternative=side).pvalue for side in sides]
        assert rate_ratio(c, e, d, f).p == pytest.approx(min(1.0, 2 * min(tails)), rel=1e-12)
        assert rate_ratio(c, e, d, f).p_more == pytest.approx(tails[1], rel=1e-12)


# project's reference, calculated: hits, tries, low, high with as many digits as printed there
SHARES = (
    (12, 14, "0.572", "0.982"),
    (4, 8, "0.157", "0.843"),
    (84, 720, "0.094", "0.142"),
    (4, 4, "0.398", "1"),
    (3, 6, "0.118", "0.882"),
    (6, 11, "0.234", "0.833"),
    (2, 18, "0.014", "0.347"),
    (9, 11, "0.48", "0.98"),
)


@pytest.mark.parametrize(("hits", "tries", "low", "high"), SHARES)
def test_clopper_pearson(hits: int, tries: int, low: str, high: str) -> None:
    found, exact = clopper_pearson(hits, tries), stats.binomtest(hits, tries).proportion_ci(method="exact")
    for value, printed, other in ((found.low, low, exact.low), (found.high, high, exact.high)):
        half = 0.5 * 10.0 ** -len(printed.partition(".")[2]) if "." in printed else 1e-12
        assert value == pytest.approx(float(printed), abs=half)
        assert value == pytest.approx(other, rel=1e-9, abs=1e-12)


def test_one_week_of_a_district() -> None:
    """Common practice, no source: 11 callouts, 9 captured, about 50,000 dwellings, one week."""
    week, share = rate(11, 50_000), clopper_pearson(9, 11)
    assert week.value == pytest.approx(0.22, rel=1e-12)
    assert (week.low, week.high) == pytest.approx((0.110, 0.394), abs=0.0005)
    assert (round(share.value, 2), round(share.low, 2), round(share.high, 2)) == (0.82, 0.48, 0.98)


def test_holm_by_hand() -> None:
    """0.01·4, 0.02·3, 0.03·2 raised to 0.06, 0.04·1 raised to 0.06 (R: p.adjust, from memory)."""
    assert holm([0.01, 0.04, 0.03, 0.02]) == pytest.approx([0.04, 0.06, 0.06, 0.06], rel=1e-14)


def test_benjamini_hochberg_as_published() -> None:
    """Benjamini & Hochberg 1995, § 4: the p-values of 15 hypotheses; at 0.05 the first four are rejected
    (Bonferroni and Hochberg reject three). Values from memory."""
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344]
    p += [0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0]
    assert (benjamini_hochberg(p) <= 0.05).sum() == 4
    assert (holm(p) <= 0.05).sum() == 3
    assert benjamini_hochberg(p)[3] == pytest.approx(0.0095 * 15 / 4, rel=1e-14)
