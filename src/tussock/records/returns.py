"""The return for a period: what became of every animal, in animals and not in rows.

Held at the start + captured = released + vet or carer + authority + euthanased + died + escaped + held at
the end. It holds for every species and period, because each lot of animals is followed from its capture to
its end, once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from tussock.clock import local_date
from tussock.errors import InputError
from tussock.names import DISPOSALS
from tussock.permit.permit_file import Permit
from tussock.permit.record_kinds import ReturnDue
from tussock.review.audit import Kept, Remark

HELD_AT_START, CAPTURED, HELD_AT_END = "held at start", "captured", "held at end"
UNKNOWN_END = "outcome not recorded"
"""Holding ended and nobody wrote down how: such a return is incomplete."""
COLUMNS = (HELD_AT_START, CAPTURED, *DISPOSALS, UNKNOWN_END, HELD_AT_END)
_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Period:
    """Local dates that a return is for, both included, and the day on which it is due."""

    first: date
    last: date
    due: date | None = None

    def holds(self, day: date) -> bool:
        """Return whether a local date lies in it."""
        return self.first <= day <= self.last


@dataclass(frozen=True)
class Line:
    """Animals of one capture that ended alike, as far as the period sees them.

    ``outcome`` is one of the disposals, or ``held at end``.
    """

    capture_id: str
    captured: date
    scientific_name: str
    count: int
    outcome: str
    ended: date | None
    cells: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Return:
    """What is sent in for a period.

    Attributes
    ----------
    counts
        Species → column → animals; species in order of their names.
    lines
        What the counts are made of, in order of time.
    gaps
        What keeps it from being complete, in words.
    """

    permit: Permit
    period: Period
    counts: Mapping[str, Mapping[str, int]]
    lines: tuple[Line, ...]
    gaps: tuple[str, ...] = ()

    @property
    def nil(self) -> bool:
        """Whether there is nothing to report."""
        return not self.lines

    @property
    def total(self) -> Mapping[str, int]:
        """Animals of all species, by column."""
        return {c: sum(row[c] for row in self.counts.values()) for c in COLUMNS}


def period_ending(permit: Permit, last: date) -> Period:
    """Return the year that ends on a date, with the day its return is due by the permit in force then.

    Raises
    ------
    InputError
        When the permit in force then asks for a return of another period.
    """
    version = permit.version_on(last)
    asked = next((c for c in version.conditions if isinstance(c, ReturnDue)), None) if version else None
    first = _years_on(last + _DAY, -1)
    if asked is None:
        return Period(first, last)
    month, day = _month_day(asked.period_end)
    if (last.month, last.day) != (month, day):
        raise InputError(
            f"the period ends on {last}",
            where=f"{permit.file or permit.id}, version {version.name if version else ''}, clause {asked.id}",
            allowed=f"a period that ends on {asked.period_end} (month-day)",
            fix="name the last day of the period that the permit asks for",
        )
    due_month, due_day = _month_day(asked.due)
    year = last.year if (due_month, due_day) > (month, day) else last.year + 1
    return Period(first, last, date(year, due_month, due_day))


def _month_day(text: str) -> tuple[int, int]:
    month, day = text.split("-")
    return int(month), int(day)


def _years_on(day: date, years: int) -> date:
    """Return the same day some years on; the last of February for one that is not there."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 2, 28)


def return_for(
    kept: Iterable[Kept],
    permit: Permit,
    period: Period,
    *,
    today: date,
    remarks: Sequence[Remark] = (),
) -> Return:
    """Return what the book says of a period.

    An animal belongs to a period by the local date of its capture, and of the end of its holding; one that
    was taken before and ended in it was held at the start.

    Parameters
    ----------
    today
        A period that is not over by then is a gap.
    remarks
        On the book: those that need explaining and touch the animals of the period are its gaps.
    """
    lines = [line for one in kept if (line := _line(one, period, permit.zone)) is not None]
    counts: dict[str, Counter[str]] = {}
    for line in sorted(lines, key=lambda each: each.scientific_name):
        counts.setdefault(line.scientific_name, Counter()).update(_columns_of(line, period))
    whole = {name: {c: row[c] for c in COLUMNS} for name, row in counts.items()}
    ordered = tuple(sorted(lines, key=lambda each: (each.captured, each.capture_id)))
    return Return(permit, period, whole, ordered, (*_not_over(period, today), *_gaps(ordered, remarks)))


def _line(kept: Kept, period: Period, zone: ZoneInfo) -> Line | None:
    """Return a lot as the period sees it; ``None`` where it does not touch it."""
    handling = kept.handling
    if handling is None:
        return None
    taken = local_date(handling.captured, zone)
    ended = local_date(handling.disposed, zone) if handling.disposed else None
    if taken > period.last or (ended is not None and ended < period.first):
        return None
    over = ended is not None and ended <= period.last
    outcome = (handling.disposal or UNKNOWN_END) if over else HELD_AT_END
    animal = handling.animal
    name = animal.scientific_name or "species not recorded"
    return Line(
        kept.capture_id, taken, name, animal.individual_count, outcome, ended if over else None, kept.cells
    )


def _columns_of(line: Line, period: Period) -> dict[str, int]:
    entered = HELD_AT_START if line.captured < period.first else CAPTURED
    return {entered: line.count, line.outcome: line.count}


def _not_over(period: Period, today: date) -> Iterator[str]:
    if today <= period.last:
        yield f"The period ends on {period.last} and is not over."


_ABOUT_ANIMALS = (
    "no_disposal",
    "before_capture",
    "contradiction",
    "count",
    "assumed_count",
    "assumed_outcome",
)


def _gaps(lines: Sequence[Line], remarks: Iterable[Remark]) -> Iterator[str]:
    """Yield what keeps a return from being complete."""
    ours = {line.capture_id for line in lines}
    for remark in remarks:
        orphaned = remark.sort == "no_capture"  # nobody knows which period its animal was taken in
        if remark.attention and (orphaned or (remark.sort in _ABOUT_ANIMALS and remark.entry in ours)):
            yield f"{remark.entry}: {remark.words}"
    for line in lines:
        if line.outcome == UNKNOWN_END:
            yield f"{line.capture_id}: how holding ended on {line.ended} is not recorded."
