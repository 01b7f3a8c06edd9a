"""What needs explaining: each record with its clauses, small maps, evidence and space to explain."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from html import escape

from tussock.ground.region import Region
from tussock.interval import Verdict
from tussock.maps.audit_evidence import NO_CAPTURE, evidence_for, evidence_list
from tussock.maps.audit_palette import Palette
from tussock.maps.audit_sketch import small_maps
from tussock.maps.audit_words import (
    advisory,
    against_words,
    animal_words,
    because,
    chance_words,
    count_words,
    day,
    explained,
    listed,
    local,
    only_missing,
    outcome_words,
    said,
)
from tussock.maps.marks import verdict_mark
from tussock.maps.words import verdict_words
from tussock.measure.judging import ClauseResult
from tussock.review.audit import Audit, Remark, Row, in_order_of_explaining

MOST_MAPPED = 150
"""Small maps are drawn for so many records, the first to explain."""
SORTS = {
    "permit_gap": "Outside the permit's days",
    "no_disposal": "Without an outcome",
    "no_capture": "An outcome without its capture",
    "before_capture": "Ended before it began",
    "other_species": "Another species at the end than at the capture",
    "in_future": "Still to come",
    "no_place": "Released, and nobody knows where",
    "contradiction": "Times that cannot all be right",
    "count": "Animals that do not add up",
    "numbering_gap": "Numbers left out",
    "late_entry": "Written up late",
    "assumed": "A radius assumed",
    "assumed_count": "A number of animals assumed",
    "assumed_outcome": "An outcome assumed",
    "not_cleaned": "A container not cleaned",
    "no_check": "Without the check at the spot",
}
"""Sort of remark → its heading."""
_LINES = '<p class="lines"><span></span><span></span><span></span></p>'


def to_explain(audit: Audit) -> list[Row]:
    """Return the records that need explaining, the worst first."""
    return [row for row in in_order_of_explaining(audit.rows) if row.needs_explaining]


def anchors(audit: Audit) -> dict[int, str]:
    """Return place of a row in the book → id of what explains it, of those that need it."""
    return {k: f"r{k + 1}" for k, row in enumerate(audit.rows) if row.needs_explaining}


def findings(audit: Audit, region: Region | None, palette: Palette) -> str:
    """Return every record that needs explaining: on its own, or with those that lack the same."""
    rows = to_explain(audit)
    place = {id(row): k for k, row in enumerate(audit.rows)}
    names = anchors(audit)
    alone, groups = _parted(rows)
    if not rows:
        return '<p class="block">Nothing needs explaining.</p>'
    drawn = [
        _record(row, audit, names[place[id(row)]], _maps(k, row, audit, region, palette))
        for k, row in enumerate(alone)
    ]
    drawn += [
        _group(group, audit, [names[place[id(row)]] for row in group]) for group in groups
    ]  # fmt: skip
    left_out = len(alone) - MOST_MAPPED
    note = f"<p>Maps are drawn for the first {MOST_MAPPED} of these records.</p>" if left_out > 0 else ""
    return note + "".join(drawn)


def _maps(k: int, row: Row, audit: Audit, region: Region | None, palette: Palette) -> str:
    return small_maps(row, audit, region, palette) if k < MOST_MAPPED and region is not None else ""


def _parted(rows: Iterable[Row]) -> tuple[list[Row], list[list[Row]]]:
    """Return rows to be explained one by one, and groups that lack the same records or answers."""
    alone, groups = [], defaultdict(list)
    for row in rows:
        if only_missing(row) and row.judged and not row.judged.gaps and not row.judged.contradictions:
            groups[frozenset(r.id for r in explained(row))].append(row)
        else:
            alone.append(row)
    return alone, sorted(groups.values(), key=len, reverse=True)


def _record(row: Row, audit: Audit, anchor: str, maps: str) -> str:
    found = explained(row)
    judged = row.judged
    evidence: tuple[str, ...]
    if judged is None:
        open_words, evidence = [said(row.kept.why)], (NO_CAPTURE,)
    else:
        open_words = [said(w) for w in (*judged.gaps, *judged.contradictions)]
        evidence = evidence_list(found, gaps=bool(judged.gaps), contradictions=bool(judged.contradictions))
    clauses = "".join(_clause(r, row.probabilities.get(r.id)) for r in found)
    words = "".join(f"<p>{escape(w)}</p>" for w in open_words)
    return (
        f'<article class="finding" id="{anchor}">{_head(row, audit)}{words}'
        f'<ul class="clauses">{clauses}</ul>{_advisory(row)}<div class="beside">{maps}'
        f'<div class="aside">{_evidence(evidence)}{_form()}</div></div></article>'
    )


def _head(row: Row, audit: Audit) -> str:
    handling = row.kept.handling
    title = f"{verdict_mark(row.verdict)} {escape(row.kept.capture_id or 'no captureID')}"
    parts = [animal_words(row)]
    if handling is not None:
        parts.append(f"taken {local(handling.captured, audit)}")
        ended = f" {local(handling.disposed, audit)}" if handling.disposed else ""
        parts.append(f"{outcome_words(row)}{ended}")
    named = (*handling.handlers, *(handling.ended_by or ())) if handling else ()
    people = ", ".join(dict.fromkeys(named))
    rows = "; ".join(dict.fromkeys(filter(None, (row.kept.capture_where, row.kept.disposal_where))))
    under = [f"recorded by {people}"] if people else []
    under += [rows] if rows else []
    where = f'<p class="under">{escape(said("; ".join(under)))}</p>' if under else ""
    return f"<h3>{title}</h3><p>{escape(said(', '.join(parts)))}</p>{where}"


def _clause(result: ClauseResult, chance: float | None) -> str:
    """Return a clause that is not met: its text, what was measured against what, and why."""
    measured, reason = against_words(result), because(result)
    aside = result.verdict is Verdict.NOT_MET and measured and result.reason in ("position", "layer")
    lead = "Undecided because " if result.verdict is Verdict.UNCERTAIN and measured else ""
    why = said(lead + reason) if reason and not aside else ""  # a wide value that misses all the same
    line = " ".join(filter(None, (said(measured), why)))
    parts = [f"<p>{escape(line)}</p>"] if line else []
    if chance is not None:
        further = f"{chance_words(chance)}, a further figure and no verdict."
        parts.append(f'<p class="note">{escape(further)}</p>')
    text = f" <q>{escape(result.text)}</q>" if result.text else f" {escape(result.words)}"
    return f"<li><p>{verdict_mark(result.verdict)} <b>{escape(result.id)}</b>{text}</p>{''.join(parts)}</li>"


def _advisory(row: Row) -> str:
    found = advisory(row)
    if not found:
        return ""
    which = listed(f"{r.id} ({verdict_words(r.verdict)})" for r in found)
    return f'<p class="note">Advisory, not to be explained: {escape(which)}.</p>'


def _evidence(evidence: Sequence[str]) -> str:
    items = "".join(f"<li>{escape(said(e))}</li>" for e in evidence)
    return f'<div class="evidence"><h4>It would be settled by</h4><ul>{items}</ul></div>' if items else ""


def _form() -> str:
    return (
        f'<div class="explain"><h4>The holder\'s explanation</h4>{_LINES}'
        '<p class="sign"><span>Name</span><span>Date</span><span>Signature</span></p></div>'
    )


def _group(rows: Sequence[Row], audit: Audit, names: Sequence[str]) -> str:
    """Return records that lack the same, with one space to explain them all."""
    results = explained(rows[0])
    title = f"{count_words(len(rows), 'record')}: {listed(r.id for r in results)} not shown to be met"
    clauses = "".join(_missing(r) for r in results)
    lines = "".join(_one(row, audit, name) for row, name in zip(rows, names, strict=True))
    evidence = tuple(dict.fromkeys(evidence_for(r) for r in results))
    return (
        f'<article class="finding group"><h3>{verdict_mark(Verdict.MISSING)} {escape(title)}</h3>'
        f'<ul class="clauses">{clauses}</ul><ul class="records">{lines}</ul>'
        f"{_evidence(evidence)}{_form()}</article>"
    )


def _missing(result: ClauseResult) -> str:
    text = f"<q>{escape(result.text)}</q>" if result.text else escape(result.words)
    return f"<li><p>{verdict_mark(result.verdict)} <b>{escape(result.id)}</b> {text}</p></li>"


def _one(row: Row, audit: Audit, name: str) -> str:
    """Return one record of a group on a line, with what is its own."""
    reasons = dict.fromkeys(because(r) for r in explained(row))
    which = f"{row.kept.capture_id}, {day(row.when, audit)}, {animal_words(row)}"
    why = "; ".join(filter(None, reasons))
    return f'<li id="{name}"><b>{escape(which)}</b>{f": {escape(why)}" if why else ""}.</li>'


def remarks(audit: Audit) -> str:
    """Return the remarks on the book by sort, those that need explaining first."""
    wanted = [r for r in audit.remarks if r.attention]
    others = [r for r in audit.remarks if not r.attention]
    if not audit.remarks:
        return '<p class="block">The book itself leaves nothing open.</p>'
    rest = f"<h3>Said, and not to be explained</h3>{_by_sort(others)}" if others else ""
    return f"{_by_sort(wanted)}{rest}{_form() if wanted else ''}"


def _by_sort(found: Sequence[Remark]) -> str:
    sorts: dict[str, list[Remark]] = defaultdict(list)
    for remark in found:
        sorts[remark.sort].append(remark)
    return "".join(_sort(sort, each) for sort, each in sorts.items())


def _sort(sort: str, found: Sequence[Remark]) -> str:
    title = SORTS.get(sort, sort.replace("_", " ").capitalize())
    items = "".join(_remark(r) for r in found)
    evidence = tuple(dict.fromkeys(r.evidence for r in found if r.evidence))
    return (
        f'<section class="sort"><h4>{escape(title)} ({len(found)})</h4>'
        f'<ul class="records">{items}</ul>{_settles(evidence)}</section>'
    )


def _remark(remark: Remark) -> str:
    where = f' <span class="note">{escape(remark.where)}</span>' if remark.where else ""
    return f"<li><b>{escape(remark.entry)}</b>: {escape(said(remark.words))}{where}</li>"


def _settles(evidence: Sequence[str]) -> str:
    return f'<p class="note">Settled by {escape(listed(evidence))}.</p>' if evidence else ""
