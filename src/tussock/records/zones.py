"""Local times of a table made instants: a zone of their row's own, never a guess."""

from __future__ import annotations

import re
from datetime import UTC, datetime

from tussock.clock import parse_instant, parse_zone
from tussock.errors import InputError
from tussock.names import MONTHS

ZONE = "timeZone"
"""Column with the zone of its row's local times: an offset such as +11:00, or an IANA name."""
_LOCAL = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?")
_OFFSET = re.compile(r"Z|[+-]\d{2}:?\d{2}")
_PARTS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})\b(.*)", re.DOTALL)
_ISO = "ISO 8601 with its offset, such as 2026-11-21T16:20+11:00"


def check_instant(text: str, where: str) -> None:
    """Refuse what is no instant; a day and month that could be swapped are named, both ways.

    Raises
    ------
    InputError
        When it is none.
    """
    parts = _PARTS.fullmatch(text.strip())
    if _LOCAL.fullmatch(text.strip()):
        found, fix = f"'{text[:40]}' has no zone, so the instant is not known", f"add it, or a column {ZONE}"
        raise InputError(found, where=where, allowed=_ISO, fix=fix)
    if parts is None:
        parse_instant(text, where=where)
        return
    first, second = int(parts[1]), int(parts[3])
    if 1 <= first <= 12 and 1 <= second <= 12 and first != second:
        meant = f"{first} {MONTHS[second - 1]} or {second} {MONTHS[first - 1]}"
        found, fix = f"'{text[:40]}' may be {meant}", "look it up and write the one that is meant"
    else:
        found, fix = f"'{text[:40]}' is not a date and time in that order", "write the year first"
    raise InputError(found, where=where, allowed=_ISO, fix=fix)


def with_offset(text: str, zone: str, *, where: str) -> str:
    """Return a local time with the offset that its zone has then; any other text as it is.

    Parameters
    ----------
    zone
        What stands in the row's column ``timeZone``; empty where nothing does.

    Raises
    ------
    InputError
        For a zone that is none, and for a local time that a change of clocks left out or made twice.

    Examples
    --------
    >>> with_offset("2026-11-21T16:20", "Australia/Hobart", where="")
    '2026-11-21T16:20+11:00'
    """
    if not zone or not _LOCAL.fullmatch(text):
        return text
    if _OFFSET.fullmatch(zone):
        return text + zone
    try:
        local = datetime.fromisoformat(text)
    except ValueError:  # such as 30 February: said by who reads it
        return text
    return text + _offset(local, zone, where=where)


def _offset(local: datetime, name: str, *, where: str) -> str:
    zone = parse_zone(name, where=f"{where}, {ZONE}")
    early, late = (local.replace(tzinfo=zone, fold=f) for f in (0, 1))
    if early.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != local:
        raise InputError(
            f"{local.isoformat()} did not happen in {name}: the clocks were set forward over it",
            where=where,
            allowed=_ISO,
            fix="correct the time",
        )
    if early.utcoffset() != late.utcoffset():
        raise InputError(
            f"{local.isoformat()} happened twice in {name}: the clocks were set back",
            where=where,
            allowed=f"its offset, {early.isoformat()[-6:]} for the first or {late.isoformat()[-6:]}",
            fix="write the time with the offset that is meant",
        )
    return early.isoformat()[-6:]
