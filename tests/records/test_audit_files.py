"""The files of an audit, read back with other libraries."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import datetime

import openpyxl
import pyarrow.parquet as pq
import pytest

from tests.external.test_audit_limit import audited
from tussock.records import audit_files
from tussock.records.audit_tables import finding_rows, releases_csv
from tussock.review.audit import Audit, Remark, Row


@pytest.fixture(scope="module")
def hostile() -> Audit:
    """An audit whose input has cells that spreadsheets would run, or cannot hold."""
    made = audited(30.0)
    cells = {**made.rows[0].kept.cells, "notes": "=1+1", "more": "a\x07b", "long": "x" * 40_000}
    first = Row(replace(made.rows[0].kept, cells=cells), made.rows[0].judged, made.rows[0].probabilities)
    return replace(made, rows=(first, *made.rows[1:]), remarks=(Remark("count", "@SUM(A1)", "C-1"),))


def test_the_workbook_holds_dates_filters_and_no_formula(hostile: Audit) -> None:
    book = openpyxl.load_workbook(io.BytesIO(audit_files.workbook(hostile)))
    assert book.sheetnames == ["records", "clauses", "book", "totals"]
    records = book["records"]
    header = [c.value for c in records[1]]
    first = dict(zip(header, records[2], strict=True))
    assert isinstance(first["local_time"].value, datetime)
    # 01:00 UTC and 4,939 minutes, an hour of holding, on Brisbane's clock (UTC+10)
    assert first["local_time"].value == datetime(2026, 3, 4, 22, 19)
    assert (first["notes"].value, first["notes"].data_type) == ("=1+1", "s")
    assert (first["more"].value, len(str(first["long"].value))) == ("a b", 32_767)
    assert book["book"]["D2"].data_type == "s"
    for sheet in book.worksheets:
        assert sheet.freeze_panes == "B2"
        assert sheet.auto_filter.ref == sheet.dimensions
        assert not any(c.data_type == "f" for row in sheet.iter_rows() for c in row)


def test_formulas_are_inert_in_the_table(hostile: Audit) -> None:
    assert "'=1+1" in releases_csv(hostile)


def test_places_are_longitude_latitude_with_the_verdict_in_words(hostile: Audit) -> None:
    found = json.loads(audit_files.places_geojson(hostile))
    assert found["features"][0]["geometry"]["coordinates"] == [153.06042415, -27.43827871]
    verdicts = [f["properties"]["verdict"] for f in found["features"]]
    assert verdicts == ["met", "uncertain", "uncertain", "uncertain", "not_met"]


def test_findings_come_back_from_parquet(hostile: Audit) -> None:
    table = pq.read_table(io.BytesIO(audit_files.findings_parquet(hostile))).to_pylist()
    assert table == [dict(row) for row in finding_rows(hostile)]


@pytest.mark.parametrize(
    "make", [audit_files.workbook, audit_files.places_geojson, audit_files.findings_parquet]
)
def test_same_bytes_and_known_as_our_own(hostile: Audit, make: object) -> None:
    assert callable(make)
    first, second = make(hostile), make(hostile)
    assert first == second
    content = first.encode() if isinstance(first, str) else first
    assert audit_files.is_ours(content[:100], content)


def test_files_of_others_are_not_ours() -> None:
    book, made = openpyxl.Workbook(), io.BytesIO()
    book.save(made)
    assert not audit_files.is_ours(made.getvalue()[:100], made.getvalue())
    for content in (b"PK\x03\x04 broken", b'{"type": "FeatureCollection"}', b"PAR1 of another"):
        assert not audit_files.is_ours(content, content)
