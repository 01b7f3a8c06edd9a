"""An audit on the terminal: what needs explaining first, then counts that add up."""

from __future__ import annotations

import json
from collections.abc import Iterator

from tussock.cli import show
from tussock.cli.failures import say
from tussock.cli.printable import printable
from tussock.interval import Verdict
from tussock.maps.audit_words import against_words, because, local, outcome_words
from tussock.maps.words import sentence
from tussock.measure.judging import ClauseResult
from tussock.records.audit_tables import finding_rows, release_rows
from tussock.review.audit import Audit, Row, in_order_of_explaining
from tussock.review.auditing import days_of

MARKS = {Verdict.MET: "●", Verdict.UNCERTAIN: "◐", Verdict.NOT_MET: "✕", Verdict.MISSING: "○"}
WORDS = {
    Verdict.MET: "met",
    Verdict.UNCERTAIN: "uncertain",
    Verdict.NOT_MET: "not met",
    Verdict.MISSING: "missing",
}
CAUTION = (
    "Arithmetic over what is mapped and recorded, not a legal finding. Your permit and your local wildlife "
    "law come first."
)
data = show.data


def table(audit: Audit) -> None:
    """Print an audit: the answer on stdout, the caution on stderr."""
    say(CAUTION)
    data("\n".join(printable(line) for line in lines(audit)))


def lines(audit: Audit) -> Iterator[str]:
    """Yield what is printed of an audit, line by line."""
    explain = [row for row in in_order_of_explaining(audit.rows) if row.needs_explaining]
    yield f"{_whose(audit)}: {len(explain)} of {len(audit.rows)} records need explaining."
    for row in explain:
        yield ""
        yield from _row(row, audit)
    wanted = [r for r in audit.remarks if r.attention]
    if wanted:
        yield ""
        yield f"On the book itself, {len(wanted)} to explain:"
        for remark in wanted:
            yield f"  {remark.entry}: {sentence(remark.words)} It would settle it: {remark.evidence}."
    yield ""
    yield f"The book, in order ({audit.permit.timezone}):"
    yield from (f"  {_headline(row, audit)}" for row in audit.rows)
    yield ""
    yield from _counts(audit)


def _whose(audit: Audit) -> str:
    days = days_of(audit)
    span = ""
    if days:
        first, last = (d.astimezone(audit.permit.zone).date() for d in days)
        span = f", {first} to {last}"
    under = f", all under {audit.under}" if audit.under else ""
    return f"{audit.permit.id} of {audit.permit.holder}{span}{under}"


def _row(row: Row, audit: Audit) -> Iterator[str]:
    yield _headline(row, audit)
    if row.judged is None:
        return
    for words in (*row.judged.gaps, *row.judged.contradictions):
        yield f"    {sentence(words)}"
    for result in row.judged.results:
        if result.mandatory and result.verdict not in (None, Verdict.MET):
            yield f"    {_clause(result, row.probabilities.get(result.id))}"


def _headline(row: Row, audit: Audit) -> str:
    """Return a record in one line: verdict, capture, when and how it ended, what it was."""
    handling = row.kept.handling
    when = local(row.when, audit)
    what = (
        f"{handling.animal.scientific_name or 'not identified'}, {outcome_words(row)}"
        if handling
        else row.kept.why
    )
    return f"{MARKS[row.verdict]} {WORDS[row.verdict]}  {row.kept.capture_id}  {when}  {what}"


def _clause(result: ClauseResult, chance: float | None) -> str:
    assert result.verdict is not None  # only those are printed
    parts = [f"{MARKS[result.verdict]} {result.id} {WORDS[result.verdict]}"]
    parts += filter(None, (against_words(result), because(result)))
    if chance is not None:
        parts.append(f"P(met) {chance:.2f}")
    return ": ".join([parts[0], "; ".join(parts[1:])]) if parts[1:] else parts[0]


def _counts(audit: Audit) -> Iterator[str]:
    totals, verdicts = audit.totals, audit.verdicts()
    each = ", ".join(f"{verdicts[v]} {WORDS[v]}" for v in MARKS)
    yield f"{totals.rows} records: {each}."
    yield (
        f"From {totals.captures_read} captures ({totals.animals} animals) and {totals.disposals_read} ends "
        f"of holding: {totals.released} released, {totals.otherwise} ended otherwise, {totals.held} held, "
        f"{totals.not_judged} with nothing to judge."
    )


def as_json(audit: Audit) -> str:
    """Return an audit as JSON."""
    totals = audit.totals
    made = {
        "format": "tussock audit 1",
        "software": audit.software,
        "permit": audit.permit.id,
        "under": audit.under,
        "now": audit.now.isoformat(),
        "inputs": dict(audit.inputs),
        "totals": {**vars(totals), "reconciled": totals.reconciled},
        "records": list(release_rows(audit)),
        "clauses": list(finding_rows(audit)),
        "remarks": [vars(r) for r in audit.remarks],
    }
    return json.dumps(made, ensure_ascii=False, indent=1)
