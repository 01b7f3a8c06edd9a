"""The tables of an audit's page: totals that add up, release sites, the book in order, clauses, ground."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from tussock.geodesy import distance_m
from tussock.interval import Verdict
from tussock.maps.audit_words import (
    ORDER,
    animal_words,
    count_words,
    day,
    in_force_words,
    listed,
    local,
    outcome_words,
)
from tussock.maps.marks import verdict_mark
from tussock.maps.words import grouped, margin_words, metres, position_words
from tussock.permit.permit_file import Version
from tussock.review.audit import Audit, GroundSource, Row
from tussock.review.release_sites import SAME_SITE_M, ReleaseSite, release_sites

Cell = str
"""HTML, escaped already."""


def table(head: Sequence[str], rows: Iterable[Sequence[Cell]], *, kind: str = "", ids: bool = False) -> str:
    """Return a table; narrow screens show a row as a block, each cell under its column's name.

    Parameters
    ----------
    ids
        Whether the first cell of each row names it.
    """
    top = "".join(f'<th scope="col">{escape(h)}</th>' for h in head)
    body = "".join(_row(head, row, ids=ids) for row in rows)
    return f'<table class="stack {kind}"><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>'


def _row(head: Sequence[str], row: Sequence[Cell], *, ids: bool) -> str:
    cells = []
    for k, (name, cell) in enumerate(zip(head, row, strict=True)):
        tag, scope = ("th", ' scope="row"') if ids and k == 0 else ("td", "")
        cells.append(f'<{tag}{scope} data-label="{escape(name)}">{cell}</{tag}>')
    return f"<tr>{''.join(cells)}</tr>"


def totals(audit: Audit) -> str:
    """Return two small sums: what became of the records, and their verdicts; both come to all records."""
    t, verdicts = audit.totals, audit.verdicts()
    became = [("released", t.released), ("ended otherwise", t.otherwise), ("held", t.held)]
    became += [("nothing to judge", t.not_judged)]
    judged = [(verdict_mark(v), verdicts[v]) for v in ORDER]
    read = (
        f"Read: {count_words(t.captures_read, 'capture')} of {count_words(t.animals, 'animal')} and "
        f"{count_words(t.disposals_read, 'end', 'ends')} of holding."
    )
    adds = t.reconciled and sum(n for _, n in judged) == t.rows
    said = "Both come to all records of the book." if adds else "They do not add up: do not rely on them."
    sums = _sum([(escape(w), n) for w, n in became], t.rows) + _sum(judged, t.rows)
    return f'<div class="sums">{sums}</div><p>{escape(read)} {escape(said)}</p>'


def _sum(parts: Sequence[tuple[Cell, int]], total: int) -> str:
    rows = "".join(f'<tr><td>{w}</td><td class="figure">{grouped(n)}</td></tr>' for w, n in parts)
    foot = f'<tr><th scope="row">records</th><td class="figure"><b>{grouped(total)}</b></td>'
    return f"<table><tbody>{rows}</tbody><tfoot>{foot}</tr></tfoot></table>"


def register(audit: Audit) -> str:
    """Return the release sites with counts, consents, species and what became of animals seen again."""
    sites = release_sites(audit.rows)
    if not sites:
        return '<p class="block">No release has a place on record.</p>'
    note = (
        f"Releases written within {SAME_SITE_M:g} m of a site's first one belong to it. Seen again: an "
        "animal of the same organismID was taken again later."
    )
    head = ("Place (latitude, longitude)", "Releases", "Animals", "Species", "Consents", "Last", "Seen again")
    return f'<p class="note">{escape(note)}</p>' + table(head, (_site(s, audit) for s in sites))


def _site(site: ReleaseSite, audit: Audit) -> tuple[Cell, ...]:
    again = listed(
        f"{s.taken.kept.capture_id} {day(s.taken.kept.handling.captured, audit)} "
        f"({s.fate.replace('_', ' ') or 'held'})"
        for s in site.again
        if s.taken.kept.handling
    )
    return (
        f'<span class="number">{position_words(site.at.longitude, site.at.latitude)}</span>',
        grouped(len(site.rows)),
        grouped(site.animals),
        escape(", ".join(site.species)),
        escape(", ".join(site.consents)) or "none named",
        _whole(day(site.last, audit)),
        escape(again) or "no",
    )


def chronicle(audit: Audit, anchors: dict[int, str]) -> str:
    """Return every record in the book's order, each with its verdict and the clause that decides it."""
    head = ("No.", "Capture", "Animal", "Taken", "Ended", "Verdict", "Decided by")
    return table(head, (_record(k, row, audit, anchors) for k, row in enumerate(audit.rows)), kind="book")


