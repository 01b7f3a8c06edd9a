"""The states of entries as rows of the database: read, and put into words."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

import sqlalchemy as sa

from tussock.errors import InputError
from tussock.records.entries import KINDS, Entry, Revision
from tussock.records.schema import entries, revisions

Key = tuple[str, str]
"""Kind and id."""
_AT_ONCE = 500
"""Ids asked for in one query; SQLite's oldest limit is 999."""
LOGBOOK = "logbook"
"""Where an entry of the logbook was read."""


@dataclass(frozen=True)
class State:
    """The last state of an entry, and its row."""

    row: int
    number: int
    entry: Entry


def last_states(connection: sa.Connection, kind: str | None = None) -> list[Entry]:
    """Return the present entries, of one kind or all, by kind and then id."""
    wanted = _LAST if kind is None else _LAST.where(entries.c.kind == kind)
    found = [_state(r).entry for r in connection.execute(wanted)]
    return sorted(found, key=lambda e: (_place(e.kind), e.id))


def states_of(connection: sa.Connection, keys: Iterable[Key]) -> dict[Key, State]:
    """Return the last states of those of the keys that there are."""
    found: dict[Key, State] = {}
    for kind, ids in _chunks(keys):
        for row in connection.execute(_LAST.where(entries.c.kind == kind, entries.c.id.in_(ids))):
            found[row.kind, row.id] = _state(row)
    return found


def rows_of(connection: sa.Connection, keys: Iterable[Key]) -> dict[Key, int]:
    """Return the rows of those of the keys that there are."""
    found: dict[Key, int] = {}
    for kind, ids in _chunks(keys):
        asked = sa.select(entries.c.id, entries.c.row)
        for row in connection.execute(asked.where(entries.c.kind == kind, entries.c.id.in_(ids))):
            found[kind, row.id] = row.row
    return found


def all_states(connection: sa.Connection, *wanted: sa.ColumnElement[bool]) -> tuple[Revision, ...]:
    """Return the revisions that satisfy conditions, in the order in which they were made."""
    ordered = _ALL.where(*wanted).order_by(revisions.c.at, revisions.c.entry, revisions.c.number)
    return tuple(
        Revision(_entry(r), r.number, datetime.fromisoformat(r.at), r.by, r.why)
        for r in connection.execute(ordered)
    )


def earlier_states(connection: sa.Connection, keys: Iterable[Key]) -> Iterator[Entry]:
    """Yield every state, the last ones too, that those of the keys had that there are."""
    for kind, ids in _chunks(keys):
        for row in connection.execute(_ALL.where(entries.c.kind == kind, entries.c.id.in_(ids))):
            yield _entry(row)


def as_text(cells: Mapping[str, str]) -> str:
    """Return cells as JSON in their order; letters stay readable, half characters are escaped."""
    text = json.dumps(dict(cells), ensure_ascii=False)
    return text if _can_be_stored(text) else json.dumps(dict(cells))


def instant(at: datetime) -> str:
    """Return an instant as text that sorts as time does.

    Raises
    ------
    InputError
        For a time without a zone.
    """
    if at.tzinfo is None:
        fix = "give the zone's offset, as in 2026-03-01T14:05+11:00"
        raise InputError(f"the time {at.isoformat()} has no zone", allowed="a time with a zone", fix=fix)
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def word(text: str, *, what: str, must: bool = True) -> str:
    """Return a text that names or explains something, without space around it.

    Raises
    ------
    InputError
        Where it is empty and must not be, or holds what a database does not take.
    """
    stripped = text.strip()
    if must and not stripped:
        raise InputError(f"{what} is empty", where=LOGBOOK, allowed="some words", fix=f"give {what}")
    if "\0" in stripped or not _can_be_stored(stripped):
        found = f"{what} has characters that are no text"
        raise InputError(found, where=LOGBOOK, allowed="letters, digits, signs", fix="type it anew")
    return stripped


def _can_be_stored(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def _place(kind: str) -> int:
    return KINDS.index(kind) if kind in KINDS else len(KINDS)


def _chunks(keys: Iterable[Key]) -> Iterator[tuple[str, list[str]]]:
    """Return the keys by kind, some at a time; what no database takes names nothing and is left out."""
    kinds: dict[str, dict[str, None]] = {}
    for kind, name in keys:
        if "\0" in name or not _can_be_stored(name):
            continue
        kinds.setdefault(kind, {})[name] = None
    for kind, names in kinds.items():
        ids = list(names)
        yield from ((kind, ids[i : i + _AT_ONCE]) for i in range(0, len(ids), _AT_ONCE))


def _state(row: sa.Row[tuple[int, str, str, int, str, str, str, str]]) -> State:
    return State(row.row, row.number, _entry(row))


def _entry(row: sa.Row[tuple[int, str, str, int, str, str, str, str]]) -> Entry:
    return Entry(row.kind, row.id, json.loads(row.cells), LOGBOOK)


_ALL: sa.Select[tuple[int, str, str, int, str, str, str, str]] = sa.select(
    entries.c.row,
    entries.c.kind,
    entries.c.id,
    revisions.c.number,
    revisions.c.cells,
    revisions.c.at,
    revisions.c.by,
    revisions.c.why,
).join_from(entries, revisions, revisions.c.entry == entries.c.row)

_later = revisions.alias()
_LAST = _ALL.where(
    revisions.c.number
    == sa.select(sa.func.max(_later.c.number)).where(_later.c.entry == entries.c.row).scalar_subquery()
)
