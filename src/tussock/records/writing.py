"""New entries and amendments: all faults first, then all rows at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from tussock.errors import Faults, InputError
from tussock.records.entries import CAPTURE, CHECK, DISPOSAL, ID_COLUMN, KINDS, PARENT, Entry, Revision
from tussock.records.schema import entries, revisions
from tussock.records.states import LOGBOOK, Key, as_text, earlier_states, instant, rows_of, states_of, word

NEEDS_PARENT = (DISPOSAL, CHECK)


@dataclass(frozen=True)
class Written:
    """What a writing did.

    Attributes
    ----------
    added
        Entries that are new.
    unchanged
        Entries that were there just so, now or before they were amended.
    amended_since
        Those of the unchanged that are as they once were.
    """

    added: tuple[Entry, ...]
    unchanged: tuple[Entry, ...]
    amended_since: tuple[Entry, ...] = ()


@dataclass(frozen=True)
class Stamp:
    """Who writes, when and why."""

    by: str
    at: datetime
    why: str

    def cells(self) -> dict[str, str]:
        """Return it as columns of a revision; refuse empty names and times without a zone."""
        why = word(self.why, what="the reason", must=False)
        return {"by": word(self.by, what="the name of who writes"), "at": instant(self.at), "why": why}


def differing(one: Entry, other: Entry) -> tuple[str, ...]:
    """Return the columns in which two states differ, in the order of the first, then the second."""
    columns = dict.fromkeys([*one.cells, *other.cells])
    return tuple(c for c in columns if one.get(c) != other.get(c))


def add(connection: sa.Connection, given: Iterable[Entry], stamp: Stamp) -> Written:
    """Write entries that are not there yet.

    Raises
    ------
    InputError
        Listing every entry that is there with other cells, has no parent, or no usable id.
    """
    mark, faults = stamp.cells(), Faults()
    new, same, before = _sorted_out(connection, [_tidy(e, faults) for e in given], faults)
    rows = _numbered(connection, new)
    known = rows | rows_of(connection, (k for e in new.values() if (k := _above(e)) and k not in rows))
    for entry in new.values():
        _check_parent(entry, known, faults)
    faults.raise_if_any()
    if new:
        ordered = sorted(rows.items(), key=lambda item: item[1])
        connection.execute(entries.insert(), [{"row": r, "kind": k, "id": i} for (k, i), r in ordered])
        states = [_state(rows[key], 1, entry, known) | mark for key, entry in new.items()]
        connection.execute(revisions.insert(), states)
    return Written(tuple(new.values()), tuple(same), tuple(before))


def amend(connection: sa.Connection, key: Key, changes: Mapping[str, str], stamp: Stamp) -> Revision:
    """Write a further state of an entry.

    Raises
    ------
    InputError
        Where there is no such entry, no reason, nothing to change, or the change touches the id.
    """
    word(stamp.why, what="the reason of an amendment")
    mark, faults, name = stamp.cells(), Faults(), f"{LOGBOOK}, {key[0]} '{key[1][:40]}'"
    last = states_of(connection, [key]).get(key)
    if last is None:
        raise InputError(
            "no such entry", where=name, allowed="an entry that is there", fix="check kind and id"
        )
    cells = {c: v for c, v in {**last.entry.cells, **changes}.items() if v}
    after = _tidy(Entry(*key, cells, LOGBOOK), faults)
    column = ID_COLUMN.get(key[0], "")
    if column in changes and changes[column] != last.entry.get(column):
        fix = "log it anew under the other id, and say in this one's remarks that it is void"
        faults.add(f"{column} cannot be amended", where=name, allowed="any other column", fix=fix)
    elif not differing(last.entry, after):
        faults.add("the amendment changes nothing", where=name, allowed="other cells", fix="see its history")
    above = _above(after)
    known = rows_of(connection, [above] if above else [])
    _check_parent(after, known, faults)
    faults.raise_if_any()
    connection.execute(revisions.insert(), [_state(last.row, last.number + 1, after, known) | mark])
    return Revision(after, last.number + 1, datetime.fromisoformat(mark["at"]), mark["by"], mark["why"])


def _sorted_out(
    connection: sa.Connection, given: list[Entry], faults: Faults
) -> tuple[dict[Key, Entry], list[Entry], list[Entry]]:
    """Return the entries that are new, those that are there just so, and of these those as they once were.

    Those that are there otherwise are noted.
    """
    there = {k: s.entry for k, s in states_of(connection, ((e.kind, e.id) for e in given)).items()}
    before = logged_before(connection, given, there)
    new: dict[Key, Entry] = {}
    same: list[Entry] = []
    for entry in given:
        key = (entry.kind, entry.id)
        other = there.get(key) or new.get(key)
        if other is None:
            new[key] = entry
        elif (columns := differing(other, entry)) and entry not in before:
            _note_other(entry, other, columns, faults)
        else:
            same.append(entry)
    return new, same, [e for e in same if e in before]


class Seen:
    """Entries by what they say, wherever they were read."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        self._said = {_said(e) for e in entries}

    def __contains__(self, entry: Entry) -> bool:
        return _said(entry) in self._said


