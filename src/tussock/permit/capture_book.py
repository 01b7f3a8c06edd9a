"""Every capture of a book, indexed for counting: in one of many thousands as fast as in a small one."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import accumulate
from zoneinfo import ZoneInfo

from tussock.clock import local_date

PERIODS: dict[str, Callable[[date], object]] = {
    "day": lambda day: day,
    "week": lambda day: day.isocalendar()[:2],
    "month": lambda day: (day.year, day.month),
    "year": lambda day: day.year,
}
"""Period → what two local dates of one period share. Weeks begin on Monday (ISO 8601)."""
Term = tuple[date, date]
"""First and last local date of a version."""
_Order = tuple[datetime, str]
_Running = dict[str, tuple[list[_Order], list[int]]]
"""Name → the captures of that name in order, and how many individuals up to each."""


@dataclass(frozen=True)
class BookedCapture:
    """A capture in the book, as far as quotas count it."""

    instant: datetime
    scientific_name: str
    individual_count: int
    id: str = ""


def utc(instant: datetime) -> datetime:
    """Return the instant in UTC: datetimes of one zone subtract and compare as clock readings in Python.

    Raises
    ------
    ValueError
        When it has no offset, so that it names no instant.
    """
    if instant.utcoffset() is None:
        raise ValueError(f"{instant} has no offset, so it names no instant")
    return instant.astimezone(UTC)


def order(capture: BookedCapture) -> tuple[datetime, str]:
    """Return what puts captures in order of time; of one instant by id."""
    return utc(capture.instant), capture.id


class CaptureBook:
    """The captures of a book, in the local dates of one zone."""

    def __init__(self, captures: Iterable[BookedCapture], zone: ZoneInfo) -> None:
        self._dated = sorted(
            ((order(c), local_date(c.instant, zone), c) for c in captures), key=lambda found: found[0]
        )
        self._zone = zone
        self._own: dict[str, list[BookedCapture]] = defaultdict(list)
        for _, _, capture in self._dated:
            self._own[capture.id].append(capture)
        self._indexes: dict[str | Term, dict[object, _Running]] = {}

    def before(self, this: BookedCapture, per: str | Term) -> list[BookedCapture]:
        """Return how many were taken up to a capture in its period, without it: one sum for each name.

        Parameters
        ----------
        per
            A name of :data:`PERIODS`, or the term of a version.
        """
        key_of = _key_of(per)
        period, until = key_of(local_date(this.instant, self._zone)), order(this)
        sums = {}
        for name, (orders, running) in self._index(per).get(period, {}).items():
            found = bisect_right(orders, until)
            sums[name] = running[found - 1] if found else 0
        for own in self._same(this):
            if order(own) <= until and key_of(local_date(own.instant, self._zone)) == period:
                sums[own.scientific_name] -= own.individual_count
        return [BookedCapture(this.instant, name, n) for name, n in sums.items() if n]

    def own(self, name: str) -> tuple[BookedCapture, ...]:
        """Return the entries of a capture, by its id."""
        return tuple(self._own.get(name, ()))

    def _same(self, this: BookedCapture) -> list[BookedCapture]:
        """Return the entries of the capture itself: by its id, or where it has none one like it."""
        found = self._own.get(this.id, [])
        return found if this.id else [c for c in found if c == this][:1]

    def _index(self, per: str | Term) -> dict[object, _Running]:
        if per not in self._indexes:
            self._indexes[per] = self._made(_key_of(per))
        return self._indexes[per]

    def _made(self, key_of: Callable[[date], object]) -> dict[object, _Running]:
        groups: dict[object, dict[str, list[tuple[_Order, int]]]] = defaultdict(lambda: defaultdict(list))
        for when, day, capture in self._dated:
            groups[key_of(day)][capture.scientific_name].append((when, capture.individual_count))
        return {
            key: {
                name: ([when for when, _ in found], list(accumulate(n for _, n in found)))
                for name, found in names.items()
            }
            for key, names in groups.items()
        }


def _key_of(per: str | Term) -> Callable[[date], object]:
    if isinstance(per, str):
        return PERIODS[per]
    first, last = per
    return lambda day: first <= day <= last
