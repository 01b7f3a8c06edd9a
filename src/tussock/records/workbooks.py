"""A workbook (XLSX) read as text: what its cells say, and which of them no record can be made of."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from tussock.errors import InputError
from tussock.position import LATITUDE, LONGITUDE
from tussock.tables import MAX_CELL, read_bytes

MOST_UNPACKED = 1_000_000_000
"""Largest workbook that is unpacked [bytes]; a hundred thousand records take a tenth of it."""
DECIMALS = 7
"""Decimals that a coordinate from a cell with a number is written with: such a cell does not show how many
were measured, so it is no reason to widen the radius."""


@dataclass(frozen=True)
class Line:
    """A row below the header: its number, its cells as text by column, and the faults of single cells.

    Attributes
    ----------
    loose
        Letters of columns without a name → how the cell under them begins.
    """

    number: int
    cells: Mapping[str, str]
    faults: Mapping[str, str] = field(default_factory=dict)
    loose: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Grid:
    """The sheet of a workbook that was read."""

    columns: tuple[str, ...]
    lines: tuple[Line, ...]


def read_workbook(path: Path, *, names: Iterable[str] = ()) -> Grid:
    """Return a workbook's table as text.

    Parameters
    ----------
    names
        What the sheet may be called, where the workbook has several.

    Raises
    ------
    InputError
        When it is no workbook, has no table, or several and none of those names.
    """
    content = read_bytes(path)
    _check_size(content, path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of parts of the workbook that no table needs
            return _opened(content, path, [n.lower() for n in names])
    except InputError:
        raise
    except Exception as error:  # whatever the parser stumbles over in a broken file
        raise _unreadable(path, f"{type(error).__name__}: {error}") from None


def _check_size(content: bytes, path: Path) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            size = sum(p.file_size for p in parts.infolist())
    except (zipfile.BadZipFile, ValueError, OSError) as error:
        raise _unreadable(path, str(error)) from None
    if size > MOST_UNPACKED:
        raise InputError(
            f"it unpacks to {size} bytes",
            where=path.name,
            allowed=f"up to {MOST_UNPACKED}",
            fix="split it, or save the table as CSV UTF-8",
        )


def _unreadable(path: Path, why: str) -> InputError:
    return InputError(
        f"it cannot be read as a workbook ({why[:120]})",
        where=path.name,
        allowed="XLSX, or CSV in UTF-8",
        fix="open it in a spreadsheet and save it as XLSX or as CSV UTF-8",
    )


def _opened(content: bytes, path: Path, names: list[str]) -> Grid:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(content), read_only=True, data_only=False)
    try:
        found = [(sheet.title, grid) for sheet in book.worksheets if (grid := _grid(sheet, path))]
    finally:
        book.close()
    named = [grid for title, grid in found if title.lower() in names]
    if len(named) == 1:
        return named[0]
    if len(found) == 1:
        return found[0][1]
    if not found:
        raise InputError("it is empty", where=path.name, allowed="a header row and rows below it")
    raise InputError(
        f"it has {len(found)} tables, on the sheets {', '.join(title for title, _ in found)[:200]}",
        where=path.name,
        allowed="one table, or a sheet named after the kind of its entries",
        fix="name the kind with --kind and the sheet after it, or take the others out",
    )


def _grid(sheet: Any, path: Path) -> Grid | None:
    sheet.reset_dimensions()  # what the file says of its own size may be wrong
    rows = sheet.iter_rows()
    header = [_heading(c) for c in next(rows, ())]
    while header and not header[-1]:
        header.pop()
    if not header:
        return None
    named = [c for c in header if c]
    twice = sorted({c for c in named if named.count(c) > 1})
    if twice:
        where = f"{path.name}, sheet {sheet.title}"
        raise InputError(f"column {', '.join(twice)} stands twice", where=where, fix="rename one")
    return Grid(tuple(header), tuple(_lines(rows, header)))


def _heading(cell: Any) -> str:
    return "" if cell.value is None else str(cell.value).strip()


def _lines(rows: Iterable[Any], header: list[str]) -> Iterator[Line]:
    for number, row in enumerate(rows, start=2):
        filled = [(k, c) for k, c in enumerate(row) if c.value is not None and str(c.value).strip()]
        named = [(header[k], c) for k, c in filled if k < len(header) and header[k]]
        loose = {
            c.column_letter: _text(c.value, "")[:40] for k, c in filled if k >= len(header) or not header[k]
        }
        if filled:
            yield _line(number, named, loose)


def _line(number: int, filled: Iterable[tuple[str, Any]], loose: Mapping[str, str]) -> Line:
    cells, faults = {}, {}
    for column, cell in filled:
        cells[column] = _text(cell.value, column).strip()
        if fault := _fault(cell):
            faults[column] = fault
    return Line(number, cells, faults, loose)


def _fault(cell: Any) -> str:
    """Return why no record can be made of a cell; empty where one can."""
    if cell.data_type == "f":
        return "it is a formula, which is not what was seen"
    if cell.data_type == "e":
        return "it is an error of the spreadsheet"
    if isinstance(cell.value, str) and len(cell.value) > MAX_CELL:
        return f"it has {len(cell.value)} characters, more than {MAX_CELL}"
    return ""


def _text(value: object, column: str) -> str:
    """Return what a cell holds as text; a date with a time is written without a zone, for it has none."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        midnight = (value.hour, value.minute, value.second, value.microsecond) == (0, 0, 0, 0)
        return value.date().isoformat() if midnight else _rounded(value).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, int | float):
        return _number(value, column)
    return str(value)[: MAX_CELL + 1]


def _rounded(value: datetime) -> datetime:
    """Return a time to the second: days counted in floating point are off by microseconds."""
    from datetime import timedelta

    half = timedelta(microseconds=500_000)
    return (value + half).replace(microsecond=0)


def _number(value: float, column: str) -> str:
    if column in (LATITUDE, LONGITUDE):
        text = format(value, f".{DECIMALS}f")
        return text if float(text) == value else repr(value)
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(value)
