"""From the options of ``tussock check`` to the library."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli import check_kept, terminal
from tussock.cli.ahead import read_ahead
from tussock.cli.check_options import CheckOptions, refuse_faults
from tussock.cli.check_ready import CheckJob
from tussock.cli.failures import say
from tussock.cli.settings import Settings, read_settings
from tussock.clock import parse_instant
from tussock.errors import UsageError
from tussock.position import Position, position_from_text

if TYPE_CHECKING:
    from tussock.cli.from_book import Source
    from tussock.review.spot import SpotCheck

_OF_HABITAT = ("habitat_in", "same_habitat_as_capture", "min_patch_area")


def run_check(given: CheckOptions) -> int:
    """Carry out ``tussock check``; return its exit code."""
    settings = read_settings(Path())
    asked = given.with_defaults(settings)
    refuse_faults(asked)
    assert asked.plan is not None and asked.at is not None  # refused above
    fix = position_from_text(asked.at, asked.uncertainty or 0.0, option="--at")
    now = None if asked.now is None else parse_instant(asked.now, where="--now")
    assert asked.region is not None  # refused above
    if _speaks_of_habitat(asked.plan):
        # parting the habitat takes longest, and goes on beside while everything else is imported and read
        read_ahead(asked.region, "habitat", (now or datetime.now(UTC)).date())
    from tussock.cli import show

    job = _opened(given, settings, fix, now)
    job.refuse_contradictions()
    show.cautions()
    for words in job.said_before():
        show.loud(words)
    check = _asked(job)
    return check_kept.kept(job, check)


def _speaks_of_habitat(plan: Path) -> bool:
    """Return whether a clause of the plan reads the habitat: a glance before it is read in earnest."""
    try:
        text = plan.read_bytes()
    except OSError:
        return False  # told when it is read
    return any(f'"{kind}"'.encode() in text for kind in _OF_HABITAT)


def _opened(given: CheckOptions, settings: Settings, fix: Position, now: datetime | None) -> CheckJob:
    from tussock.cli import house_rules
    from tussock.planning.opened import Files, open_files
    from tussock.review.planned import read_plan
    from tussock.review.spot_earlier import earlier_checks

    asked, source = _with_book(given, settings)
    assert asked.plan is not None and asked.region is not None  # refused without
    plan = read_plan(asked.plan)
    own = settings.path if settings.has_house_rules else None
    files = Files(
        asked.region, asked.permit, asked.consents, asked.releases, asked.profiles, None, house_rules=own
    )
    if source is not None:
        files = source.files(files, settings)
    opened = open_files(files)
    if opened.house_rules.shipped:
        rules = house_rules.summary(opened.house_rules.conditions)
        say(f"House rules (shipped, a judgement and not law): {rules}.")
    clock = now or datetime.now(opened.permits[0].zone).replace(microsecond=0)
    earlier, book = earlier_checks(plan, asked.plan), None
    for note in earlier.notes:
        say(f"Note: {note}.")
    if source is not None:
        opened, book = source.stand_in(opened, files, now=clock)
    return CheckJob(asked, settings, plan, opened, earlier, fix, clock, book)


def _with_book(given: CheckOptions, settings: Settings) -> tuple[CheckOptions, Source | None]:
    """Return the options with what tussock.toml says, and the logbook that is named, or is there."""
    if given.logbook is None and not given.beside_book(settings):
        return given.with_defaults(settings), None
    from tussock.cli.from_book import book_beside, read_source

    if given.logbook is not None:
        return given.with_defaults(settings), read_source(given.logbook, settings)
    source = book_beside(settings)
    asked = given if source is None else replace(given, logbook=source.where)
    return asked.with_defaults(settings), source


def _asked(job: CheckJob) -> SpotCheck:
    """Return the check with every question answered that matters.

    Raises
    ------
    UsageError
        When nobody is there to answer.
    """
    from tussock.cli import check_talk
    from tussock.review.spot import check_spot

    spot, held = job.spot(), job.held()
    check = check_spot(job.plan, spot, held)
    if terminal.interactive():
        answered = check_talk.answered(check)
        return check if answered is spot else check_spot(job.plan, answered, held)
    open_ones = check.open_questions
    if open_ones:
        listed = "\n".join(f"  {q.key}: {q.text}" for q in open_ones)
        say(f"Questions without an answer:\n{listed}")
        raise UsageError(
            f"not answered: {', '.join(q.key for q in open_ones)}",
            where="--answer",
            allowed="KEY=yes, KEY=no or KEY=unclear",
            fix="answer each, once you have looked",
        )
    return check
