"""Yearly figures are of whole years, and say which; a part of a year is never scaled to one."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

import numpy as np
import pytest
import shapely

from tests.hotspots.test_found import ASKED, district, given
from tussock.hotspots.calls import Call
from tussock.hotspots.counts import garwood
from tussock.hotspots.finding import find
from tussock.hotspots.found import Asked, Hotspots, Units
from tussock.maps.hotspots_edges import counted_lines
from tussock.maps.hotspots_files import cells_csv
from tussock.maps.hotspots_told import cell_told
from tussock.maps.hotspots_words import district_words, odds_words, time_words

FIRST, LAST = date(2025, 9, 1), date(2026, 11, 16)
HOMES = 40 * 25
"""Those of the made district that are known."""


def asked(first: date, last: date) -> Asked:
    return replace(ASKED, first=first, last=last, now=datetime(2027, 1, 1, tzinfo=UTC), replicates=19)


@cache
def springs() -> tuple[Call, ...]:
    """A call every second day of September to mid-November, every eighth day else; no two within 50 m."""
    made: list[Call] = []
    place = np.random.default_rng(5).permutation(20 * 12)
    for n in range((LAST - FIRST).days + 1):
        time = datetime(2025, 9, 1, 9, tzinfo=UTC) + timedelta(days=n)
        spring = time.month in (9, 10) or (time.month == 11 and time.day <= 16)
        if n % (2 if spring else 8) == 0:
            at = int(place[len(made)])
            x, y = 20.0 + 80 * (at % 20), 20.0 + 80 * (at // 20)
            made.append(Call(f"K-{n:03d}", time, x, y, 10.0, "", "not_found", "", captured=False))
    return tuple(made)


@cache
def found(first: date = FIRST, last: date = LAST) -> Hotspots:
    return find(given(*springs()), district(), asked(first, last))


def _of_the_year() -> int:
    return sum(c.time.date() >= date(2025, 11, 17) for c in springs())


def test_a_second_spring_does_not_raise_the_rate_of_a_year() -> None:
    """77 days of spring and 288 others: 38 or 39 and 36 calls. Scaled from 442 days it would be 94."""
    n, scaled = _of_the_year(), len(springs()) * 365.25 / 442
    assert 73 <= n <= 76 and scaled > 1.2 * n
    told = found()
    assert told.counted.incidents == len(springs())
    assert told.district_rate is not None and told.district_rate.value == pytest.approx(1000 * n / HOMES)
    assert told.district_rate.high == pytest.approx(1000 * garwood(n).high / HOMES)
    assert told.district_odds is not None and told.district_odds.years == 1
    assert told.district_odds.incidents == n


def test_the_figures_of_the_year_are_those_of_that_year_alone() -> None:
    """The same as when no more than that year had been observed: 365 days, which are a whole year."""
    year = found(date(2025, 11, 17), LAST)
    assert (year.asked.days, year.asked.years) == (365, 1.0)
    assert year.district_rate == found().district_rate
    assert year.district_odds == found().district_odds
    assert year.district_odds is not None and year.district_odds.one_in is not None


def test_rates_of_cells_add_up_to_the_year() -> None:
    """Their pattern is of all the time observed, their level of the whole year: as many calls as it had."""
    rates = found().rates
    assert rates is not None
    cells = rates.cells
    timely = [c for c in springs() if c.time.date() >= date(2025, 11, 17)]
    tested = cells.tested
    share = len(timely) / len(springs()) if tested.all() else rates.a_year
    assert rates.a_year == pytest.approx(share)
    rate, low, high = rates.yearly()
    assert np.nansum(rate * cells.homes / 1000) == pytest.approx(cells.incidents[tested].sum() * rates.a_year)
    over = rates.smoothed.rate()
    assert rate[tested] == pytest.approx(over[0][tested] * rates.a_year)
    assert (low[tested] <= rate[tested]).all() and (rate[tested] <= high[tested]).all()


def test_odds_of_cells_rest_on_the_calls_of_the_year() -> None:
    rates = found().rates
    assert rates is not None
    own = [
        o for o, name in zip(rates.odds, rates.cells.names, strict=True) if o.area == name and not o.reason
    ]
    row = {name: i for i, name in enumerate(rates.cells.names)}
    assert all(o.years == 1 and o.incidents <= rates.cells.incidents[row[o.area]] for o in own)
    whole = [o for o in rates.odds if o.area == "the district" and not o.reason]
    assert own or whole
    assert all(o.incidents == _of_the_year() for o in whole)


def test_the_page_says_which_time_the_figures_are_of() -> None:
    told = found()
    assert "yearly figures are of 2025-11-17 to 2026-11-16" in counted_lines(told)[-1]
    assert any("2025-11-17 to 2026-11-16" in note for note in told.notes)
    assert district_words(told).endswith("incidents per 1,000 homes a year")
    assert not any("whole years only" in n for n in found(date(2025, 11, 17), LAST).notes)


def test_twenty_days_have_no_yearly_figure() -> None:
    """20 days in January: the rate is of those days, as many as there were; no odds, no yearly column."""
    told = find(given(*springs()), district(), asked(date(2025, 9, 5), date(2025, 9, 24)))
    n = told.counted.incidents
    assert n == 10
    assert told.district_rate is not None and told.district_rate.value == pytest.approx(1000 * n / HOMES)
    assert district_words(told).endswith("per 1,000 homes in the time observed (20 days)")
    assert told.district_odds is not None and told.district_odds.one_in is None
    assert "20 days were observed" in odds_words(told.district_odds)
    assert told.rates is not None and all(o.reason for o in told.rates.odds)
    assert "no yearly figures" in counted_lines(told)[-1]


def test_cells_of_less_than_a_year_have_no_yearly_figure() -> None:
    halves = np.array([shapely.box(0, 0, 780, 950), shapely.box(780, 0, 1600, 950)], dtype=object)
    drawn = replace(asked(date(2025, 11, 18), LAST), units=Units(halves, ("west", "east")))
    told = find(given(*springs()), district(), drawn)
    head, *rows = (line.split(",") for line in cells_csv(told).splitlines())
    year, over = head.index("per_1000_year"), head.index("per_1000_observed")
    assert rows and all(not row[year] for row in rows)
    assert any(row[over] for row in rows)
    assert told.rates is not None
    said = " ".join(cell_told(told, told.rates, 1, int(np.flatnonzero(told.rates.cells.tested)[0]))[1])
    assert "per 1,000 homes in the time observed (364 days)" in said
    assert "a year" not in said.replace("a year is not made", "")


def test_a_day_short_of_a_year_is_none() -> None:
    assert time_words(asked(date(2025, 11, 18), LAST)) == "in the time observed (364 days)"
    assert time_words(asked(date(2025, 11, 17), LAST)) == "a year"


def test_no_call_in_the_whole_year_is_no_interval_from_nothing_to_nothing() -> None:
    """Calls before the year alone: none from the homes in a year, and cells have no yearly rate."""
    early = [c for c in springs() if c.time.date() < date(2025, 11, 17)]
    told = find(given(*early), district(), asked(FIRST, LAST))
    assert told.rates is not None and np.isnan(told.rates.a_year)
    assert told.district_rate is not None and told.district_rate.value == 0
    assert told.district_rate.high == pytest.approx(1000 * garwood(0).high / HOMES)
    assert told.district_odds is not None and told.district_odds.fewer_than_one_in == 270
