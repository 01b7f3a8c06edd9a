"""The distances of a site, each against the limits that are about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from tussock.maps.marks import verdict_mark
from tussock.maps.words import between, clause_name, half_width, limit_words, margin_words, metres
from tussock.planning.record import ClauseResult, Site

NEAR = (
    ("nearest home", "dwellings", "dwelling_m"),
    ("nearest peopled place", "peopled_places", "peopled_m"),
    ("nearest road", "roads", "road_m"),
)
"""What stands near a site: words, layer, attribute of the site."""


def distances(site: Site) -> str:
    """Return how far the site lies from the capture, homes, peopled places and roads, against each limit."""
    rows = [
        _distance_row("From the capture", site.distance_m, [c for c in (distance_clause(site),) if c], site)
    ]
    for words, layer, attribute in NEAR:
        value: float | None = getattr(site, attribute)
        clauses = clauses_about(site.clauses, layer)
        if value is not None or clauses:
            rows.append(_distance_row(words.capitalize(), value, clauses, site))
    return f'<dl class="distances">{"".join(rows)}</dl>'


def clauses_about(clauses: Sequence[ClauseResult], layer: str) -> list[ClauseResult]:
    """Return the judged distance clauses about a layer, the strictest first."""
    found = [
        c
        for c in clauses
        if c.kind == "min_distance_from" and f"layer {layer}" in c.words and c.verdict is not None
    ]
    return sorted(found, key=lambda c: -(c.limit or 0))


def _distance_row(words: str, value: float | None, clauses: Sequence[ClauseResult], site: Site) -> str:
    measured = next((c.value for c in clauses if _is_of(c, value)), None)
    spread = half_width(measured) if measured is not None else site.radius_m
    lead = (
        metres(value, spread=spread)
        if value is not None
        else (between(measured) if measured else "not known")
    )
    notes = (
        "".join(_clause_note(c, other=not _is_of(c, value)) for c in clauses)
        or '<span class="note">no clause asks for it</span>'
    )
    span = (
        f' <span class="span">({between(measured)})</span>'
        if measured is not None and value is not None
        else ""
    )
    return f"<div><dt>{escape(words)}</dt><dd><b>{lead}</b>{span}{notes}</dd></div>"


def _is_of(clause: ClauseResult, value: float | None) -> bool:
    """Return whether a clause measured that distance, and not one to some classes of the layer only."""
    if clause.value is None:
        return False
    return value is None or clause.value.low <= value <= clause.value.high


def _clause_note(clause: ClauseResult, *, other: bool = False) -> str:
    own = between(clause.value) if other and clause.value is not None else ""
    parts = [p for p in (own, limit_words(clause), margin_words(clause)) if p]
    text = f"{clause_name(clause.source, clause.id)}: {', '.join(parts)}"
    return f'<span class="note">{verdict_mark(clause.verdict)} {escape(text)}</span>'


def distance_clause(site: Site) -> ClauseResult | None:
    """Return the strictest clause on the distance from the capture that was judged."""
    found = [c for c in site.clauses if c.kind == "max_distance_from_capture" and c.value is not None]
    return min(found, key=lambda c: c.limit if c.limit is not None else math.inf, default=None)
