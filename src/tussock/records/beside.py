"""What is kept beside the book: residents' details, photos by reference, returns as filed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import sqlalchemy as sa

from tussock.errors import InputError
from tussock.records.database import Database
from tussock.records.entries import CALLOUT
from tussock.records.photos import Photo, all_photos, attach, photo_of, photos_of
from tussock.records.schema import filings, residents
from tussock.records.states import LOGBOOK, Key, instant, rows_of, word


@dataclass(frozen=True)
class Resident:
    """Who called, and the last day on which that may be kept."""

    callout_id: str
    name: str
    phone: str
    address: str
    keep_until: date


@dataclass(frozen=True)
class Filing:
    """A return as it was filed."""

    name: str
    text: str
    at: datetime
    by: str


class Beside:
    """The part of a logbook that is no entry.

    Attributes
    ----------
    database
        Where it is kept.
    """

    def __init__(self, database: Database) -> None:
        self.database = database

    def keep_resident(
        self, callout_id: str, *, name: str, phone: str, address: str, keep_until: date
    ) -> None:
        """Keep who called, in place of what was kept; details have no history.

        Raises
        ------
        InputError
            Where there is no such callout.
        """
        texts = {"name": name, "phone": phone, "address": address}
        cells = {c: word(v, what=f"the resident's {c}", must=False) for c, v in texts.items()}
        with self.database.writing() as connection:
            _row(connection, (CALLOUT, callout_id))
            connection.execute(residents.delete().where(residents.c.callout == callout_id))
            kept = {"callout": callout_id, "keep_until": keep_until.isoformat(), **cells}
            connection.execute(residents.insert(), [kept])

    def resident(self, callout_id: str) -> Resident | None:
        """Return who called, as long as that is kept."""
        with self.database.reading() as connection:
            row = connection.execute(sa.select(residents).where(residents.c.callout == callout_id)).first()
        if row is None:
            return None
        return Resident(row.callout, row.name, row.phone, row.address, date.fromisoformat(row.keep_until))

    def forget_residents(self, on: date) -> int:
        """Take out the details whose last day is before a day; return how many. SQLite's file loses them."""
        with self.database.writing() as connection:
            gone = connection.execute(residents.delete().where(residents.c.keep_until < on.isoformat()))
        if gone.rowcount and self.database.engine.dialect.name == "sqlite":
            self.database.fold()
        return int(gone.rowcount)

    @property
    def folder(self) -> Path | None:
        """The folder that the logbook's file is in; ``None`` where it is on a server."""
        shared = self.database.engine.dialect.name != "sqlite"
        return None if shared else Path(self.database.where).absolute().parent

    def attach(self, kind: str, name: str, path: Path, *, by: str, at: datetime) -> Photo:
        """Note a photo by the name and SHA-256 of its file; the file stays where it is.

        Raises
        ------
        InputError
            Where there is no such entry or file, or the entry has another photo of that name.
        """
        photo, key = photo_of(path, self.folder, by=by, at=at), (kind, name)
        with self.database.writing() as connection:
            return attach(connection, _row(connection, key), photo, key=key)

    def photos(self, kind: str, name: str) -> tuple[Photo, ...]:
        """Return an entry's photos by name."""
        with self.database.reading() as connection:
            row = rows_of(connection, [(kind, name)]).get((kind, name))
            return () if row is None else photos_of(connection, row)

    def all_photos(self) -> tuple[tuple[Key, Photo], ...]:
        """Return every photo with the kind and id of its entry, by these and its name."""
        with self.database.reading() as connection:
            return all_photos(connection)

    def file_return(self, name: str, text: str, *, at: datetime, by: str) -> Filing:
        """Keep a return as it is filed. The same text again changes nothing.

        Raises
        ------
        InputError
            Where another text was filed under that name.
        """
        name, who = word(name, what="the return's name"), word(by, what="the name of who files")
        word(text, what="the return")
        with self.database.writing() as connection:
            there = _filed(connection, filings.c.name == name)
            if not there:
                row = {"name": name, "text": text, "at": instant(at), "by": who}
                connection.execute(filings.insert(), [row])
            elif there[0].text != text:
                on = there[0].at.date()
                fix = "file a correction under a name of its own"
                raise InputError(
                    f"it was filed on {on}, with other text", where=name, allowed="once", fix=fix
                )
            return _filed(connection, filings.c.name == name)[0]

    def filed(self, name: str) -> Filing | None:
        """Return a return as it was filed."""
        with self.database.reading() as connection:
            return next(iter(_filed(connection, filings.c.name == name)), None)

    def filings(self) -> tuple[Filing, ...]:
        """Return what was filed, in the order of filing."""
        with self.database.reading() as connection:
            return _filed(connection)


def _filed(connection: sa.Connection, *wanted: sa.ColumnElement[bool]) -> tuple[Filing, ...]:
    rows = connection.execute(sa.select(filings).where(*wanted).order_by(filings.c.at, filings.c.name))
    return tuple(Filing(r.name, r.text, datetime.fromisoformat(r.at), r.by) for r in rows)


def _row(connection: sa.Connection, key: Key) -> int:
    row = rows_of(connection, [key]).get(key)
    if row is None:
        where, fix = f"{LOGBOOK}, {key[0]} '{key[1][:40]}'", "check kind and id"
        raise InputError("no such entry", where=where, allowed="an entry that is there", fix=fix)
    return row
