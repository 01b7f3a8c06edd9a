"""A logbook of the first schema opens, is brought up to date, and keeps all."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.support.logged import AT, BY, a_call, later, made
from tussock.errors import InputError
from tussock.records import database
from tussock.records.entries import CAPTURE
from tussock.records.logbook import Logbook, open_logbook
from tussock.records.schema import HEAD, KNOWN, VERSION_TABLE, metadata

OLD = Path(__file__).with_name("logbook_0001.db")


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return Path(shutil.copyfile(OLD, tmp_path / "logbook.db"))


def _raw(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with sqlite3.connect(path) as connection:
        tables = ("entries", "revisions")
        found = {t: connection.execute(f"SELECT * FROM {t} ORDER BY 1, 2").fetchall() for t in tables}
    connection.close()
    return found


def test_the_fixture_is_of_the_first_schema() -> None:
    with sqlite3.connect(f"file:{OLD}?immutable=1", uri=True) as connection:
        assert connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchall() == [("0001",)]
        names = {n for (n,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    connection.close()
    assert names == {"entries", "revisions", VERSION_TABLE}


def test_an_old_logbook_opens_and_keeps_all(old: Path) -> None:
    before = _raw(old)
    with open_logbook(old) as book:
        wanted = {e.id: dict(e.cells) for e in a_call()}
        wanted["C1"]["sex"] = "male"
        assert {e.id: dict(e.cells) for e in book.entries()} == wanted
        first, second = book.history(CAPTURE, "C1")
        assert (first.at, first.by, first.why) == (AT, BY, "the day's sheet")
        assert (second.at, second.by, second.why) == (later(2), "S. Second", "seen by daylight")
        book.file_return("2026", "nil", at=AT, by=BY)
    assert _raw(old) == before
    with sqlite3.connect(old) as connection:
        assert connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchall() == [(HEAD,)]
    connection.close()


def test_photos_of_an_older_schema_are_kept_and_nobody_is_made_up_for_them(old: Path) -> None:
    plain = database._sqlite(old, 5.0)
    database.upgrade(plain, "0002")
    with plain.writing() as connection:
        row = "SELECT row, 'belly.jpg', 'ba78' FROM entries WHERE id = 'C1'"
        connection.exec_driver_sql(f"INSERT INTO photos (entry, name, sha256) {row}")
    plain.close()
    with open_logbook(old) as book:
        (photo,) = book.photos(CAPTURE, "C1")
        assert (photo.name, photo.sha256, photo.path, photo.at, photo.by) == (
            "belly.jpg", "ba78", "", None, "",
        )  # fmt: skip
        file = old.with_name("tail.jpg")
        file.write_bytes(b"abc")
        assert book.attach(CAPTURE, "C1", file, by=BY, at=AT).by == BY
        with (
            pytest.raises(InputError, match="nothing in the book is overwritten"),
            book.database.writing() as connection,
        ):
            connection.execute(sa.text("UPDATE photos SET by = 'x'"))


def test_an_upgrade_that_fails_leaves_the_old_logbook(old: Path) -> None:
    with sqlite3.connect(old) as connection:
        connection.execute("CREATE TABLE filings (x)")  # in the way of the last table that is made
    connection.close()
    with pytest.raises(InputError, match="filings"):
        open_logbook(old)
    with sqlite3.connect(old) as connection:
        names = {n for (n,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        assert connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchall() == [("0001",)]
    connection.close()
    assert "residents" not in names


def test_upgrades_lead_to_the_tables_that_are_used(address: str) -> None:
    with open_logbook(address) as book, book.database.reading() as connection:
        seen = sa.inspect(connection)
        assert set(seen.get_table_names()) == {*metadata.tables, VERSION_TABLE}
        for name, table in metadata.tables.items():
            columns = {c["name"]: bool(c["nullable"]) for c in seen.get_columns(name)}
            assert columns == {c.name: bool(c.nullable) for c in table.columns}
            assert seen.get_pk_constraint(name)["constrained_columns"] == [c.name for c in table.primary_key]
            keys = {k["constrained_columns"][0] for k in seen.get_foreign_keys(name)}
            assert keys == {k.parent.name for k in table.foreign_keys}


def test_every_known_schema_has_its_migration() -> None:
    folder = Path(database.__file__).parent / "migrations" / "versions"
    assert tuple(sorted(p.name[1:5] for p in folder.glob("r*.py"))) == KNOWN


def test_an_old_shared_logbook_is_upgraded_too(postgres: str) -> None:
    from tests.records.conftest import new_database

    address = new_database(postgres)
    plain = database._shared(address, 5.0)
    database.upgrade(plain, "0001")
    with Logbook(plain) as book:
        book.write(a_call(), by=BY, at=AT)
    with open_logbook(address, create=False) as book:
        assert len(book.entries()) == 3
        assert len(book.write([made(CAPTURE, "C2")], by=BY, at=AT).added) == 1
        assert book.filings() == ()