def _record(k: int, row: Row, audit: Audit, anchors: dict[int, str]) -> tuple[Cell, ...]:
    name = escape(row.kept.capture_id or "no captureID")
    handling = row.kept.handling
    ended = escape(outcome_words(row))
    if handling is not None and handling.disposed is not None:
        ended = f"{ended} {_whole(local(handling.disposed, audit))}{_away(row)}"
    return (
        grouped(k + 1),
        f'<a href="#{anchors[k]}">{name}</a>' if k in anchors else f"<b>{name}</b>",
        escape(animal_words(row)),
        _whole(local(handling.captured, audit)) if handling else "not recorded",
        ended,
        verdict_mark(row.verdict),
        escape(_decided(row)),
    )


def _whole(text: str) -> Cell:
    """Return words that stay on one line."""
    return f'<span class="whole">{escape(text)}</span>'


def _away(row: Row) -> str:
    handling = row.kept.handling
    if handling is None or handling.let_go_at is None:
        return ""
    a, b = handling.taken_at, handling.let_go_at
    away = float(distance_m(a.longitude, a.latitude, b.longitude, b.latitude))
    return f", {metres(away, spread=a.radius_m + b.radius_m)} away"


def _decided(row: Row) -> str:
    """Return what decides a record's verdict; for one that is met, the tightest clause."""
    worst = row.worst
    if row.judged is None:
        return row.kept.why
    if row.judged.gaps:
        return "; ".join(row.judged.gaps)
    if row.judged.contradictions and (worst is None or worst.verdict is not Verdict.NOT_MET):
        return "; ".join(row.judged.contradictions)
    if worst is None:
        return ""
    margin = margin_words(worst) if worst.kind != "consent_recorded" else ""
    return ", ".join(filter(None, (worst.id, margin)))


def clause_texts(audit: Audit) -> str:
    """Return the text of every clause, version by version, and what each computes."""
    return "".join(_version(audit, v) for v in audit.permit.versions)


def _version(audit: Audit, version: Version) -> str:
    items = "".join(
        f"<li><p><b>{escape(c.id)}</b> {f'<q>{escape(c.text)}</q>' if c.text else ''}"
        f'{"" if c.mandatory else " (advisory)"}</p><p class="note">{escape(c.words())}</p></li>'
        for c in version.conditions
    )
    title = f"Version in force {in_force_words(audit, version)}" if not audit.under else audit.under
    empty = "<p>It holds no clauses: nothing is checked under it.</p>" if not items else ""
    return f'<h3>{escape(title)}</h3>{empty}<ul class="clauses texts">{items}</ul>'


def ground_sources(audit: Audit) -> str:
    """Return the layers that the clauses read, with their dates; empty ground is said to be none."""
    if not audit.ground:
        return '<p class="block">No layer of ground was read.</p>'
    head = ("Layer", "As of", "Complete", "Files", "Licence, made by")
    return table(head, (_source(s) for s in audit.ground), ids=True)


def _source(source: GroundSource) -> tuple[Cell, ...]:
    return (
        escape(source.layer.replace("_", " ")),
        str(source.as_of) if source.as_of else "not dated",
        escape(source.complete or "not stated"),
        escape(", ".join(source.files)),
        escape("; ".join(filter(None, (source.licence, source.attribution))) or "not stated"),
    )


def inputs(audit: Audit) -> str:
    """Return name and SHA-256 of every file read."""
    if not audit.inputs:
        return ""
    rows = ((escape(n), f"<code>{escape(h)}</code>") for n, h in sorted(audit.inputs.items()))
    return table(("File", "SHA-256"), rows, ids=True, kind="hashes")
