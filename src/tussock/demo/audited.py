"""The demonstration's audit, held against the problems that were planted in its book."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from tussock.demo.cases import TABLES, Say
from tussock.ground.region import sha256
from tussock.interval import Verdict
from tussock.maps.audit_outputs import FILES
from tussock.maps.audit_report import claim
from tussock.maps.words import VERDICT_WORDS, sentence
from tussock.permit.toml_file import read_toml
from tussock.planning.opened import Opened
from tussock.records.book import RecordBook
from tussock.review.audit import Audit, in_order_of_explaining
from tussock.review.auditing import audit

AUDIT = "audit"
AUDIT_NAMES = tuple(f"{AUDIT}{end}" for end in FILES)
"""Names of what is written."""
PLANTED = "planted.toml"


def audit_step(
    book: RecordBook, data: Path, opened: Opened, *, now: datetime, say: Say
) -> dict[str, str | bytes]:
    """Audit a book; say what needs explaining and whether that is what was planted; return its files."""
    say("8. The audit: every record against every clause of the version in force on its day.")
    say("   (tussock audit --logbook logbook.db --permit permit.toml --region REGION --out audit)")
    read = {**opened.inputs, **{name: sha256(data / name) for name in TABLES.values()}}
    found = audit(book.kept, opened.permits[0], opened.region, book.beside(now, read))
    say(f"   {claim(found)}; {found.totals.rows} records, {sum(r.attention for r in found.remarks)} remarks "
        "on the book itself:")  # fmt: skip
    for words in _told(found):
        say(f"   {words}")
    say(f"   {_against_planted(found, data)}")
    return {f"{AUDIT}{end}": make(found, opened.region) for end, make in FILES.items()}


def _told(found: Audit) -> Iterator[str]:
    """Yield what needs explaining, a line for each record and remark."""
    for row in in_order_of_explaining(found.rows):
        if row.needs_explaining and row.judged is not None:
            open_ = [r for r in row.judged.results if r.mandatory and r.verdict not in (None, Verdict.MET)]
            clauses = ", ".join(f"{r.id} {VERDICT_WORDS[r.verdict]}" for r in open_ if r.verdict)
            yield f"{row.kept.capture_id}: {', '.join(filter(None, (clauses, *row.judged.gaps)))}"
    yield from (f"{r.entry}: {sentence(r.words)}" for r in found.remarks if r.attention)


def found_problems(found: Audit) -> set[tuple[str, str, str]]:
    """Return what an audit found as (entry, clause, verdict) and (entry, ``remark``, its sort)."""
    clauses = {
        (row.kept.capture_id, r.id, r.verdict.value)
        for row in found.rows
        if row.judged is not None
        for r in row.judged.results
        if r.mandatory and r.verdict not in (None, Verdict.MET) and r.verdict is not None
    }
    return clauses | {(r.entry, "remark", r.sort) for r in found.remarks if r.attention}


def _against_planted(found: Audit, data: Path) -> str:
    """Return how what was found compares with what was planted."""
    planted, here = planted_problems(data), found_problems(found)
    if planted == here:
        return f"All {len(planted)} planted problems are found, none besides."
    missed, more = sorted(planted - here), sorted(here - planted)
    return f"Planted and not found: {missed}. Found and not planted: {more}."


def planted_problems(data: Path) -> set[tuple[str, str, str]]:
    """Return what data-demo/planted.toml says is wrong, as :func:`found_problems` does."""
    raw: Any = read_toml(data / PLANTED)
    return {
        (p["entry"], p["clause"], p["verdict"]) if "clause" in p else (p["entry"], "remark", p["remark"])
        for p in raw["problems"]
    }
