# ruff: noqa: D102 - these methods are documented where TimeCondition declares them
"""Clauses that the clock decides: each is a set of instants at which holding may end.

Planning takes the instants that all of them allow; a record is judged by whether its instant is one of
them. Nothing else decides, so both agree.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import time
from typing import Annotated, ClassVar, Literal
from zoneinfo import ZoneInfo

from pydantic import Discriminator, Field, Tag, model_validator

from tussock.clock import local_date
from tussock.interval import Interval, Limit
from tussock.permit.condition import Condition, Decided, Strict
from tussock.permit.fields import Clock, Hours
from tussock.spans import ALWAYS, NEVER, Spans, clock_spans, instant, local_day
from tussock.sun import HORIZON_DEG, sun_spans

SECONDS_PER_HOUR = 3600.0
TOLERANCE_H = 1 / SECONDS_PER_HOUR
"""Instants are compared to one second (choice of this project: records give no finer)."""
REACH_H = 36.0
"""How far round a release its allowed instants are worked out [h]: a clock window comes every day."""
NEAR_H = 9.0
"""How far the sun's next rise and set are looked for at first [h]; mostly one of them is nearer."""
TWILIGHT_DEG = 12.0
"""A crepuscular animal is about while the sun stands within so many degrees of the horizon (judgement)."""


@dataclass(frozen=True)
class TimeFacts:
    """What the clock is held against.

    Attributes
    ----------
    captured, trap_checked
        POSIX seconds; ``trap_checked`` ``None`` where it is not recorded.
    in_trap
        Whether the animal was found in a trap or netting; ``None`` where that is not known.
    zone
        The permit's.
    longitude, latitude
        Place of release, degrees.
    active_periods
        Of every species the animal may be; ``""`` where the profile does not say.
    slack_deg
        Widens (positive) or narrows (negative) what depends on the sun by so much of its altitude:
        bounds for every place that lies within that angle.
    """

    captured: float
    zone: ZoneInfo
    longitude: float
    latitude: float
    active_periods: tuple[str, ...]
    trap_checked: float | None = None
    in_trap: bool | None = None
    slack_deg: float = 0.0


class TimeCondition(Condition):
    """A clause that the clock decides.

    ``releases_only``: it asks nothing of holding that ends otherwise. ``needs``: what it reads, in words.
    """

    decided: ClassVar[Decided] = Decided.TIME
    releases_only: ClassVar[bool] = False
    needs: ClassVar[str] = ""

    def lacking(self, facts: TimeFacts) -> str:
        """Return which input it needs and lacks, in words; empty when none."""
        return ""

    def allowed(self, facts: TimeFacts, *, within: tuple[float, float]) -> Spans:
        """Return the instants at which holding may end, as far as they lie in ``within``."""
        raise NotImplementedError

    def demand(self, facts: TimeFacts) -> Limit:
        """Return the range [h] that :meth:`measured` must lie in."""
        # a whole second after the last one that is allowed is none: midnight is of the next date
        return Limit(at_least=0.0, tolerance=0.999 * TOLERANCE_H)

    def measured(self, facts: TimeFacts, first: float, last: float) -> Interval:
        """Return, for an end of holding between two instants, the depth in the allowed instants [h].

        As for any set: the distance to its edge, positive inside.
        """
        reach = REACH_H * SECONDS_PER_HOUR
        within = first - reach, last + reach
        allowed = _going_on(self.allowed(facts, within=within), within)
        depths = [allowed.depth_s(t) / SECONDS_PER_HOUR for t in _turns(allowed, first, last)]
        return Interval(min(depths), max(depths))

    def deadline_words(self) -> str:
        """Return what ends when the allowed instants end, as on a card."""
        return "the time allowed"


def _going_on(allowed: Spans, within: tuple[float, float]) -> Spans:
    """Return the instants with those that reach an end of what was looked at going on for ever."""
    before, after = Spans.of(-math.inf, within[0]), Spans.of(within[1], math.inf)
    return (
        allowed
        | (before if allowed.holds(within[0]) else NEVER)
        | (after if allowed.holds(within[1]) else NEVER)
    )


