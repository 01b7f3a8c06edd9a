"""The hours of a site in words: when to release, when to leave, how long it is held, the sun."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from tussock.maps.words import THIN
from tussock.planning.record import ClauseResult, ClockFacts, Site

HOLDING = "max_holding_hours"
_SHORT = {HOLDING: "holding time", "same_calendar_day": "calendar day"}
_MINUTE = timedelta(minutes=1)


def clock(text: str, *, beside: str = "", later: bool = False) -> str:
    """Return an ISO instant as ``12:15``; with the day, and the offset, where they differ from another's.

    Parameters
    ----------
    beside
        The instant that the reader has in mind, ISO 8601.
    later
        Round seconds up instead of down.

    Examples
    --------
    >>> clock("2026-11-15T05:39:22+11:00", beside="2026-11-14T12:15:00+11:00", later=True)
    '05:40 on 15 November'
    """
    at, other = _instant(text), _instant(beside)
    if at is None:
        return text
    if later and at.second:
        at += _MINUTE
    words = f"{at:%H:%M}"
    if other is None:
        return words
    if other.utcoffset() != at.utcoffset():
        zone = f"{at:%z}"
        words += f" (UTC{zone[:3]}:{zone[3:5]})"
    return words if other.date() == at.date() else f"{words} on {at.day} {at:%B}"


def _instant(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def release_words(site: Site, *, beside: str = "") -> str:
    """Return between when to release; empty where no hours were planned."""
    if not site.release_from:
        return ""
    beside = beside or site.release_from
    first, last = (clock(t, beside=beside) for t in (site.release_from, site.release_to))
    return f"Release between {first} and {last}" if first != last else f"Release at {first}"


def leave_words(site: Site) -> str:
    """Return by when to leave, and the last moment with the clause that ends it; empty where none does."""
    if not site.deadline or not site.leave_by:
        return ""
    beside = site.release_from
    leave, last = clock(site.leave_by, beside=beside), clock(site.deadline, beside=beside)
    named = ", ".join(p for p in (site.deadline_of, _short(site)) if p)
    return f"At the latest leave by {leave} and release by {last}" + (f" ({named})" if named else "")


def _short(site: Site) -> str:
    """Return what ends the hours in a word or two."""
    clause = next((c for c in site.clauses if c.id == site.deadline_of), None)
    if clause is None:
        return ""
    if clause.kind == "release_window":
        sun = "sun stands" in clause.words
        return "daylight" if sun else ("active period" if "active" in clause.words else "release hours")
    return _SHORT.get(clause.kind, "")


def held_words(site: Site) -> Iterator[str]:
    """Yield how long the animal is held at the hours planned, against each limit."""
    for clause in site.clauses:
        if clause.kind != HOLDING or clause.value is None or clause.limit is None:
            continue
        at = f" at {clock(site.release_from)}" if site.release_from else ""
        until = ""
        if site.release_to and clause.value.high > clause.value.low:
            until = f", {_hours(clause.value.high)} at {clock(site.release_to)}"
        yield f"Held {_hours(clause.value.low)} of {clause.limit:g}{THIN}h{at}{until} ({clause.id})"


def _hours(value: float) -> str:
    """Return hours rounded up to a tenth: never less than it is."""
    return f"{math.ceil(value * 10 - 1e-6) / 10:g}{THIN}h" if math.isfinite(value) else "an unknown time"


def sun_words(facts: ClockFacts | None, *, beside: str, only_next: bool = False) -> str:
    """Return the next sunset and sunrise, whichever comes first; empty where nothing is known of them."""
    if facts is None:
        return ""
    both = [("sunset", facts.sunset, False), ("sunrise", facts.sunrise, True)]
    known = sorted((text, name, up) for name, text, up in both if _instant(text) is not None)
    known.sort(key=lambda k: datetime.fromisoformat(k[0]).timestamp())
    if not known:
        return "No sunrise or sunset in the days ahead" if facts.lines else ""
    said = ", ".join(
        f"{name} {clock(text, beside=beside, later=up)}" for text, name, up in known[: 1 if only_next else 2]
    )
    return said[0].upper() + said[1:]


def travel_words(site: Site) -> str:
    """Return drive and walk by the estimate, marked as assumed; empty where there is none."""
    if site.drive_min is None or site.walk_min is None:
        return ""
    drive, walk = (f"{math.ceil(v)}{THIN}min" for v in (site.drive_min, site.walk_min))
    return f"Drive about {drive}, walk about {walk} (assumed, from the capture)"


def hours_lines(site: Site, facts: ClockFacts | None) -> list[str]:
    """Return the hours of a site, a sentence each, the first what must be known first."""
    said: Sequence[str] = (
        release_words(site),
        leave_words(site),
        *held_words(site),
        sun_words(facts, beside=site.release_from) if site.release_from else "",
    )
    return [f"{words}." for words in said if words]


def open_hours(clauses: Sequence[ClauseResult]) -> list[ClauseResult]:
    """Return the clauses of the clock that nobody could compute, and that hold."""
    kinds = {HOLDING, "same_calendar_day", "release_window"}
    return [c for c in clauses if c.kind in kinds and c.verdict is None and c.applies]
