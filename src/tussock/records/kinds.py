"""What each kind of entry must hold, how it gets its id, and how a table tells its kind.

Columns that nobody knows are kept as they are, but for those that would carry residents' details into a book
that forgets nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from tussock.errors import InputError
from tussock.position import LATITUDE, LONGITUDE
from tussock.records.entries import (
    CALLOUT,
    CAPTURE,
    CHECK,
    CONSENT,
    CONTAINER,
    DISPOSAL,
    ID_COLUMN,
    INCIDENT,
    disposal_id,
)

NEEDED: Mapping[str, tuple[str, ...]] = {
    CALLOUT: ("calloutID", "eventDate"),
    CAPTURE: ("captureID", "eventDate", LATITUDE, LONGITUDE),
    DISPOSAL: ("captureID", "eventDate", "disposal"),
    CHECK: ("captureID", "eventDate"),
    CONSENT: ("consentID", "validFrom"),
    INCIDENT: ("eventDate", "incident"),
    CONTAINER: ("containerID", "cleanedDate"),
}
"""Kind of entry → the columns that each of them fills in."""
INSTANTS = ("eventDate", "trapCheckDate", "recordedDate", "reportedDate", "cleanedDate")
"""Columns that hold an instant with its offset, or several parted by ``|``."""
DATES = ("validFrom", "validTo", "withdrawnOn")
"""Columns that hold a local date."""
RESIDENT = ("residentName", "residentPhone", "residentAddress", "residentKeepUntil")
"""Columns of a table of callouts that are kept apart from the book, and deleted after the last."""
_PRIVATE = re.compile(
    r"(resident|caller|householder|tenant|occupant|contact|(land)?(holder|owner))(name|phone|number|address|email)?|"
    r"(tele|mobile|cell)?phone(number|no)?|mobile|email(address)?|(street|home|postal)?address"
)
_TELLS = (
    ("disposalID", DISPOSAL),
    ("disposal", DISPOSAL),
    ("checkID", CHECK),
    ("incidentID", INCIDENT),
    ("incident", INCIDENT),
    ("consentID", CONSENT),
    ("cleanedDate", CONTAINER),
    ("captureID", CAPTURE),
    ("calloutID", CALLOUT),
)
"""Column → the kind of entries whose table it gives away; the first that is there decides."""
TELLING = tuple(column for column, _ in _TELLS)
"""Those columns."""


def guess_kind(columns: Iterable[str], *, where: str) -> str:
    """Return the kind of entries that a table with these columns holds.

    Raises
    ------
    InputError
        When no column tells.
    """
    found = next((kind for column, kind in _TELLS if column in set(columns)), None)
    if found is None:
        raise InputError(
            f"no column tells what it holds; found {', '.join(columns)[:300]}",
            where=where,
            allowed=", ".join(f"{c} ({k})" for k, c in ID_COLUMN.items()),
            fix="add the column of ids, or name the kind with --kind",
        )
    return found


def check_columns(kind: str, columns: Iterable[str], *, where: str) -> None:
    """Refuse columns that would carry residents' details into the book.

    Raises
    ------
    InputError
        Naming them.
    """
    own = RESIDENT if kind == CALLOUT else ()
    private = [c for c in columns if c not in own and _PRIVATE.fullmatch(re.sub("[^a-z]", "", c.lower()))]
    if private:
        raise InputError(
            f"column {', '.join(private)[:200]} looks like a resident's details",
            where=where,
            allowed=f"{', '.join(RESIDENT)} in a table of callouts: kept apart, deleted after the last",
            fix="rename the column, or leave it out",
        )


def id_of(kind: str, cells: Mapping[str, str]) -> str:
    """Return the id of an entry: its own, or one made of what it belongs to, where that names it."""
    own, capture = cells.get(ID_COLUMN[kind], ""), cells.get("captureID", "")
    if own or kind in (CALLOUT, CAPTURE, CONSENT, CONTAINER):
        return own
    if kind == DISPOSAL:
        return disposal_id(capture, cells.get("organismID", "")) if capture else ""
    parts = (capture, cells.get("incident", "") if kind == INCIDENT else "", cells.get("eventDate", ""))
    return "/".join(p for p in parts if p)
