"""A return as it was filed, frozen, and what has changed in the book since.

The filed text carries the columns that it was made with, so that the present state is shown in the same
ones, whatever form is in use by then. What is compared is the tables: animals and lines.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from difflib import SequenceMatcher
from pathlib import Path
from typing import Protocol

from tussock.clock import local_date
from tussock.errors import InputError
from tussock.records import finished_workbook
from tussock.records.return_tables import (
    COUNTS_HEAD,
    INCOMPLETE,
    Column,
    counts_csv,
    head_rows,
    lines_csv,
)
from tussock.records.returns import Return
from tussock.tables import csv_text

_HEAD = 4000
"""So much of a file is looked at as text [bytes]."""
_COLUMNS = "columns: "
"""Begins the line that names headers and what they hold; the tables follow it."""


class AnyFiling(Protocol):
    """A return as a logbook keeps it."""

    @property
    def name(self) -> str:
        """What it was filed under."""

    @property
    def text(self) -> str:
        """The text as filed."""

    @property
    def at(self) -> datetime:
        """When."""

    @property
    def by(self) -> str:
        """By whom."""


class AnyFilings(Protocol):
    """The part of a logbook that keeps what was filed."""

    def file_return(self, name: str, text: str, *, at: datetime, by: str) -> AnyFiling:
        """Keep a text, once and for good."""

    def filed(self, name: str) -> AnyFiling | None:
        """Return what was filed under a name."""


@dataclass(frozen=True)
class Since:
    """What was filed for a period, and how the book differs from it now.

    Attributes
    ----------
    changes
        ``filed: …`` and ``now: …``, line by line; empty where nothing has changed.
    day
        On which it was filed, in the permit's time zone.
    """

    filing: AnyFiling
    changes: tuple[str, ...]
    day: date

    @property
    def incomplete(self) -> bool:
        """Whether it was filed with gaps."""
        return any(line.startswith(f"{INCOMPLETE}: ") for line in _head(self.filing.text))


def filing_name(found: Return, number: int = 1) -> str:
    """Return what a return is filed under; further ones of a period, as corrections, are numbered."""
    period = found.period
    name = f"{found.permit.id}, {period.first} to {period.last}"
    return name if number == 1 else f"{name}, correction {number - 1}"


def filed_text(found: Return, columns: tuple[Column, ...]) -> str:
    """Return a return as the text that is frozen: its head, counts, lines."""
    head = "".join(f"{_one_line(row['what'])}: {_one_line(row['value'])}\n" for row in head_rows(found))
    named = json.dumps([[c.header, c.holds] for c in columns], ensure_ascii=False)
    return f"{head}{_COLUMNS}{named}\n{_tables(found, columns)}"


def since_filing(book: AnyFilings, found: Return) -> Since | None:
    """Return what was filed last for the period and what has changed since; ``None`` where nothing was."""
    filing = next(iter(reversed(tuple(_filed(book, found)))), None)
    if filing is None:
        return None
    return Since(filing, changed_since(filing.text, found), local_date(filing.at, found.permit.zone))


def changed_since(text: str, found: Return) -> tuple[str, ...]:
    """Return the lines in which the tables of a filed text and the present return differ."""
    before, columns = _after_head(text)
    now = _tables(found, columns).splitlines()
    changes: list[str] = []
    for tag, a, b, c, d in SequenceMatcher(None, before, now, autojunk=False).get_opcodes():
        if tag != "equal":
            changes += [f"filed: {line}" for line in before[a:b]] + [f"now:   {line}" for line in now[c:d]]
    return tuple(changes)


def file_it(
    book: AnyFilings, found: Return, columns: tuple[Column, ...], *, at: datetime, by: str
) -> AnyFiling:
    """Freeze a return; one that differs from what was filed is filed as a correction beside it.

    Raises
    ------
    InputError
        Where just this was filed already.
    """
    earlier = since_filing(book, found)
    if earlier is not None and not earlier.changes and earlier.incomplete == bool(found.gaps):
        raise InputError(
            f"filed on {earlier.day} by {earlier.filing.by}, and nothing has changed since",
            where=earlier.filing.name,
            allowed="a return that differs from what was filed",
            fix="leave --file out to print it",
        )
    number = len(tuple(_filed(book, found))) + 1
    return book.file_return(filing_name(found, number), filed_text(found, columns), at=at, by=by)


def is_filed_text(text: str) -> bool:
    """Return whether a text begins like a return as filed."""
    return text.startswith("permit: ") and f"\n{_COLUMNS}[[" in text


def is_return(path: Path, columns: tuple[Column, ...]) -> bool:
    """Return whether Tussock wrote a file of a return, by what stands in it.

    Parameters
    ----------
    columns
        Of the lines: their headers are the authority's own, and a file that begins with just them is ours.
    """
    try:
        content = path.read_bytes()
    except OSError:
        return False
    if content.startswith(b"PK"):
        return finished_workbook.is_ours(content)
    head = content[:_HEAD].decode("utf-8", "replace")
    own = csv_text([c.header for c in columns], ())
    return head.startswith((COUNTS_HEAD, INCOMPLETE, own)) or is_filed_text(head)


def _filed(book: AnyFilings, found: Return) -> Iterator[AnyFiling]:
    number = 1
    while (filing := book.filed(filing_name(found, number))) is not None:
        yield filing
        number += 1


def _tables(found: Return, columns: tuple[Column, ...]) -> str:
    return f"{counts_csv(found)}{lines_csv(found, columns)}"


def _head(text: str) -> list[str]:
    return text.partition(f"\n{_COLUMNS}")[0].splitlines()


def _after_head(text: str) -> tuple[list[str], tuple[Column, ...]]:
    """Return the lines of the tables of a filed text, and the columns it was made with."""
    named, _, tables = text.partition(f"\n{_COLUMNS}")[2].partition("\n")
    return tables.splitlines(), tuple(Column(header, holds) for header, holds in json.loads(named or "[]"))


def _one_line(value: object) -> str:
    return " ".join(str(value).split())
