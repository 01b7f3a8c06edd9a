"""A return on the terminal."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from tussock.cli import show as plan_show
from tussock.cli.failures import say
from tussock.cli.options import Format
from tussock.cli.printable import printable
from tussock.records.filed_returns import Since
from tussock.records.return_tables import INCOMPLETE, counts_csv
from tussock.records.returns import CAPTURED, COLUMNS, HELD_AT_START, Return


def show(found: Return, output: Format, since: Since | None = None) -> None:
    """Print a return: the answer on stdout; as a table of numbers what it lacks on stderr.

    Parameters
    ----------
    since
        What was filed of the period, and how the book differs from it.
    """
    match output:
        case Format.CSV:
            plan_show.data(counts_csv(found))
        case Format.JSON:
            plan_show.data(as_json(found, since))
        case Format.TABLE:
            plan_show.data("\n".join(printable(line) for line in (*lines(found), *_since(since))))
            return
    for gap in found.gaps:
        say(f"{INCOMPLETE}: {gap}")
    for line in _since(since):
        say(line)


def lines(found: Return) -> Iterator[str]:
    """Yield what is printed of a return, line by line."""
    period, permit = found.period, found.permit
    due = f", due {period.due}" if period.due else ""
    mark = f"{INCOMPLETE}: " if found.gaps else ""
    yield f"{mark}Return of {permit.holder}, {permit.id}, to {', '.join(found.recipients)}"
    how = "; animals by the day of their capture" if period.by_capture else ""
    yield f"{period.first} to {period.last}{due}{how}"
    yield from (f"  not known: {gap}" for gap in found.gaps)
    yield from (f"  note: {note}" for note in found.notes)
    if found.nil:
        yield "Nil return: no animal was held or taken in this period."
    if not found.asked and period.clause:
        yield f"Clause {period.clause.id} asks for none where there was nothing to report."
    for name, row in found.counts.items():
        yield f"{name}: {_row(row)}."
    if found.nil:
        return
    total = found.total
    yield f"All species: {_row(total)}."
    before = total[HELD_AT_START] + total[CAPTURED]
    after = sum(total[c] for c in COLUMNS if c not in (HELD_AT_START, CAPTURED))
    yield f"{before} animals in, {after} accounted for, {len(found.lines)} lines."


def _row(row: Mapping[str, int]) -> str:
    return ", ".join(f"{c.replace('_', ' ')} {row[c]}" for c in COLUMNS if row[c]) or "nil"


def _since(since: Since | None) -> Iterator[str]:
    """Yield what was filed, and what has changed since, line by line."""
    if since is None:
        return
    filing, mark = since.filing, f", {INCOMPLETE}" if since.incomplete else ""
    end = ", changed since filing:" if since.changes else "; nothing has changed since."
    yield f"Filed on {since.day} by {filing.by}{mark}{end}"
    yield from (f"  {line}" for line in since.changes)


def as_json(found: Return, since: Since | None = None) -> str:
    """Return a return as JSON."""
    period = found.period
    made = {
        "format": "tussock return 1",
        "permit": found.permit.id,
        "holder": found.permit.holder,
        "recipients": found.recipients,
        "first": period.first,
        "last": period.last,
        "due": period.due,
        "assigned_by": "capture" if period.by_capture else "disposal",
        "asked": found.asked,
        "incomplete": found.gaps,
        "notes": found.notes,
        "counts": found.counts,
        "total": found.total,
        "filed": _filed(since),
        "lines": [{k: v for k, v in vars(line).items() if k != "cells"} for line in found.lines],
    }
    return json.dumps(made, ensure_ascii=False, indent=1, default=str)


def _filed(since: Since | None) -> dict[str, object] | None:
    if since is None:
        return None
    filing = since.filing
    return {
        "name": filing.name,
        "at": filing.at.isoformat(),
        "by": filing.by,
        "incomplete": since.incomplete,
        "changed_since": since.changes,
    }
