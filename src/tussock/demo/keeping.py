"""The demonstration's book: two seasons logged, a return filed, a correction, an audit of everything."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.clock import local_date, parse_instant
from tussock.demo.audited import AUDIT_NAMES, audit_step
from tussock.demo.cases import FILE, TABLES, Say
from tussock.errors import TussockError
from tussock.maps.words import sentence
from tussock.permit.permit_file import Permit
from tussock.permit.toml_file import read_toml
from tussock.planning.opened import Opened
from tussock.records.book import RecordBook, read_book
from tussock.records.entries import (
    KINDS,
    Entry,
)
from tussock.records.filed_returns import file_it, is_return, since_filing
from tussock.records.importing import import_sheet, read_entries
from tussock.records.return_periods import last_period
from tussock.records.return_tables import Column, read_columns, return_files
from tussock.records.returns import COLUMNS, Return, return_for
from tussock.records.tabled import Sheet

if TYPE_CHECKING:
    from tussock.records.logbook import Logbook

LOGBOOK, RETURN = "logbook.db", "return"
BY = "demonstration"
"""Who writes in the logbook: by this it is known as one that may be made anew."""
_RETURN_ENDS = (".csv", "-lines.csv", ".xlsx", "-incomplete.csv", "-filed.txt")
NAMES = (
    LOGBOOK,
    *AUDIT_NAMES,
    *(f"{RETURN}{end}" for end in _RETURN_ENDS),
)
"""Names of what may be written."""


@dataclass(frozen=True)
class Clocks:
    """When the first season was logged, its return filed, and the rest logged and audited."""

    first: datetime
    filed: datetime
    now: datetime
    correction: Mapping[str, str]


def steps(data: Path, opened: Opened, say: Say) -> dict[str, str | bytes]:
    """Log, file, correct, audit; return name → content of what is written.

    Raises
    ------
    InputError
        When a table of the district cannot be used.
    """
    from tussock.records.logbook import open_logbook

    clocks, permit, form = _clocks(data), opened.permits[0], read_columns()
    say("7. The book: the tables of both seasons are logged, each row checked; nothing is ever overwritten.")
    say("   (tussock log import captures.csv --by NAME)")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / LOGBOOK
        with open_logbook(path) as logbook:
            sheets = [read_entries(data / name, kind, species=opened.book) for kind, name in TABLES.items()]
            end = last_period(permit, local_date(clocks.filed, permit.zone)).last
            early = [_part(s, end, before=True) for s in sheets]
            _log(logbook, early, at=clocks.first, say=say)
            found = _return(logbook, opened, permit, clocks.filed)
            file_it(logbook, found, form, at=clocks.filed, by=BY)
            _log(logbook, [_part(s, end, before=False) for s in sheets], at=clocks.now, say=say)
            _correct(logbook, clocks, say)
            book = _book(logbook, opened, clocks.now)
            made = audit_step(book, data, opened, now=clocks.now, say=say)
            made |= _return_step(logbook, opened, clocks, form, say)
        made[LOGBOOK] = path.read_bytes()
    return made


def _clocks(data: Path) -> Clocks:
    raw = read_toml(data / FILE).get("book", {})

    def at(key: str) -> datetime:
        return parse_instant(str(raw.get(key, "")), where=f"{FILE}, book, {key}")

    return Clocks(at("first"), at("filed"), at("now"), raw.get("correction", {}))


def _part(sheet: Sheet, last: date, *, before: bool) -> Sheet:
    """Return the part of a table up to a day, or after it; what is no entry, or not dated, comes last."""
    entries = tuple(e for e in sheet.entries if (_day(e) <= str(last)) is before)
    if before:
        return replace(sheet, entries=entries, refused=(), residents=(), read=len(entries))
    return replace(sheet, entries=entries, read=len(entries) + len(sheet.refused))


def _day(entry: Entry) -> str:
    """Return the local date of an entry as ISO text; one that sorts last where it has none."""
    return (entry.get("eventDate") or entry.get("validFrom") or "9999")[:10]


def _log(logbook: Logbook, sheets: Iterable[Sheet], *, at: datetime, say: Say) -> None:
    """Import tables, each whole or not at all; say how many entries of which kind."""
    counts: list[str] = []
    for sheet in sheets:
        done = import_sheet(logbook, sheet, by=BY, at=at)
        if done.read:
            counts.append(f"{len(done.added)} {sheet.kind}{'' if len(done.added) == 1 else 's'}")
    say(f"   On {at.date()}: {', '.join(counts)}.")


def _correct(logbook: Logbook, clocks: Clocks, say: Say) -> None:
    """Amend one entry after the return was filed."""
    kind, name, column, value, why = (clocks.correction[k] for k in ("kind", "id", "column", "value", "why"))
    before = logbook.entry(kind, name)
    logbook.amend(kind, name, {column: value}, by=BY, at=clocks.now, why=why)
    was = before.get(column) if before else ""
    say(f"   Corrected: {kind} {name}, {column} '{was}' to '{value}': {why}. The earlier state is kept.")
    say(f"   (tussock log amend {kind} {name} --set {column}=… --why …; tussock log history {kind} {name})")


def _book(logbook: Logbook, opened: Opened, now: datetime) -> RecordBook:
    return read_book(logbook.entries(), species=opened.book, now=now, keeps=KINDS)


def _return(logbook: Logbook, opened: Opened, permit: Permit, at: datetime) -> Return:
    book, today = _book(logbook, opened, at), local_date(at, permit.zone)
    return return_for(book.kept, permit, last_period(permit, today), today=today, remarks=book.remarks)


def _return_step(
    logbook: Logbook, opened: Opened, clocks: Clocks, form: tuple[Column, ...], say: Say
) -> dict[str, str | bytes]:
    permit = opened.permits[0]
    found = _return(logbook, opened, permit, clocks.now)
    since = since_filing(logbook, found)
    assert since is not None  # it was filed above
    period, total = found.period, found.total
    say("9. The return: animals, not rows, for the period that the permit names.")
    say("   (tussock return --logbook logbook.db --permit permit.toml --file --by NAME)")
    parts = ", ".join(f"{total[c]} {c.replace('_', ' ')}" for c in COLUMNS)
    say(f"   {period.first} to {period.last}, due {period.due}: {parts}.")
    for gap in found.gaps:
        say(f"   INCOMPLETE: {sentence(gap)}")
    say(f"   Filed on {since.day}; changed since filing:")
    for line in since.changes:
        say(f"   {line}")
    made = {f"{RETURN}{end}": content for end, content in return_files(found, form).items()}
    return {**made, f"{RETURN}-filed.txt": since.filing.text}


def is_ours(path: Path) -> bool:
    """Return whether a file is the demonstration's book or return, with nothing of anybody else's in it."""
    if is_return(path, read_columns()):
        return True
    return _own_logbook(path)


def _own_logbook(path: Path) -> bool:
    """Return whether all that a logbook says was written by the demonstration."""
    from tussock.records.logbook import open_logbook

    try:
        with open_logbook(path, create=False) as logbook:
            states = logbook.revisions_since(datetime(1, 1, 2, tzinfo=UTC))
            return all(s.by == BY for s in states) and all(f.by == BY for f in logbook.filings())
    except TussockError:
        return False
