"""``tussock audit`` of a workbook: the same records as of the tables that it was made of."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from openpyxl import Workbook

from tests.cli.running import DATA, Runner
from tussock.tables import read_table

NOW = ("--now", "2026-11-16T18:00:00+11:00")


def test_a_workbook_is_audited_as_its_tables_are(run: Runner, tmp_path: Path) -> None:
    book = Workbook()
    for name in ("captures", "releases"):
        table, page = read_table(DATA / f"{name}.csv"), book.create_sheet(name)
        page.append(list(table.columns))
        for row in table.rows:
            page.append([row.get(c) for c in table.columns])
    book.save(tmp_path / "book.xlsx")
    asked = ("audit", "--permit", str(DATA / "permit.toml"), *NOW, "--format", "csv")
    tables = ("--captures", str(DATA / "captures.csv"), "--releases", str(DATA / "releases.csv"))
    of_tables = run(*asked, *tables)
    of_book = run(*asked, "--captures", "book.xlsx", "--releases", "book.xlsx")
    assert of_book.code == of_tables.code, of_book.err
    told, found = (list(csv.DictReader(io.StringIO(ran.out))) for ran in (of_tables, of_book))
    plain = [
        {
            k: v.replace("captures.csv", "book.xlsx").replace("releases.csv", "book.xlsx")
            for k, v in row.items()
        }
        for row in told
    ]
    assert found == plain
    assert len(found) >= len(read_table(DATA / "captures.csv").rows)
