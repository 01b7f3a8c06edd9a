"""What is said of a site in sentences: name, what is left to do, what is tightest, and why it comes first."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tussock.interval import Interval, Verdict
from tussock.maps.words import between, clause_name, half_width, margin_words, metres, reason_words, sentence
from tussock.planning.record import ClauseResult, Site

NEAREST_SIGN = "N"
"""Of the nearest place that meets every clause, where it is none of the offered sites."""


def place_name(site: Site, *, total: int) -> tuple[str, str]:
    """Return a site's sign and name, the same on map, card and terminal: ``1``, ``Site 1 of 3``."""
    if 1 <= site.rank <= total:
        return str(site.rank), f"Site {site.rank} of {total}"
    return NEAREST_SIGN, "The nearest place"


def habitat_words(habitat: str) -> str:
    """Return a habitat class as words."""
    return "habitat not mapped" if habitat in ("", "unmapped") else habitat.replace("_", " ")


def consent_words(site: Site) -> str:
    """Return which consents cover a site: ``Consent CN-005 covers it (P-00023).``"""
    by_consent: dict[str, list[str]] = {}
    for consent, ground in site.consents:
        by_consent.setdefault(consent, []).append(ground)
    said = [f"{name} ({', '.join(grounds)})" for name, grounds in by_consent.items()]
    if len(said) == 1:
        return f"Consent {said[0]} covers it."
    return f"Consents {', '.join(said)} cover it together." if said else ""


def task_words(clause: ClauseResult) -> str:
    """Return what the person sees to for a clause: its text and its name."""
    return f"{sentence(clause.text or clause.words)} ({clause_name(clause.source, clause.id)})"


def reasoned(clause: ClauseResult) -> str:
    """Return what is to be found out, such as "owner unknown: …", and for which clause."""
    why, task = clause.reason or "", task_words(clause)
    return task if not why or why.startswith("not checked") else f"{sentence(why)} {task}"


def tightest_words(clauses: Sequence[ClauseResult]) -> str:
    """Return which mandatory clause has least to spare, against its limit where it has one."""
    met = [
        c
        for c in clauses
        if c.mandatory and c.verdict is Verdict.MET and c.margin is not None and math.isfinite(c.margin)
    ]
    if not met:
        return ""
    least = min(met, key=lambda c: (_slack(c), c.source, c.id))
    return (
        f"Tightest, measured against its limit: {clause_name(least.source, least.id)}, with {_spare(least)}."
    )


def _slack(clause: ClauseResult) -> float:
    margin = clause.margin if clause.margin is not None else math.inf
    scale = clause.limit if clause.limit else (100.0 if clause.unit == "m" else 1.0)
    return margin / abs(scale) if clause.unit or clause.limit else math.inf


def _spare(clause: ClauseResult) -> str:
    words = margin_words(clause)
    return words or (
        f"{metres(clause.margin or 0.0, spread=half_width(clause.value))} to spare"
        if clause.unit == "m"
        else "nothing to spare"
    )


def unknown_words(clauses: Sequence[ClauseResult]) -> str:
    """Return which measured value is widest, and why."""
    uneven = [c for c in clauses if c.value is not None and c.unit == "m" and half_width(c.value) > 0]
    # beyond a far edge of data lies no surprise for a limit: bounded values come first
    wide = [c for c in uneven if math.isfinite(half_width(c.value))] or uneven
    if not wide:
        return ""
    most = max(wide, key=lambda c: (half_width(c.value), c.source, c.id))
    value = most.value or Interval(0.0, 0.0)
    why = reason_words(most.reason)
    subject = clause_name(most.source, most.id)
    return f"Biggest unknown: for {subject} the distance is {between(value)}" + (
        f", because {why}." if why else "."
    )


def why_words(site: Site, runner_up: Site | None) -> str:
    """Return what puts a site before the one ranked next; empty when there is none."""
    if runner_up is None:
        return ""
    if round(site.score, 6) == round(runner_up.score, 6):
        return f"Level on score with site {runner_up.rank}; it is nearer to the capture."
    theirs = {c.name: c for c in runner_up.criteria}
    gains = [
        (c.weight * math.log(max(c.score.low, 0.01) / max(theirs[c.name].score.low, 0.01)), c.words)
        for c in site.criteria
        if c.name in theirs
    ]
    best = [words for gain, words in sorted(gains, key=lambda g: (-g[0], g[1])) if gain > 0][:2]
    return f"Before site {runner_up.rank} mainly for {' and '.join(best)}." if best else ""
