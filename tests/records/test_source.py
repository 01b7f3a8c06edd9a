"""A table read straight, and the same table through a logbook: one reading, the same entries."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.records.test_importing import AT, WHO, take
from tests.records.test_sheets import BOOK, CAPTURED, DATA, table, workbook
from tussock.errors import InputError
from tussock.records.book import read_book
from tussock.records.entries import (
    CALLOUT,
    CAPTURE,
    CHECK,
    CONSENT,
    CONTAINER,
    DISPOSAL,
    INCIDENT,
    KINDS,
    Entry,
)
from tussock.records.logbook import open_logbook
from tussock.records.source import digest, open_book, open_logged

AT_TIME = CAPTURED["eventDate"]
LOCAL = {"eventDate": "2026-11-22T08:00", "timeZone": "Australia/Hobart"}
ROWS: Mapping[str, list[dict[str, str]]] = {
    CALLOUT: [{"calloutID": "K-1", **LOCAL, "residentName": "Orla Finchmere",
               "residentKeepUntil": "2027-01-31"}],
    CAPTURE: [CAPTURED, {**CAPTURED, "captureID": "C-2", "calloutID": "K-1"}],
    DISPOSAL: [{"captureID": "C-1", "eventDate": AT_TIME, "disposal": "died", "organismID": "A"},
               {"captureID": "C-2", **LOCAL, "disposal": "vet_or_carer"}],
    CHECK: [{"captureID": "C-1", "eventDate": AT_TIME}, {"captureID": "C-2", **LOCAL, "kind": "holding"}],
    CONSENT: [{"consentID": "CN-1", "parcelID": "P-1", "validFrom": "2026-07-01"}],
    INCIDENT: [{"captureID": "C-1", "eventDate": AT_TIME, "incident": "escape"},
               {"captureID": "", "eventDate": AT_TIME, "incident": "bite"}],
    CONTAINER: [{"containerID": "B-1", "cleanedDate": f"{AT_TIME} | {AT_TIME}"}],
}  # fmt: skip
"""Tables of every kind, with ids given and ids that are made, local times and residents' details."""


def plain(entries: tuple[Entry, ...]) -> list[tuple[str, str, dict[str, str]]]:
    return sorted((e.kind, e.id, dict(e.cells)) for e in entries)


def test_every_kind_is_the_same_through_a_logbook(address: str, tmp_path: Path) -> None:
    paths = {kind: table(tmp_path, *ROWS[kind], name=f"{kind}.csv") for kind in KINDS}
    with open_logbook(address) as logbook:
        for kind, path in paths.items():
            assert take(logbook, path, kind) == (len(ROWS[kind]), 0, 0)
    straight, logged = open_book(paths), open_logged(address)
    assert plain(straight.entries) == plain(logged.entries)
    assert ("check", f"C-2/{LOCAL['eventDate']}+11:00") in {(e.kind, e.id) for e in straight.entries}
    assert "Orla" not in str(straight.entries)
    assert set(straight.keeps) == set(logged.keeps) == set(KINDS)
    assert digest(straight.entries) == digest(logged.entries)


def test_the_invented_district_is_the_same_through_a_logbook(tmp_path: Path) -> None:
    names = {CALLOUT: "callouts", CAPTURE: "captures", DISPOSAL: "releases", CHECK: "checks",
             CONSENT: "consents", INCIDENT: "incidents", CONTAINER: "containers"}  # fmt: skip
    paths = {kind: DATA / f"{name}.csv" for kind, name in names.items()}
    where = tmp_path / "logbook.db"
    with open_logbook(where) as logbook:
        for path in paths.values():
            take(logbook, path)
    straight, logged = open_book(paths), open_logged(where)
    assert plain(straight.entries) == plain(logged.entries)
    books = [read_book(b.entries, species=BOOK, now=AT, keeps=b.keeps) for b in (straight, logged)]
    assert [k.disposal_id for k in books[0].kept] == [k.disposal_id for k in books[1].kept]
    assert len(books[0].remarks) == len(books[1].remarks) > 0


