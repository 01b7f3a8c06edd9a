"""Tables as people save them, CSV or XLSX, as rows of text with the faults that a file format brings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tussock.errors import InputError
from tussock.records.entries import DISPOSAL, KINDS
from tussock.records.workbooks import read_workbook
from tussock.tables import inert, read_table

WHY = "why"
"""Column of a file of refused rows that says why; it is no part of the record."""
REFUSED = "-refused"
"""Ends the name of a file of refused rows."""
WALL = " (wall clock)"
"""Ends the columns of an exported workbook that show an instant's date for sorting; read past."""


@dataclass(frozen=True)
class SheetRow:
    """A row as it stands in its file.

    Attributes
    ----------
    cells
        Column → text, trimmed; empty cells are left out.
    faults
        What is wrong with single cells of the file, whatever they mean.
    """

    number: int
    cells: Mapping[str, str]
    where: str
    faults: tuple[InputError, ...] = ()


@dataclass(frozen=True)
class RawSheet:
    """A table as it stands in its file."""

    path: Path
    columns: tuple[str, ...]
    rows: tuple[SheetRow, ...] = field(default_factory=tuple)


def read_sheet(path: Path, kind: str = "") -> RawSheet:
    """Return a table of entries as text, from CSV or XLSX.

    Parameters
    ----------
    kind
        Kind of its entries, where known: tells which sheet of a workbook is meant.

    Raises
    ------
    InputError
        When the file is no table.
    """
    suffix = path.suffix.lower()
    if suffix in (".xlsx", ".xlsm"):
        return _of_workbook(path, kind)
    if suffix in (".xls", ".ods", ".numbers"):
        found, fix = f"a spreadsheet of the form {suffix}", "save it as XLSX, or as CSV UTF-8"
        raise InputError(found, where=path.name, allowed="CSV in UTF-8, or XLSX", fix=fix)
    return _of_csv(path)


def as_recorded(text: str) -> str:
    """Return a cell's text without the apostrophe that keeps a spreadsheet from running it.

    Examples
    --------
    >>> as_recorded("'=1+1"), as_recorded("'twas dark")
    ('=1+1', "'twas dark")
    """
    stripped = text.strip()
    bare = stripped[1:].strip()
    return bare if stripped.startswith("'") and inert(bare) != bare else stripped


def _of_csv(path: Path) -> RawSheet:
    table = read_table(path, row_by_row=True)
    columns = _own(path, table.columns)
    rows = [SheetRow(r.number, _kept(r.cells, columns), r.where, r.faults) for r in table.rows]
    return RawSheet(path, columns, tuple(rows))


def _sheets(kind: str) -> tuple[str, ...]:
    """Return what the sheet of a kind of entries may be called."""
    return (kind, f"{kind}s", *(("releases",) if kind == DISPOSAL else ()))


def _of_workbook(path: Path, kind: str) -> RawSheet:
    grid = read_workbook(path, names=[n for k in ([kind] if kind else KINDS) for n in _sheets(k)])
    columns = _own(path, grid.columns)
    rows = []
    for line in grid.lines:
        cells, where = _kept(line.cells, columns), f"{path.name}, row {line.number}"
        faults = [
            InputError(found, where=f"{where}, {c}", allowed="text or numbers", fix="write the value itself")
            for c, found in line.faults.items()
            if c in columns
        ]
        faults += [
            InputError(
                f"'{text}' stands under no name",
                where=f"{where}, column {letter}",
                allowed="cells under named columns",
                fix="give the column a name, or empty the cell",
            )
            for letter, text in line.loose.items()
        ]
        rows.append(SheetRow(line.number, cells, where, tuple(faults)))
    return RawSheet(path, columns, tuple(rows))


def _own(path: Path, columns: tuple[str, ...]) -> tuple[str, ...]:
    """Return the columns that are the record's: not the reason of a refusal, not dates for sorting."""
    aside = {c for c in columns if c.endswith(WALL) and c.removesuffix(WALL) in columns}
    if path.stem.endswith(REFUSED) and columns and columns[-1] == WHY:
        aside.add(WHY)
    return tuple(c for c in columns if c and c not in aside)


def _kept(cells: Mapping[str, str], columns: tuple[str, ...]) -> dict[str, str]:
    return {c: text for c in columns if (text := as_recorded(cells.get(c, "")))}
