"""From the options of ``tussock return`` to the return, printed, written and filed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli import return_show
from tussock.cli.failures import say, written
from tussock.cli.log_job import LogOptions, reading, writing
from tussock.cli.options import Format
from tussock.cli.settings import read_settings
from tussock.clock import local_date, parse_date
from tussock.errors import UsageError
from tussock.files import Outbox
from tussock.permit.permit_file import Permit, read_permit
from tussock.records.book import read_book
from tussock.records.entries import CAPTURE, DISPOSAL
from tussock.records.filed_returns import Since, file_it, is_return, since_filing
from tussock.records.return_periods import Period, last_period, period_ending
from tussock.records.return_tables import Column, read_columns, return_files
from tussock.records.returns import Return, refuse_gaps, return_for
from tussock.records.source import Book, logged, open_book
from tussock.species.profiles import load_profiles

if TYPE_CHECKING:
    from tussock.records.logbook import Logbook


@dataclass(frozen=True)
class ReturnOptions:
    """The options of ``tussock return``; ``None`` where not given."""

    logbook: str | None = None
    captures: Path | None = None
    releases: Path | None = None
    permit: Path | None = None
    period_end: str | None = None
    columns: Path | None = None
    profiles: Path | None = None
    now: str | None = None
    incomplete: bool = False
    file: bool = False
    by: str | None = None
    out: Path | None = None
    output: Format = Format.TABLE
    force: bool = False

    @property
    def where(self) -> str:
        """The book, for messages."""
        return ", ".join(p.name for p in self.tables) or self.log.where

    @property
    def tables(self) -> tuple[Path, ...]:
        """The tables of captures and of releases; none where a logbook is meant."""
        return tuple(p for p in (self.captures, self.releases) if p is not None)

    @property
    def log(self) -> LogOptions:
        """The logbook that is meant, and who writes in it when."""
        return LogOptions(self.logbook, self.by, self.now, self.profiles)

    @property
    def inputs(self) -> tuple[Path, ...]:
        """Every file that is read."""
        named = (*self.tables, self.permit, self.columns, self.profiles)
        return tuple(p for p in named if p is not None)


def run_return(asked: ReturnOptions) -> int:
    """Carry out ``tussock return``; return its exit code.

    Raises
    ------
    UsageError
        When no permit is named, or an option is no date or time, or options contradict each other.
    InputError
        When a file cannot be used, the return has gaps, or something is in the way of what is written.
    """
    _check(asked)
    permit, form, clock = read_permit(_permit(asked)), read_columns(asked.columns), asked.log.clock()
    period = _period(asked, permit, local_date(clock, permit.zone))
    with _opened(asked) as (book, logbook):
        for note in book.notes:
            say(f"Note: {note}.")
        found = _found(asked, book, permit, period, clock)
        if not asked.incomplete:
            refuse_gaps(found, where=asked.where)
        with Outbox(lambda p: is_return(p, form), force=asked.force, inputs=asked.inputs) as outbox:
            if logbook is not None and asked.file:
                outbox.check(_files(asked, found, form))
                kept = file_it(logbook, found, form, at=clock, by=asked.log.who())
                say(f"Filed: {kept.name}, in {asked.where}")
            since = None if logbook is None else since_filing(logbook, found)
            for target, content in (_files(asked, found, form) | _filed(asked, since)).items():
                outbox.stage(target, content)
            paths = outbox.send()
    return_show.show(found, asked.output, since)
    written(paths)
    return int(bool(found.gaps) or (since is not None and bool(since.changes)))


def _check(asked: ReturnOptions) -> None:
    """Refuse options that contradict each other, before anything is read."""
    if asked.tables and asked.logbook is not None:
        raise UsageError(
            "a logbook and tables are both named",
            where="--logbook",
            fix="name the logbook, or the two tables",
        )
    if len(asked.tables) == 1:
        where = "--releases" if asked.releases is None else "--captures"
        raise UsageError("one table is named", where=where, fix="name both tables, or a logbook")
    if asked.tables and asked.file:
        raise UsageError("tables keep nothing that is filed", where="--file", fix="name a --logbook")


@contextmanager
def _opened(asked: ReturnOptions) -> Iterator[tuple[Book, Logbook | None]]:
    """Give the entries, and the logbook that they are of; ``None`` for tables."""
    if asked.captures is not None and asked.releases is not None:
        yield open_book({CAPTURE: asked.captures, DISPOSAL: asked.releases}), None
        return
    opened = writing(asked.log, create=False) if asked.file else reading(asked.log)
    with opened as logbook:
        yield logged(logbook), logbook


def _permit(asked: ReturnOptions) -> Path:
    """Return the permit that is meant: the one given, or the only one of tussock.toml."""
    said = read_settings(Path()).defaults.get("permit")
    listed = said if isinstance(said, tuple) else (said,)
    permit = asked.permit or (listed[0] if len(listed) == 1 else None)
    if permit is None:
        raise UsageError("no permit is named", where="--permit", fix="name the permit file")
    return permit


def _period(asked: ReturnOptions, permit: Permit, today: date) -> Period:
    if asked.period_end is None:
        return last_period(permit, today)
    return period_ending(permit, parse_date(asked.period_end, where="--period-end"))


def _found(asked: ReturnOptions, found: Book, permit: Permit, period: Period, clock: datetime) -> Return:
    profiles = asked.profiles or read_settings(Path()).defaults.get("profiles")
    book = read_book(found.entries, species=load_profiles(profiles), now=clock, keeps=found.keeps)
    today = local_date(clock, permit.zone)
    return return_for(book.kept, permit, period, today=today, remarks=book.remarks)


def _files(asked: ReturnOptions, found: Return, form: tuple[Column, ...]) -> dict[Path, str | bytes]:
    if asked.out is None:
        return {}
    made = return_files(found, form)
    return {_target(asked.out, end): content for end, content in made.items()}


def _filed(asked: ReturnOptions, since: Since | None) -> dict[Path, str | bytes]:
    """Return the text as it was filed, to be written beside the present one."""
    if asked.out is None or since is None:
        return {}
    return {_target(asked.out, "-filed.txt"): since.filing.text}


def _target(out: Path, end: str) -> Path:
    return out.with_name(out.name.removesuffix(".csv") + end)
