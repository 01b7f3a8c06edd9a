"""A return as tables, CSV and a workbook: counts by species and outcome, then the lines they are made of."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, time
from pathlib import Path
from typing import Any

from tussock.errors import Faults
from tussock.permit.toml_file import read_toml
from tussock.records.finished_workbook import add_sheet, finished, new_book
from tussock.records.returns import COLUMNS, Line, Return
from tussock.tables import csv_text

SHIPPED = Path(__file__).with_name("return_columns.toml")
OWN = "column:"
"""Begins what a column holds where it is one of the user's own."""
_HOLDS: Mapping[str, Callable[[Line], object]] = {
    "capture": lambda line: line.capture_id,
    "captured": lambda line: line.captured,
    "ended": lambda line: line.ended or "",
    "species": lambda line: line.scientific_name,
    "animals": lambda line: line.count,
    "outcome": lambda line: line.outcome,
}
SPECIES, ALL = "species", "all"
COUNTS_HEAD = ",".join((SPECIES, *COLUMNS))
INCOMPLETE = "INCOMPLETE"


@dataclass(frozen=True)
class Column:
    """A column of the lines: its header and what it holds."""

    header: str
    holds: str

    def of(self, line: Line) -> object:
        """Return what it holds of a line; empty where the line has none."""
        if self.holds.startswith(OWN):
            return line.cells.get(self.holds.removeprefix(OWN), "")
        return _HOLDS[self.holds](line)


def read_columns(path: Path | None = None) -> tuple[Column, ...]:
    """Return the columns of a file; those that come with Tussock where none is named.

    Raises
    ------
    InputError
        Listing every column that is none.
    """
    path = path or SHIPPED
    raw: Any = read_toml(path).get("columns")
    faults = Faults()
    listed = raw if isinstance(raw, list) and raw else []
    if not listed:
        faults.add(
            "it lists no columns", where=path.name, allowed="[[columns]] tables", fix="add one a column"
        )
    for n, table in enumerate(listed, start=1):
        _check(table, f"{path.name}, column {n}", faults)
    headers = [t.get("header") for t in listed if isinstance(t, dict)]
    for twice in sorted({str(h) for h in headers if headers.count(h) > 1}):
        faults.add(f"header '{twice[:40]}' stands twice", where=path.name, fix="rename one")
    faults.raise_if_any()
    return tuple(Column(str(t["header"]), str(t["holds"])) for t in listed)


def _check(table: object, where: str, faults: Faults) -> None:
    if not isinstance(table, dict) or set(table) != {"header", "holds"}:
        faults.add("it is no column", where=where, allowed='header = "…" and holds = "…"', fix="write both")
        return
    holds = str(table["holds"])
    own = holds.startswith(OWN) and holds.removeprefix(OWN).strip()
    if holds not in _HOLDS and not own:
        faults.add(f"holds '{holds[:40]}'", where=where, allowed=_allowed(), fix="write one of them")


def _allowed() -> str:
    return f"{', '.join(_HOLDS)}, or {OWN}NAME"


def counts_csv(found: Return) -> str:
    """Return animals by species and outcome, and of all species in the last row, as CSV."""
    return csv_text((SPECIES, *COLUMNS), count_rows(found))


def count_rows(found: Return) -> Iterator[dict[str, object]]:
    """Yield a row for each species, and one for all."""
    for name, row in found.counts.items():
        yield {SPECIES: name, **row}
    yield {SPECIES: ALL, **found.total}


def lines_csv(found: Return, columns: tuple[Column, ...]) -> str:
    """Return the lines as CSV, in the columns asked for."""
    return csv_text([c.header for c in columns], line_rows(found, columns))


def line_rows(found: Return, columns: tuple[Column, ...]) -> Iterator[dict[str, object]]:
    """Yield the lines by the headers asked for."""
    yield from ({c.header: c.of(line) for c in columns} for line in found.lines)


def gaps_csv(found: Return) -> str:
    """Return what keeps a return from being complete, as CSV under the word INCOMPLETE."""
    return csv_text((INCOMPLETE,), ({INCOMPLETE: words} for words in found.gaps))


def head_rows(found: Return) -> Iterator[dict[str, object]]:
    """Yield what stands above the counts: whose return it is, of which period, for whom, what it lacks."""
    permit, period = found.permit, found.period
    said: list[tuple[str, object]] = [
        ("permit", permit.id),
        ("holder", permit.holder),
        ("authority", permit.authority),
        ("from", period.first),
        ("to", period.last),
        ("due", period.due or ""),
        *(("recipient", name) for name in found.recipients),
        ("assigned by", "capture" if period.by_capture else "disposal"),
        *([("nil return", "no animal was held or taken")] if found.nil else []),
        *((INCOMPLETE, gap) for gap in found.gaps),
        *(("note", note) for note in found.notes),
    ]
    yield from ({"what": what, "value": value} for what, value in said)


def workbook(found: Return, columns: tuple[Column, ...]) -> bytes:
    """Return a return as a workbook (XLSX): its head, the counts and the lines, a sheet each.

    The same return gives the same bytes: the time inside is the last day of the period.
    """
    book = new_book(datetime.combine(found.period.last, time()))
    add_sheet(book, "return", ("what", "value"), head_rows(found))
    add_sheet(book, "counts", (SPECIES, *COLUMNS), count_rows(found))
    add_sheet(book, "lines", [c.header for c in columns], line_rows(found, columns))
    return finished(book)


def return_files(found: Return, columns: tuple[Column, ...]) -> dict[str, str | bytes]:
    """Return end of name → content of the files of a return."""
    made: dict[str, str | bytes] = {
        ".csv": counts_csv(found),
        "-lines.csv": lines_csv(found, columns),
        ".xlsx": workbook(found, columns),
    }
    return made | ({"-incomplete.csv": gaps_csv(found)} if found.gaps else {})
