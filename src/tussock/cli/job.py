"""From the options of ``tussock plan`` to the library, and back to paper and terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli import house_rules, options, terminal
from tussock.cli.failures import say
from tussock.cli.options import ANSWERS, PlanOptions, flag
from tussock.cli.settings import Settings, read_settings
from tussock.clock import parse_instant
from tussock.errors import InputError, UsageError
from tussock.files import Outbox
from tussock.position import position_from_text
from tussock.species.intake import QUESTIONS, parse_answer, read_animal, unanswered

if TYPE_CHECKING:
    from tussock.planning.opened import Files, Opened
    from tussock.planning.setting import Capture

TOP = 5
"""Sites offered where neither the command line nor tussock.toml says how many."""


def run_plan(given: PlanOptions) -> int:
    """Carry out ``tussock plan``; return its exit code."""
    settings = read_settings(Path.cwd())
    asked = given.with_defaults(settings)
    answers = asked.answers()
    open_questions = () if asked.captures else unanswered(answers)
    options.check(asked, open_questions=() if terminal.interactive() else open_questions)
    _check_answers(answers)
    from tussock.planning.opened import open_files

    files = _files(asked, settings)
    opened = open_files(files)
    settings = house_rules.settled(opened.house_rules, settings)
    job = Job(asked, settings, opened, _inputs(files, asked, settings))
    if asked.captures is not None:
        from tussock.cli.batch import run_batch

        return run_batch(job)
    from tussock.cli.single import run_single

    return run_single(job, answers | terminal.ask(open_questions))


@dataclass(frozen=True)
class Job:
    """A command line made ready: options, settings, and the files they name as read."""

    options: PlanOptions
    settings: Settings
    opened: Opened
    inputs: tuple[Path, ...]

    @property
    def top(self) -> int:
        """How many sites at most."""
        return self.options.top or TOP

    def instant(self, name: str) -> datetime | None:
        """Return the instant that an option names; ``None`` where it is not given."""
        text = getattr(self.options, name)
        return None if text is None else parse_instant(text, where=flag(name))

    def clock(self) -> datetime:
        """Return --now, or the time it is in the permit's zone."""
        return self.instant("now") or datetime.now(self.opened.permits[0].zone).replace(microsecond=0)

    def outbox(self) -> Outbox:
        """Return where outputs are collected."""
        from tussock.maps.plan_files import is_ours

        return Outbox(is_ours, force=self.options.force, inputs=self.inputs)

    def capture(self, answers: Mapping[str, str]) -> Capture:
        """Return the capture that options and answers describe.

        Raises
        ------
        UsageError
            When an answer is none.
        """
        from tussock.planning.setting import Capture

        asked = self.options
        assert asked.at is not None and asked.uncertainty is not None  # checked with the options
        position = position_from_text(asked.at, asked.uncertainty, option="--at")
        try:
            animal = read_animal(answers, book=self.opened.book)
        except InputError as error:
            raise UsageError(error.found, where="the animal", allowed=error.allowed, fix=error.fix) from None
        time = self.instant("time") or self.clock()
        named = answers["scientificName"]
        vernacular = named if named.casefold() != animal.scientific_name.casefold() else ""
        kept = {**answers, "scientificName": animal.scientific_name}
        if vernacular:
            kept["vernacularName"] = vernacular
        return Capture(asked.capture_id or "", position, time, animal, kept, vernacular)


def _check_answers(answers: Mapping[str, str]) -> None:
    """Refuse answers that are none, with the option's name."""
    faults = []
    for column, text in answers.items():
        try:
            if column in QUESTIONS:
                parse_answer(QUESTIONS[column], text, where=flag(ANSWERS[column]))
            elif column == "individualCount" and not (
                text.isascii() and text.isdigit() and 0 < int(text[:9]) < 10**6
            ):
                raise InputError(f"found {text[:40]!r}", where="--count", allowed="a whole number from 1")
        except InputError as error:
            faults.append(
                UsageError(error.found, where=error.where, allowed=error.allowed, fix="use one of them")
            )
    options.raise_all(faults)


def _files(asked: PlanOptions, settings: Settings) -> Files:
    from tussock.planning.opened import Files

    assert asked.region is not None  # checked with the options
    rules = settings.path if settings.has_house_rules else None
    return Files(
        asked.region, asked.permit, asked.consents, asked.releases, asked.profiles, asked.weights, rules
    )


def _inputs(files: Files, asked: PlanOptions, settings: Settings) -> tuple[Path, ...]:
    """Return every file that is read, so that none is written over."""
    named = (
        *files.permits,
        files.consents,
        files.releases,
        files.profiles,
        files.weights,
        asked.captures,
        settings.path,
    )
    return tuple(p for p in named if p is not None) + tuple(_of_region(files.region))


def _of_region(folder: Path) -> Iterator[Path]:
    return (p for p in folder.iterdir() if p.is_file())


def written(paths: tuple[Path, ...]) -> None:
    """Say which files were written."""
    for path in paths:
        say(f"Written: {path}")
