"""The logbook: entries with all their states. Nothing is overwritten; the last state is the present one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from types import TracebackType

from tussock.records import writing
from tussock.records.beside import Beside
from tussock.records.database import PATIENCE_S, connect
from tussock.records.entries import Entry, Revision
from tussock.records.schema import entries, revisions
from tussock.records.states import Key, all_states, instant, last_states, states_of
from tussock.records.writing import Stamp, Written, differing


class Logbook(Beside):
    """An open logbook; a context that closes it."""

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file or the server."""
        self.database.close()

    def write(self, given: Iterable[Entry], *, by: str, at: datetime, why: str = "") -> Written:
        """Add entries, all or none; what is there so, or was before it was amended, is left.

        Raises
        ------
        InputError
            Listing every entry that is there with other cells, or whose parent is missing.
        """
        batch = list(given)
        with self.database.writing() as connection:
            return writing.add(connection, batch, Stamp(by, at, why))

    def amend(
        self, kind: str, name: str, changes: Mapping[str, str], *, by: str, at: datetime, why: str
    ) -> Revision:
        """Add a further state of an entry: some cells changed, an empty text takes one out.

        Raises
        ------
        InputError
            Where there is no such entry or no reason, or nothing would change.
        """
        with self.database.writing() as connection:
            return writing.amend(connection, (kind, name), changes, Stamp(by, at, why))

    def entries(self, kind: str | None = None) -> tuple[Entry, ...]:
        """Return the present entries, of one kind or all, by kind and then id."""
        with self.database.reading() as connection:
            return tuple(last_states(connection, kind))

    def entry(self, kind: str, name: str) -> Entry | None:
        """Return an entry in its present state."""
        with self.database.reading() as connection:
            found = states_of(connection, [(kind, name)]).get((kind, name))
        return found.entry if found else None

    def differs(self, given: Iterable[Entry]) -> dict[Key, tuple[str, ...]]:
        """Return, for entries that are there with other cells, and never were so, the columns that differ."""
        asked = {(e.kind, e.id): e for e in given}
        with self.database.reading() as connection:
            there = {key: state.entry for key, state in states_of(connection, asked).items()}
            before = writing.logged_before(connection, asked.values(), there)
        found = {
            key: differing(entry, asked[key]) for key, entry in there.items() if asked[key] not in before
        }
        return {key: columns for key in asked if (columns := found.get(key, ()))}

    def history(self, kind: str, name: str) -> tuple[Revision, ...]:
        """Return the states that an entry had, the first first; none where there is no such entry."""
        with self.database.reading() as connection:
            found = all_states(connection, entries.c.kind == kind, entries.c.id == name)
        return tuple(sorted(found, key=lambda r: r.number))

    def revisions_since(self, at: datetime) -> tuple[Revision, ...]:
        """Return the states that were written after an instant, by time."""
        with self.database.reading() as connection:
            return all_states(connection, revisions.c.at > instant(at))


def open_logbook(where: str | Path, *, create: bool = True, patience_s: float = PATIENCE_S) -> Logbook:
    """Open a logbook and bring its schema up to date.

    Parameters
    ----------
    where
        A file (SQLite), or `postgresql://…` for one that a team shares.
    create
        Make it where there is none.
    patience_s
        How long to wait for another writer [s].

    Raises
    ------
    InputError
        Where it cannot be opened, is no logbook, or is of a newer Tussock.
    """
    return Logbook(connect(where, create=create, patience_s=patience_s))
