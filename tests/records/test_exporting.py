"""The book as files: what went in comes out, nothing private with it, and twice the same bytes."""

from __future__ import annotations

import csv
import io
import json
import time
import zipfile
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pyogrio
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.records.test_sheets import BOOK, CAPTURED, DATA, table
from tussock.errors import InputError
from tussock.records.entries import CALLOUT, CAPTURE, CONSENT, Entry
from tussock.records.exporting import FORMATS, is_ours, to_csv, to_geojson, to_geopackage, to_workbook
from tussock.records.tabled import read_entries


def read(path: Path) -> tuple[Entry, ...]:
    sheet = read_entries(path, species=BOOK)
    assert not sheet.refused
    return sheet.entries


def cells(entries: Sequence[Entry]) -> list[tuple[str, dict[str, str]]]:
    return [(e.id, dict(e.cells)) for e in entries]


@pytest.mark.parametrize("name", ["captures", "releases", "consents"])
@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_out_and_in_again(name: str, form: str, tmp_path: Path) -> None:
    first = read_entries(DATA / f"{name}.csv", species=BOOK)
    out = tmp_path / f"out.{form}"
    content = FORMATS[form](first.kind, first.entries)
    out.write_bytes(content.encode() if isinstance(content, str) else content)
    assert cells(read(out)) == cells(first.entries)


_TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=12)
_ODD = st.sampled_from(
    ["=1+1", "'=1", "-", "@a", "+5", "-5.2", "a;b", 'say "no"', "two\nlines", "0012", "NULL"]
)


@settings(max_examples=120, deadline=None)
@given(
    columns=st.lists(_TEXT.filter(lambda c: c.strip() == c), min_size=1, max_size=4, unique=True),
    values=st.lists(st.one_of(_TEXT, _ODD), min_size=4, max_size=4),
)
def test_any_column_and_any_text_comes_back_from_csv(
    columns: list[str], values: list[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    more = {f"x {c}": v.strip() for c, v in zip(columns, values, strict=False)}
    path = table(tmp_path_factory.mktemp("out"), {**CAPTURED, **more})
    first = read(path)
    path.write_text(to_csv(CAPTURE, first), "utf-8")
    assert cells(read(path)) == cells(first)


def test_a_workbook_for_people(tmp_path: Path) -> None:
    entry = Entry(CAPTURE, "C-1", {**CAPTURED, "occurrenceRemarks": "=1+1", "note": "01"})
    path = tmp_path / "captures.xlsx"
    path.write_bytes(to_workbook(CAPTURE, [entry]))
    sheet = openpyxl.load_workbook(path)["capture"]
    assert (sheet.freeze_panes, sheet.auto_filter.ref) == ("B2", sheet.dimensions)
    found = {head.value: cell for head, cell in zip(sheet[1], sheet[2], strict=True)}
    assert found["eventDate"].value == CAPTURED["eventDate"]
    assert found["eventDate (wall clock)"].value == datetime(2026, 11, 21, 16, 20)
    assert found["individualCount"].value == 1
    assert (found["occurrenceRemarks"].value, found["occurrenceRemarks"].data_type) == ("=1+1", "s")
    assert (found["decimalLongitude"].value, found["note"].value) == ("147.613950", "01")
    assert cells(read(path)) == cells([entry])


def test_dates_of_consents_are_real_dates(tmp_path: Path) -> None:
    row = {"consentID": "CN-1", "parcelID": "P-1", "validFrom": "2026-07-01", "number": "3"}
    path = tmp_path / "consents.xlsx"
    path.write_bytes(to_workbook(CONSENT, [Entry(CONSENT, "CN-1", row)]))
    sheet = openpyxl.load_workbook(path)["consent"]
    values = [c.value for c in sheet[2]]
    assert datetime(2026, 7, 1) in values or date(2026, 7, 1) in values
    assert dict(read(path)[0].cells) == row


def test_geopackage_and_geojson_hold_every_entry(tmp_path: Path) -> None:
    entries = [
        Entry(
            CALLOUT, "K-1", {"calloutID": "K-1", "decimalLatitude": "−42.07", "decimalLongitude": "147.61"}
        ),
        Entry(CALLOUT, "K-2", {"calloutID": "K-2", "FID": "x", "Fid_2": "y", "outcome": "not_found"}),
    ]
    path = tmp_path / "callouts.gpkg"
    path.write_bytes(to_geopackage(CALLOUT, entries))
    frame = pyogrio.read_dataframe(path, layer="callouts")
    assert str(frame.crs) == "EPSG:4326"
    assert [(p.x, p.y) if p else None for p in frame.geometry] == [(147.61, -42.07), None]
    assert list(frame["calloutID"]) == ["K-1", "K-2"]
    assert {"x", "y"} <= {v for v in frame.iloc[1] if isinstance(v, str)}
    found = json.loads(to_geojson(CALLOUT, entries))["features"]
    assert [f["geometry"] and f["geometry"]["coordinates"] for f in found] == [[147.61, -42.07], None]
    assert [f["properties"] for f in found] == [dict(e.cells) for e in entries]
    for make in (to_geojson, to_geopackage):
        with pytest.raises(InputError, match="no place of its own"):
            make(CONSENT, [])


def test_folders_of_photos_stay_at_home() -> None:
    media = r"C:\Users\me\a.jpg | home/me/b.jpg | https://example.org/c.jpg"
    entry = Entry(CAPTURE, "C-1", {**CAPTURED, "associatedMedia": media})
    for make in FORMATS.values():
        content = make(CAPTURE, [entry])
        if isinstance(content, str):
            assert "a.jpg | b.jpg | https://example.org/c.jpg" in content
        if isinstance(content, bytes) and content.startswith(b"PK"):
            with zipfile.ZipFile(io.BytesIO(content)) as parts:
                content = b"".join(parts.read(n) for n in parts.namelist())
        assert "a.jpg" in str(content)
        assert "Users" not in str(content)
        assert "home/me" not in str(content)


@pytest.mark.parametrize("form", FORMATS)
def test_the_same_entries_give_the_same_bytes(form: str, tmp_path: Path) -> None:
    entries = read(DATA / "captures.csv")
    first = FORMATS[form](CAPTURE, entries)
    time.sleep(1.1)  # files carry whole seconds
    assert FORMATS[form](CAPTURE, entries) == first
    path = tmp_path / f"out.{form}"
    path.write_bytes(first.encode() if isinstance(first, str) else first)
    assert is_ours(path) is (form != "csv")


def test_a_text_too_long_for_a_workbook_is_said() -> None:
    entry = Entry(CAPTURE, "C-1", {**CAPTURED, "occurrenceRemarks": "x" * 32_768})
    with pytest.raises(InputError, match=r"capture C-1, occurrenceRemarks.*export as CSV"):
        to_workbook(CAPTURE, [entry])
    assert len(next(csv.DictReader(io.StringIO(to_csv(CAPTURE, [entry]))))["occurrenceRemarks"]) == 32_768
