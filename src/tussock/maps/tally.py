"""How many clauses are met, left to the person, and not checked: counted and worded in one place."""

from __future__ import annotations

from collections.abc import Iterable

from tussock.interval import Verdict
from tussock.maps.words import applies, to_confirm
from tussock.planning.record import ClauseResult, Site

Counts = tuple[int, int, int]
"""Met by calculation, to confirm, not checked; house rules do not count."""


def counts(clauses: Iterable[ClauseResult]) -> Counts:
    """Return how many clauses of the permits are met by calculation, left to the person, and not checked."""
    live = [c for c in clauses if not c.house and c.applies and applies(c)]
    met = sum(c.verdict is Verdict.MET for c in live)
    confirm = sum(to_confirm(c) for c in live)
    return met, confirm, sum(c.verdict is None for c in live) - confirm


def counts_words(met: int, confirm: int, not_checked: int) -> str:
    """Return the three counts as they are written everywhere."""
    return f"meets {met} checked, you confirm {confirm}, {not_checked} not checked"


def tally(site: Site) -> str:
    """Return a site's counts in words, for each permit where there are several.

    A place that misses a clause says so: ``not met 1``.
    """
    permits = list(dict.fromkeys(c.source for c in site.clauses if not c.house))
    if len(permits) < 2:
        return _of(site.clauses)
    return "; ".join(f"{p}: {_of([c for c in site.clauses if c.source == p])}" for p in permits)


def _of(clauses: Iterable[ClauseResult]) -> str:
    return counts_words(*counts(clauses))
