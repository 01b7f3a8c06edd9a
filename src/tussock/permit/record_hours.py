"""Hours in a record: between looks at a held animal, from an event to its record, to its report.

Hours are elapsed hours: a change of the clocks neither adds nor takes one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

from tussock.interval import Interval, Limit, Verdict, worst
from tussock.permit.capture_book import utc
from tussock.permit.record_facts import Finding, Incident, RecordFacts

TOLERANCE_S = 1.0
"""Recorded hours are compared to one second (choice of this project: clocks and cameras write whole
seconds, so two readings of one instant may differ by one)."""
_HOUR_S, _MINUTE_S = 3600, 60


def elapsed_s(start: datetime, end: datetime) -> float:
    """Return the time that passed [s], negative where ``end`` is the earlier."""
    return (utc(end) - utc(start)).total_seconds()


def in_words(seconds: float) -> str:
    """Return a length of time to the second.

    Examples
    --------
    >>> in_words(7202), in_words(48 * 3600), in_words(0.2)
    ('2 h 2 s', '48 h', '0 s')
    """
    minutes, rest = divmod(round(seconds), _MINUTE_S)
    hours, minutes = divmod(minutes, _MINUTE_S)
    parts = [f"{n} {unit}" for n, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if n]
    return " ".join(parts) or "0 s"


def longest_gap(instants: Iterable[datetime]) -> tuple[datetime, datetime]:
    """Return between which two neighbours in time most passed; the first such pair of equals."""
    ordered = sorted(map(utc, instants))
    return max(pairwise(ordered), key=lambda pair: elapsed_s(*pair))


def judge_checks(facts: RecordFacts, *, limit_h: float) -> Finding:
    """Return whether the held animal was looked at often enough, from its capture to its disposal."""
    end = facts.disposed or facts.now
    contradiction = _holding_runs_backwards(facts)
    if contradiction:
        return Finding(Verdict.MISSING, contradiction, unit="h")
    held_s = max(0.0, elapsed_s(facts.captured, end))
    so_far = "" if facts.disposed else ", and it is still held"
    if facts.checks is None:
        return _checks_unknown(held_s, limit_h=limit_h, so_far=so_far)
    inside = [c for c in facts.checks if elapsed_s(facts.captured, c) >= 0 and elapsed_s(c, end) >= 0]
    left_out = len(facts.checks) - len(inside)
    start, stop = longest_gap([facts.captured, *inside, max(end, facts.captured, key=utc)])
    reason = (
        f"the longest time without a look was {in_words(elapsed_s(start, stop))}, "
        f"from {_moment(start, facts)} to {_moment(stop, facts)}{so_far}"
    )
    if left_out:
        reason += f"; {left_out} recorded outside the holding left out"
    gap_s = elapsed_s(start, stop)
    return _hours(Interval(gap_s, gap_s), limit_h=limit_h, reason=reason)


def _checks_unknown(held_s: float, *, limit_h: float, so_far: str) -> Finding:
    """Return the finding where no looks are recorded: none was due, or nobody can tell."""
    reason = f"it was held for {in_words(held_s)}{so_far}"
    held = _hours(Interval(0.0, held_s), limit_h=limit_h, reason=f"{reason}, so no look was due")
    if held.verdict is Verdict.MET:
        return held
    return Finding(Verdict.MISSING, f"{reason}, and no looks at it are recorded", limit=limit_h, unit="h")


def judge_record_delay(facts: RecordFacts, *, limit_h: float) -> Finding:
    """Return whether the record was written in time after holding ended, or after an open capture."""
    event, name = (facts.disposed, "disposal") if facts.disposed else (facts.captured, "capture")
    if facts.recorded is None:
        return Finding(
            Verdict.MISSING, "recordedDate, when the record was written, is empty", limit=limit_h, unit="h"
        )
    contradiction = _holding_runs_backwards(facts)
    delay_s = elapsed_s(event, facts.recorded)
    if delay_s < -TOLERANCE_S:
        contradiction = (
            f"the times contradict each other: recordedDate {_moment(facts.recorded, facts)} is before "
            f"the {name} it is about, {_moment(event, facts)}"
        )
    if contradiction:
        return Finding(Verdict.MISSING, contradiction, limit=limit_h, unit="h")
    delay_s = max(0.0, delay_s)
    reason = f"the record was written {in_words(delay_s)} after the {name}"
    return _hours(Interval(delay_s, delay_s), limit_h=limit_h, reason=reason)


def judge_incidents(facts: RecordFacts, *, limit_h: float) -> Finding:
    """Return whether every incident was reported in time: the worst of them."""
    if facts.incidents is None:
        reason = "the record does not say whether there was an incident"
        return Finding(Verdict.MISSING, reason, limit=limit_h, unit="h")
    if not facts.incidents:
        return Finding(Verdict.MET, "no incident is recorded", limit=limit_h, unit="h")
    found = [_incident(i, facts, limit_h=limit_h) for i in facts.incidents]
    verdict = worst([f.verdict for f in found if f.verdict is not None])
    same = [f for f in found if f.verdict is verdict]
    worst_one = min(same, key=lambda f: 0.0 if f.margin is None else f.margin)
    if len(found) == 1:
        return worst_one
    return replace(worst_one, reason=f"{worst_one.reason} (the worst of {len(found)} incidents)")


def _incident(incident: Incident, facts: RecordFacts, *, limit_h: float) -> Finding:
    """Return the finding for one; while there is still time, one not reported is missing, never met."""
    name = f"{incident.kind or 'incident'} of {_moment(incident.happened, facts)}"
    delay_s = elapsed_s(incident.happened, incident.reported or facts.now)
    if delay_s < -TOLERANCE_S:
        wrong = (
            f"reported before it happened, {_moment(incident.reported, facts)}"
            if incident.reported
            else "after the present moment"
        )
        reason = f"the times contradict each other: {name} is recorded as {wrong}"
        return Finding(Verdict.MISSING, reason, limit=limit_h, unit="h")
    delay = Interval(max(0.0, delay_s), max(0.0, delay_s))
    if incident.reported:
        reason = f"{name} was reported {in_words(delay.high)} later"
        return _hours(delay, limit_h=limit_h, reason=reason)
    found = _hours(delay, limit_h=limit_h, reason=f"{name} is not reported, {in_words(delay.high)} later")
    if found.verdict is not Verdict.MET:
        return found
    reason = f"{found.reason}; {in_words(limit_h * _HOUR_S - delay.high)} are left"
    return Finding(Verdict.MISSING, reason, found.value, limit_h, found.margin, "h")


def _holding_runs_backwards(facts: RecordFacts) -> str:
    """Return what is wrong where holding ends before it began; empty where nothing is."""
    end, name = (facts.disposed, "disposal") if facts.disposed else (facts.now, "present moment")
    if elapsed_s(facts.captured, end) >= -TOLERANCE_S:
        return ""
    return (
        f"the times contradict each other: the {name} {_moment(end, facts)} is before "
        f"the capture {_moment(facts.captured, facts)}"
    )


def _hours(seconds: Interval, *, limit_h: float, reason: str) -> Finding:
    """Judge in seconds, in which recorded instants are exact, and return it in hours."""
    limit = Limit(at_most=limit_h * _HOUR_S, tolerance=TOLERANCE_S)
    value = Interval(seconds.low / _HOUR_S, seconds.high / _HOUR_S)
    return Finding(limit.judge(seconds), reason, value, limit_h, limit.margin(seconds) / _HOUR_S, "h")


def _moment(instant: datetime, facts: RecordFacts) -> str:
    return instant.astimezone(facts.zone).isoformat(" ", "seconds")