def _turns(allowed: Spans, first: float, last: float) -> list[float]:
    """Return the instants between two where the depth in a set can be least or most: ends and middles."""
    edges = sorted({e for part in allowed.parts for e in part if first < e < last})
    stops = [first, *edges, last]
    middles = [(a + b) / 2 for part in _and_gaps(allowed) for a, b in [part] if first < (a + b) / 2 < last]
    return [*stops, *middles]


def _and_gaps(allowed: Spans) -> Iterable[tuple[float, float]]:
    yield from allowed.parts
    yield from allowed.complement().parts


class _LateCaptures(TimeCondition):
    """A clause with a rule of its own for animals taken late in the day."""

    captured_after: Clock | None = None
    then_within_h: Hours | None = None

    @model_validator(mode="after")
    def _both_or_neither(self) -> _LateCaptures:
        if (self.captured_after is None) != (self.then_within_h is None):
            raise ValueError("captured_after and then_within_h go together, only one is given")
        return self

    def _late_h(self, facts: TimeFacts) -> float | None:
        """Return the hours that a late capture has; ``None`` where it was not late."""
        if self.captured_after is None or self.then_within_h is None:
            return None
        clock = instant(facts.captured, facts.zone).time()
        return self.then_within_h if clock > self.captured_after else None


class MaxHoldingHours(_LateCaptures):
    """Not held longer than that."""

    kind: Literal["max_holding_hours"] = "max_holding_hours"
    needs: ClassVar[str] = "the clock of the holding"
    limit_h: Hours
    from_: Annotated[
        Literal["capture", "trap_check"], Field(alias="from", description="capture or trap_check")
    ] = "capture"

    def lacking(self, facts: TimeFacts) -> str:
        if self.from_ == "trap_check" and facts.trap_checked is None and facts.in_trap is not False:
            return "trapCheckDate, when the trap was checked, is not given"
        return ""

    def start(self, facts: TimeFacts) -> float:
        """Return when the clock starts [POSIX seconds]; for an animal that was in no trap, its capture."""
        if self.from_ == "trap_check" and facts.trap_checked is not None:
            return facts.trap_checked
        return facts.captured

    def limit(self, facts: TimeFacts) -> float:
        """Return the hours that this capture has."""
        late = self._late_h(facts)
        return self.limit_h if late is None else late

    def allowed(self, facts: TimeFacts, *, within: tuple[float, float]) -> Spans:
        return Spans.of(-math.inf, self.start(facts) + self.limit(facts) * SECONDS_PER_HOUR) & Spans.of(
            *within
        )

    def demand(self, facts: TimeFacts) -> Limit:
        return Limit(at_most=self.limit(facts), tolerance=TOLERANCE_H)

    def measured(self, facts: TimeFacts, first: float, last: float) -> Interval:
        """Return the hours held."""
        start = self.start(facts)
        return Interval((first - start) / SECONDS_PER_HOUR, (last - start) / SECONDS_PER_HOUR)

    def deadline_words(self) -> str:
        return "the longest holding"

    def words(self) -> str:
        start = {"capture": "eventDate of the capture", "trap_check": "trapCheckDate"}[self.from_]
        late = ""
        if self.captured_after is not None and self.then_within_h is not None:
            late = (
                f"; after a capture later than {self.captured_after:%H:%M}, at most {self.then_within_h:g} h"
            )
        return f"The animal's holding ends at most {self.limit_h:g} h after {start}{late}."


