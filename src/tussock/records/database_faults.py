"""What a database complains of, as a fault that says what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import NamedTuple

from sqlalchemy.exc import DBAPIError

from tussock.errors import InputError


class _Fault(NamedTuple):
    found: str
    allowed: str
    fix: str


_LOCKED = _Fault(
    "the logbook is locked: another program is writing to it",
    "one writer at a time",
    "wait until the other has finished, then do it again; nothing of this was written",
)
_READ_ONLY = _Fault(
    "the logbook, or the folder it is in, cannot be written",
    "a logbook in a folder that you may write to",
    "ask for the right to write, or copy it to a folder of your own; nothing of this was written",
)
_FULL = _Fault(
    "the disk is full, or failed",
    "room for the logbook to grow",
    "make room, then do it again; nothing of this was written and what was there is as it was",
)
_BROKEN = _Fault(
    "the file is cut off, damaged, or no logbook",
    "a whole logbook, with the -wal file beside it where there is one",
    "keep this file, and go back to a copy of it",
)
_UNREACHABLE = _Fault(
    "the database cannot be reached",
    "postgresql://USER@HOST/NAME of a server that runs and lets you in",
    "check the address, the server and your right to use it",
)
_SQLITE: Mapping[str, _Fault] = {
    "BUSY": _LOCKED,
    "LOCKED": _LOCKED,
    "PROTOCOL": _LOCKED,
    "READONLY": _READ_ONLY,
    "PERM": _READ_ONLY,
    "CANTOPEN": _READ_ONLY,
    "AUTH": _READ_ONLY,
    "FULL": _FULL,
    "IOERR": _FULL,
    "CORRUPT": _BROKEN,
    "NOTADB": _BROKEN,
}
"""SQLite's result code (sqlite.org/rescode.html) → fault."""
_POSTGRESQL: Mapping[str, _Fault] = {
    "55P03": _LOCKED,  # lock_not_available
    "25006": _READ_ONLY,  # read_only_sql_transaction
    "42501": _READ_ONLY,  # insufficient_privilege
    "53100": _FULL,  # disk_full
    "53200": _FULL,  # out_of_memory
    "XX001": _BROKEN,  # data_corrupted
    "XX002": _BROKEN,  # index_corrupted
}
"""PostgreSQL's SQLSTATE (its manual, appendix A) → fault."""


@contextmanager
def told(where: str) -> Iterator[None]:
    """Turn what the database complains of into an InputError."""
    try:
        yield
    except DBAPIError as error:
        raise _explained(error.orig, where) from error
    except sqlite3.Error as error:
        raise _explained(error, where) from error


def damaged(said: str, where: str) -> InputError:
    """Return what is said of a file that is not whole."""
    return InputError(f"{_BROKEN.found} ({said})", where=where, allowed=_BROKEN.allowed, fix=_BROKEN.fix)


def _explained(error: BaseException | None, where: str) -> InputError:
    fault = _fault(error)
    said = " ".join(str(error).split())[:160]
    if fault is None:
        fix = "nothing of this was written; see what the database says"
        return InputError(
            f"the database refuses: {said}", where=where, allowed="a logbook of Tussock", fix=fix
        )
    return InputError(f"{fault.found} ({said})", where=where, allowed=fault.allowed, fix=fault.fix)


def _fault(error: BaseException | None) -> _Fault | None:
    name: str = getattr(error, "sqlite_errorname", None) or ""
    if name:  # SQLITE_BUSY, SQLITE_BUSY_SNAPSHOT …
        return _SQLITE.get(name.split("_")[1])
    state = getattr(error, "sqlstate", None)
    if str(state)[:2] in ("08", "28", "3D", "57") or (state is None and _no_connection(error)):
        return _UNREACHABLE
    return _POSTGRESQL.get(str(state))


def _no_connection(error: BaseException | None) -> bool:
    return type(error).__name__ == "OperationalError" and not isinstance(error, sqlite3.Error)
