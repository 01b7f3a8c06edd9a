"""Tables as people save them: read as text, wrong rows named, nothing guessed, formulas never run."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from tussock.errors import InputError
from tussock.records.book import read_book
from tussock.records.entries import CALLOUT, CAPTURE, CHECK, CONSENT, CONTAINER, DISPOSAL, INCIDENT, KINDS
from tussock.records.kinds import guess_kind
from tussock.records.sheets import as_recorded, read_sheet
from tussock.records.tabled import Sheet, read_entries
from tussock.records.zones import with_offset
from tussock.species.profiles import load_profiles
from tussock.tables import csv_text, read_table

DATA = Path(__file__).resolve().parents[2] / "data-demo"
BOOK = load_profiles()
CAPTURED = {
    "captureID": "C-1",
    "eventDate": "2026-11-21T16:20:00+11:00",
    "decimalLatitude": "-42.071391",
    "decimalLongitude": "147.613950",
    "coordinateUncertaintyInMeters": "5",
    "scientificName": "Notechis scutatus",
    "individualCount": "1",
}


def table(folder: Path, *rows: Mapping[str, str], name: str = "captures.csv") -> Path:
    """Write rows as CSV as they stand, formulas too."""
    columns = list(dict.fromkeys(c for row in rows for c in row))
    path = folder / name
    text = csv_text(columns, rows).replace(",'=", ",=").replace(",'+", ",+")
    path.write_text(text, "utf-8")
    return path


def workbook(folder: Path, rows: Sequence[Mapping[str, Any]], *, sheet: str = "Sheet1") -> Path:
    book = Workbook()
    page = book.worksheets[0]
    page.title = sheet
    columns = list(dict.fromkeys(c for row in rows for c in row))
    page.append(columns)
    for row in rows:
        page.append([row.get(c) for c in columns])
    book.save(folder / "captures.xlsx")
    return folder / "captures.xlsx"


def why(sheet: Sheet) -> dict[int, str]:
    assert len(sheet.entries) + len(sheet.refused) == sheet.read
    return {r.row.number: " ".join(f.text() for f in r.why) for r in sheet.refused}


def refusal(folder: Path, **changed: str) -> str:
    """Return why a row is refused that is right but for what is changed; a right one stands beside it."""
    other = {**CAPTURED, "captureID": "C-2"}
    path = table(folder, {**CAPTURED, **changed}, other)
    sheet = read_entries(path, CAPTURE, species=BOOK)
    assert [e.id for e in sheet.entries] == ["C-2"]
    assert len(sheet.refused[0].why) == 1  # one fault is told once
    return why(sheet)[2]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"eventDate": "03/04/2026 14:00"}, "may be 3 April or 4 March"),
        ({"eventDate": "3.4.26"}, "may be 3 April or 4 March"),
        ({"eventDate": "25/12/2026 14:00"}, "write the year first"),
        ({"eventDate": "2026-11-21T16:20"}, "has no zone"),
        ({"eventDate": "2026-11-21"}, "not a date and time"),
        ({"eventDate": "2026-02-30T10:00+11:00"}, "not a date and time"),
        ({"eventDate": ""}, "eventDate is empty"),
        ({"trapCheckDate": "04/05/2026"}, "trapCheckDate: '04/05/2026' may be 4 May or 5 April"),
        ({"decimalLatitude": "42°04'17\"S"}, "convert it to decimal degrees"),
        ({"decimalLatitude": "-42,071391"}, "write a decimal point"),
        ({"decimalLatitude": "-92.07"}, "out of range"),
        ({"decimalLatitude": ""}, "decimalLatitude is empty"),
        ({"coordinateUncertaintyInMeters": "about 5"}, "is no number"),
        ({"geodeticDatum": "GDA94"}, "convert the coordinates"),
        ({"individualCount": "two"}, "individualCount: found 'two'"),
        ({"animalCondition": "tired"}, "fit, injured, sick, dead"),
        ({"scientificName": "Notechis scutatis"}, "Notechis scutatus"),
        ({"captureID": ""}, "captureID is empty"),
    ],
)
def test_a_wrong_row_is_named_with_its_reason(changed: dict[str, str], words: str, tmp_path: Path) -> None:
    if changed in ({"decimalLatitude": ""},):  # empty, so the other stands alone
        path = table(tmp_path, {**CAPTURED, **changed})
        assert words in why(read_entries(path, CAPTURE, species=BOOK))[2]
        return
    said = refusal(tmp_path, **changed)
    assert words in said
    assert said.startswith("captures.csv, row 2")


def test_what_is_given_in_two_ways_contradicts(tmp_path: Path) -> None:
    assert "different species" in refusal(tmp_path, vernacularName="eastern brown snake")


def test_duplicates_are_refused_all_with_the_rows_named(tmp_path: Path) -> None:
    path = table(tmp_path, CAPTURED, {**CAPTURED, "captureID": "C-2"}, {**CAPTURED, "individualCount": "2"})
    found = why(read_entries(path, species=BOOK))
    assert set(found) == {2, 4}
    assert "captureID 'C-1' stands in rows 2, 4" in found[2]


@pytest.mark.parametrize("kind", [CAPTURE, DISPOSAL, CONSENT])
def test_the_demonstrations_tables_are_read_whole(kind: str) -> None:
    path = DATA / {CAPTURE: "captures.csv", DISPOSAL: "releases.csv", CONSENT: "consents.csv"}[kind]
    sheet = read_entries(path, species=BOOK)
    rows = read_table(path).rows
    assert (sheet.kind, sheet.refused, sheet.read) == (kind, (), len(rows))
    assert [dict(e.cells) for e in sheet.entries] == [{c: v for c, v in r.cells.items() if v} for r in rows]


def test_a_table_tells_its_kind_by_its_columns() -> None:
    columns = {
        CALLOUT: ["calloutID", "eventDate", "outcome"],
        CAPTURE: ["captureID", "calloutID", "eventDate"],
        DISPOSAL: ["captureID", "eventDate", "disposal", "consentReference"],
        CHECK: ["checkID", "captureID"],
        CONSENT: ["consentID", "parcelID"],
        INCIDENT: ["captureID", "incident"],
        CONTAINER: ["containerID", "cleanedDate"],
    }
    assert {kind: guess_kind(listed, where="") for kind, listed in columns.items()} == {k: k for k in KINDS}
    with pytest.raises(InputError, match="no column tells"):
        guess_kind(["date", "place"], where="list.csv")


def test_missing_columns_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="missing column decimalLatitude, decimalLongitude"):
        read_entries(table(tmp_path, {"captureID": "C-1", "eventDate": "x"}), species=BOOK)


@pytest.mark.parametrize("column", ["phone", "Resident name", "residentPhone", "E-mail", "contact_phone"])
def test_residents_details_stay_out_of_the_book(column: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="looks like a resident's details"):
        read_entries(table(tmp_path, {**CAPTURED, column: "x"}), species=BOOK)


def test_callouts_name_residents_apart(tmp_path: Path) -> None:
    row = {"calloutID": "K-1", "eventDate": CAPTURED["eventDate"], "residentName": "Orla Finchmere"}
    path = table(tmp_path, {**row, "residentKeepUntil": "2027-01-31"})
    sheet = read_entries(path, species=BOOK)
    assert [(r.callout_id, r.name, r.keep_until) for r in sheet.residents] == [
        ("K-1", "Orla Finchmere", date(2027, 1, 31))
    ]
    assert set(sheet.entries[0].cells) == {"calloutID", "eventDate"}
    assert "until which day" in why(read_entries(table(tmp_path, row), species=BOOK))[2]


def test_a_cell_of_ten_megabytes(tmp_path: Path) -> None:
    path = table(
        tmp_path, {**CAPTURED, "occurrenceRemarks": "x" * 10_000_000}, {**CAPTURED, "captureID": "C-2"}
    )
    sheet = read_entries(path, species=BOOK)
    assert [e.id for e in sheet.entries] == ["C-2"]
    assert "row 2, occurrenceRemarks: a cell of 10000000 characters" in why(sheet)[2]
    assert len(why(sheet)[2]) < 500


def test_rows_that_do_not_fit_the_table_are_refused_alone(tmp_path: Path) -> None:
    path = table(tmp_path, CAPTURED, {**CAPTURED, "captureID": "C-2"})
    first, second, third = path.read_text("utf-8").splitlines()
    path.write_text(
        f"{first},,\n{second},beside,\n{third},,,beyond\n{third.replace('C-2', 'C-3')}\n", "utf-8"
    )
    sheet = read_entries(path, species=BOOK)
    assert [e.id for e in sheet.entries] == ["C-3"]
    assert "captures.csv, row 2, column 8: 'beside' stands under no name" in why(sheet)[2]
    assert "captures.csv, row 3: 10 cells under 9 columns: 'beyond' is one too many" in why(sheet)[3]


def test_cells_beside_a_workbooks_table_refuse_their_row_alone(tmp_path: Path) -> None:
    path = workbook(tmp_path, [CAPTURED, {**CAPTURED, "captureID": "C-2"}])
    book = load_workbook(path)
    book.worksheets[0]["J2"] = "beside"
    book.save(path)
    sheet = read_entries(path, species=BOOK)
    assert [e.id for e in sheet.entries] == ["C-2"]
    assert "captures.xlsx, row 2, column J: 'beside' stands under no name" in why(sheet)[2]


# --- zones -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "zone", "expected"),
    [
        # from memory: Tasmania is at +10, in summer at +11
        ("2026-07-01T12:00", "Australia/Hobart", "2026-07-01T12:00+10:00"),
        ("2026-12-01 12:00:30", "Australia/Hobart", "2026-12-01 12:00:30+11:00"),
        ("2026-12-01T12:00", "+09:30", "2026-12-01T12:00+09:30"),
        ("2026-12-01T12:00Z", "Australia/Hobart", "2026-12-01T12:00Z"),
        ("2026-12-01T12:00", "", "2026-12-01T12:00"),
    ],
)
def test_a_zone_of_the_row_completes_local_times(text: str, zone: str, expected: str) -> None:
    assert with_offset(text, zone, where="") == expected


@pytest.mark.parametrize(
    ("text", "words"),
    [
        # clocks go forward on the first Sunday of October at 2, back on the first of April at 3 (from memory)
        ("2026-10-04T02:30", "did not happen"),
        ("2026-04-05T02:30", r"happened twice.*\+11:00 for the first or \+10:00"),
    ],
)
def test_times_that_a_change_of_clocks_made_none_or_two(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        with_offset(text, "Australia/Hobart", where="row 2, eventDate")
    for offset in ("+10:00", "+11:00"):  # with its offset each is an instant
        assert with_offset(text + offset, "Australia/Hobart", where="") == text + offset


@settings(max_examples=200, deadline=None)
@given(
    st.datetimes(datetime(2000, 1, 1), datetime(2030, 1, 1)),
    st.sampled_from(["Australia/Hobart", "Australia/Lord_Howe", "Europe/Oslo", "America/New_York"]),
)
def test_a_completed_time_is_the_zones(moment: datetime, name: str) -> None:
    instant = moment.replace(microsecond=0, tzinfo=UTC).astimezone(ZoneInfo(name))
    text = instant.replace(tzinfo=None).isoformat()
    try:
        found = with_offset(text, name, where="")
    except InputError as error:
        assert "happened twice" in error.found  # it happened, so it was not left out
        twin = instant.replace(fold=1 - instant.fold)
        assert twin.utcoffset() != instant.utcoffset()
        return
    assert datetime.fromisoformat(found) == instant


# --- workbooks ---------------------------------------------------------------------------------------


def test_a_workbook_reads_like_the_csv(tmp_path: Path) -> None:
    rows = [dict(r.cells) for r in read_table(DATA / "captures.csv").rows]
    sheet = read_entries(workbook(tmp_path, rows), species=BOOK)
    assert not sheet.refused
    assert [e.cells for e in sheet.entries] == [
        e.cells for e in read_entries(DATA / "captures.csv", species=BOOK).entries
    ]


def test_typed_cells(tmp_path: Path) -> None:
    typed = {
        **CAPTURED,
        "captureID": 101,
        "eventDate": datetime(2026, 11, 21, 16, 20),
        "timeZone": "Australia/Hobart",
        "decimalLatitude": -42.5,
        "individualCount": 2.0,
        "weight": 0.1,
    }
    found = read_entries(workbook(tmp_path, [typed]), species=BOOK)
    assert not found.refused
    cells = found.entries[0].cells
    assert (cells["captureID"], cells["individualCount"], cells["weight"]) == ("101", "2", "0.1")
    assert cells["eventDate"] == "2026-11-21T16:20:00+11:00"
    # a cell with the number -42.5 does not say that only a decimal was measured
    book = read_book(found.entries, species=BOOK, now=datetime(2026, 12, 1, tzinfo=UTC))
    assert book.captures[0].position.radius_m == 5


def test_a_date_cell_without_a_zone_is_refused(tmp_path: Path) -> None:
    rows: list[dict[str, Any]] = [
        {**CAPTURED, "eventDate": datetime(2026, 11, 21, 16, 20)},
        {**CAPTURED, "captureID": "C-2"},
    ]
    sheet = read_entries(workbook(tmp_path, rows), species=BOOK)
    assert [e.id for e in sheet.entries] == ["C-2"]
    assert "row 2, eventDate: '2026-11-21T16:20:00' has no zone" in why(sheet)[2]
    assert "column timeZone" in why(sheet)[2]


def test_dates_of_consents_are_dates(tmp_path: Path) -> None:
    row = {"consentID": "CN-1", "parcelID": "P-1", "validFrom": datetime(2026, 7, 1), "number": 3}
    found = read_entries(workbook(tmp_path, [row]), species=BOOK)
    assert dict(found.entries[0].cells) == {
        "consentID": "CN-1", "parcelID": "P-1", "validFrom": "2026-07-01", "number": "3"
    }  # fmt: skip


def test_formulas_are_never_run_and_never_a_record(tmp_path: Path) -> None:
    rows = [{**CAPTURED, "individualCount": "=1+1"}, {**CAPTURED, "captureID": "C-2"}]
    sheet = read_entries(workbook(tmp_path, rows), species=BOOK)
    assert "row 2, individualCount: it is a formula" in why(sheet)[2]
    text = table(tmp_path, {**CAPTURED, "occurrenceRemarks": "=HYPERLINK(1)"})  # text in CSV is text
    assert read_entries(text, species=BOOK).entries[0].get("occurrenceRemarks") == "=HYPERLINK(1)"


@pytest.mark.parametrize("text", ["=1+1", "'=1+1", "-", "+61 3", "@x", "'twas", "''=x", "5", "-5.25", "\t=x"])
def test_what_is_made_inert_comes_back_as_it_was(text: str, tmp_path: Path) -> None:
    recorded = as_recorded(text)
    path = tmp_path / "remarks.csv"
    path.write_text(csv_text(["a", "b"], [{"a": "x", "b": recorded}]), "utf-8")
    assert read_sheet(path).rows[0].cells["b"] == recorded


def test_several_tables_and_no_name(tmp_path: Path) -> None:
    path = workbook(tmp_path, [CAPTURED])
    book = Workbook()
    for name in ("one", "two"):
        page = book.create_sheet(name)
        page.append(list(CAPTURED))
        page.append(list(CAPTURED.values()))
    book.save(path)
    with pytest.raises(InputError, match="2 tables, on the sheets one, two"):
        read_entries(path, CAPTURE, species=BOOK)
    book["two"].title = "Captures"
    book.save(path)
    assert len(read_entries(path, CAPTURE, species=BOOK).entries) == 1


@pytest.mark.parametrize("content", [b"", b"no workbook", b"PK\x03\x04 cut off"])
def test_what_is_no_workbook(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "captures.xlsx"
    path.write_bytes(content)
    with pytest.raises(InputError, match="cannot be read as a workbook"):
        read_entries(path, species=BOOK)


def test_parts_of_a_workbook_that_are_broken(tmp_path: Path) -> None:
    path = workbook(tmp_path, [CAPTURED])
    whole = path.read_bytes()
    for spoilt in ("xl/worksheets/sheet1.xml", "xl/workbook.xml", "[Content_Types].xml"):
        made = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(made, "w") as new:
            for name in old.namelist():
                content = old.read(name)
                new.writestr(name, content[: len(content) // 2] if name == spoilt else content)
        path.write_bytes(made.getvalue())
        with pytest.raises(InputError, match=r"captures\.xlsx"):
            read_entries(path, species=BOOK)


def test_an_old_spreadsheet_is_told_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="save it as XLSX"):
        read_sheet(tmp_path / "captures.xls")


# --- what is taken can be read -----------------------------------------------------------------------

_CELLS = {
    "eventDate": ["2026-11-21T16:20+11:00", "2026-11-21T05:20Z", "21/11/2026", "2026-11-21T16:20", ""],
    "decimalLatitude": ["-42.07", "0", "42,1", "91", "", "−42.1"],
    "decimalLongitude": ["147.6", "0", "147°", "", "181"],
    "coordinateUncertaintyInMeters": ["", "5", "0", "-1", "x", "1e9", "99999999999"],
    "geodeticDatum": ["", "WGS84", "GDA94"],
    "scientificName": ["", "Notechis scutatus", "Ficticia exempli", "Notechis scutatis", "!"],
    "vernacularName": ["", "tiger snake", "adder"],
    "individualCount": ["", "1", "0", "x", "1000000", "٣"],
    "identification": ["", "certain", "probable", "perhaps"],
    "orScientificName": ["", "Pseudonaja textilis", "Notechis scutatus"],
    "animalCondition": ["", "fit", "Fit", "dead", "poorly"],
    "trapCheckDate": ["", "2026-11-21T12:00+11:00", "noon"],
    "recordedDate": ["", "2026-11-22T12:00+11:00", "2026-11-22"],
    "disposal": ["released", "Died", "sold", ""],
    "airTemperature": ["", "17.5", "17,5", "1|2|3"],
    "incident": ["bite", "Bite", "scratch", ""],
    "cleanedDate": ["2026-11-21T16:20+11:00 | 2026-11-22T05:20Z", "yesterday", ""],
    "validFrom": ["2026-07-01", "1/7/2026", ""],
    "validTo": ["", "2026-06-01", "2027-06-01"],
    "parcelID": ["P-1", ""],
    "captureID": ["C-1", "C-2", ""],
    "containerID": ["B-1", ""],
    "consentID": ["CN-1", ""],
}


_SPOILT = st.sampled_from([(c, v) for c, values in _CELLS.items() for v in values])


@settings(max_examples=400, deadline=None)
@given(
    kind=st.sampled_from([CAPTURE, DISPOSAL, CHECK, CONSENT, INCIDENT, CONTAINER]),
    spoilt=st.lists(_SPOILT, max_size=3),
)
def test_every_row_taken_can_be_read_as_a_book(
    kind: str, spoilt: list[tuple[str, str]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    cells = {"checkID": "", **{c: values[0] for c, values in _CELLS.items()}, **dict(spoilt)}
    sheet = read_entries(table(tmp_path_factory.mktemp("row"), cells), kind, species=BOOK)
    assert len(sheet.entries) + len(sheet.refused) == 1
    assert sheet.entries or spoilt
    if sheet.entries:
        read_book(sheet.entries, species=BOOK, now=datetime(2026, 12, 1, tzinfo=UTC))