class SameCalendarDay(_LateCaptures):
    """Out of the bag on the day it went in."""

    kind: Literal["same_calendar_day"] = "same_calendar_day"
    needs: ClassVar[str] = "the local date of the capture"

    def allowed(self, facts: TimeFacts, *, within: tuple[float, float]) -> Spans:
        start, end = local_day(local_date(instant(facts.captured, facts.zone), facts.zone), facts.zone)
        day = Spans.of(start, end - 1.0)  # the last second of the day: midnight is of the next
        late = self._late_h(facts)
        if late is not None:  # a tolerance never makes it stricter
            day = day | Spans.of(start, facts.captured + late * SECONDS_PER_HOUR)
        return day & Spans.of(*within)

    def deadline_words(self) -> str:
        return "the calendar day"

    def words(self) -> str:
        late = ""
        if self.captured_after is not None and self.then_within_h is not None:
            late = (
                f", or, after a capture later than {self.captured_after:%H:%M}, "
                f"within {self.then_within_h:g} h of it"
            )
        return f"Holding ends on the local date of the capture's eventDate{late}."


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
    needs: ClassVar[str] = "the time of day, and where it asks for it the sun's height"
    releases_only: ClassVar[bool] = True
    window: Annotated[
        Annotated[Literal["daylight", "active_period"], Tag("word")] | Annotated[ClockWindow, Tag("clock")],
        Discriminator(_window_form),
        Field(description='"daylight", "active_period" or { from = "HH:MM", to = "HH:MM" } in local time'),
    ]

    @property
    def by_sun(self) -> bool:
        """Whether the sun decides it, and not the clock alone."""
        return not isinstance(self.window, ClockWindow)

    def lacking(self, facts: TimeFacts) -> str:
        if self.window == "active_period" and not all(facts.active_periods):
            return "the active period of the species is not in its profile"
        return ""

    def allowed(self, facts: TimeFacts, *, within: tuple[float, float]) -> Spans:
        if isinstance(self.window, ClockWindow):
            return clock_spans(self.window.from_, self.window.to, facts.zone, within=within)
        periods = ("diurnal",) if self.window == "daylight" else facts.active_periods
        found = Spans.of(*within)
        for period in sorted(set(periods)):
            found = found & _active(period, facts, within)
        return found

    def measured(self, facts: TimeFacts, first: float, last: float) -> Interval:
        if self.by_sun and first == last:
            reach = NEAR_H * SECONDS_PER_HOUR
            within = first - reach, last + reach
            near = _going_on(self.allowed(facts, within=within), within).depth_s(first)
            if abs(near) <= reach - SECONDS_PER_HOUR:  # no edge beyond what was looked at is nearer
                return Interval(near / SECONDS_PER_HOUR, near / SECONDS_PER_HOUR)
        return super().measured(facts, first, last)

    def deadline_words(self) -> str:
        if isinstance(self.window, ClockWindow):
            return "the release window"
        return "daylight" if self.window == "daylight" else "the species' active period"

    def words(self) -> str:
        if isinstance(self.window, ClockWindow):
            return f"The release is between {self.window.from_:%H:%M} and {self.window.to:%H:%M} local time."
        if self.window == "daylight":
            return "At the instant of release the sun stands no lower than 0.8333° below the horizon there."
        return (
            "The release is in the active period of the species' profile: by day while the sun is up, "
            "by night while it is down, at dusk and dawn while it stands within "
            f"{TWILIGHT_DEG:g}° of the horizon."
        )


def _active(period: str, facts: TimeFacts, within: tuple[float, float]) -> Spans:
    """Return when a species of an active period is about, by the sun's altitude at the place."""
    slack = facts.slack_deg
    place = facts.longitude, facts.latitude
    match period:
        case "diurnal":
            return sun_spans(*place, at_least_deg=HORIZON_DEG - slack, within=within)
        case "nocturnal":
            return sun_spans(*place, at_most_deg=HORIZON_DEG + slack, within=within)
        case "crepuscular":
            low, high = HORIZON_DEG - TWILIGHT_DEG - slack, HORIZON_DEG + TWILIGHT_DEG + slack
            return sun_spans(*place, at_least_deg=low, at_most_deg=high, within=within)
        case _:  # by day and by night
            return ALWAYS & Spans.of(*within)
