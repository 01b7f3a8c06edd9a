"""An audit as files for other programs: a workbook, places, and the findings as columns.

The same audit gives the same bytes: times inside the files are those of the audit, not of the writing.
"""

from __future__ import annotations

import io
import json
from datetime import datetime

from tussock.records import finished_workbook
from tussock.records.audit_tables import FINDING_COLUMNS, finding_rows, release_columns, release_rows
from tussock.records.finished_workbook import add_sheet, finished, new_book
from tussock.review.audit import Audit, Row

WHEN = "local_time"
"""Column of the workbook with the end of holding, or the capture, as a date in the permit's zone."""
REMARK_COLUMNS = ("entry", "sort", "attention", "words", "evidence", "where")


def workbook(audit: Audit) -> bytes:
    """Return an audit as a workbook (XLSX): records, clauses, remarks and totals, a sheet each."""
    book = new_book(audit.now)
    records = [
        {WHEN: _local(row, audit), **found}
        for row, found in zip(audit.rows, release_rows(audit), strict=True)
    ]
    columns = release_columns(records)
    add_sheet(book, "records", (columns[0], WHEN, *(c for c in columns[1:] if c != WHEN)), records)
    add_sheet(book, "clauses", FINDING_COLUMNS, finding_rows(audit))
    add_sheet(book, "book", REMARK_COLUMNS, (vars(r) for r in audit.remarks))
    totals = {**vars(audit.totals), "reconciled": audit.totals.reconciled}
    add_sheet(book, "totals", ("what", "count"), ({"what": k, "count": v} for k, v in totals.items()))
    return finished(book)


def _local(row: Row, audit: Audit) -> datetime | None:
    """Return when a record ended on the permit's clock; a workbook knows no zones."""
    return row.when.astimezone(audit.permit.zone).replace(tzinfo=None, microsecond=0) if row.when else None


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
        return finished_workbook.is_ours(content)
    if head.startswith(b"PAR1"):
        return b"software" in content and b"tussock " in content
    return head.startswith(b'{\n "type": "FeatureCollection",\n "tussock": ')
