"""``tussock plan --captures`` and ``--logbook``: many captures, one after the other."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from tussock.cli import show
from tussock.cli.failures import say
from tussock.cli.options import Format
from tussock.cli.plan_ready import Job, check_times
from tussock.cli.single import targets
from tussock.errors import Faults
from tussock.files import Outbox
from tussock.ground.region import sha256
from tussock.maps.plan_files import plan_files
from tussock.maps.plan_table import batch_csv
from tussock.maps.share import shareable
from tussock.maps.words import sentence
from tussock.planning.batch import Planned, exit_code, open_words, plan_batch
from tussock.planning.inputs import CaptureRow, check_places, read_captures

COLUMNS = ("capture", "date", "animal", "sites", *show.COLUMNS[1:])
_NOT_IN_A_NAME = re.compile(r"[^\w.-]+")
_MOST_OF_A_NAME = 80


@dataclass(frozen=True)
class Batch:
    """Captures made ready.

    Attributes
    ----------
    names
        captureID → name of its files.
    inputs
        Name → SHA-256 of what the captures were read from.
    now
        The clock of all; ``None``: each has its own, as an animal of the past.
    """

    job: Job
    rows: tuple[CaptureRow, ...]
    names: dict[str, str]
    inputs: dict[str, str]
    now: datetime | None

    @property
    def out(self) -> Path | None:
        """What --out says."""
        return self.job.options.out

    def targets(self) -> list[Path]:
        """Return every file that will be written."""
        if self.out is None:
            return []
        planned = [self.out.with_name(self.names[r.id]) for r in self.rows if r.capture is not None]
        return [t for name in planned for t in targets(name, suffixed=False)] + [_csv(self.out)]


def run_batch(job: Job) -> int:
    """Plan, print and write; return the exit code."""
    rows, inputs = _rows(job)
    check_places(rows, job.opened.region)
    check_times(rows, job.times)
    # what the logbook holds is in hand now
    now = job.times.now if job.book is None or not job.options.of_book else job.clock
    batch = Batch(job, rows, _names(rows, job), inputs, now)
    show.cautions()
    with job.outbox() as outbox:
        outbox.check(batch.targets())
        planned = list(_planned(batch, outbox))
        if batch.out is not None:
            outbox.stage(_csv(batch.out), batch_csv(planned, share=job.options.share))
        paths = outbox.send()
    print_batch(planned, job.options.output, share=job.options.share)
    for row, plan in planned:
        if plan is not None and not plan.sites and not job.options.share:
            show.whom_to_call(plan, job.holders, name=f"{row.id}: ")
    if paths:
        say(f"Written: {len(paths)} files, {paths[-1]} and those beside it")
    return exit_code(planned)


def _rows(job: Job) -> tuple[tuple[CaptureRow, ...], dict[str, str]]:
    """Return the captures of the table, or those of the logbook, and the hash of what they were read from."""
    table = job.options.captures
    if table is not None:
        return read_captures(table, book=job.opened.book), {f"captures/{table.name}": sha256(table)}
    from tussock.cli.from_book import captures_of

    assert job.book is not None  # one of the two is given
    rows = captures_of(job.book, job.opened, job.options.capture, now=job.clock)
    return rows, job.book.hash_of(row.id for row in rows)


def _planned(batch: Batch, outbox: Outbox) -> Iterator[Planned]:
    """Yield each row with its plan, its files staged."""
    job = batch.job
    setting = job.opened.setting(
        now=job.clock, top=job.top, contacts=job.settings.contacts, captures={r.id for r in batch.rows}
    )
    hashes = {**setting.inputs, **batch.inputs}
    setting = replace(setting, inputs=hashes, rasters=batch.out is not None)
    with _progress(len(batch.rows)) as step:
        for row, plan in plan_batch(batch.rows, setting, now=batch.now, release_at=job.times.release_at):
            if plan is not None and batch.out is not None:
                made = plan_files(
                    plan,
                    job.opened.region,
                    emergency_number=job.settings.emergency_number,
                    share=job.options.share,
                )
                name = batch.out.with_name(batch.names[row.id])
                for target, text in zip(targets(name, suffixed=False), made.values(), strict=True):
                    outbox.stage(target, text)
            step()
            yield row, replace(plan, rasters=None) if plan else None


def _csv(out: Path) -> Path:
    return out.with_name(f"{out.name.removesuffix('.csv')}.csv")


def _names(rows: tuple[CaptureRow, ...], job: Job) -> dict[str, str]:
    """Return captureID → name of its files; a copy that is passed on has numbers instead of ids."""
    out = job.options.out
    if out is None:
        return {}
    base = out.name.removesuffix(".csv")
    if job.options.share:
        return {row.id: f"{base}-{number}" for number, row in enumerate(rows, start=1)}
    faults = Faults()
    taken: dict[str, str] = {}
    for row in rows:
        name = f"{base}-{_NOT_IN_A_NAME.sub('_', row.id)[:_MOST_OF_A_NAME]}"
        if name.casefold() in taken:
            faults.add(
                f"captureID '{row.id[:40]}' would give the same file name as '{taken[name.casefold()][:40]}'",
                where=row.where,
                fix="make the ids differ in letters or digits",
            )
        taken[name.casefold()] = row.id
    faults.raise_if_any()
    return {row.id: f"{base}-{_NOT_IN_A_NAME.sub('_', row.id)[:_MOST_OF_A_NAME]}" for row in rows}


def print_batch(planned: list[Planned], output: Format, *, share: bool) -> None:
    """Print every plan: data on stdout, STOP lines and notes on stderr."""
    plans = [plan for _, plan in planned if plan is not None]
    match output:
        case Format.JSON:
            from tussock.maps.exports import plan_json

            show.data("[\n" + ",\n".join(plan_json(p, share=share).rstrip() for p in plans) + "\n]")
        case Format.CSV:
            show.data(batch_csv(planned, share=share))
        case Format.TABLE:
            show.table(COLUMNS, [_line(item, share=share) for item in planned])
    for row, plan in planned:
        name = "" if share else f"{row.id}: "
        if plan is None:
            show.loud(f"{name}not planned. {open_words(row)}")
        elif not plan.sites:
            shown = shareable(plan) if share else plan
            show.loud(f"{name}STOP. {' '.join(sentence(s) for s in (*shown.stop, *shown.way_on))}")
    _notes(planned, share=share)


def _notes(planned: list[Planned], *, share: bool) -> None:
    """Print each warning once, with the number of captures it stands for."""
    said: dict[str, int] = {}
    for _, plan in planned:
        for words in (shareable(plan) if share else plan).warnings if plan else ():
            said[words] = said.get(words, 0) + 1
    total = len(planned)
    for words, count in said.items():
        say(f"Note: {sentence(words)}" + (f" ({count} of {total} captures)" if total > 1 else ""))


def _line(item: Planned, *, share: bool) -> tuple[str, ...]:
    row, plan = item
    blank = ("",) * (len(show.COLUMNS) - 2)
    who = ("", "") if share else (row.id, f"{row.time:%Y-%m-%d %H:%M}")
    if plan is None:
        return (*who, "", "0", *blank, "not planned: questions open")
    shown = shareable(plan) if share else plan
    capture = shown.capture
    animal = capture.vernacular_name or capture.scientific_name
    if not shown.sites:
        return (*who, animal, "0", *blank, "no site")
    return (*who, animal, f"{len(shown.sites)}", *show.row(shown.sites[0])[1:])


@contextmanager
def _progress(total: int) -> Iterator[Callable[[], object]]:
    """Give a function to call after each capture; on a terminal it moves a bar on stderr."""
    if not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("Planning"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("captures", total=total)
        yield lambda: bar.advance(task)
