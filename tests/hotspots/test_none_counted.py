"""Calls that were read and not counted are no district without calls."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.hotspots.test_found import ASKED, along_the_creek, call, district, given
from tussock.hotspots.finding import find
from tussock.hotspots.found import Counted, GivenCalls, Hotspots
from tussock.maps.hotspots_edges import claim, counted_lines
from tussock.maps.hotspots_page import hotspots_page
from tussock.maps.hotspots_words import district_words

ALL = {"without_place": 0, "future": 0, "other_times": 0, "duplicates": 0}


def _elsewhere() -> GivenCalls:
    """The calls of the creek with the sign of their latitudes lost: half the Earth away."""
    return given(*(replace(c, y=c.y + 9_000_000.0) for c in along_the_creek()))


@pytest.fixture(scope="module")
def none() -> Hotspots:
    return find(_elsewhere(), district(), replace(ASKED, standby=1))


def test_no_rate_and_no_odds_come_of_calls_that_lie_elsewhere(none: Hotspots) -> None:
    assert none.counted.none_of_read and none.counted.outside_region == 90
    assert none.district_rate is None and none.district_odds is None
    assert none.rates is None and none.edges == () and none.standby is None
    assert {"district_rate", "district_odds", "rates", "edges"} <= set(none.missing)
    assert "no rate" in district_words(none)
    assert claim(none).startswith("None of the 90 calls read is counted")


def test_it_asks_whether_sign_region_or_time_are_wrong(none: Hotspots) -> None:
    first = counted_lines(none)[0]
    assert first.startswith("None of the 90 calls read is counted: 90 outside the region.")
    assert "signs of latitude" in first and "the region, and the time observed" in first


def test_calls_of_other_times_alone_are_no_quiet_district() -> None:
    early = given(*(call(n, 500, 500, days=-900.0 - 20 * n) for n in range(5)))
    told = find(early, district(), ASKED)
    assert told.district_odds is None and "5 of other times" in told.counted.warning


def test_a_book_without_calls_is_a_quiet_district() -> None:
    """Nothing was read, so nothing was left out: none from 1,000 homes in one year, 1000 / 3.69 = 271."""
    told = find(given(), district(), ASKED)
    assert not told.counted.none_of_read and told.counted.warning == ""
    assert told.district_rate is not None and told.district_rate.value == 0
    assert told.district_odds is not None and told.district_odds.fewer_than_one_in == 270


def test_most_left_out_is_said_first_and_loud() -> None:
    lost = [replace(c, y=c.y + 9_000_000.0) if n % 3 else c for n, c in enumerate(along_the_creek())]
    told = find(given(*lost), district(), ASKED)
    first = counted_lines(told)[0]
    assert first.startswith("Most calls are not counted: of 90, 60 lie outside the region")
    assert "too low" in first and told.district_rate is not None


@pytest.mark.parametrize(("lost", "loud"), [(10, False), (11, True)])
def test_half_is_not_most(lost: int, loud: bool) -> None:
    """Calls of other times are left out because it was asked so: they do not count for this."""
    gone = ALL | {"other_times": 500, "without_place": lost}
    told = Counted(510 + lost, outside_region=0, outside_extent=0, calls=10, incidents=10, silence="", **gone)
    assert bool(told.warning) is loud


def test_the_page_says_it_before_all_else(none: Hotspots) -> None:
    page = hotspots_page(none, district())
    assert page.count(none.counted.warning) == 1
    assert page.index(none.counted.warning) < page.index("What this page says")
