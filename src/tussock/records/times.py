"""Times that cannot be, told when an entry is made and not only when the book is audited.

What is still to come has not happened and is refused. Where two entries contradict each other nobody knows
yet which is wrong, and a record of old notes has to take both: that is said, and stands in the audit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from tussock.clock import parse_instant
from tussock.errors import InputError
from tussock.records.entries import CALLOUT, CAPTURE, CHECK, DISPOSAL, INCIDENT, Entry
from tussock.records.kinds import INSTANTS
from tussock.records.typed import LIST

_CLOCKS = timedelta(minutes=10)
"""So far ahead of the clock a time may be: a phone and a computer need not agree (choice of this project)."""
_LONG, _SOON = timedelta(days=7), timedelta(days=3)
"""From so long a holding on day and month are tried the other way round; then it would have ended so soon
(choices of this project)."""
_SECOND = timedelta(seconds=1)
_WHAT: Mapping[str, str] = {
    CALLOUT: "call",
    CAPTURE: "capture",
    DISPOSAL: "end of holding",
    CHECK: "check",
    INCIDENT: "incident",
}
RELATED: Mapping[str, tuple[str, ...]] = {
    CALLOUT: (CAPTURE,),
    CAPTURE: (CALLOUT, DISPOSAL, CHECK),
    DISPOSAL: (CAPTURE, CHECK),
    CHECK: (CAPTURE, DISPOSAL),
}
"""Kind of entry → the kinds that it is compared with."""


def to_come(entry: Entry, now: datetime, *, columns: Container[str] = INSTANTS) -> tuple[InputError, ...]:
    """Return a fault for each time of an entry that is later than the clock."""
    return tuple(
        InputError(
            f"{time.isoformat()} is still to come: the clock says {now.isoformat()}{_other_way(time, now)}",
            where=f"{entry.where}, {column}",
            allowed="what has happened",
            fix="correct it; where the clock is wrong, set it with --now",
        )
        for column in INSTANTS
        if column in columns
        for time in _times(entry, column)
        if time - now > _CLOCKS
    )


def _other_way(time: datetime, now: datetime) -> str:
    swapped = _swapped(time)
    return f" ({_day(swapped)} has been: day and month swapped?)" if swapped and swapped <= now else ""


def doubts(given: Iterable[Entry], there: Iterable[Entry]) -> tuple[str, ...]:
    """Return, in words, what cannot be true of entries together with those that they belong to.

    Parameters
    ----------
    given
        The entries that are made or amended.
    there
        Those of the book; of the kinds in :data:`RELATED` at least.
    """
    new = {(e.kind, e.id): e for e in given}
    beside = _Beside({**{(e.kind, e.id): e for e in there}, **new}.values())
    return tuple(dict.fromkeys(words for entry in new.values() for words in _doubts(entry, beside)))


class _Beside:
    """Entries by what they belong to."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        self.by_key: dict[tuple[str, str], Entry] = {}
        self.below: dict[tuple[str, str], list[Entry]] = defaultdict(list)
        for entry in entries:
            self.by_key[entry.kind, entry.id] = entry
            self.below[entry.kind, entry.parent].append(entry)


@dataclass(frozen=True)
class _Moment:
    entry: Entry
    time: datetime

    @property
    def words(self) -> str:
        return f"the {_WHAT[self.entry.kind]} {self.entry.id} at {self.time.isoformat()}"


def _doubts(entry: Entry, beside: _Beside) -> Iterator[str]:
    yield from _within(entry)
    for before, after in _pairs(entry, beside):
        first, last = _moment(before), _moment(after)
        if first is None or last is None:
            continue
        if first.time - last.time > _SECOND:
            yield f"{last.words} is before {first.words}{_swap(first, last)}"
        elif after.kind == DISPOSAL and last.time - first.time > _LONG and (hint := _swap(first, last)):
            days = (last.time - first.time).days
            yield f"{last.words} is {days} days after {first.words}{hint}"


def _within(entry: Entry) -> Iterator[str]:
    """Yield what an entry says of itself that cannot be: written down or reported before it happened."""
    start = _moment(entry)
    for column in ("recordedDate", "reportedDate"):
        for time in _times(entry, column):
            if start is not None and start.time - time > _SECOND:
                yield f"{column} {time.isoformat()} is before {start.words}"


def _pairs(entry: Entry, beside: _Beside) -> Iterator[tuple[Entry, Entry]]:
    """Yield what an entry is compared with: the earlier of the two first."""
    if entry.kind == CALLOUT:
        yield from ((entry, capture) for capture in beside.below[CAPTURE, entry.id])
    elif entry.kind == CAPTURE:
        if entry.parent and (call := beside.by_key.get((CALLOUT, entry.parent))):
            yield call, entry
        for kind in (DISPOSAL, CHECK):
            yield from ((entry, later) for later in beside.below[kind, entry.id])
    elif entry.kind in (DISPOSAL, CHECK):
        capture = beside.by_key.get((CAPTURE, entry.parent))
        if capture is None:
            return
        yield capture, entry
        ends = beside.below[DISPOSAL, capture.id]
        # of several animals one may be looked at after another is gone
        if len(ends) == 1 and capture.get("individualCount") in ("", "1"):
            looks = [entry] if entry.kind == CHECK else beside.below[CHECK, capture.id]
            yield from ((look, ends[0]) for look in looks)


def _swap(first: _Moment, last: _Moment) -> str:
    """Return a hint where one of two times with day and month the other way round would fit the other."""
    for moment, start, end in (
        (last, first.time, _swapped(last.time)),
        (first, _swapped(first.time), last.time),
    ):
        if start and end and timedelta() <= end - start <= _SOON:
            other, what = end if moment is last else start, _WHAT[moment.entry.kind]
            return f"; on {_day(other)} it would fit: are day and month of the {what} swapped?"
    return ""


def _swapped(time: datetime) -> datetime | None:
    """Return a time with day and month exchanged; ``None`` where that is no other day."""
    if time.day > 12 or time.day == time.month:
        return None
    return time.replace(month=time.day, day=time.month)


def _day(time: datetime) -> str:
    return time.date().isoformat()


def _moment(entry: Entry) -> _Moment | None:
    time = next(iter(_times(entry, "eventDate")), None)
    return None if time is None or entry.kind not in _WHAT else _Moment(entry, time)


def _times(entry: Entry, column: str) -> Iterator[datetime]:
    """Yield the instants in a column; what is none is told elsewhere."""
    for text in filter(None, (t.strip() for t in entry.get(column).split(LIST))):
        try:
            yield parse_instant(text, where="")
        except InputError:
            continue
