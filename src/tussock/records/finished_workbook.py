"""Workbooks (XLSX) as Tussock writes them: headers in sight, dates as dates, formulas as text, same bytes."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl import Workbook

MARK = "Tussock"
"""Stands in every workbook, so that Tussock knows its own."""
_MOST_CHARACTERS = 32_767
"""Most that a cell of a workbook holds (a limit of the format, from memory)."""
FIRST_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
"""Earliest time that a zip can hold: the time of every part, whenever it was written."""
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")


def new_book(when: datetime) -> Workbook:
    """Return a workbook without sheets, of a time that is the matter's own and not the clock's."""
    from openpyxl import Workbook

    book = Workbook()
    book.properties.creator = book.properties.title = MARK
    book.properties.created = when.replace(tzinfo=None, microsecond=0)
    book.remove(book.worksheets[0])
    return book


def add_sheet(
    book: Workbook, name: str, columns: Sequence[str], rows: Iterable[Mapping[str, object]]
) -> None:
    """Add a sheet: headers stay in sight and filter; text that looks like a formula is text.

    Text is cut at 32,767 characters, all that a cell holds; what no workbook may hold is a space.
    """
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    def plain(text: str) -> str:
        return ILLEGAL_CHARACTERS_RE.sub(" ", text)[:_MOST_CHARACTERS]

    sheet = book.create_sheet(name)
    for n, row in enumerate(({c: c for c in columns}, *rows), start=1):
        for k, column in enumerate(columns, start=1):
            value = row.get(column)
            if value is None or value == "":
                continue
            cell = sheet.cell(n, k)
            if isinstance(value, str):
                cell.value, cell.data_type = plain(value), "s"  # never a formula
            else:
                cell.value = value
    sheet.freeze_panes = "B2"
    sheet.auto_filter.ref = sheet.dimensions


def finished(book: Workbook) -> bytes:
    """Return a workbook's bytes, with its own time in place of the time of writing."""
    stamp = book.properties.created.isoformat() + "Z"
    whole, made = io.BytesIO(), io.BytesIO()
    book.save(whole)
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted(old.namelist()):
            part = _MODIFIED.sub(rb"\g<1>" + stamp.encode() + rb"\g<2>", old.read(name))
            new.writestr(zipfile.ZipInfo(name, FIRST_ZIP_DATE), part, zipfile.ZIP_DEFLATED)
    return made.getvalue()


def is_ours(content: bytes) -> bool:
    """Return whether Tussock wrote a workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            return MARK.encode() in parts.read("docProps/core.xml")
    except (zipfile.BadZipFile, KeyError, OSError):
        return False
