"""How many individuals were captured in a period: what a quota counts, up to and with one capture."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, datetime

from tussock.clock import local_date
from tussock.interval import Interval, Limit, Verdict
from tussock.permit.capture_book import PERIODS, BookedCapture, CaptureBook, Term, order
from tussock.permit.record_facts import Finding, RecordFacts
from tussock.permit.taxon import any_covers

_UNIT = "individuals"


def judge_quota(
    facts: RecordFacts, *, count: int, per: str, species: tuple[str, ...] | None = None
) -> Finding:
    """Return whether this capture, with those before it in its period, keeps to the number."""
    this = BookedCapture(facts.captured, facts.scientific_name, _taken(facts), facts.capture_id)
    counts = _counts(species, this)
    if any(_counts(species, replace(this, scientific_name=n)) is not counts for n in facts.other_names):
        counts = None
    if counts is False:
        reason = f"does not apply: it is for {', '.join(species or ())}, the animal is {this.scientific_name}"
        return Finding(None, reason)
    if facts.captures is None:
        return Finding(Verdict.MISSING, "no book of captures is given to count in", limit=count, unit=_UNIT)
    same_period = _period(facts, per)
    if not same_period(facts.captured):
        reason = f"the capture is outside the term of version {facts.version_from}"
        return Finding(Verdict.MISSING, reason, limit=count, unit=_UNIT)
    if isinstance(facts.captures, CaptureBook):
        before = facts.captures.before(this, _term(facts) if per == "version" else per)
    else:
        before = [b for b in _before(facts.captures, this) if same_period(b.instant)]
    value = _with_this(_counted(before, species), this, counts)
    limit = Limit(at_most=count, tolerance=0.0)
    verdict = limit.judge(value)
    # an animal that may be another is over no quota, however many were taken before it
    if counts is None and verdict is Verdict.NOT_MET:
        verdict = Verdict.UNCERTAIN
    return Finding(verdict, _reason(value, per), value, count, limit.margin(value), _UNIT)


def _with_this(others: Interval, this: BookedCapture, counts: bool | None) -> Interval:
    """Return the count with this capture, which surely counts, or may."""
    number, maybe = this.individual_count, others.high - others.low
    maybe += 0 if counts else number
    low = others.low + (number if counts else 0)
    return Interval(low, low + maybe, {"identification": maybe} if maybe else {})


def _taken(facts: RecordFacts) -> int:
    """Return how many individuals the whole capture had; a record may be of some of them only."""
    own = facts.captures.own(facts.capture_id) if isinstance(facts.captures, CaptureBook) else tuple(
        b for b in facts.captures or () if b.id == facts.capture_id
    )  # fmt: skip
    booked = sum(b.individual_count for b in own) if facts.capture_id else 0
    return max(facts.individual_count, booked)


def _counts(species: tuple[str, ...] | None, capture: BookedCapture) -> bool | None:
    return True if species is None else any_covers(species, capture.scientific_name)


def _counted(captures: Iterable[BookedCapture], species: tuple[str, ...] | None) -> Interval:
    """Return how many individuals count: those that surely do, and those that may."""
    sure = maybe = 0
    for capture in captures:
        counts = _counts(species, capture)
        sure += capture.individual_count if counts else 0
        maybe += capture.individual_count if counts is None else 0
    return Interval(sure, sure + maybe, {"identification": maybe} if maybe else {})


def _before(book: Iterable[BookedCapture], this: BookedCapture) -> list[BookedCapture]:
    """Return the captures up to this one in time, without it; of one instant those of lower id."""
    others = list(book)
    if this.id:
        others = [b for b in others if b.id != this.id]
    elif this in others:
        others.remove(this)
    return [b for b in others if order(b) <= order(this)]


def _period(facts: RecordFacts, per: str) -> Callable[[datetime], bool]:
    """Return the test that an instant is in the period of this capture."""
    if per == "version":
        first, last = _term(facts)
        return lambda instant: first <= local_date(instant, facts.zone) <= last
    key = PERIODS[per]
    ours = key(local_date(facts.captured, facts.zone))
    return lambda instant: key(local_date(instant, facts.zone)) == ours


def _term(facts: RecordFacts) -> Term:
    return facts.version_from, facts.version_to or date.max


def _reason(value: Interval, per: str) -> str:
    period = "term of the version" if per == "version" else per
    if value.low == value.high:
        return f"with this capture {value.high:.0f} individuals in the {period}"
    return (
        f"with this capture {value.low:.0f} to {value.high:.0f} individuals in the {period}: "
        "not every name settles whether it counts"
    )