def test_a_workbook_and_its_table_give_the_same(tmp_path: Path) -> None:
    with (DATA / "captures.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    book = workbook(tmp_path, rows, sheet="captures")
    assert plain(open_book({CAPTURE: book}).entries) == plain(
        open_book({CAPTURE: DATA / "captures.csv"}).entries
    )


def test_one_workbook_with_a_sheet_a_kind(tmp_path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    for kind, title in ((CAPTURE, "Captures"), (DISPOSAL, "Releases")):
        page = book.create_sheet(title)
        page.append(list(ROWS[kind][1]))
        page.append(list(ROWS[kind][1].values()))
    book.save(path := tmp_path / "book.xlsx")
    found = open_book({CAPTURE: path, DISPOSAL: path})
    assert [(e.kind, e.id) for e in found.entries] == [(CAPTURE, "C-2"), (DISPOSAL, "C-2")]
    assert list(found.inputs) == ["book.xlsx"]


def test_all_that_is_wrong_with_all_tables_is_told_at_once(tmp_path: Path) -> None:
    captures = table(tmp_path, CAPTURED, CAPTURED, {**CAPTURED, "captureID": ""})
    releases = table(tmp_path, {"captureID": "C-1"}, name="releases.csv")
    checks = table(tmp_path, {**ROWS[CHECK][1], "eventDate": "2026-10-04T02:30"}, name="checks.csv")
    with pytest.raises(InputError) as told:
        open_book({CAPTURE: captures, DISPOSAL: releases, CHECK: checks})
    said = told.value.text()
    for words in ("captures.csv, row 2: captureID 'C-1' stands in rows 2, 3", "row 4: captureID is empty",
                  "releases.csv: missing column eventDate", "checks.csv, row 2, eventDate",
                  "did not happen"):  # fmt: skip
        assert words in said


def test_a_table_may_be_empty_beside_others(tmp_path: Path) -> None:
    empty = tmp_path / "incidents.csv"
    empty.write_text("captureID,eventDate,incident\n", "utf-8")
    found = open_book({CAPTURE: DATA / "captures.csv", INCIDENT: empty})
    assert INCIDENT in found.keeps
    assert {e.kind for e in found.entries} == {CAPTURE}
    with pytest.raises(InputError, match="no row below the header"):
        open_book({INCIDENT: empty})


def test_the_hash_of_a_logbook_is_of_what_stands_in_it(tmp_path: Path) -> None:
    """Held against JSON written by hand; the order of columns and of writing does not matter."""
    where = tmp_path / "logbook.db"
    with open_logbook(where) as logbook:
        logbook.write([Entry(CALLOUT, "Ö", {"remarks": "ü", "calloutID": "Ö"})], by=WHO, at=AT)
        logbook.write([Entry(CALLOUT, "A", {"calloutID": "A"})], by=WHO, at=AT)
    text = (
        '[["callout","A",{"calloutID":"A"}],["callout","\\u00d6",'
        '{"calloutID":"\\u00d6","remarks":"\\u00fc"}]]'
    )
    assert json.loads(text)
    first = open_logged(where).inputs
    assert first == {"logbook.db": hashlib.sha256(text.encode()).hexdigest()}
    with open_logbook(where) as logbook:
        logbook.amend(CALLOUT, "A", {"remarks": "late"}, by=WHO, at=AT, why="forgotten")
    assert open_logged(where).inputs != first


def test_a_shared_logbook_is_named_without_its_password(postgres: str) -> None:
    from tests.records.conftest import new_database

    address = new_database(postgres).replace("postgres@", "postgres:secret@")
    with open_logbook(address) as logbook:
        logbook.write([Entry(CALLOUT, "A", {"calloutID": "A"})], by=WHO, at=AT)
    (name,) = open_logged(address).inputs
    assert name.startswith("postgresql://") and "secret" not in name


def test_a_logbook_without_entries_and_none_at_all(tmp_path: Path) -> None:
    open_logbook(tmp_path / "logbook.db").close()
    with pytest.raises(InputError, match="no entry"):
        open_logged(tmp_path / "logbook.db")
    with pytest.raises(InputError, match="no such file"):
        open_logged(tmp_path / "none.db")
