"""From the options of ``tussock return`` to the return, printed and written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from tussock.cli import return_show
from tussock.cli.job import written
from tussock.cli.options import Format
from tussock.cli.settings import read_settings
from tussock.clock import local_date, parse_date, parse_instant
from tussock.errors import InputError, UsageError
from tussock.files import Outbox
from tussock.permit.permit_file import Permit, read_permit
from tussock.records import finished_workbook
from tussock.records.book import RecordBook, read_book
from tussock.records.entries import CAPTURE, DISPOSAL
from tussock.records.return_periods import Period, last_period, period_ending
from tussock.records.return_tables import (
    COUNTS_HEAD,
    INCOMPLETE,
    Column,
    counts_csv,
    gaps_csv,
    lines_csv,
    read_columns,
    workbook,
)
from tussock.records.returns import Return, refuse_gaps, return_for
from tussock.records.source import open_book
from tussock.species.profiles import load_profiles


@dataclass(frozen=True)
class ReturnOptions:
    """The options of ``tussock return``; ``None`` where not given."""

    captures: Path
    releases: Path
    permit: Path | None = None
    period_end: str | None = None
    columns: Path | None = None
    profiles: Path | None = None
    now: str | None = None
    incomplete: bool = False
    out: Path | None = None
    output: Format = Format.TABLE
    force: bool = False

    @property
    def where(self) -> str:
        """The book, for messages."""
        return f"{self.captures.name}, {self.releases.name}"

    @property
    def inputs(self) -> tuple[Path, ...]:
        """Every file that is read."""
        named = (self.captures, self.releases, self.permit, self.columns, self.profiles)
        return tuple(p for p in named if p is not None)

    def clock(self) -> datetime:
        """Return what time it is.

        Raises
        ------
        UsageError
            When ``--now`` is no instant.
        """
        if self.now is None:
            return datetime.now().astimezone().replace(microsecond=0)
        try:
            return parse_instant(self.now, where="--now")
        except InputError as error:
            raise UsageError(error.found, where="--now", allowed=error.allowed, fix=error.fix) from None


def run_return(asked: ReturnOptions) -> int:
    """Carry out ``tussock return``; return its exit code.

    Raises
    ------
    UsageError
        When no permit is named, or an option is no date or time.
    InputError
        When a file cannot be used, the return has gaps, or something is in the way of what is written.
    """
    permit, form, clock = read_permit(_permit(asked)), read_columns(asked.columns), asked.clock()
    today = local_date(clock, permit.zone)
    period = _period(asked, permit, today)
    book = _book(asked, clock)
    found = return_for(book.kept, permit, period, today=today, remarks=book.remarks)
    if not asked.incomplete:
        refuse_gaps(found, where=asked.where)
    with Outbox(is_ours, force=asked.force, inputs=asked.inputs) as outbox:
        for target, content in _files(asked, found, form).items():
            outbox.stage(target, content)
        paths = outbox.send()
    return_show.show(found, asked.output)
    written(paths)
    return int(bool(found.gaps))


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


def _book(asked: ReturnOptions, clock: datetime) -> RecordBook:
    profiles = asked.profiles or read_settings(Path()).defaults.get("profiles")
    entries = open_book({CAPTURE: asked.captures, DISPOSAL: asked.releases}).entries
    return read_book(entries, species=load_profiles(profiles), now=clock)


def _files(asked: ReturnOptions, found: Return, form: tuple[Column, ...]) -> dict[Path, str | bytes]:
    if asked.out is None:
        return {}
    made: dict[str, str | bytes] = {
        ".csv": counts_csv(found),
        "-lines.csv": lines_csv(found, form),
        ".xlsx": workbook(found, form),
    }
    if found.gaps:
        made["-incomplete.csv"] = gaps_csv(found)
    name = asked.out.name.removesuffix(".csv")
    return {asked.out.with_name(name + end): content for end, content in made.items()}


def is_ours(path: Path) -> bool:
    """Return whether Tussock wrote a file of a return, by what stands in it."""
    try:
        content = path.read_bytes()
    except OSError:
        return False
    if content.startswith(b"PK"):
        return finished_workbook.is_ours(content)
    head = content[:4000].decode("utf-8", "replace")
    return head.startswith((COUNTS_HEAD, INCOMPLETE, "captureID,captured on,"))
