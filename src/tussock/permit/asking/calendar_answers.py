"""Sorts of answers about time: dates, months, days of the year, clock times."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from tussock.clock import parse_date
from tussock.errors import InputError
from tussock.names import MONTHS
from tussock.permit.asking.answers import parts, picked
from tussock.permit.asking.talk import Answer
from tussock.permit.plain.dates import day_words

_CLOCK = re.compile(r"(\d{1,2})(?:[:.]?(\d{2}))?\s*(am|pm|a\.m\.|p\.m\.|h)?", re.IGNORECASE)
_NOON = 12
_WINDOWS = {"daylight": "daylight", "active_period": "active period"}


def day() -> Answer:
    """Return the answer that is a date, in figures or with the month as a word."""
    return Answer(_day, "A date, such as 2026-07-01 or 1 July 2026.", show=_day_shown, echo=_day_shown)


def _day_shown(value: Any) -> str:
    return day_words(value) if isinstance(value, date) else str(value)


def _day(text: str) -> date:
    found = re.fullmatch(r"(\d{1,2})\s+([A-Za-z]+)\.?,?\s+(\d{4})", text.strip())
    try:
        if found is None:
            return parse_date(text, where="")
        return date(int(found[3]), _month(found[2]), int(found[1]))
    except ValueError:
        allowed = "a date with the month as a word or in the middle: 1 July 2026, 2026-07-01"
        raise InputError(f"'{text[:60]}' is no date", allowed=allowed) from None


def _month(text: str) -> int:
    """Return a month by its number, its name or the beginning of its name."""
    low = text.strip().lower()
    if low.isascii() and low.isdigit() and 1 <= int(low[:3]) <= len(MONTHS):
        return int(low[:3])
    found = [n for n, name in enumerate(MONTHS, start=1) if len(low) >= 3 and name.lower().startswith(low)]
    if len(found) != 1:
        raise InputError(f"'{text[:60]}' is no month", allowed=", ".join(MONTHS))
    return found[0]


def months() -> Answer:
    """Return the answer that is a list of months; a range may pass the new year."""

    def parse(text: str) -> list[int]:
        found = [m for part in parts(text) for m in _month_range(part)]
        return list(dict.fromkeys(found))

    return Answer(
        parse,
        "Months, such as October, or a range such as October to March.",
        show=lambda value: ", ".join(MONTHS[m - 1] for m in value),
        echo=lambda value: ", ".join(MONTHS[m - 1] for m in value),
    )


def _month_range(text: str) -> list[int]:
    ends = [_month(part) for part in re.split(r"\s+to\s+|\s*[-–]\s*", text.strip(), maxsplit=1)]
    first, last = ends[0], ends[-1]
    return [(first - 1 + n) % 12 + 1 for n in range((last - first) % 12 + 1)]


def month_day() -> Answer:
    """Return the answer that is a day of every year, as MM-DD in the file."""

    def parse(text: str) -> str:
        found = re.fullmatch(r"(\d{1,2})\s+([A-Za-z]+)\.?", text.strip())
        return f"{_month(found[2]):02d}-{int(found[1]):02d}" if found else text.strip()

    return Answer(parse, "A day of the year, such as 30 June (or 06-30: month-day).", show=_month_day_words)


def _month_day_words(value: Any) -> str:
    month, _, number_of_day = str(value).partition("-")
    return f"{int(number_of_day)} {MONTHS[int(month) - 1]}"


def clock() -> Answer:
    """Return the answer that is a local clock time, as HH:MM in the file."""
    return Answer(_clock, "A local clock time, such as 20:00 or 8 pm.", echo=str, show=lambda v: str(v)[:5])


def _clock(text: str) -> str:
    found = _CLOCK.fullmatch(text.strip())
    half = (found[3] or "").lower().replace(".", "") if found else ""
    hour, minute = (int(found[1]), int(found[2] or 0)) if found else (-1, 0)
    twelve_hours = half in ("am", "pm")
    if found is None or (not found[2] and not half) or (twelve_hours and not 1 <= hour <= _NOON):
        raise InputError(f"'{text[:60]}' is no clock time", allowed="such as 20:00 or 8 pm")
    if twelve_hours:
        hour = hour % _NOON + (_NOON if half == "pm" else 0)
    if hour > 23 or minute > 59:
        raise InputError(f"'{text[:60]}' is no clock time", allowed="00:00 to 23:59")
    return f"{hour:02d}:{minute:02d}"


def window() -> Answer:
    """Return the answer that is daylight, the active period, or two clock times."""

    def parse(text: str) -> Any:
        ends = re.split(r"\s+(?:to|and|until)\s+|\s*[-–]\s*", re.sub(r"^(between|from)\s+", "", text.strip()))
        if len(ends) == 2 and any(c.isdigit() for c in text):
            return {"from": _clock(ends[0]), "to": _clock(ends[1])}
        return picked(text, _WINDOWS)

    return Answer(
        parse,
        "The number or word of one of the first two, or two clock times such as 20:00 to 05:30.",
        (
            "   1  daylight: from sunrise to sunset",
            "   2  active period: when the species is about",
            "      or two clock times, such as 06:00 to 18:30",
        ),
        show=lambda v: v.replace("_", " ") if isinstance(v, str) else f"{v['from']} to {v['to']}",
    )
