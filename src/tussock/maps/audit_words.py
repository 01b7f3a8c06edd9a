"""What an audit says of records, in words: when, what, measured against which limit."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from tussock.interval import Verdict
from tussock.maps.words import (
    THIN,
    UNSPARED_KINDS,
    between,
    grouped,
    limit_words,
    margin_words,
    plainly,
    reason_words,
    sentence,
    value_words,
)
from tussock.measure.judging import ClauseResult
from tussock.permit.permit_file import Version
from tussock.review.audit import Audit, Row

ORDER = (Verdict.MET, Verdict.UNCERTAIN, Verdict.NOT_MET, Verdict.MISSING)
"""Verdicts as they are counted everywhere."""
CLAIM = "arithmetic over what is mapped and recorded, not a legal finding"
_SIDED = {"consent_recorded": "not_within"}
"""Kinds measured like another: how far clear of ground that lacks a consent."""
_MOST = frozenset({"checked_every_hours", "record_within_hours", "incident_reported_within_hours", "quota"})
"""Kinds of records whose limit is an upper one."""
INDIVIDUALS = "individuals"


def local(instant: datetime | None, audit: Audit) -> str:
    """Return an instant on the permit's clock, to the minute; ``not dated`` for none."""
    return f"{instant.astimezone(audit.permit.zone):%Y-%m-%d %H:%M}" if instant else "not dated"


def day(instant: datetime | None, audit: Audit) -> str:
    """Return the local date of an instant."""
    return local(instant, audit)[:10] if instant else "not dated"


def count_words(count: int, one: str, many: str = "") -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> count_words(1, "release"), count_words(3, "release")
    ('1 release', '3 releases')
    """
    return f"{grouped(count)} {one if count == 1 else many or one + 's'}"


def animal_words(row: Row) -> str:
    """Return count and species as recorded."""
    handling = row.kept.handling
    if handling is None:
        name = row.kept.cells.get("scientificName", "") or row.kept.cells.get("vernacularName", "")
        return name or "species not recorded"
    number = handling.animal.individual_count
    name = handling.animal.scientific_name
    common = row.kept.cells.get("vernacularName", "").strip()
    shown = f"{common} ({name})" if common and common.casefold() != name.casefold() else name
    return shown if number == 1 else f"{number} × {shown}"


def outcome_words(row: Row) -> str:
    """Return how holding ended."""
    handling = row.kept.handling
    if handling is None:
        return plainly(row.kept.cells.get("disposal", "")) or "nothing to judge"
    if handling.disposed is None:
        return "held"
    return plainly(handling.disposal) or "outcome not recorded"


def version_words(version: Version) -> str:
    """Return from when to when a version is in force."""
    end = f"to {version.valid_to}" if version.valid_to else "with an open end"
    return f"{version.valid_from} {end}"


def in_force_words(audit: Audit, version: Version) -> str:
    """Return how a version is called: by its days, or by what all were judged under."""
    return audit.under or version_words(version)


def explained(row: Row) -> tuple[ClauseResult, ...]:
    """Return the mandatory clauses of a record that are not met, the worst first."""
    order = {Verdict.NOT_MET: 0, Verdict.MISSING: 1, Verdict.UNCERTAIN: 2}
    found = [r for r in row.judged.results if r.mandatory and r.verdict in order] if row.judged else []
    return tuple(sorted(found, key=lambda r: order[r.verdict or Verdict.MISSING]))


def advisory(row: Row) -> tuple[ClauseResult, ...]:
    """Return the advisory clauses of a record that are not met: they need no explaining."""
    results = row.judged.results if row.judged else ()
    return tuple(r for r in results if not r.mandatory and r.verdict not in (None, Verdict.MET))


def only_missing(row: Row) -> bool:
    """Return whether nothing but absent records or answers stands against a record."""
    found = explained(row)
    return row.judged is not None and bool(found) and all(r.verdict is Verdict.MISSING for r in found)


def measured_words(result: ClauseResult) -> str:
    """Return what was measured; empty where nothing was."""
    value = result.value
    if value is None:
        return ""
    if result.kind in _SIDED:
        return _consent_side(result)
    if result.unit == "h" and result.limit == 0:
        return _hours_aside(result)
    if result.unit == INDIVIDUALS:
        low, high = (number_words(v) for v in (value.low, value.high))
        return f"{low if low == high else f'between {low} and {high}'} {INDIVIDUALS}"
    return value_words(result)


def number_words(value: float) -> str:
    """Return a number without digits that say nothing."""
    return grouped(value) if value == int(value) else grouped(value, 1)


def _consent_side(result: ClauseResult) -> str:
    said = value_words(replace(result, kind=_SIDED[result.kind]))
    return said.replace("clear of it", "clear of ground without consent").replace(
        "inside it", "on ground without consent"
    )


def _hours_aside(result: ClauseResult) -> str:
    assert result.value is not None  # the caller looked
    low, high = (60.0 * v for v in (result.value.low, result.value.high))
    if low >= 0:
        return "within the hours allowed"
    inside = high >= 0
    size = -low if inside else -high
    text = between(replace(result.value, low=size, high=size), "") if size == 0 else f"{math.ceil(size)}"
    return f"up to {text}{THIN}min outside" if inside else f"{text}{THIN}min outside the hours allowed"


def against_words(result: ClauseResult) -> str:
    """Return measured value, limit and margin, as one line."""
    return "; ".join(filter(None, (measured_words(result), _allowed(result), _margin(result))))


def _allowed(result: ClauseResult) -> str:
    if result.unit == INDIVIDUALS and result.kind == "max_releases_near":
        return f"allowed are at most {number_words(result.limit or 0)} before it"
    said = limit_words(result)
    if result.kind in _MOST:
        said = said.replace("at least", "at most")
    return f"allowed is {said}" if said else ""


def _margin(result: ClauseResult) -> str:
    if result.kind in {*UNSPARED_KINDS, *_SIDED} or result.unit == INDIVIDUALS:
        return ""
    return "" if result.unit == "h" and result.limit == 0 else margin_words(result)


def because(result: ClauseResult) -> str:
    """Return the reason in words."""
    return plainly(reason_words(result.reason))


def chance_words(chance: float | None) -> str:
    """Return P(met) to two digits, never a flat 0 or 1; empty for none."""
    if chance is None:
        return ""
    if chance < 0.005:
        return "P(met) under 0.01"
    if chance > 0.995:
        return "P(met) over 0.99"
    return f"P(met) {chance:.2f}"


def said(text: str) -> str:
    """Return words as a sentence; one that begins with a column's name keeps it as it is written.

    Examples
    --------
    >>> said("recordedDate is empty"), said("held too long")
    ('recordedDate is empty.', 'Held too long.')
    """
    first = text.strip().split(" ", 1)[0]
    full = sentence(text)
    named = first[1:] != first[1:].lower() or "." in first[:-1]  # a column, or a file
    return first + full[len(first) :] if named else full


def listed(words: Iterable[str]) -> str:
    """Return words with commas and a last *and*.

    Examples
    --------
    >>> listed(["7(c)", "8(b)", "9(a)"])
    '7(c), 8(b) and 9(a)'
    """
    found = list(words)
    return " and ".join(filter(None, (", ".join(found[:-1]), *found[-1:])))
