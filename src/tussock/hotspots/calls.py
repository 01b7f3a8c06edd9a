"""Calls as hotspots count them, and which of them are one incident."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta
from functools import cached_property

import numpy as np

from tussock.errors import Faults
from tussock.geodesy import Floats
from tussock.hotspots.linking import linked

WITHIN_DAYS = 14.0
"""Calls so close in time [d] may be about one animal (choice of this project)."""
WITHIN_M = 50.0
"""And so close in space [m] (choice of this project)."""
ROUGH_M = 100.0
"""A call known to a wider circle [m] is an incident of its own (choice of this project)."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Call:
    """One call to the logbook.

    Attributes
    ----------
    time
        Instant, with its offset.
    x, y
        Place in the region's plane [m].
    radius_m
        Containing radius of the place [m].
    species, outcome, found_in
        Words, ``""`` where not known.
    captured
        Whether an animal was taken.
    organism_id
        Mark of the animal; ``""`` where it bore none.
    """

    id: str
    time: datetime
    x: float
    y: float
    radius_m: float
    species: str
    outcome: str
    found_in: str
    captured: bool
    organism_id: str = ""

    @property
    def sort_key(self) -> tuple[datetime, str]:
        """Time, then id: the order of calls, whatever order they came in."""
        return self.time, self.id


@dataclass(frozen=True, slots=True)
class Incident:
    """Calls that count as one, in order of time; at least one."""

    calls: tuple[Call, ...]

    @property
    def time(self) -> datetime:
        """When it began: the first call's instant."""
        return self.calls[0].time

    @property
    def place(self) -> Call:
        """The call whose place is known best; of several the first."""
        return min(self.calls, key=lambda c: c.radius_m)

    @property
    def captured(self) -> bool:
        """Whether an animal was taken at any of its calls."""
        return any(c.captured for c in self.calls)

    @property
    def told(self) -> Call:
        """The call that says what it was: the first with a capture, else the first that names a species."""
        return min(self.calls, key=lambda c: (not c.captured, not c.species))

    def attempted(self, *, leaving_out: frozenset[str]) -> str | None:
        """Return how the attempt to take the animal ended; ``None`` where no call of it was one.

        ``captured`` where an animal was taken at any call, else the outcome of the last that was an attempt;
        ``""`` where no call has an outcome on record.

        Parameters
        ----------
        leaving_out
            Outcomes of calls that are no attempt.
        """
        if self.captured:
            return "captured"
        ended = [c.outcome for c in self.calls if c.outcome]
        tried = [outcome for outcome in ended if outcome not in leaving_out]
        return tried[-1] if tried else None if ended else ""

    @property
    def lasted(self) -> timedelta:
        """From its first call to its last."""
        return self.calls[-1].time - self.calls[0].time


@dataclass(frozen=True)
class Incidents:
    """Incidents in order of time, and what was counted.

    Attributes
    ----------
    calls
        How many different calls they hold.
    duplicates
        How many rows more there were, each the same in everything as a call that is counted.
    by_radius
        How many of the calls are in an incident only because their place is vague.
    rough
        How many of the calls are known to a circle wider than `ROUGH_M`: which of them are one incident
        cannot be told, and each is one.
    """

    items: tuple[Incident, ...]
    calls: int
    duplicates: int
    by_radius: int = 0
    rough: int = 0

    def __len__(self) -> int:
        return len(self.items)

    @cached_property
    def _places(self) -> Floats:
        """Easting, northing, radius [m] of each place, shape (3, n)."""
        places = [i.place for i in self.items]
        return np.array([(p.x, p.y, p.radius_m) for p in places], dtype=np.float64).reshape(-1, 3).T

    @property
    def x(self) -> Floats:
        """Eastings of the places [m], shape (n,)."""
        return np.asarray(self._places[0])

    @property
    def y(self) -> Floats:
        """Northings of the places [m], shape (n,)."""
        return np.asarray(self._places[1])

    @property
    def radius_m(self) -> Floats:
        """Radii of the places [m], shape (n,)."""
        return np.asarray(self._places[2])

    @property
    def longest(self) -> timedelta:
        """How long the longest incident lasted: a chain of calls may outlast the days between two."""
        return max((i.lasted for i in self.items), default=timedelta(0))


def incidents(
    calls: Iterable[Call], *, within_days: float = WITHIN_DAYS, within_m: float = WITHIN_M
) -> Incidents:
    """Return which calls are one incident; how they are linked says :mod:`tussock.hotspots.linking`.

    Parameters
    ----------
    calls
        In any order: the same calls give the same incidents.
    within_days, within_m
        Calls so close in time [d] and space [m] are one. A call with a larger radius joins the nearest
        within that, up to `ROUGH_M`.

    Raises
    ------
    InputError
        For calls without an offset, a place or a radius, or with an id that another call bears; all at
        once.
    """
    given = list(calls)
    kept = different(given)
    radius_m = np.array([c.radius_m for c in kept], dtype=np.float64)
    found = linked(
        np.array([seconds(c.time) for c in kept], dtype=np.float64),
        np.array([c.x for c in kept], dtype=np.float64),
        np.array([c.y for c in kept], dtype=np.float64),
        radius_m=radius_m,
        within_s=within_days * 86_400.0,
        within_m=within_m,
        rough_m=max(within_m, ROUGH_M),
    )
    groups: dict[int, list[Call]] = {}
    for call, label in zip(kept, found.labels.tolist(), strict=True):
        groups.setdefault(label, []).append(call)
    items = tuple(Incident(tuple(g)) for g in groups.values())
    return Incidents(
        items,
        calls=len(kept),
        duplicates=len(given) - len(kept),
        by_radius=int(found.by_radius.sum()),
        rough=int((radius_m > ROUGH_M).sum()),
    )


def different(calls: Sequence[Call]) -> list[Call]:
    """Return the calls in order of time; rows that are the same in everything are one.

    Raises
    ------
    InputError
        For calls without an offset, a place or a radius, or with an id that another call bears; all at
        once.
    """
    _check(calls)
    kept = sorted(set(calls), key=lambda c: c.sort_key)
    _check_ids(kept)
    return kept


def seconds(time: datetime) -> float:
    """Return an instant as seconds since 1970, exact to a microsecond for some centuries."""
    return (time - _EPOCH) / timedelta(seconds=1)


def _check(calls: Sequence[Call]) -> None:
    faults = Faults()
    for call in calls:
        where = f"call {call.id}"
        if call.time.utcoffset() is None:
            faults.add("its time has no offset", where=where, allowed="an instant", fix="name the time zone")
        if not (math.isfinite(call.x) and math.isfinite(call.y)):
            faults.add("it has no place", where=where, allowed="metres in the plane")
        if not 0 <= call.radius_m < math.inf:
            faults.add(f"its radius is {call.radius_m} m", where=where, allowed="0 m or more")
    faults.raise_if_any()


def _check_ids(kept: Sequence[Call]) -> None:
    """Refuse two different calls under one id: which of them is true is not for the sum to decide."""
    faults, first = Faults(), dict[str, Call]()
    for call in kept:
        other = first.setdefault(call.id, call)
        if other is not call:
            differ = [f.name for f in fields(Call) if getattr(call, f.name) != getattr(other, f.name)]
            faults.add(
                f"two calls bear this id and differ in {', '.join(differ)}",
                where=f"call {call.id}",
                allowed="one call an id, or rows the same in everything",
                fix="give the second an id of its own, or delete the wrong one",
            )
    faults.raise_if_any()
