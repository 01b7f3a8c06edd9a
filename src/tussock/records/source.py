"""Entries from tables: captures, how holding ended, and what goes with them, a table each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tussock.errors import Faults, InputError
from tussock.ground.region import sha256
from tussock.records.entries import (
    CALLOUT,
    CAPTURE,
    CHECK,
    CONSENT,
    CONTAINER,
    DISPOSAL,
    ID_COLUMN,
    INCIDENT,
    Entry,
    disposal_id,
)
from tussock.tables import Row, Table, read_table

_NEEDED: Mapping[str, tuple[str, ...]] = {
    CALLOUT: ("calloutID", "eventDate"),
    CAPTURE: ("captureID", "eventDate", "decimalLatitude", "decimalLongitude"),
    DISPOSAL: ("captureID", "eventDate", "disposal"),
    CHECK: ("captureID", "eventDate"),
    CONSENT: ("consentID", "validFrom"),
    INCIDENT: ("eventDate", "incident"),
    CONTAINER: ("containerID", "cleanedDate"),
}
"""Kind of entry → the columns that its table must have."""
MOST_FAULTS = 50


@dataclass(frozen=True)
class Book:
    """Entries as read.

    Attributes
    ----------
    keeps
        Kinds that the book keeps even where there is no entry of them.
    inputs
        Name → SHA-256 of each file read.
    """

    entries: tuple[Entry, ...]
    keeps: tuple[str, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)


def open_book(tables: Mapping[str, Path]) -> Book:
    """Return the entries of tables, given by the kind of their entries.

    Raises
    ------
    InputError
        For every row that has no id of its own, and for a table without its columns.
    """
    faults = Faults()
    entries = [e for kind, path in tables.items() for e in _entries(kind, read_table(path), faults)]
    faults.raise_if_any(most=MOST_FAULTS)
    if not entries:
        raise InputError("no row below the header", where=", ".join(p.name for p in tables.values()))
    return Book(tuple(entries), (), {p.name: sha256(p) for p in tables.values()})


def _entries(kind: str, table: Table, faults: Faults) -> list[Entry]:
    table.require(_NEEDED[kind])
    found = [
        Entry(kind, _id(kind, row), {c: v for c, v in row.cells.items() if v}, row.where)
        for row in table.rows
    ]
    for name, rows in _by_id(found).items():
        column = ID_COLUMN[kind]
        if not name:
            faults.add(f"{column} is empty", where=rows[0].where, fix="give each an id of its own")
        elif len(rows) > 1:
            faults.add(
                f"{column} '{name[:40]}' stands in {'; '.join(e.where for e in rows)[:120]}",
                where=table.path.name,
                allowed="each id once; several outcomes of one capture have an organismID or disposalID each",
                fix="give each an id of its own",
            )
    return found


def _id(kind: str, row: Row) -> str:
    """Return the id of a row: its own, or for what belongs to a capture one made from that."""
    own, capture = row.get(ID_COLUMN[kind]), row.get("captureID")
    if own or kind in (CALLOUT, CAPTURE, CONSENT, CONTAINER) or not capture:
        return own
    return disposal_id(capture, row.get("organismID")) if kind == DISPOSAL else f"{capture}/{row.number}"


def _by_id(entries: Iterable[Entry]) -> dict[str, list[Entry]]:
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        found.setdefault(entry.id, []).append(entry)
    return found
