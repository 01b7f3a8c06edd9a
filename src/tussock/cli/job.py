"""From the options of ``tussock plan`` to what the library takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from tussock.cli import house_rules, options, terminal
from tussock.cli.ahead import DRAWING, READING, import_ahead
from tussock.cli.failures import say
from tussock.cli.options import ANSWERS, OTHERS, PlanOptions, flag
from tussock.cli.settings import Settings, read_settings
from tussock.clock import parse_instant
from tussock.errors import Faults, InputError, UsageError, together
from tussock.files import Outbox
from tussock.permit.holders import Holders, read_holders
from tussock.position import Position, position_from_text
from tussock.spans import posix
from tussock.species.intake import QUESTIONS, Animal, parse_answer, read_animal, unanswered

if TYPE_CHECKING:
    from tussock.cli.from_book import Source
    from tussock.planning.inputs import CaptureRow
    from tussock.planning.opened import Files, Opened
    from tussock.planning.setting import Capture
    from tussock.records.held import HeldBook

_T = TypeVar("_T")
TOP = 5
"""Sites offered where neither the command line nor tussock.toml says how many."""


def run_plan(given: PlanOptions) -> int:
    """Carry out ``tussock plan``; return its exit code.

    What costs nothing to look at is refused first: options, answers, place and times; then the files.
    """
    settings = read_settings(Path())
    asked = given.with_defaults(settings)
    answers = asked.answers()
    open_questions = () if asked.captures or asked.of_book else unanswered(answers)
    nobody = () if terminal.interactive() else open_questions
    faults = [*options.faults_of(asked, open_questions=nobody), *_wrong_answers(answers)]
    place = _place(asked, faults)
    times = Times(*(_instant(asked, name, faults) for name in ("time", "trap_checked", "now", "release_at")))
    options.raise_all(faults)
    import_ahead(READING if asked.out is None else (*READING, *DRAWING))
    from tussock.planning.opened import open_files

    found = Faults()
    source = _read(lambda: _source(asked, settings), found)
    files = _files(asked, settings, source)
    opened = _read(lambda: open_files(files), found)
    holders = _read(lambda: _holders(asked), found)
    found.raise_if_any()
    assert opened is not None and holders is not None  # no fault was noted
    settings = house_rules.settled(opened.house_rules, settings)
    times, book = times.checked(opened), None
    if source is not None:
        opened, book = source.stand_in(opened, files, now=times.instant)
    inputs = _inputs(files, asked, settings, source)
    return _planned(
        Job(asked, settings, opened, inputs, place, times, holders, book), answers, open_questions
    )


def _planned(job: Job, answers: Mapping[str, str], open_questions: tuple[str, ...]) -> int:
    asked = job.options
    if asked.captures is not None or (asked.of_book and len(asked.capture) != 1):
        from tussock.cli.batch import run_batch

        return run_batch(job)
    from tussock.cli.single import run_logged, run_single

    if asked.of_book:
        return run_logged(job)
    return run_single(job, job.capture({**answers, **terminal.ask(open_questions)}))


@dataclass(frozen=True)
class Times:
    """--time, --trap-checked, --now and --release-at; ``None`` where not given."""

    time: datetime | None
    trap_checked: datetime | None
    now: datetime | None
    release_at: datetime | None
    clock: datetime | None = None

    @property
    def instant(self) -> datetime:
        """The time it is."""
        assert self.clock is not None  # set when the times were checked
        return self.clock

    def checked(self, opened: Opened) -> Times:
        """Return the times with the clock that holds: --now, or else what it is in the permit's zone.

        Raises
        ------
        UsageError
            When the capture or the trap's check is later than the clock, or the release before the capture.
        """
        clock = self.now or datetime.now(opened.permits[0].zone).replace(microsecond=0)
        taken = self.time or clock
        if taken > clock:
            raise UsageError(
                f"the capture is at {taken.isoformat()}, after the clock's {clock.isoformat()}",
                where="--time",
                fix="correct it, or set the clock with --now",
            )
        if self.trap_checked is not None and self.trap_checked > clock:
            raise UsageError(
                f"the trap was checked at {self.trap_checked.isoformat()}, after the clock",
                where="--trap-checked",
                fix="correct it, or set the clock with --now",
            )
        if self.release_at is not None and self.time is not None and self.release_at < taken:
            raise UsageError(
                f"the release at {self.release_at.isoformat()} is before the capture at {taken.isoformat()}",
                where="--release-at",
                fix="correct one of them",
            )
        return Times(self.time, self.trap_checked, self.now, self.release_at, clock)


def check_times(rows: Sequence[CaptureRow], times: Times) -> None:
    """Refuse a clock or a release before a capture; the captures come in order of time.

    Raises
    ------
    UsageError
        When there is one.
    """
    if not rows:
        return
    last = rows[-1]
    for name, instant in (("--now", times.now), ("--release-at", times.release_at)):
        if instant is not None and posix(instant) < posix(last.time):
            raise UsageError(
                f"{instant.isoformat()} is before capture {last.id} ({last.time.isoformat()})",
                where=name,
                fix="give a later one, or leave it out: each capture then has its own",
            )


@dataclass(frozen=True)
class Job:
    """A command line made ready: options, settings, and the files they name as read."""

    options: PlanOptions
    settings: Settings
    opened: Opened
    inputs: tuple[Path, ...]
    place: Position | None
    times: Times
    holders: Holders = field(default_factory=Holders)
    book: HeldBook | None = None

    @property
    def top(self) -> int:
        """How many sites at most."""
        return self.options.top or TOP

    @property
    def clock(self) -> datetime:
        """The time it is."""
        return self.times.instant

    def outbox(self) -> Outbox:
        """Return where outputs are collected."""
        from tussock.maps.plan_files import is_ours

        return Outbox(is_ours, force=self.options.force, inputs=self.inputs)

    def capture(self, answers: Mapping[str, str]) -> Capture:
        """Return the capture that options and answers describe.

        Raises
        ------
        UsageError
            When an answer is none, or a name is shared by several species.
        """
        from tussock.planning.setting import Capture

        animal = self._animal(answers)
        named = answers["scientificName"]
        vernacular = "" if named.casefold() == animal.scientific_name.casefold() else named
        kept = {**answers, "scientificName": animal.scientific_name, "vernacularName": vernacular}
        if OTHERS in kept:
            kept[OTHERS] = " | ".join(animal.names[1:])
        assert self.place is not None  # --at was given
        time = self.times.time or self.clock
        kept = {column: text for column, text in kept.items() if text}
        name, checked = self.options.capture_id or "", self.times.trap_checked
        return Capture(name, self.place, time, animal, kept, vernacular, trap_checked=checked)

    def _animal(self, answers: Mapping[str, str]) -> Animal:
        try:
            return read_animal(answers, book=self.opened.book)
        except InputError as error:
            raise together(
                [
                    UsageError(e.found, where=options.answering(e.where), allowed=e.allowed, fix=e.fix)
                    for e in error.parts or (error,)
                ]
            ) from None


def _place(asked: PlanOptions, faults: list[UsageError]) -> Position | None:
    if asked.at is None:
        return None
    # a radius that is none is a fault of its own; any stands in to look at the place
    radius = asked.uncertainty if options.above_zero(asked.uncertainty) else 1.0
    return options.typed(position_from_text, asked.at, radius, option="--at", faults=faults)


def _instant(asked: PlanOptions, name: str, faults: list[UsageError]) -> datetime | None:
    text = getattr(asked, name)
    return None if text is None else options.typed(parse_instant, text, where=flag(name), faults=faults)


def _wrong_answers(answers: Mapping[str, str]) -> list[UsageError]:
    """Return a fault for each answer that is none, with the option's name."""
    faults = []
    for column, text in answers.items():
        try:
            if column in QUESTIONS:
                parse_answer(QUESTIONS[column], text, where=flag(ANSWERS[column]))
            elif column == "individualCount":
                terminal.check_count(text, where="--count")
        except InputError as error:
            faults.append(UsageError(error.found, where=error.where, allowed=error.allowed))
    return faults


