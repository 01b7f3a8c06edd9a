"""Victoria's annual return, through the permit file that quotes it.

Source: Conservation Regulator, Victoria, *Licences - annual returns* (Wildlife Regulations 2024),
https://vic.gov.au/licences-annual-returns: the year is 1 April to 31 March, the return is due on 14 April,
and a nil return is still required.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tussock.permit.permit_file import Permit, read_permit
from tussock.records.return_periods import last_period, period_ending
from tussock.records.returns import return_for


@pytest.fixture(scope="module")
def permit() -> Permit:
    return read_permit(Path(__file__).parent / "published_rules" / "victoria.toml")


def test_the_year_and_the_day_it_is_due(permit: Permit) -> None:
    period = last_period(permit, date(2026, 6, 1))
    assert (period.first, period.last) == (date(2025, 4, 1), date(2026, 3, 31))
    assert period.due == date(2026, 4, 14)
    assert period == period_ending(permit, date(2026, 3, 31))


def test_the_year_runs_until_its_last_day_is_over(permit: Permit) -> None:
    assert last_period(permit, date(2026, 3, 31)).last == date(2025, 3, 31)
    assert last_period(permit, date(2026, 4, 1)).last == date(2026, 3, 31)


def test_a_nil_return_is_still_required(permit: Permit) -> None:
    found = return_for((), permit, period_ending(permit, date(2026, 3, 31)), today=date(2026, 4, 1))
    assert (found.nil, found.asked, found.gaps) == (True, True, ())
