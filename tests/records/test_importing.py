"""From a table to the logbook: all or nothing, twice is once, and no row gets lost."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.records.test_sheets import BOOK, CAPTURED, DATA, table, workbook
from tussock.errors import InputError
from tussock.records.entries import CALLOUT, CAPTURE, DISPOSAL, KINDS, Entry
from tussock.records.exporting import FORMATS
from tussock.records.importing import import_sheet, read_entries, refused_csv, refused_path
from tussock.records.logbook import Logbook, open_logbook

AT = datetime(2026, 12, 1, 9, tzinfo=UTC)
WHO = "Ines Tarrowby"


@pytest.fixture
def logbook(address: str) -> Iterator[Logbook]:
    with open_logbook(address) as found:
        yield found


def take(logbook: Logbook, path: Path, kind: str = "", *, keep_good: bool = False) -> tuple[int, int, int]:
    """Import a file; return how many rows were added, there already, refused."""
    sheet = read_entries(path, kind, species=BOOK)
    done = import_sheet(logbook, sheet, by=WHO, at=AT, keep_good=keep_good)
    assert done.read == len(sheet.entries) + len(sheet.refused)
    return len(done.added), len(done.unchanged), len(done.refused)


def everything(logbook: Logbook) -> list[tuple[str, str, int]]:
    """Return each entry with the number of states it had."""
    return [(e.kind, e.id, len(logbook.history(e.kind, e.id))) for e in logbook.entries()]


def test_the_same_file_twice_changes_nothing(logbook: Logbook) -> None:
    take(logbook, DATA / "callouts.csv")
    captures = take(logbook, DATA / "captures.csv")
    releases = take(logbook, DATA / "releases.csv")
    assert captures[1:] == releases[1:] == (0, 0)
    before = everything(logbook)
    assert take(logbook, DATA / "captures.csv") == (0, captures[0], 0)
    assert take(logbook, DATA / "releases.csv") == (0, releases[0], 0)
    assert everything(logbook) == before


def test_the_same_file_after_an_amendment_changes_nothing(logbook: Logbook, tmp_path: Path) -> None:
    rows = [CAPTURED, {**CAPTURED, "captureID": "C-2"}, {**CAPTURED, "captureID": "C-3"}]
    path = table(tmp_path, *rows)
    take(logbook, path)
    for n, count in enumerate(("2", "3"), start=1):
        logbook.amend(CAPTURE, "C-1", {"individualCount": count}, by=WHO, at=AT, why=f"recount {n}")
    logbook.amend(CAPTURE, "C-2", {"scientificName": ""}, by=WHO, at=AT, why="not sure")
    before = everything(logbook)
    done = import_sheet(logbook, read_entries(path, species=BOOK), by=WHO, at=AT)
    assert (len(done.added), len(done.unchanged), len(done.refused)) == (0, 3, 0)
    assert [e.id for e in done.amended_since] == ["C-1", "C-2"]
    # a state between counts too, and so does the last; what never was so is refused
    between = table(tmp_path, {**CAPTURED, "individualCount": "2"}, name="between.csv")
    assert take(logbook, between) == (0, 1, 0)
    now = table(tmp_path, {**CAPTURED, "individualCount": "3"}, name="now.csv")
    again = import_sheet(logbook, read_entries(now, species=BOOK), by=WHO, at=AT)
    assert (len(again.unchanged), again.amended_since) == (1, ())
    never = table(tmp_path, {**CAPTURED, "individualCount": "4"}, name="never.csv")
    with pytest.raises(InputError, match="other individualCount"):
        take(logbook, never)
    mixed = table(tmp_path, {**CAPTURED, "captureID": "C-2", "individualCount": "2"}, name="mixed.csv")
    assert take(logbook, mixed, keep_good=True) == (0, 0, 1)
    assert everything(logbook) == before


def test_the_same_rows_from_a_workbook_change_nothing(logbook: Logbook, tmp_path: Path) -> None:
    take(logbook, DATA / "callouts.csv")
    added, _, _ = take(logbook, DATA / "captures.csv")
    with (DATA / "captures.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert take(logbook, workbook(tmp_path, rows[::-1])) == (0, added, 0)


@pytest.mark.parametrize("name", ["captures", "releases", "consents"])
@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_through_the_logbook_and_out_again(name: str, form: str, logbook: Logbook, tmp_path: Path) -> None:
    for first in ("callouts", "captures", name):
        take(logbook, DATA / f"{first}.csv")
    kind = read_entries(DATA / f"{name}.csv", species=BOOK).kind
    there = logbook.entries(kind)
    out = tmp_path / f"out.{form}"
    content = FORMATS[form](kind, there)
    out.write_bytes(content.encode() if isinstance(content, str) else content)
    assert take(logbook, out) == (0, len(there), 0)
    again = read_entries(out, species=BOOK)
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        original = [{c: v for c, v in row.items() if v} for row in csv.DictReader(file)]
    key = next(iter(original[0]))
    assert [dict(e.cells) for e in again.entries] == sorted(original, key=lambda r: r[key])


def test_one_bad_row_is_enough_to_take_none(logbook: Logbook, tmp_path: Path) -> None:
    bad = {**CAPTURED, "captureID": "C-2", "eventDate": "03/04/2026", "decimalLatitude": "-42,1"}
    path = table(tmp_path, CAPTURED, bad, {**CAPTURED, "captureID": "C-3", "individualCount": "0"})
    with pytest.raises(InputError) as caught:
        take(logbook, path)
    said = caught.value.text()
    for words in ("3 faults", "row 3, eventDate", "row 3: decimalLatitude", "row 4, individualCount"):
        assert words in said
    assert logbook.entries() == ()


def test_the_good_rows_alone_and_the_others_beside(logbook: Logbook, tmp_path: Path) -> None:
    bad = {**CAPTURED, "captureID": "C-2", "eventDate": "03/04/2026", "occurrenceRemarks": "=1+1"}
    path = table(tmp_path, CAPTURED, bad)
    sheet = read_entries(path, species=BOOK)
    done = import_sheet(logbook, sheet, by=WHO, at=AT, keep_good=True)
    assert (len(done.added), len(done.unchanged), len(done.refused), done.read) == (1, 0, 1, 2)
    beside = refused_path(path)
    assert beside.name == "captures-refused.csv"
    beside.write_text(refused_csv(sheet, done.refused), "utf-8")
    with beside.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    why = row.pop("why")
    assert "3 April or 4 March" in why
    assert row == {**bad, "occurrenceRemarks": "'=1+1"}
    # corrected in place, the same file goes in; its last column is no part of the record
    beside.write_text(beside.read_text("utf-8").replace("03/04/2026,", "2026-04-03T10:00+10:00,"), "utf-8")
    assert take(logbook, beside) == (1, 0, 0)
    entry = logbook.entry(CAPTURE, "C-2")
    assert entry is not None
    assert entry.cells == {**bad, "eventDate": "2026-04-03T10:00+10:00"}


def test_other_values_point_to_amending(logbook: Logbook, tmp_path: Path) -> None:
    take(logbook, table(tmp_path, CAPTURED))
    changed = table(tmp_path, {**CAPTURED, "individualCount": "2", "sex": "female"})
    with pytest.raises(InputError, match=r"other individualCount, sex.*tussock log amend capture C-1"):
        take(logbook, changed)
    assert take(logbook, changed, keep_good=True) == (0, 0, 1)
    assert [len(logbook.history(CAPTURE, "C-1"))] == [1]


def test_what_belongs_to_nothing_is_refused(logbook: Logbook, tmp_path: Path) -> None:
    take(logbook, table(tmp_path, CAPTURED))
    ended = {"captureID": "C-1", "eventDate": "2026-11-21T18:00+11:00", "disposal": "died"}
    path = table(tmp_path, ended, {**ended, "captureID": "C-9"}, name="releases.csv")
    with pytest.raises(InputError, match="row 3, captureID: no capture 'C-9' is in the book"):
        take(logbook, path)
    assert take(logbook, path, keep_good=True) == (1, 0, 1)


def test_several_outcomes_of_one_capture(logbook: Logbook, tmp_path: Path) -> None:
    take(logbook, table(tmp_path, {**CAPTURED, "individualCount": "2"}))
    ended = {"captureID": "C-1", "eventDate": "2026-11-21T18:00+11:00", "disposal": "died"}
    other = {**ended, "disposal": "released", "organismID": "B"}
    assert take(logbook, table(tmp_path, {"organismID": "A", **ended}, other, name="ends.csv")) == (2, 0, 0)
    assert {e.id for e in logbook.entries(DISPOSAL)} == {"C-1/A", "C-1/B"}


def test_residents_are_kept_apart_and_not_after_their_day(logbook: Logbook, tmp_path: Path) -> None:
    row = {
        "eventDate": CAPTURED["eventDate"],
        "residentName": "Orla Finchmere",
        "residentPhone": "00 0000 0001",
        "residentAddress": "",
    }
    late, over = ({"calloutID": n, **row, "residentKeepUntil": d} for n, d in
                  (("K-1", "2027-01-31"), ("K-2", "2026-11-30")))  # fmt: skip
    path = table(tmp_path, late, over, name="callouts.csv")
    assert take(logbook, path) == (2, 0, 0)
    who = logbook.resident("K-1")
    assert who is not None
    assert (who.name, who.phone, who.keep_until) == ("Orla Finchmere", "00 0000 0001", date(2027, 1, 31))
    assert logbook.resident("K-2") is None
    assert all("Orla" not in str(r) for e in logbook.entries() for r in logbook.history(e.kind, e.id))
    assert take(logbook, path) == (0, 2, 0)


_ROW = st.fixed_dictionaries(
    {
        "calloutID": st.sampled_from(["K-1", "K-2", "K-3", "K-4", "K-5", "", "K\n6"]),
        "eventDate": st.sampled_from(["2026-11-21T16:20+11:00"] * 3 + ["1/2/2026", "noon"]),
        "outcome": st.sampled_from(["captured", "captured", "not_found", "lost"]),
        "occurrenceRemarks": st.text(st.characters(codec="utf-8", exclude_characters="\0\r"), max_size=8),
    }
)


@settings(max_examples=60, deadline=None)
@given(files=st.lists(st.lists(_ROW, min_size=1, max_size=6), min_size=1, max_size=3))
def test_in_and_refused_are_what_was_read(
    files: list[list[dict[str, str]]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("book")
    held: dict[str, dict[str, str]] = {}
    with open_logbook(folder / "logbook.db") as logbook:
        for rows in files:
            added, unchanged, refused = take(
                logbook, table(folder, *rows, name="k.csv"), CALLOUT, keep_good=True
            )
            assert added + unchanged + refused == len(rows)
            held.update({e.id: dict(e.cells) for e in logbook.entries()} if added else {})
            assert len(held) == len(logbook.entries())  # nothing changes that is there
            assert take(logbook, table(folder, *rows, name="k.csv"), CALLOUT, keep_good=True) == (
                0, added + unchanged, refused
            )  # fmt: skip
        assert {e.id: dict(e.cells) for e in logbook.entries()} == held
        assert all(len(logbook.history(CALLOUT, n)) == 1 for n in held)


def test_an_entry_of_every_kind_goes_in(logbook: Logbook, tmp_path: Path) -> None:
    at = CAPTURED["eventDate"]
    tables: dict[str, dict[str, str]] = {
        "callout": {"calloutID": "K-1", "eventDate": at},
        "capture": {**CAPTURED, "calloutID": "K-1"},
        "disposal": {"captureID": "C-1", "eventDate": at, "disposal": "released", "answer:8(b)": "yes"},
        "check": {"captureID": "C-1", "eventDate": at, "kind": "spot"},
        "consent": {"consentID": "CN-1", "parcelID": "P-1", "validFrom": "2026-07-01"},
        "incident": {"captureID": "C-1", "eventDate": at, "incident": "escape"},
        "container": {"containerID": "B-1", "cleanedDate": f"{at} | {at}"},
    }
    assert set(tables) == set(KINDS)
    for kind, row in tables.items():
        path = table(tmp_path, row, name=f"{kind}.csv")
        assert take(logbook, path, kind) == (1, 0, 0)
        assert take(logbook, path, kind) == (0, 1, 0)
    found: list[Entry] = list(logbook.entries())
    assert {e.kind: dict(e.cells) for e in found} == tables