def _said(entry: Entry) -> tuple[str, str, tuple[tuple[str, str], ...]]:
    return entry.kind, entry.id, tuple(sorted((c, v) for c, v in entry.cells.items() if v))


def logged_before(connection: sa.Connection, given: Iterable[Entry], there: Mapping[Key, Entry]) -> Seen:
    """Return those of the entries that differ from the last state and are as an earlier one was.

    Whoever brings the same table twice changes nothing, though something was corrected in between.
    """
    other = {(e.kind, e.id): e for e in given if _differs(e, there)}
    return Seen(s for s in earlier_states(connection, other) if _differs(s, there))


def _differs(entry: Entry, there: Mapping[Key, Entry]) -> bool:
    last = there.get((entry.kind, entry.id))
    return last is not None and bool(differing(last, entry))


def _note_other(entry: Entry, other: Entry, columns: tuple[str, ...], faults: Faults) -> None:
    first = columns[0]
    faults.add(
        f"{entry.kind} '{entry.id[:40]}' is there with other {', '.join(columns)[:200]}: "
        f"{first} is '{other.get(first)[:40]}' in {other.where or 'what was read'}, "
        f"'{entry.get(first)[:40]}' here",
        where=_where(entry),
        allowed="a new id, or the same cells",
        fix="give it an id of its own, or change the entry with tussock log amend and say why",
    )


def _numbered(connection: sa.Connection, new: Mapping[Key, Entry]) -> dict[Key, int]:
    """Return rows for new entries, counted on from the last."""
    last = connection.execute(sa.select(sa.func.max(entries.c.row))).scalar() or 0
    return {key: last + place for place, key in enumerate(new, 1)}


def _check_parent(entry: Entry, known: Mapping[Key, int], faults: Faults) -> None:
    above = _above(entry)
    if above and above not in known:
        found, fix = f"there is no {above[0]} '{above[1][:40]}'", f"log the {above[0]} first, or with it"
    elif not above and entry.kind in NEEDS_PARENT:
        found, fix = f"{ID_COLUMN[CAPTURE]} is empty", "name the capture that it belongs to"
    else:
        return
    faults.add(f"{entry.kind} '{entry.id[:40]}': {found}", where=_where(entry), allowed="one there", fix=fix)


def _above(entry: Entry) -> Key | None:
    return (PARENT[entry.kind], entry.parent) if entry.parent else None


def _state(row: int, number: int, entry: Entry, known: Mapping[Key, int]) -> dict[str, object]:
    above = _above(entry)
    parent = known[above] if above else None
    return {"entry": row, "number": number, "parent": parent, "cells": as_text(entry.cells)}


def _tidy(entry: Entry, faults: Faults) -> Entry:
    """Return an entry without empty cells; note an id that cannot be one."""
    own = entry.get(ID_COLUMN.get(entry.kind, ""))
    if entry.kind not in KINDS:
        kinds, fix = ", ".join(KINDS), "name one of these"
        faults.add(f"'{entry.kind[:40]}' is no kind of entry", where=_where(entry), allowed=kinds, fix=fix)
    elif not entry.id.strip() or not entry.id.isprintable() or entry.id != entry.id.strip():
        allowed = "letters, digits, signs; no space around it"
        faults.add(
            f"the id '{entry.id[:40]}' cannot be one",
            where=_where(entry),
            allowed=allowed,
            fix="give another",
        )
    elif own and own != entry.id:
        column = ID_COLUMN[entry.kind]
        faults.add(f"{column} is '{own[:40]}'", where=_where(entry), allowed=entry.id[:40], fix="use one id")
    return Entry(entry.kind, entry.id, {c: v for c, v in entry.cells.items() if v}, entry.where)


def _where(entry: Entry) -> str:
    return entry.where or LOGBOOK
