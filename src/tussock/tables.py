"""Tables as people save them: CSV with or without BOM, commas, semicolons or tabs, any line ends."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from tussock.errors import Faults, InputError

MAX_CELL = 100_000
"""Longest cell read [characters]; a longer one is a wrong file, not a record (choice of this project)."""
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_PLAIN_NUMBER = re.compile(r"[+-]?\d+(\.\d*)?")


@dataclass(frozen=True)
class Row:
    """One row: its number in the file (the header is row 1) and its cells as text, trimmed.

    Attributes
    ----------
    faults
        What does not fit the table: cells under no column, and cells that are too long. Empty but where a
        table was read row by row.
    """

    number: int
    cells: Mapping[str, str]
    where: str
    faults: tuple[InputError, ...] = ()

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


def read_table(path: Path, *, row_by_row: bool = False) -> Table:
    """Return a CSV file as text.

    Parameters
    ----------
    row_by_row
        Leave it to the caller what becomes of rows that do not fit the table: they come with their faults.

    Raises
    ------
    InputError
        When it is no UTF-8 text, has no header, or repeats a column; and listing every cell that stands
        under no column, or is too long, where the rows are not wanted with their faults.
    """
    table = _read(path)
    if not row_by_row:
        Faults([fault for row in table.rows for fault in row.faults]).raise_if_any()
    return table


def _read(path: Path) -> Table:
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
    csv.field_size_limit(max(len(text), MAX_CELL))  # long cells are told of each row, see _row
    lines: list[list[str]] = []
    try:
        lines.extend(csv.reader(_each(text), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise InputError(
            f"it cannot be read as CSV ({error})",
            where=f"{path.name}, row {len(lines) + 1}",
            allowed="quotes in pairs round a cell",
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


def _each(text: str) -> Iterator[str]:
    """Yield the lines, with their ends; without the copy of the whole text that a stream makes."""
    start = 0
    while (end := text.find("\n", start)) >= 0:
        yield text[start : end + 1]
        start = end + 1
    if start < len(text):
        yield text[start:]


def _check_header(columns: tuple[str, ...], path: Path) -> None:
    named = [c for c in columns if c]
    twice = sorted({c for c in named if named.count(c) > 1})
    if twice:
        raise InputError(
            f"column {', '.join(twice)} stands twice", where=f"{path.name}, header", fix="rename one"
        )


def _row(number: int, cells: list[str], columns: tuple[str, ...], path: Path) -> Row:
    where = f"{path.name}, row {number}"
    pairs = {c: v.strip() for c, v in zip(columns, cells, strict=False) if c}
    faults = [_too_long(len(v), f"{where}, {c}") for c, v in pairs.items() if len(v) > MAX_CELL]
    loose = {n: v for n, v in enumerate(cells, 1) if v.strip() and not "".join(columns[n - 1 : n])}
    if any(n > len(columns) for n in loose):
        found = f"{len(cells)} cells under {len(columns)} columns: '{_first(loose)}' is one too many"
        faults.append(InputError(found, where=where, fix="quote cells that hold the separator"))
    elif loose:
        columns_meant = f"{where}, column {', '.join(map(str, loose))}"
        found, fix = f"'{_first(loose)}' stands under no name", "give the column a name, or empty the cell"
        faults.append(InputError(found, where=columns_meant, allowed="cells under named columns", fix=fix))
    return Row(number, pairs, where, tuple(faults))


def _first(loose: Mapping[int, str]) -> str:
    """Return the beginning of the first cell that has no column: last, where there are too many."""
    return " ".join(loose[max(loose)].split())[:40]


def _too_long(length: int, where: str) -> InputError:
    return InputError(
        f"a cell of {length} characters",
        where=where,
        allowed=f"up to {MAX_CELL}",
        fix="look for a quotation mark without its pair, or shorten it",
    )


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
