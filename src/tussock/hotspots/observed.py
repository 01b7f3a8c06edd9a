"""The time observed: the whole years that yearly figures rest on, and the days of each calendar month.

Calls have seasons, so a part of a year cannot be scaled to one: 442 days that hold two springs would give
more calls a year than any year had.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

LEAST_DAYS = 14
"""Days of a calendar month [d] below which nothing is said of it (choice of this project)."""


@dataclass(frozen=True)
class WholeYears:
    """Whole calendar years that end with the last day observed; both days are included."""

    first: date
    last: date
    years: int

    def holds(self, day: date) -> bool:
        """Return whether a day is one of them."""
        return self.first <= day <= self.last


def whole_years(first: date, last: date) -> WholeYears | None:
    """Return the most whole years that end with ``last`` and begin no sooner than ``first``; or ``None``.

    A year runs from a date to the day before that date one year on, be it 365 days or 366; one that would
    begin on a 29 February that is not there begins on 1 March.
    """
    end = last + timedelta(days=1)
    for years in range(end.year - first.year, 0, -1):
        begins = _earlier(end, years)
        if begins >= first:
            return WholeYears(begins, last, years)
    return None


def _earlier(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year - years)
    except ValueError:
        return date(day.year - years, 3, 1)


def days_by_month(first: date, last: date) -> tuple[int, ...]:
    """Return how many days of each calendar month, from January on, lie between two days, both included."""
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)
    months = days.astype("datetime64[M]").astype(np.int64) % 12
    return tuple(np.bincount(months, minlength=12).tolist())
