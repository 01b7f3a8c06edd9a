# ruff: noqa: D102 - these methods are documented where Condition declares them
"""Clauses that the clock decides. They are read and kept; judging them needs the times of a release."""

from __future__ import annotations

from datetime import time
from typing import Annotated, ClassVar, Literal

from pydantic import Discriminator, Field, Tag, model_validator

from tussock.permit.condition import Condition, Decided, Strict
from tussock.permit.fields import Clock, Hours


class TimeCondition(Condition):
    """A clause that the clock decides."""

    decided: ClassVar[Decided] = Decided.TIME
    judged: ClassVar[bool] = False
    not_checked: ClassVar[str] = "not checked: it needs the times of capture and release"


class _LateCaptures(TimeCondition):
    """A clause with a rule of its own for animals taken late in the day."""

    captured_after: Clock | None = None
    then_within_h: Hours | None = None

    @model_validator(mode="after")
    def _both_or_neither(self) -> _LateCaptures:
        if (self.captured_after is None) != (self.then_within_h is None):
            raise ValueError("captured_after and then_within_h go together, only one is given")
        return self

    def _late_words(self) -> str:
        if self.captured_after is None or self.then_within_h is None:
            return ""
        return f"; after a capture later than {self.captured_after:%H:%M}, within {self.then_within_h:g} h"


class MaxHoldingHours(_LateCaptures):
    """Not held longer than that."""

    kind: Literal["max_holding_hours"] = "max_holding_hours"
    limit_h: Hours
    from_: Annotated[
        Literal["capture", "trap_check"], Field(alias="from", description="capture or trap_check")
    ] = "capture"

    def words(self) -> str:
        start = {"capture": "eventDate of the capture", "trap_check": "trapCheckDate"}[self.from_]
        return f"The animal's holding ends at most {self.limit_h:g} h after {start}{self._late_words()}."


class SameCalendarDay(_LateCaptures):
    """Out of the bag on the day it went in."""

    kind: Literal["same_calendar_day"] = "same_calendar_day"

    def words(self) -> str:
        return f"Holding ends on the local date of the capture's eventDate{self._late_words()}."


class ClockWindow(Strict):
    """From one local clock time to another; past midnight where ``to`` is the earlier."""

    from_: Annotated[Clock, Field(alias="from")]
    to: Clock

    @model_validator(mode="after")
    def _has_length(self) -> ClockWindow:
        if self.from_ == self.to:
            raise ValueError(f"the window begins and ends at {self.to:%H:%M}")
        return self

    @property
    def crosses_midnight(self) -> bool:
        """Whether it ends on the day after it began."""
        return self.to < self.from_

    def holds(self, clock: time) -> bool:
        """Return whether a local clock time lies in it, ends included."""
        if self.crosses_midnight:
            return clock >= self.from_ or clock <= self.to
        return self.from_ <= clock <= self.to


def _window_form(value: object) -> str:
    return "clock" if isinstance(value, dict | ClockWindow) else "word"


class ReleaseWindow(TimeCondition):
    """Release by day, in the species' active hours, or between two clock times."""

    kind: Literal["release_window"] = "release_window"
    not_checked: ClassVar[str] = "not checked: it needs the time of release and the sun's height there"
    window: Annotated[
        Annotated[Literal["daylight", "active_period"], Tag("word")] | Annotated[ClockWindow, Tag("clock")],
        Discriminator(_window_form),
        Field(description='"daylight", "active_period" or { from = "HH:MM", to = "HH:MM" } in local time'),
    ]

    def words(self) -> str:
        if isinstance(self.window, ClockWindow):
            return f"The release is between {self.window.from_:%H:%M} and {self.window.to:%H:%M} local time."
        if self.window == "daylight":
            return "At the instant of release the sun stands no lower than 0.8333° below the horizon there."
        return "The release is in the active period of the species' profile."
