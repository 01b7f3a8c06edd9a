"""Until when the clauses of the clock go on allowing a release at the spot."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from tussock.clock import local_date
from tussock.measure.clauses import bind
from tussock.measure.scene import Scene
from tussock.measure.timetable import Timetable, clock_clauses
from tussock.permit.permit_file import Permit, Version
from tussock.permit.time_kinds import TimeCondition
from tussock.position import Position
from tussock.spans import ALWAYS, Spans, instant, local_day, posix

AHEAD_S = 48 * 3600.0
"""How far ahead an end of the allowed time is looked for [s] (judgement)."""


@dataclass(frozen=True)
class Deadline:
    """When the allowed time ends.

    Attributes
    ----------
    instant
        In the permit's zone, rounded down to whole minutes.
    clause, source
        What ends it; ``clause`` is empty where the permit's version runs out.
    """

    instant: datetime
    clause: str
    source: str


def deadline(permits: Iterable[tuple[Permit, Scene]], at: Position, now: datetime) -> Deadline | None:
    """Return the first end of what is allowed now at a place; ``None`` where none comes in two days.

    Where a clause does not allow it now the time is over: ``None`` too, and the clause is judged not met.
    """
    found: list[Deadline] = []
    for permit, scene in permits:
        ends = _ends(permit, scene, at, now)
        if ends is None:
            return None
        found += ends
    return min(found, key=lambda d: d.instant.timestamp(), default=None)


def _ends(permit: Permit, scene: Scene, at: Position, now: datetime) -> list[Deadline] | None:
    version = permit.version_on(local_date(now, permit.zone))
    if version is None:
        return None
    start = posix(now)
    ahead = start, start + AHEAD_S
    times = [c for c in version.of_disposal if isinstance(c, TimeCondition)]
    clauses = clock_clauses(bind(times, scene, source=permit.id, zone=permit.zone))
    table = Timetable(scene, clauses, ALWAYS, start, 0.0, 0.0)
    spans = [(table.allowed_by(c, at.longitude, at.latitude, within=ahead), c.condition.id) for c in clauses]
    spans.append((_days(version, permit.zone) & Spans.of(*ahead), ""))
    parts = [(allowed.part_at(start), name) for allowed, name in spans]
    if any(part is None for part, _ in parts):
        return None
    return [
        Deadline(instant(part[1] // 60 * 60, permit.zone), name, permit.id)
        for part, name in parts
        if part is not None and part[1] < ahead[1]
    ]


def _days(version: Version, zone: ZoneInfo) -> Spans:
    """Return the instants of a version's local days, its last second included."""
    start = local_day(version.valid_from, zone)[0]
    end = local_day(version.valid_to, zone)[1] - 1.0 if version.valid_to else math.inf
    return Spans.of(start, end)
