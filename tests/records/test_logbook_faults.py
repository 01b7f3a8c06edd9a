"""Logbooks that cannot be opened or written: told, with what to do, and left as they were."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

import tussock
from tests.support.logged import AT, BY, a_call, later, made
from tussock.errors import InputError
from tussock.records.entries import CALLOUT, CAPTURE
from tussock.records.logbook import Logbook, open_logbook

SOURCE = Path(tussock.__file__).parents[1]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A logbook with some entries, closed."""
    path = tmp_path / "logbook.db"
    with open_logbook(path) as book:
        book.write(a_call(), by=BY, at=AT)
        book.write([made(CALLOUT, f"N{n}", remarks="x" * 500) for n in range(200)], by=BY, at=AT)
    return path


def _told(error: InputError, path: Path, *words: str) -> None:
    assert error.found and error.allowed and error.fix
    assert str(path) in error.where
    assert "\n" not in str(error)
    for word in words:
        assert word in str(error)


def test_what_is_closed_is_one_file(path: Path) -> None:
    assert [p.name for p in path.parent.iterdir()] == ["logbook.db"]


def test_a_locked_logbook(path: Path) -> None:
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with open_logbook(path, patience_s=0.1) as book:
        assert book.entry(CAPTURE, "C1") is not None, "it can be read all the same"
        with pytest.raises(InputError) as told:
            book.write([made(CALLOUT, "K2")], by=BY, at=AT)
        _told(told.value, path, "locked", "wait")
        other.execute("ROLLBACK")
        assert book.entry(CALLOUT, "K2") is None
        assert len(book.write([made(CALLOUT, "K2")], by=BY, at=AT).added) == 1
    other.close()


def test_a_team_that_is_kept_waiting_is_told(postgres: str) -> None:
    from tests.records.conftest import new_database

    address = new_database(postgres)
    with open_logbook(address) as first, open_logbook(address, patience_s=0.1) as second:
        with first.database.writing(), pytest.raises(InputError, match="locked"):
            second.write(a_call(), by=BY, at=AT)
        assert len(second.write(a_call(), by=BY, at=AT).added) == 3


@pytest.mark.parametrize("share", [0.0, 0.0005, 0.01, 0.3, 0.9, 0.999])
def test_a_truncated_logbook(path: Path, share: float) -> None:
    whole = path.read_bytes()
    cut = whole[: int(len(whole) * share)]
    path.write_bytes(cut)
    with pytest.raises(InputError) as told, open_logbook(path) as book:
        book.write([made(CALLOUT, "K2")], by=BY, at=AT)
    _told(told.value, path, "copy")
    assert path.read_bytes() == cut, "it is left as it was found"


@pytest.mark.parametrize(
    "content", [b"captureID,eventDate\r\nC1,2026\r\n" * 40, b"\x00" * 4096, b"PK\x03\x04"]
)
def test_a_file_that_is_no_database(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "captures.csv"
    path.write_bytes(content)
    with pytest.raises(InputError) as told:
        open_logbook(path)
    _told(told.value, path)
    assert path.read_bytes() == content


def test_a_database_that_is_no_logbook(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE entries (x)")
    other.close()
    with pytest.raises(InputError) as told:
        open_logbook(path)
    _told(told.value, path, "no logbook")


def test_a_logbook_of_a_newer_tussock(address: str) -> None:
    with open_logbook(address) as book, book.database.writing() as connection:
        connection.execute(sa.text("UPDATE tussock_schema SET version_num = '0099'"))
    with pytest.raises(InputError, match="0099, of a newer Tussock"):
        open_logbook(address)


@pytest.mark.parametrize("name", ["", "none/logbook.db", "logbook.db"])
def test_nothing_there(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError) as told:
        open_logbook(tmp_path / name, create=False)
    _told(told.value, tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "address",
    ["mysql://a:secret@b/c", "postgresql://a:secret@/c?host=/nonexistent", "postgresql://[", "://"],
)
def test_an_address_that_leads_nowhere(address: str) -> None:
    with pytest.raises(InputError) as told:
        open_logbook(address)
    assert told.value.fix
    assert "secret" not in str(told.value)


def _full(book: Logbook) -> None:
    """Let the file grow no further, as on a full disk; SQLite then says SQLITE_FULL."""

    @sa.event.listens_for(book.database.engine, "begin")
    def _limit(connection: sa.Connection) -> None:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")


def test_a_full_disk(path: Path) -> None:
    with open_logbook(path) as book:
        before = book.entries()
        _full(book)
        with pytest.raises(InputError) as told:
            book.write([made(CALLOUT, f"X{n}", remarks="y" * 900) for n in range(500)], by=BY, at=AT)
        _told(told.value, path, "full", "make room")
        assert book.entries() == before
    with open_logbook(path) as book:
        assert book.entries() == before


_LIMITED = """
import resource, sys
from tests.support.logged import AT, BY, made
from tussock.errors import InputError
from tussock.records.logbook import open_logbook
book = open_logbook(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, 150_000))
try:
    book.write([made("callout", f"X{n}", remarks="y" * 900) for n in range(2000)], by=BY, at=AT)
except InputError as error:
    print(error)
"""
_FORBIDDEN = """
import os, sys
import alembic.command, alembic.config, sqlalchemy.dialects.sqlite
from tests.support.logged import AT, BY, made
from tussock.errors import InputError
from tussock.records.logbook import open_logbook
if os.geteuid() == 0:  # root may write anything
    os.setresuid(65534, 65534, 65534)
try:
    with open_logbook(sys.argv[1]) as book:
        book.write([made("callout", "K2")], by=BY, at=AT)
except InputError as error:
    print(error)
"""


def _run(code: str, path: Path) -> str:
    search = os.pathsep.join([str(SOURCE), str(Path.cwd()), *sys.path])
    ran = subprocess.run(
        [sys.executable, "-B", "-c", code, str(path)],
        env={"PATH": os.environ["PATH"], "PYTHONPATH": search},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert ran.returncode == 0, ran.stderr[-1500:]
    return ran.stdout


def test_a_disk_that_takes_no_more_bytes(path: Path) -> None:
    """The kernel itself refuses to let the files grow."""
    with open_logbook(path) as book:
        before = book.entries()
    assert "the disk is full, or failed" in _run(_LIMITED, path)
    with open_logbook(path) as book:
        assert book.entries() == before


@pytest.fixture
def anyones() -> Iterator[Path]:
    """A folder that other users can reach."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)
        Path(name).chmod(0o755)


def test_a_logbook_that_may_only_be_read(path: Path, anyones: Path) -> None:
    kept = anyones / "logbook.db"
    shutil.copyfile(path, kept)
    kept.chmod(0o444)
    anyones.chmod(0o555)
    said = _run(_FORBIDDEN, kept)
    assert "cannot be written" in said and str(kept) in said and "copy it" in said
    assert kept.read_bytes() == path.read_bytes()
    assert "cannot be written" in _run(_FORBIDDEN, anyones / "new.db")
    assert [p.name for p in anyones.iterdir()] == ["logbook.db"]


def test_an_old_time_is_no_fault(path: Path) -> None:
    """Who amends may enter yesterday's note: the order of states is that of writing."""
    with open_logbook(path) as book:
        book.amend(CAPTURE, "C1", {"sex": "male"}, by=BY, at=later(-30), why="from the field notes")
        assert [r.number for r in book.history(CAPTURE, "C1")] == [1, 2]
        entry = book.entry(CAPTURE, "C1")
        assert entry is not None and entry.get("sex") == "male"
