"""What stands under a fold: every clause with its numbers, and the scores."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from tussock.interval import Interval
from tussock.maps.marks import verdict_mark
from tussock.maps.words import (
    THIN,
    applies,
    between,
    clause_name,
    limit_words,
    margin_words,
    reason_words,
    sentence,
    value_words,
)
from tussock.planning.record import ClauseResult, Site


def clause_table(clauses: Sequence[ClauseResult]) -> str:
    """Return every clause as a block: verdict, name, text, and what was measured against what limit."""
    return f'<ul class="clauses">{"".join(_clause(c) for c in clauses)}</ul>'


def _clause(clause: ClauseResult) -> str:
    name = clause_name(clause.source, clause.id)
    of = "" if clause.house or clause.id.endswith(f" of {clause.source}") else f" of {clause.source}"
    advisory = "" if clause.mandatory else " (advisory)"
    mark = verdict_mark(clause.verdict, words=None if applies(clause) else "does not apply")
    head = f"{mark} <b>{escape(name[0].upper() + name[1:])}</b>{escape(of + advisory)}"
    text = escape(sentence(clause.text or clause.words))
    return f"<li>{head}<br>{text}{_measured(clause)}</li>"


def _measured(clause: ClauseResult) -> str:
    parts = []
    if clause.value is not None:
        parts.append(f"Measured: {value_words(clause)}")
    if limit := limit_words(clause):
        parts.append(f"limit {limit}")
    if margin := margin_words(clause):
        parts.append(margin)
    why = reason_words(clause.reason).removeprefix("not checked:").removeprefix("does not apply:").strip()
    line = ", ".join(parts)
    if why and clause.value is not None:
        line += f"; wide because {why}"
    elif why:
        line = why
    return f'<br><span class="note">{escape(sentence(line))}</span>' if line else ""


def score_table(site: Site) -> str:
    """Return the criteria: what was read, the suitability as a bar with its interval, the share lost."""
    rows = "".join(
        f"<tr><th scope=row>{escape(sentence(c.words)[:-1])}</th><td>{_read(c.value, c.unit)}</td>"
        f"<td>{_bar(c.score)} {_score(c.score)}</td>"
        f"<td>{round(100 * c.share)}{THIN}% of the loss, weight {c.weight:g}</td></tr>"
        for c in site.criteria
    )
    return (
        f"<p>Score {_score(Interval(site.score, site.score_high))} of 1: a weighted geometric mean; "
        "sites rank by its low end. Judgement, not law.</p>"
        "<table><thead><tr><th>Criterion</th><th>Read</th><th>Suits</th><th>Share</th></tr></thead>"
        f"<tbody>{rows}</tbody></table>"
    )


def _read(value: Interval | None, unit: str) -> str:
    return "not known" if value is None else escape(between(value, unit))


def _score(score: Interval) -> str:
    low, high = f"{score.low:.2f}", f"{score.high:.2f}"
    return low if low == high else f"{low}–{high}"


def _bar(score: Interval) -> str:
    """Return a bar from 0 to 1: solid to the low end, outlined to the high end."""
    low, high = 60 * score.low, 60 * score.high
    return (
        '<svg class="bar" viewBox="0 0 62 12" width="62" height="12" aria-hidden="true">'
        '<rect class="frame" x="1" y="1" width="60" height="10"/>'
        f'<rect class="full" x="1" y="1" width="{low:.1f}" height="10"/>'
        f'<rect class="open" x="{1 + low:.1f}" y="3" width="{max(0.0, high - low):.1f}" height="6"/></svg>'
    )
