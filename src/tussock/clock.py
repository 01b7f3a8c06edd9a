"""Instants with a zone, and the permit's local dates."""

from __future__ import annotations

import re
from datetime import date, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tussock.errors import InputError

FIRST_YEAR, LAST_YEAR = 1900, 2100
"""Years that a record can be of; any other is a slip of the pen (choice of this project)."""
_DAY = re.compile(r"^\d{4}-\d{2}-\d{2}$")
_ISO = re.compile(r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?\s*(Z|[+-]\d{2}(:?\d{2})?)?$")


def parse_instant(text: str, *, where: str) -> datetime:
    """Return the instant that an ISO 8601 text with a zone names.

    Parameters
    ----------
    text
        For example ``2026-11-21T16:20+11:00`` or ``2026-11-21T05:20Z``.
    where
        File and row, or option; named in the error.

    Raises
    ------
    InputError
        When it is no ISO 8601 date and time, or has no zone.

    Examples
    --------
    >>> parse_instant("2026-11-21T16:20+11:00", where="--time").isoformat()
    '2026-11-21T16:20:00+11:00'
    """
    allowed = "ISO 8601 with its offset, such as 2026-11-21T16:20+11:00 or 2026-11-21T05:20Z"
    cleaned = text.strip()
    if not _ISO.match(cleaned):
        raise InputError(
            f"'{text[:60]}' is not a date and time", where=where, allowed=allowed, fix="write it so"
        )
    try:
        instant = datetime.fromisoformat(cleaned)
    except ValueError as error:
        raise InputError(
            f"'{text[:60]}' is not a date and time ({error})", where=where, allowed=allowed
        ) from None
    if instant.tzinfo is None:
        raise InputError(
            f"'{text[:60]}' has no zone, so the instant is not known",
            where=where,
            allowed=allowed,
            fix="add the offset of local time",
        )
    if not FIRST_YEAR <= instant.year <= LAST_YEAR:
        raise InputError(
            f"'{text[:60]}' is in the year {instant.year}",
            where=where,
            allowed=f"years {FIRST_YEAR} to {LAST_YEAR}",
            fix="correct the year",
        )
    return instant


def parse_zone(name: str, *, where: str) -> ZoneInfo:
    """Return the IANA time zone.

    Raises
    ------
    InputError
        When there is none of that name.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            f"'{name[:60]}' is not a time zone",
            where=where,
            allowed="an IANA name such as Australia/Hobart",
            fix="use the name of the zone the permit's clock times are in",
        ) from None


def parse_date(text: str, *, where: str) -> date:
    """Return the calendar date of an ISO text (yyyy-mm-dd).

    Raises
    ------
    InputError
        When it is none.
    """
    try:
        if not _DAY.match(text.strip()):
            raise ValueError
        return date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            f"'{text[:60]}' is not a date", where=where, allowed="a date such as 2026-11-21"
        ) from None


def local_date(instant: datetime, zone: ZoneInfo) -> date:
    """Return the local calendar date of an instant."""
    return instant.astimezone(zone).date()
