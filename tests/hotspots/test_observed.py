"""Whole years and days of months, counted by hand on a calendar."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.hotspots.observed import WholeYears, days_by_month, whole_years

DAYS = st.dates(date(1990, 1, 1), date(2060, 12, 31))


@pytest.mark.parametrize(
    ("first", "last", "begins", "years"),
    [
        (date(2025, 9, 1), date(2026, 11, 16), date(2025, 11, 17), 1),
        (date(2025, 11, 17), date(2026, 11, 16), date(2025, 11, 17), 1),  # 365 days, 0.9993 of 365.25
        (date(2023, 7, 1), date(2025, 6, 30), date(2023, 7, 1), 2),
        (date(2023, 7, 2), date(2025, 6, 30), date(2024, 7, 1), 1),
        (date(2024, 1, 1), date(2024, 12, 31), date(2024, 1, 1), 1),  # 366 days
        (date(2023, 1, 1), date(2024, 2, 28), date(2023, 3, 1), 1),  # the day after is 29 February
        (date(2020, 1, 1), date(2024, 2, 28), date(2020, 2, 29), 4),
        (date(2023, 1, 1), date(2024, 2, 29), date(2023, 3, 1), 1),
    ],
)
def test_whole_years_end_with_the_last_day(first: date, last: date, begins: date, years: int) -> None:
    assert whole_years(first, last) == WholeYears(begins, last, years)


@pytest.mark.parametrize(
    ("first", "last"),
    [
        (date(2026, 1, 1), date(2026, 1, 20)),
        (date(2025, 11, 18), date(2026, 11, 16)),
        (date(2024, 1, 1), date(2024, 12, 30)),  # 365 days of a leap year
    ],
)
def test_less_than_a_year_is_none(first: date, last: date) -> None:
    assert whole_years(first, last) is None


@given(DAYS, st.integers(0, 5000))
def test_every_calendar_month_is_whole_in_whole_years(first: date, length: int) -> None:
    """In whole years no month is seen more often than another, but for the 29ths of February."""
    last = first + timedelta(days=length)
    found = whole_years(first, last)
    if found is None:
        assert length + 1 <= 365
        return
    assert first <= found.first and found.last == last
    assert (found.first - first).days < 366
    usual = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    for month, days in enumerate(days_by_month(found.first, found.last)):
        spare = days - usual[month] * found.years
        assert 0 <= spare <= (found.years // 4 + 1 if month == 1 else 0)


def test_days_of_each_month() -> None:
    """1 September 2025 to 16 November 2026: two Septembers and Octobers, 46 days of November."""
    found = days_by_month(date(2025, 9, 1), date(2026, 11, 16))
    assert found == (31, 28, 31, 30, 31, 30, 31, 31, 60, 62, 46, 31)
    assert days_by_month(date(2024, 2, 10), date(2024, 2, 29))[1] == 20
