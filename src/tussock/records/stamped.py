"""An entry typed in: when it was recorded is the clock's, and who recorded it is known.

Tables that are imported are never filled in so: when their rows were written down, the import cannot know.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from datetime import datetime

from tussock.records.entries import CAPTURE, DISPOSAL, Entry

RECORDED, HANDLED = "recordedDate", "recordedBy"
STAMPED = (CAPTURE, DISPOSAL)
"""Kinds of entries about which a permit asks when they were written down."""


def stamp(*, at: datetime, by: str = "") -> dict[str, str]:
    """Return the columns that an entry made now has, where it does not say otherwise.

    Parameters
    ----------
    by
        Who recorded it; empty to leave that open, as whoever types a book in need not have been there.
    """
    return {RECORDED: at.isoformat()} | ({HANDLED: by} if by else {})


def stamped(
    entry: Entry, filling: Mapping[str, str], *, states: Iterable[Entry] = (), open_: Container[str] = ()
) -> Entry:
    """Return an entry with the columns filled in that it leaves out.

    Parameters
    ----------
    filling
        As :func:`stamp` gives it.
    states
        That the book has of the entry, the first first: typed in again it is what it was, whatever the
        clock says now.
    open_
        Columns that are to stay empty, as somebody said so.
    """
    if entry.kind not in STAMPED:
        return entry
    missing = [c for c in filling if not entry.get(c) and c not in open_]
    there = list(states)
    for state in reversed(there):
        if _filled(entry, missing, state.cells).cells == {c: v for c, v in state.cells.items() if v}:
            return _filled(entry, missing, state.cells)
    return _filled(entry, missing, there[-1].cells if there else filling)


def _filled(entry: Entry, missing: Iterable[str], cells: Mapping[str, str]) -> Entry:
    more = {c: cells[c] for c in missing if cells.get(c)}
    return Entry(entry.kind, entry.id, {**entry.cells, **more}, entry.where)
