"""Which calls are counted: each that is not is counted apart, for the first reason that holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from tussock.hotspots.calls import Call
from tussock.hotspots.cells import CallPlaces, Flags, Ground, HomePlaces, Tally, inside
from tussock.hotspots.found import Asked, Counted, GivenCalls
from tussock.hotspots.repeats import Release

SILENT_DAYS = 183
"""Days without a call [d] beyond which it is asked whether the book was kept then (judgement)."""


@dataclass(frozen=True, eq=False)
class Kept:
    """The calls that are counted, in order of time, and how many are not."""

    calls: tuple[Call, ...]
    duplicates: int
    future: int
    other_times: int
    outside_region: int
    outside_extent: int
    silence: str


def kept(given: GivenCalls, ground: Ground, asked: Asked) -> Kept:
    """Return the calls of the time observed and the known extent; the others counted.

    Raises
    ------
    InputError
        When the known extent is no area.
    """
    calls = sorted(set(given.calls), key=lambda c: c.sort_key)
    duplicates = len(given.calls) - len(calls)
    past = [c for c in calls if c.time <= asked.now]
    timely = [c for c in past if observed(c.time, asked)]
    stays, in_region = _inside(timely, ground)
    counted = tuple(c for c, here in zip(timely, stays.tolist(), strict=True) if here)
    return Kept(
        counted,
        duplicates,
        future=len(calls) - len(past),
        other_times=len(past) - len(timely),
        outside_region=int((~in_region).sum()),
        outside_extent=int((in_region & ~stays).sum()),
        silence=_silence(counted, asked),
    )


def _silence(calls: Sequence[Call], asked: Asked) -> str:
    """Ask of the longest time without a call whether the book was kept then, where it is long."""
    days = [asked.first, *(c.time.astimezone(asked.zone).date() for c in calls), asked.last]
    since, until = max(pairwise(days), key=lambda gap: gap[1] - gap[0])
    long = (until - since).days
    if not calls or long <= SILENT_DAYS:
        return ""
    return (
        f"No call counted from {since} to {until}, {long:,} of the days observed: was the book kept? If not, "
        "every rate is too low: state the time observed without them."
    )


def observed(time: datetime, asked: Asked) -> bool:
    """Return whether an instant lies on one of the local days observed."""
    return asked.first <= time.astimezone(asked.zone).date() <= asked.last


def followed(releases: Sequence[Release], asked: Asked) -> tuple[Release, ...]:
    """Return the releases of the time observed: a call after any other may have come unseen."""
    return tuple(r for r in releases if r.time <= asked.now and observed(r.time, asked))


def _inside(calls: Sequence[Call], ground: Ground) -> tuple[Flags, Flags]:
    places = CallPlaces(*np.array([(c.x, c.y) for c in calls], dtype=np.float64).reshape(-1, 2).T)
    none = np.zeros(0)
    found = inside(places, HomePlaces(none, none, none, none), ground=ground)
    return found.calls, found.in_region


def counted(
    given: GivenCalls, found: Kept, *, incidents: int, tally: Tally | None = None, tested: int = 0
) -> Counted:
    """Return the totals, which reconcile.

    Parameters
    ----------
    incidents
        What the calls kept are when those close in time and space are one.
    tally
        Of the incidents, by cells; ``None`` where there are no cells.
    tested
        Incidents in cells that take part in tests.
    """
    return Counted(
        read=given.rows,
        without_place=len(given.without_place),
        future=found.future,
        other_times=found.other_times,
        duplicates=found.duplicates,
        outside_region=found.outside_region,
        outside_extent=found.outside_extent,
        calls=len(found.calls),
        incidents=incidents,
        without_homes=tally.without_homes if tally else 0,
        in_no_unit=tally.in_no_cell if tally else 0,
        too_vague=tally.too_vague if tally else 0,
        untested=tally.in_cells - tested if tally else 0,
        silence=found.silence,
    )
