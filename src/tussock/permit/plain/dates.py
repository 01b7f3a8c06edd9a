"""Dates as people write them."""

from __future__ import annotations

from datetime import date

from tussock.names import MONTHS


def day_words(day: date) -> str:
    """Return a date as people write it.

        Examples
        --------
        >>> from datetime import date

    from tussock.names import MONTHS
        >>> day_words(date(2026, 7, 1))
        '1 July 2026'
    """
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
