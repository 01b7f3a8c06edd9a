"""The database below a logbook: opened, upgraded, read and written, one writer at a time."""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.exc import ArgumentError

from tussock.errors import InputError
from tussock.records.database_faults import damaged, told
from tussock.records.schema import HEAD, KNOWN, VERSION_TABLE

PATIENCE_S = 30.0
"""How long a writer waits for another."""
_WRITERS = 7_498_113_200
"""Key of the lock that PostgreSQL's writers take; any number that others do not use."""
_BEGIN = "tussock_begin"


@dataclass(frozen=True)
class Database:
    """An open database.

    Attributes
    ----------
    where
        Its file or address, without a password, for messages.
    """

    engine: sa.Engine
    where: str

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Give a connection on one state of the book."""
        with told(self.where), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """Give a connection that alone writes; all is kept at the end, or nothing."""
        with told(self.where), self.engine.connect() as plain:
            connection = plain.execution_options(**{_BEGIN: "BEGIN IMMEDIATE"})
            with connection.begin():
                if self.engine.dialect.name == "postgresql":
                    connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_WRITERS)))
                yield connection

    def fold(self) -> None:
        """Fold SQLite's -wal file into the logbook."""
        with told(self.where), self.engine.connect() as connection:
            cursor = connection.connection.cursor()
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            cursor.close()

    def look_over(self) -> None:
        """Look whether SQLite's file is whole, page by page; 100,000 entries take a quarter of a second.

        Raises
        ------
        InputError
            Where it is damaged.
        """
        if self.engine.dialect.name != "sqlite":
            return
        with self.reading() as connection:
            said = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
        if said != "ok":
            raise damaged(" ".join(str(said).split())[:160], self.where)

    def close(self) -> None:
        """Let go of it; SQLite then folds its -wal file into the logbook."""
        self.engine.dispose()


def connect(where: str | Path, *, create: bool = True, patience_s: float = PATIENCE_S) -> Database:
    """Open a database and bring it to the present schema.

    Parameters
    ----------
    where
        A file (SQLite), or `postgresql://…`.
    create
        Make it where there is none.
    patience_s
        How long to wait for another writer [s].

    Raises
    ------
    InputError
        Where it cannot be opened, is no logbook, or is of a newer schema.
    """
    shared = "://" in str(where)
    database = _shared(str(where), patience_s) if shared else _own(Path(where), patience_s, create)
    try:
        _bring_up(database, create=create and shared)
    except BaseException:
        database.close()
        raise
    return database


def upgrade(database: Database, revision: str = "head") -> None:
    """Bring a database to a revision of the schema, whole or not at all."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    folder = str(Path(__file__).parent / "migrations")
    config.set_main_option("script_location", folder.replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    with database.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, revision)


def _bring_up(database: Database, *, create: bool) -> None:
    found = _version(database)
    if found == HEAD:
        return
    if found and found not in KNOWN:
        raise InputError(
            f"its schema is {found[:40]}, of a newer Tussock",
            where=database.where,
            allowed=f"up to {HEAD}",
            fix="install the Tussock that wrote it, or a newer one; it was left as it was",
        )
    if not found and not create:
        fix = "name a logbook that Tussock made, or a file that does not exist yet"
        raise InputError("no logbook", where=database.where, allowed="a logbook of Tussock", fix=fix)
    upgrade(database)


def _version(database: Database) -> str:
    with database.reading() as connection:
        if not sa.inspect(connection).has_table(VERSION_TABLE):
            return ""
        table = sa.table(VERSION_TABLE, sa.column("version_num"))
        return str(connection.execute(sa.select(table.c.version_num)).scalar() or "")


def _own(path: Path, patience_s: float, create: bool) -> Database:
    """Return the database in a file; a new one is made aside, and takes its place when it is whole."""
    if path.is_dir() or not path.parent.is_dir():
        found = "a folder" if path.is_dir() else "no such folder"
        raise InputError(found, where=str(path), allowed="a file", fix="name a file in a folder that exists")
    if not path.exists():
        if not create:
            raise InputError("no such file", where=str(path), allowed="a logbook", fix="check the name")
        _make(path, patience_s)
    elif path.stat().st_size == 0:
        fix = "go back to a copy, or remove the empty file and begin anew"
        raise InputError("an empty file", where=str(path), allowed="a logbook", fix=fix)
    else:
        _check_last_page(path)
    return _sqlite(path, patience_s)


def _check_last_page(path: Path) -> None:
    """Refuse a file that ends within a page: SQLite would read the missing bytes as zeros.

    Source: sqlite.org/fileformat.html § 1.3 (page size at bytes 16–17, 1 for 65,536). What a -wal file holds
    mends the page.
    """
    wal = path.with_name(path.name + "-wal")
    if wal.exists() and wal.stat().st_size:
        return
    try:
        with path.open("rb") as stream:
            head = stream.read(18)
    except OSError as error:
        found, fix = f"it cannot be read ({error.strerror})", "ask for the right to read it"
        raise InputError(found, where=str(path), allowed="a logbook that can be read", fix=fix) from error
    page = int.from_bytes(head[16:18], "big")
    if (
        head.startswith(b"SQLite format 3\0")
        and page
        and path.stat().st_size % (65_536 if page == 1 else page)
    ):
        found, fix = "the file is cut off within a page", "keep this file, and go back to a copy of it"
        raise InputError(found, where=str(path), allowed="a whole logbook", fix=fix)


def _make(path: Path, patience_s: float) -> None:
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        database = _sqlite(aside, patience_s, str(path))
        try:
            upgrade(database)
        finally:
            database.close()
        os.link(aside, path)  # unlike a rename, never over one that another has just made
    except FileExistsError:
        pass
    except OSError as error:
        found = f"it cannot be made ({error.strerror})"
        fix = "name a folder that you may write to, on a disk that knows hard links"
        raise InputError(found, where=str(path), allowed="a file that can be written", fix=fix) from error
    finally:
        for end in ("", "-wal", "-shm", "-journal"):
            aside.with_name(aside.name + end).unlink(missing_ok=True)


def _sqlite(path: Path, patience_s: float, where: str = "") -> Database:
    url = sa.URL.create("sqlite", database=str(path.absolute()))
    engine = sa.create_engine(url, connect_args={"timeout": patience_s, "check_same_thread": False})

    @sa.event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _: object) -> None:
        connection.isolation_level = None  # the driver begins nothing by itself
        cursor = connection.cursor()
        # what is acknowledged outlasts a power cut (FULL); what is taken out is gone from the file too
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        connection.exec_driver_sql(connection.get_execution_options().get(_BEGIN, "BEGIN"))

    return Database(engine, where or str(path))


def _shared(address: str, patience_s: float) -> Database:
    try:
        url = sa.make_url(address)
    except ArgumentError as error:
        raise _no_address(address) from error
    if url.get_backend_name() != "postgresql":
        raise _no_address(url.render_as_string(hide_password=True))
    waits = {"options": f"-c lock_timeout={int(patience_s * 1000)} -c timezone=UTC"}
    try:
        engine = sa.create_engine(url.set(drivername="postgresql+psycopg"), connect_args=waits)
    except ModuleNotFoundError as error:
        found, fix = "psycopg is not installed", "pip install 'tussock[postgres]'"
        raise InputError(found, where="PostgreSQL", allowed="psycopg 3", fix=fix) from error
    return Database(engine, url.render_as_string(hide_password=True))


def _no_address(address: str) -> InputError:
    allowed = "a file, or postgresql://USER@HOST/NAME"
    return InputError("no address of a logbook", where=address, allowed=allowed, fix="check the address")
