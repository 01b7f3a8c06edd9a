"""Entries to audit and to count: of tables, read as an import reads them, or of a logbook."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.errors import Faults, InputError
from tussock.ground.region import sha256
from tussock.records.columns import Near, near_columns
from tussock.records.entries import KINDS, Entry
from tussock.records.tabled import Sheet, read_entries

if TYPE_CHECKING:
    from tussock.records.logbook import Logbook

MOST_FAULTS = 50


@dataclass(frozen=True)
class Book:
    """Entries as read.

    Attributes
    ----------
    keeps
        Kinds that the book keeps even where there is no entry of them.
    inputs
        Name → SHA-256 of each file read; of a logbook, of its entries.
    notes
        Columns that are nearly known ones, in words: what they hold is not read.
    """

    entries: tuple[Entry, ...]
    keeps: tuple[str, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def open_book(tables: Mapping[str, Path]) -> Book:
    """Return the entries of tables (CSV or XLSX), given by the kind of their entries.

    A table gives the entries that it gives a logbook, ids too. What their cells mean is looked at by who
    reads the book; a table may be empty, as long as not all are.

    Raises
    ------
    InputError
        For every row that cannot be an entry, and for a table without its columns.
    """
    faults = Faults()
    sheets = [s for kind, path in tables.items() if (s := _sheet(path, kind, faults)) is not None]
    for refused in (r for sheet in sheets for r in sheet.refused):
        faults.items.extend(refused.why)
    faults.raise_if_any(most=MOST_FAULTS)
    entries = tuple(entry for sheet in sheets for entry in sheet.entries)
    if not entries:
        where = ", ".join(p.name for p in tables.values())
        raise InputError("no row below the header", where=where, fix="fill the table, or name another")
    notes = tuple(
        f"{sheet.path.name}: {near.words}: it is not read" for sheet in sheets for near in _near(sheet)
    )
    return Book(entries, tuple(tables), {p.name: sha256(p) for p in tables.values()}, notes)


def _near(sheet: Sheet) -> tuple[Near, ...]:
    return near_columns(sheet.kind, sheet.columns)


def _sheet(path: Path, kind: str, faults: Faults) -> Sheet | None:
    try:
        return read_entries(path, kind, may_be_empty=True)
    except InputError as error:
        faults.take(error)
        return None


def open_logged(where: str | Path) -> Book:
    """Return the present entries of a logbook, of all kinds.

    Raises
    ------
    InputError
        When there is none, it cannot be read, or it has no entry.
    """
    from tussock.records.logbook import open_logbook

    with open_logbook(where, create=False) as logbook:
        found = logged(logbook)
    if not found.entries:
        fix = "log or import what happened first"
        raise InputError("no entry", where=logbook.database.where, allowed="a logbook with entries", fix=fix)
    return found


def logged(logbook: Logbook) -> Book:
    """Return the present entries of an open logbook, of all kinds; it may have none."""
    entries, where = logbook.entries(), logbook.database.where
    name = where if "://" in where else Path(where).name
    return Book(entries, KINDS, {name: digest(entries)})


def digest(entries: Iterable[Entry]) -> str:
    """Return the SHA-256 of entries as JSON, whatever file or server they are kept in.

    A list of kind, id and cells, ordered by kind and id; keys sorted, no spaces, ASCII.
    """
    listed = [[e.kind, e.id, dict(e.cells)] for e in sorted(entries, key=lambda e: (e.kind, e.id))]
    text = json.dumps(listed, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
