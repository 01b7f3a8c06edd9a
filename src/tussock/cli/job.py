"""From the options of ``tussock plan`` to what the library takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from tussock.cli import house_rules, options, terminal
from tussock.cli.ahead import DRAWING, READING, import_ahead
from tussock.cli.options import ANSWERS, PlanOptions, flag
from tussock.cli.plan_ready import Job, Times
from tussock.cli.settings import Settings, read_settings
from tussock.clock import parse_instant
from tussock.errors import Faults, InputError, UsageError
from tussock.permit.holders import Holders, read_holders
from tussock.position import Position, position_from_text
from tussock.species.intake import QUESTIONS, parse_answer, unanswered

if TYPE_CHECKING:
    from tussock.cli.from_book import Source
    from tussock.planning.opened import Files

_T = TypeVar("_T")


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
    if given.beside_book(settings) and (source := _beside(settings)) is not None:
        asked = replace(given, logbook=source.where).with_defaults(settings)
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


def _beside(settings: Settings) -> Source | None:
    from tussock.cli.from_book import book_beside

    return book_beside(settings)


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
