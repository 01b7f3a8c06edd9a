"""From the options of ``tussock check`` to the library."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli import check_kept, terminal
from tussock.cli.ahead import read_ahead
from tussock.cli.check_options import CheckOptions, answers_of, refuse_faults
from tussock.cli.failures import say
from tussock.cli.settings import Settings, read_settings
from tussock.clock import parse_instant
from tussock.errors import InputError, UsageError
from tussock.position import Position, position_from_text

if TYPE_CHECKING:
    from tussock.cli.from_book import Source
    from tussock.planning.opened import Opened
    from tussock.records.held import HeldBook
    from tussock.review.planned import PlanRecord
    from tussock.review.spot import Held, Photo, Spot, SpotCheck
    from tussock.review.spot_earlier import Earlier

_NOT_READ = ("captures/", "weights/")
"""Files of a plan that a check does not read."""
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

    job = _opened(asked, settings, fix, now)
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


@dataclass(frozen=True)
class CheckJob:
    """A command line made ready, with the files it names as read."""

    options: CheckOptions
    settings: Settings
    plan: PlanRecord
    opened: Opened
    earlier: Earlier
    fix: Position
    now: datetime
    book: HeldBook | None = None

    @property
    def path(self) -> Path:
        """The plan's file."""
        assert self.options.plan is not None  # refused without
        return self.options.plan

    @property
    def inputs(self) -> dict[str, str]:
        """Name → hash of what was read."""
        return {f"plan/{self.plan.name}": self.plan.sha256, **self.opened.inputs}

    def refuse_contradictions(self) -> None:
        """Refuse what cannot be about this plan.

        Raises
        ------
        InputError
            When the permits are others, or the check is to be logged and its capture is not in the book.
        UsageError
            When the plan has no such site, or the clock is before the capture.
        """
        self._refuse_to_log()
        held, planned = [p.id for p in self.opened.permits], self.plan.permits
        if set(held) != set(planned):
            raise InputError(
                f"the plan was made under {', '.join(planned)}, given is {', '.join(held)}",
                where="--permit",
                allowed="the permits of the plan",
                fix="name the same permits, or plan again",
            )
        numbers = [s.rank for s in self.plan.sites]
        if self.options.site not in numbers:
            raise UsageError(
                f"{self.plan.name} has no site {self.options.site}",
                where="--site",
                allowed=", ".join(map(str, numbers)),
            )
        if self.now < self.plan.captured:
            raise UsageError(
                f"{self.now.isoformat()} is before the capture at {self.plan.captured.isoformat()}",
                where="--now",
                fix="correct it, or the clock of this device",
            )

    def _refuse_to_log(self) -> None:
        """Refuse what the logbook could not take, before anybody has answered a question."""
        name = self.plan.capture_id
        if self.options.by is None or self.book is None or self.book.has(name):
            return
        fix = "log the capture first, or leave --by out and log the check later: tussock log take FILE"
        raise InputError(
            f"capture '{name[:60]}' of the plan is not in {self.book.name}"
            if name
            else "it names no capture",
            where="--logbook" if name else self.plan.name,
            allowed="a capture that is in the logbook",
            fix=fix if name else f"{fix} --capture ID",
        )

    def changed(self) -> tuple[str, ...]:
        """Return what differs from the files that the plan read, in words."""
        before = {n: h for n, h in self.plan.inputs.items() if not n.startswith(_NOT_READ)}
        after = {n: h for n, h in self.opened.inputs.items() if not n.startswith(_NOT_READ)}
        return tuple(
            f"{name} {_differs(name, before, after)}"
            for name in sorted({*before, *after})
            if before.get(name) != after.get(name)
        )

    def said_before(self) -> Iterator[str]:
        """Yield what must be known before the answer."""
        for words in self.changed():
            yield f"CHANGED: {words}. The clauses are judged by what is there now."
        if self.now < self.plan.made:
            made = self.plan.made.isoformat()
            yield f"The clock says {self.now.isoformat()}, before the plan was made ({made})."
        if self.book is not None and self.plan.capture_id in self.book.ends:
            end = self.book.ends[self.plan.capture_id]
            yield f"By {self.book.name} capture {self.plan.capture_id} is no longer held: {end}."
        if self.options.site in self.earlier.rejected:
            yield f"Site {self.options.site} was rejected by an earlier check."

    def spot(self) -> Spot:
        """Return what is known so far by standing there."""
        from tussock.review.spot import Spot
        from tussock.review.spot_questions import LOOK, clause_questions

        o = self.options
        assert o.site is not None  # refused without
        known = (*LOOK, *clause_questions(self.opened.permits))
        return Spot(
            number=o.site,
            fix=self.fix,
            now=self.now,
            answers=answers_of(o.answer, known, earlier=self.earlier.answers),
            why=(o.why or "").strip(),
            photo=None if o.photo is None else _photo(o.photo),
            temperature_c=o.temperature,
        )

    def held(self) -> Held:
        """Return what the spot is held against."""
        from tussock.planning.inputs import earlier
        from tussock.review.spot import Held

        opened = self.opened
        return Held(
            region=opened.region,
            permits=opened.permits,
            animal=self.plan.animal(opened.book),
            house_rules=opened.house_rules.conditions,
            consents=opened.consents,
            earlier=earlier(opened.booked, but_for={self.plan.capture_id} - {""}),
            rejected=self.earlier.rejected,
            contacts=self.settings.contacts,
        )


def _differs(name: str, before: Mapping[str, str], after: Mapping[str, str]) -> str:
    if name not in after:
        return "was read by the plan and is not given now"
    return "differs from when the plan was made" if name in before else "is new since the plan"


def _opened(asked: CheckOptions, settings: Settings, fix: Position, now: datetime | None) -> CheckJob:
    from tussock.cli import house_rules
    from tussock.planning.opened import Files, open_files
    from tussock.review.planned import read_plan
    from tussock.review.spot_earlier import earlier_checks

    assert asked.plan is not None and asked.region is not None  # refused without
    plan = read_plan(asked.plan)
    own = settings.path if settings.has_house_rules else None
    files = Files(
        asked.region, asked.permit, asked.consents, asked.releases, asked.profiles, None, house_rules=own
    )
    source = _source(asked, settings)
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


def _source(asked: CheckOptions, settings: Settings) -> Source | None:
    """Return the logbook where the command line names it."""
    if asked.logbook is None:
        return None
    from tussock.cli.from_book import read_source

    return read_source(asked.logbook, settings)


def _photo(path: Path) -> Photo:
    from tussock.ground.region import sha256
    from tussock.review.spot import Photo

    if not path.is_file():
        raise InputError("there is no such file", where=f"--photo {path}", fix="check its name")
    return Photo(path.as_posix(), sha256(path))


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
