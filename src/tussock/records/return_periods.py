"""Which period a return is for: from the clause of the permit that asks for it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from tussock.errors import InputError
from tussock.permit.permit_file import Permit, Version
from tussock.permit.record_kinds import ReturnDue

CAPTURE = "capture"
"""Value of ``assigned_by``: the day of capture puts an animal into a period."""
_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Period:
    """Local dates that a return is for, both included, and the day on which it is due.

    ``clause`` is the one that asks for it; ``None`` where the permit asks for none.
    """

    first: date
    last: date
    due: date | None = None
    clause: ReturnDue | None = None

    def holds(self, day: date) -> bool:
        """Return whether a local date lies in it."""
        return self.first <= day <= self.last

    @property
    def by_capture(self) -> bool:
        """Whether animals belong to it by the day of capture alone, and not each end by its own day."""
        return self.clause is not None and self.clause.assigned_by == CAPTURE


def version_for(permit: Permit, last: date) -> Version | None:
    """Return the version that says what the return of a period is: in force on its last day, or before.

    A permit that lapsed within the period still asks for the return of it.
    """
    begun = [v for v in permit.versions if v.valid_from <= last]
    return permit.version_on(last) or max(begun, key=lambda v: v.valid_from, default=None)


def return_clause(version: Version | None) -> ReturnDue | None:
    """Return the clause of a version that asks for a return; ``None`` where none does."""
    conditions = version.conditions if version else ()
    return next((c for c in conditions if isinstance(c, ReturnDue)), None)


def period_ending(permit: Permit, last: date) -> Period:
    """Return the year that ends on a date, with the day its return is due by the permit in force then.

    Periods follow each other without a gap: one begins on the day after the one before has ended.

    Raises
    ------
    InputError
        When the permit in force then asks for a return of another period.
    """
    version = version_for(permit, last)
    asked = return_clause(version)
    if asked is None or version is None:
        return Period(_yearly(last.year - 1, f"{last:%m-%d}") + _DAY, last)
    if last != _yearly(last.year, asked.period_end):
        raise InputError(
            f"the period ends on {last}",
            where=f"{permit.file or permit.id}, version {version.name}, clause {asked.id}",
            allowed=f"a period that ends on {asked.period_end} (month-day)",
            fix="name the last day of the period that the permit asks for",
        )
    due = _yearly(last.year, asked.due)
    due = due if due > last else _yearly(last.year + 1, asked.due)
    return Period(_yearly(last.year - 1, asked.period_end) + _DAY, last, due, asked)


def last_period(permit: Permit, today: date) -> Period:
    """Return the period that ended last before a day, as the permit in force then asks for it.

    Raises
    ------
    InputError
        When no clause says when a period ends.
    """
    asked = return_clause(version_for(permit, today))
    if asked is None:
        raise InputError(
            "no return_due clause says when a period ends",
            where=permit.file or permit.id,
            allowed="a permit with a return_due clause, or the last day of the period",
            fix="name it with --period-end",
        )
    end = _yearly(today.year, asked.period_end)
    return period_ending(permit, end if end < today else _yearly(today.year - 1, asked.period_end))


def _yearly(year: int, month_day: str) -> date:
    """Return a day of the year; 29 February is the 28th where there is none."""
    month, day = (int(part) for part in month_day.split("-"))
    try:
        return date(year, month, day)
    except ValueError:
        return date(year, month, day - 1)