def _source(asked: PlanOptions, settings: Settings) -> Source | None:
    """Return the logbook where the command line names it; a plan without one loads no database."""
    if not asked.reads_book:
        return None
    from tussock.cli.from_book import read_source

    return read_source(asked.logbook, settings)


def _files(asked: PlanOptions, settings: Settings, source: Source | None) -> Files:
    from tussock.planning.opened import Files

    assert asked.region is not None  # checked with the options
    rules = settings.path if settings.has_house_rules else None
    files = Files(
        asked.region, asked.permit, asked.consents, asked.releases, asked.profiles, asked.weights, rules
    )
    return files if source is None else source.files(files, settings)


def _read(read: Callable[[], _T], faults: Faults) -> _T | None:
    try:
        return read()
    except InputError as error:
        faults.take(error)
        return None


def _holders(asked: PlanOptions) -> Holders:
    """Return the table of holders; it is no input of the plan, so the record carries no hash of it."""
    return read_holders(asked.holders) if asked.holders is not None else Holders()


def _inputs(files: Files, asked: PlanOptions, settings: Settings, source: Source | None) -> tuple[Path, ...]:
    """Return every file that is read, so that none is written over."""
    named = (*files.permits, files.consents, files.releases, files.profiles, files.weights)
    others = (asked.captures, asked.holders, settings.path, source.path if source else None)
    return tuple(p for p in (*named, *others) if p is not None) + tuple(_of_region(files.region))


def _of_region(folder: Path) -> Iterator[Path]:
    return (p for p in folder.iterdir() if p.is_file())


def written(paths: tuple[Path, ...]) -> None:
    """Say which files were written."""
    for path in paths:
        say(f"Written: {path}")
