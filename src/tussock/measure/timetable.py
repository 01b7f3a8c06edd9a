"""When an animal may be let go: the instants that every clause of the clock allows, place by place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.measure.clauses import Clause, Standing, time_facts
from tussock.measure.judging import Measures, Window
from tussock.measure.scene import Scene
from tussock.permit.demands import DistanceFromCapture
from tussock.permit.time_kinds import TimeCondition
from tussock.spans import Spans

STAY_S = 45 * 60.0
"""How long after arriving the release may be [s] (design choice of this project)."""
MINUTE_S = 60.0
"""Windows are given in whole minutes, rounded inwards: what is allowed at a place's centre and not 30 m
beside it differs by a second at most."""
ARRIVAL_ERROR_S = 0.01
"""How far off the arrival at a cell may be [s]: distances to cells are good to 3 cm, 4 ms of driving."""
EARTH_RADIUS_LOW_M = 6_335_000.0
"""Below any radius of curvature of the ellipsoid [m] (b²/a of WGS 84 is 6 335 439 m), so that the angle
between the verticals of two places comes out no smaller than it is."""


@dataclass(frozen=True, eq=False)
class Timetable:
    """The clauses of the clock over the ground.

    Attributes
    ----------
    scene
        Case and place of capture.
    clauses
        Those that the clock decides and that must be met.
    in_force
        When the permits' versions are in force.
    start
        Earliest arrival at the capture's own place [POSIX seconds].
    per_metre_s
        How much later a place is reached for each metre that it lies from the capture [s/m].
    reach_m
        Farthest place asked about [m].
    """

    scene: Scene
    clauses: tuple[Clause, ...]
    in_force: Spans
    start: float
    per_metre_s: float
    reach_m: float

    @property
    def span(self) -> Window:
        """From the first arrival to the last moment of a stay at the farthest place."""
        return self.start, self.start + self.per_metre_s * self.reach_m + STAY_S

    def arrival(self, distance_m: Floats) -> Floats:
        """Return the earliest arrival at places [POSIX seconds]."""
        return np.asarray(self.start + self.per_metre_s * np.asarray(distance_m))

    def allowed(
        self, lon: float, lat: float, *, within: Window, slack_deg: float = 0.0, but: Clause | None = None
    ) -> Spans:
        """Return the instants that every clause (but one) allows at a place [degrees]."""
        found = self.in_force & Spans.of(*within)
        for clause in self.clauses:
            if clause is not but:
                found = found & self.allowed_by(clause, lon, lat, within=within, slack_deg=slack_deg)
        return found

    def allowed_by(
        self, clause: Clause, lon: float, lat: float, *, within: Window, slack_deg: float = 0.0
    ) -> Spans:
        """Return the instants that one clause allows at a place [degrees]."""
        condition = clause.condition
        assert clause.zone is not None and isinstance(condition, TimeCondition)  # so it was bound
        facts = time_facts(self.scene, clause.zone, lon, lat, slack_deg=slack_deg)
        return condition.allowed(facts, within=within)

    @cached_property
    def possible(self) -> Spans:
        """A bound from above on what is allowed at any place within reach, in the span."""
        return self._possible & Spans.of(*self.span)

    @cached_property
    def _possible(self) -> Spans:
        return self._at_capture(1.0)

    @cached_property
    def _sure(self) -> Spans:
        """A bound from below: allowed at every place within reach."""
        return self._at_capture(-1.0)

    def _at_capture(self, sign: float) -> Spans:
        # the sun's altitude differs between two places by no more than the angle between them
        c = self.scene.case.capture
        angle = math.degrees(self.reach_m / EARTH_RADIUS_LOW_M)
        start, end = self.span
        within = (
            start - STAY_S,
            end + STAY_S,
        )  # so that no end of the span passes for an end of what is allowed
        return self.allowed(c.longitude, c.latitude, within=within, slack_deg=sign * angle)

    def states(self, distance_m: npt.NDArray[np.floating]) -> npt.NDArray[np.uint8]:
        """Return per place 0 surely reached in time, 1 undecided, 2 surely not in time."""
        clear = self._sure.part_at(self.start)
        if clear is not None and clear[1] >= self.span[1]:  # as mostly: nothing to tell apart
            return np.zeros(len(distance_m), dtype=np.uint8)
        arrive = self.arrival(distance_m.astype(np.float64))
        late = ~_has_minute(self._possible, arrive - ARRIVAL_ERROR_S)
        unsure = ~_has_minute(self._sure, arrive + ARRIVAL_ERROR_S)
        return late.view(np.uint8) + unsure.view(np.uint8)

    def windows(self, lon: Floats, lat: Floats, distance_m: Floats) -> list[Window | None]:
        """Return when the release at each place may be, in whole minutes; ``None`` where it cannot be.

        The first span that every clause allows between arriving and the end of the stay.
        """
        if not self.clauses and self.in_force.holds(self.span[0]) and self.in_force.holds(self.span[1]):
            return [_whole(Spans.of(a, a + STAY_S)) for a in self.arrival(distance_m)]
        arrive = self.arrival(distance_m)
        return [self._window(float(lon[k]), float(lat[k]), float(arrive[k])) for k in range(len(arrive))]

    def reached(self, measures: Measures) -> npt.NDArray[np.bool_]:
        """Return which places can be reached while every clause allows the release, shape (n,)."""
        at = measures.at
        found = self.windows(at.lon, at.lat, measures.of(DistanceFromCapture()).value)
        return np.array([window is not None for window in found], dtype=bool)

    def _window(self, lon: float, lat: float, arrive: float) -> Window | None:
        stay = Spans.of(arrive, arrive + STAY_S)
        clear = self._sure.part_at(arrive)
        if clear is not None and clear[1] >= arrive + STAY_S:
            return _whole(stay)
        if not stay & self._possible:
            return None
        return _whole(self.allowed(lon, lat, within=stay.parts[0]))


def _whole(allowed: Spans) -> Window | None:
    """Return the first span of at least a minute, in whole minutes."""
    for start, end in allowed.parts:
        first, last = math.ceil(start / MINUTE_S) * MINUTE_S, math.floor(end / MINUTE_S) * MINUTE_S
        if first + MINUTE_S <= last:
            return first, last
    return None


def _has_minute(allowed: Spans, arrive: Floats) -> npt.NDArray[np.bool_]:
    """Return for which arrivals a minute of the stay is allowed, from one whole minute to the next."""
    found = np.zeros(len(arrive), dtype=bool)
    for start, end in allowed.parts:
        first = np.ceil(np.maximum(arrive, start) / MINUTE_S) * MINUTE_S
        found |= first + MINUTE_S <= np.floor(np.minimum(arrive + STAY_S, end) / MINUTE_S) * MINUTE_S
    return found


def clock_clauses(clauses: Sequence[Clause]) -> tuple[Clause, ...]:
    """Return the clauses that the clock decides and that must be met."""
    return tuple(c for c in clauses if c.standing is Standing.CLOCK and c.condition.mandatory)
