"""An audit as files for other programs: a workbook, places, and the findings as columns.

The same audit gives the same bytes: times inside the files are those of the audit, not of the writing.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from tussock.records.audit_tables import FINDING_COLUMNS, finding_rows, release_columns, release_rows
from tussock.review.audit import Audit, Row

WHEN = "local_time"
"""Column of the workbook with the end of holding, or the capture, as a date in the permit's zone."""
REMARK_COLUMNS = ("entry", "sort", "attention", "words", "evidence", "where")
MARK = "Tussock"
"""Stands in every file, so that Tussock knows its own."""
_MOST_CHARACTERS = 32_767
"""Most that a cell of a workbook holds (a limit of the format, from memory)."""
_FIRST_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")


def workbook(audit: Audit) -> bytes:
    """Return an audit as a workbook (XLSX): records, clauses, remarks and totals, a sheet each.

    Headers stay in sight and filter; dates are dates; text that looks like a formula is text. Text is cut
    at 32,767 characters, all that a cell holds.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.properties.creator = book.properties.title = MARK
    book.properties.created = audit.now.replace(tzinfo=None)
    book.remove(book.worksheets[0])
    records = [
        {WHEN: _local(row, audit), **found}
        for row, found in zip(audit.rows, release_rows(audit), strict=True)
    ]
    columns = release_columns(records)
    _sheet(book, "records", (columns[0], WHEN, *(c for c in columns[1:] if c != WHEN)), records)
    _sheet(book, "clauses", FINDING_COLUMNS, finding_rows(audit))
    _sheet(book, "book", REMARK_COLUMNS, (vars(r) for r in audit.remarks))
    totals = {**vars(audit.totals), "reconciled": audit.totals.reconciled}
    _sheet(book, "totals", ("what", "count"), ({"what": k, "count": v} for k, v in totals.items()))
    made = io.BytesIO()
    book.save(made)
    return _steady(made.getvalue(), audit.now)


def _local(row: Row, audit: Audit) -> datetime | None:
    """Return when a record ended on the permit's clock; a workbook knows no zones."""
    return row.when.astimezone(audit.permit.zone).replace(tzinfo=None, microsecond=0) if row.when else None


def _sheet(book: Any, name: str, columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> None:
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    sheet = book.create_sheet(name)
    sheet.append(list(columns))
    for n, row in enumerate(rows, start=2):
        for k, column in enumerate(columns, start=1):
            value = row.get(column)
            if value is None or value == "":
                continue
            if isinstance(value, str):
                cell = sheet.cell(n, k)
                cell.value = ILLEGAL_CHARACTERS_RE.sub(" ", value)[:_MOST_CHARACTERS]
                cell.data_type = "s"  # never a formula
            else:
                sheet.cell(n, k, value)
    sheet.freeze_panes = "B2"
    sheet.auto_filter.ref = sheet.dimensions


def _steady(content: bytes, now: datetime) -> bytes:
    """Return a workbook with the time of the audit in place of the time of writing."""
    stamp = now.replace(tzinfo=None, microsecond=0).isoformat() + "Z"
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted(old.namelist()):
            part = _MODIFIED.sub(rb"\g<1>" + stamp.encode() + rb"\g<2>", old.read(name))
            new.writestr(zipfile.ZipInfo(name, _FIRST_ZIP_DATE), part, zipfile.ZIP_DEFLATED)
    return made.getvalue()


def places_geojson(audit: Audit) -> str:
    """Return the places of release as GeoJSON (RFC 7946), the verdict in words; captures are left out."""
    features = []
    for row, found in zip(audit.rows, release_rows(audit), strict=True):
        at = row.kept.handling.let_go_at if row.kept.handling else None
        if at is not None:
            point = {"type": "Point", "coordinates": [at.longitude, at.latitude]}
            properties = {**found, "radius_m": at.radius_m}
            features.append({"type": "Feature", "geometry": point, "properties": properties})
    made = {"type": "FeatureCollection", "tussock": audit.software, "features": features}
    return json.dumps(made, ensure_ascii=False, indent=1) + "\n"


def findings_parquet(audit: Audit) -> bytes:
    """Return a row for each record and clause as Parquet."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    numbers = {"value_low", "value_high", "limit", "margin", "p_met"}
    schema = pa.schema(
        [(c, pa.float64() if c in numbers else pa.string()) for c in FINDING_COLUMNS],
        metadata={"software": audit.software},
    )
    rows = [{c: row[c] for c in FINDING_COLUMNS} for row in finding_rows(audit)]
    made = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(rows, schema=schema), made)
    return made.getvalue()


def is_ours(head: bytes, content: bytes) -> bool:
    """Return whether Tussock wrote a file of these kinds: ``head`` is how it begins."""
    if head.startswith(b"PK"):
        return _in_workbook(content)
    if head.startswith(b"PAR1"):
        return b"software" in content and b"tussock " in content
    return head.startswith(b'{\n "type": "FeatureCollection",\n "tussock": ')


def _in_workbook(content: bytes) -> bool:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            return MARK.encode() in parts.read("docProps/core.xml")
    except (zipfile.BadZipFile, KeyError, OSError):
        return False
