"""Tables as people save them: CSV with or without BOM, commas, semicolons or tabs, any line ends."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from tussock.errors import InputError

MAX_CELL = 100_000
"""Longest cell read [characters]; a longer one is a wrong file, not a record (choice of this project)."""
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_PLAIN_NUMBER = re.compile(r"[+-]?\d+(\.\d*)?")


@dataclass(frozen=True)
class Row:
    """One row: its number in the file (the header is row 1) and its cells as text, trimmed."""

    number: int
    cells: Mapping[str, str]
    where: str

    def get(self, column: str) -> str:
        """Return the cell's text, empty where the column or the cell is missing."""
        return self.cells.get(column, "")


@dataclass(frozen=True)
class Table:
    """A whole table, as text."""

    path: Path
    columns: tuple[str, ...]
    rows: tuple[Row, ...]

    def require(self, columns: Iterable[str]) -> None:
        """Raise InputError when a column is missing."""
        missing = [c for c in columns if c not in self.columns]
        if missing:
            raise InputError(
                f"missing column {', '.join(missing)}; found {', '.join(self.columns)[:300]}",
                where=self.path.name,
                allowed="the column names of Darwin Core, spelt as there",
                fix="rename or add the column",
            )


def read_bytes(path: Path) -> bytes:
    """Return a file's bytes.

    Raises
    ------
    InputError
        When it cannot be read.
    """
    try:
        return path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte in it
        raise InputError(_reason(error), where=str(path), fix="check the path") from None


def is_there(path: Path) -> bool:
    """Return whether there is a file or folder; a name that no file can have is none."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _reason(error: OSError | ValueError) -> str:
    if isinstance(error, FileNotFoundError):
        return "there is no such file"
    return f"it cannot be read ({getattr(error, 'strerror', None) or error})"


def read_table(path: Path) -> Table:
    """Return a CSV file as text.

    Raises
    ------
    InputError
        When it is no UTF-8 text, has no header, repeats a column, or a row has cells beyond the header.
    """
    try:
        text = read_bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"byte {error.start} is not UTF-8",
            where=path.name,
            allowed="CSV in UTF-8",
            fix="save it as CSV UTF-8",
        ) from None
    if "\x00" in text:
        raise InputError(
            "it holds zero bytes", where=path.name, allowed="CSV in UTF-8", fix="save it as CSV UTF-8"
        )
    return _parse(text.replace("\r\n", "\n").replace("\r", "\n"), path)


def _parse(text: str, path: Path) -> Table:
    lines = _lines(text, path)
    if not lines or not any(c.strip() for c in lines[0]):
        raise InputError("it is empty", where=path.name, allowed="a header row and rows below it")
    columns = tuple(c.strip() for c in lines[0])
    _check_header(columns, path)
    rows = tuple(
        _row(number, cells, columns, path)
        for number, cells in enumerate(lines[1:], start=2)
        if any(c.strip() for c in cells)
    )
    return Table(path, columns, rows)


def _lines(text: str, path: Path) -> list[list[str]]:
    """Return the cells of each record.

    Strict: a quote that is opened and never closed would take all rows below it into one cell.
    """
    header, _, _ = text.partition("\n")
    delimiter = max(",;\t", key=header.count)
    csv.field_size_limit(MAX_CELL)
    lines: list[list[str]] = []
    try:
        lines.extend(csv.reader(io.StringIO(text), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise InputError(
            f"it cannot be read as CSV ({error})",
            where=f"{path.name}, row {len(lines) + 1}",
            allowed=f"quotes in pairs round a cell, cells up to {MAX_CELL} characters",
            fix="look for a quotation mark without its pair in this row or above, or save it as CSV UTF-8",
        ) from None
    if len(lines) > 1 and not text.endswith("\n") and len(lines[-1]) < len(lines[0]):
        raise InputError(
            f"it ends in the middle of a row: {len(lines[-1])} of {len(lines[0])} cells",
            where=f"{path.name}, row {len(lines)}",
            allowed="whole rows, each with its line end",
            fix="fetch or save the file again",
        )
    return lines


def _check_header(columns: tuple[str, ...], path: Path) -> None:
    named = [c for c in columns if c]
    twice = sorted({c for c in named if named.count(c) > 1})
    if twice:
        raise InputError(
            f"column {', '.join(twice)} stands twice", where=f"{path.name}, header", fix="rename one"
        )


def _row(number: int, cells: list[str], columns: tuple[str, ...], path: Path) -> Row:
    where = f"{path.name}, row {number}"
    if any(c.strip() for c in cells[len(columns) :]):
        raise InputError(
            f"{len(cells)} cells under {len(columns)} columns",
            where=where,
            fix="quote cells that hold the separator",
        )
    pairs = {c: v.strip() for c, v in zip(columns, cells, strict=False) if c}
    return Row(number, pairs, where)


def inert(value: object) -> object:
    """Return a cell that no spreadsheet runs as a formula: text that starts like one gets an apostrophe."""
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS) and not _PLAIN_NUMBER.fullmatch(value):
        return "'" + value
    return value


def csv_text(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> str:
    """Return rows as CSV text with LF line ends; ``None`` is empty, formulas are inert."""
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\n", extrasaction="ignore")
    writer.writeheader()
    for row in rows:
        writer.writerow({k: inert(v) for k, v in row.items()})
    return out.getvalue()
