"""``tussock check`` made ready: the options with the files they name as read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli.check_options import CheckOptions, answers_of
from tussock.cli.settings import Settings
from tussock.errors import InputError, UsageError
from tussock.position import Position

if TYPE_CHECKING:
    from tussock.planning.opened import Opened
    from tussock.records.held import HeldBook
    from tussock.review.planned import PlanRecord
    from tussock.review.spot import Held, Photo, Spot
    from tussock.review.spot_earlier import Earlier

_NOT_READ = ("captures/", "weights/")
"""Files of a plan that a check does not read."""


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


def _photo(path: Path) -> Photo:
    from tussock.ground.region import sha256
    from tussock.review.spot import Photo

    if not path.is_file():
        raise InputError("there is no such file", where=f"--photo {path}", fix="check its name")
    return Photo(path.as_posix(), sha256(path))
