"""What plan and check take from the logbook in place of tables."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli.failures import say
from tussock.cli.options import raise_all
from tussock.cli.settings import LOGBOOK, Settings
from tussock.errors import InputError, UsageError
from tussock.permit.time_kinds import SECONDS_PER_HOUR
from tussock.records.entries import CONSENT, Entry
from tussock.records.held import HeldBook, held, listed, logged
from tussock.records.remarks import HELD_H
from tussock.spans import posix

if TYPE_CHECKING:
    from tussock.planning.inputs import CaptureRow
    from tussock.planning.opened import Files, Opened


@dataclass(frozen=True)
class Source:
    """A logbook as it was read."""

    where: str
    name: str
    entries: tuple[Entry, ...]

    @property
    def path(self) -> Path | None:
        """Its file; ``None`` where a server keeps it."""
        return None if "://" in self.where else Path(self.where)

    def files(self, files: Files, settings: Settings) -> Files:
        """Return the files to open beside it: the register of tussock.toml where it has no consent itself."""
        if files.consents is not None or any(e.kind == CONSENT for e in self.entries):
            return files
        return replace(files, consents=settings.defaults.get("consents"))

    def stand_in(self, opened: Opened, files: Files, *, now: datetime) -> tuple[Opened, HeldBook]:
        """Return what was opened with the book's releases and consents, and the book as it stood then.

        A register that is opened as a file counts in place of the book's.

        Raises
        ------
        InputError
            Listing every cell of the book that cannot be read.
        """
        book = held(self.name, self.entries, species=opened.book, now=now)
        for note in book.notes:
            say(f"Note: {self.name}: {note}.")
        if files.consents is not None:
            say(f"Note: the consents of {files.consents.name} count, not those of {self.name}.")
            book = replace(book, consents=())
        consents = opened.consents if files.consents is not None else book.consents
        inputs = {**opened.inputs, **book.inputs}
        return replace(opened, booked=book.booked, consents=consents, inputs=inputs), book


def read_source(logbook: str | None, settings: Settings) -> Source:
    """Return the logbook that is meant; none is made where there is none.

    Raises
    ------
    InputError
        When there is no logbook, or it cannot be used.
    """
    where = logbook or settings.logbook or LOGBOOK
    return Source(where, *logged(where))


def book_beside(settings: Settings) -> Source | None:
    """Return the logbook that is there though it is not named, and say that it counts.

    One that cannot be read, as a server far from any network, keeps nobody from a plan: that is said, and
    clauses on earlier releases ask for an answer, as without a book.
    """
    try:
        source = read_source(None, settings)
    except InputError as error:
        say(f"Note: the logbook {settings.book_there} does not count, as it cannot be read: {error.found}.")
        return None
    say(f"Note: the releases and consents of {source.name} count (--releases FILE takes a table instead).")
    return source


def captures_of(
    book: HeldBook, opened: Opened, asked: Iterable[str], *, now: datetime
) -> tuple[CaptureRow, ...]:
    """Return the captures asked for, or all that are held, in order of time.

    Raises
    ------
    UsageError
        Listing each that is not there, or not held, with those that are.
    InputError
        Listing every answer that is none.
    """
    named = tuple(asked)
    there = f"those held then: {listed(book.left)}" if book.left else "none is held then"
    raise_all(
        [
            UsageError(words, where=f"--capture {name[:60]}", allowed=there, fix=fix)
            for name, words, fix in book.refusals(named)
        ]
    )
    rows = book.rows(named or book.left, species=opened.book)
    if not rows:
        say(f"No capture of {book.name} is held: nothing to plan.")
    if not named and (long := [r.id for r in rows if _hours(r.time, now) > HELD_H]):
        say(
            f"Note: held for more than {HELD_H:g} hours by the book: {listed(long)}. Where that is over, "
            "log how it ended: tussock log add disposal."
        )
    return rows


def _hours(start: datetime, end: datetime) -> float:
    return (posix(end) - posix(start)) / SECONDS_PER_HOUR


def refuse_open_questions(row: CaptureRow) -> None:
    """Refuse a capture about whose animal something is not answered.

    Raises
    ------
    UsageError
        Naming what is to be filled in.
    """
    if row.capture is None:
        cells = " ".join(f"--set {column}=…" for column in row.unanswered)
        raise UsageError(
            f"not answered: {', '.join(row.unanswered)}",
            where=row.where,
            fix=f"tussock log amend capture {row.id} {cells} --why …",
        )
