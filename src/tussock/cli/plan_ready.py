"""``tussock plan`` made ready: options, times, and the files they name as read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli import options
from tussock.cli.options import OTHERS, PlanOptions
from tussock.cli.settings import Settings
from tussock.errors import InputError, UsageError, together
from tussock.files import Outbox
from tussock.permit.holders import Holders
from tussock.position import Position
from tussock.spans import posix
from tussock.species.intake import Animal, read_animal

if TYPE_CHECKING:
    from tussock.planning.inputs import CaptureRow
    from tussock.planning.opened import Opened
    from tussock.planning.setting import Capture
    from tussock.records.held import HeldBook

TOP = 5
"""Sites offered where neither the command line nor tussock.toml says how many."""


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
