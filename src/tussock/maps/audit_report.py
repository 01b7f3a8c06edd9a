"""An audit as a page that prints: the claim, what needs explaining first, then the book in order."""

from __future__ import annotations

from html import escape

from tussock.ground.region import Region
from tussock.interval import Verdict
from tussock.maps import audit_book
from tussock.maps.audit_findings import anchors, findings, remarks, to_explain
from tussock.maps.audit_palette import Palette
from tussock.maps.audit_plots import plots
from tussock.maps.audit_words import count_words, local
from tussock.maps.cautions import CAUTIONS, NOT_LEGAL
from tussock.maps.marks import verdict_mark
from tussock.maps.words import grouped
from tussock.review.audit import Audit
from tussock.review.auditing import days_of
from tussock.review.handling import RELEASED

METHOD = (
    "Each record is judged clause by clause by the version of the permit in force on its day: clauses of the "
    "taking on the day of the capture, all others on the day holding ended, both in the permit's time zone.",
    "A measure is an interval: the radii of both places are added, and the position error of the layer. "
    "Distances are on the ellipsoid WGS 84.",
    "Met: the whole interval keeps the limit, to a millimetre. Not met: none of it does. Uncertain: it "
    "straddles the limit. Missing: something the clause needs is not on record. The worst of the mandatory "
    "clauses is the record's verdict; advisory clauses stand apart.",
    "P(met) takes each radius as the 95 % radius of a circular normal error. It decides nothing.",
    "What is not mapped or not recorded is never taken for met.",
)
"""How an audit judges, in sentences."""
FOOT = "Arithmetic over what is mapped and recorded, not a legal finding. " + " ".join(CAUTIONS)


def audit_report(audit: Audit, region: Region | None) -> str:
    """Return an audit as one self-contained page that asks no host for anything and runs no script.

    The same audit gives the same bytes.

    Parameters
    ----------
    region
        Drawn beneath the small maps; without it there are none.
    """
    from tussock.maps.canvas import asset, page_html

    palette = Palette()
    body = _body(audit, region, palette)
    styles = [asset("page.css"), asset("audit.css"), palette.style_sheet(), page_margins(audit)]
    return page_html(title=title(audit), body=palette.definitions() + body, styles=styles, scripts=[])


def title(audit: Audit) -> str:
    """Return the page's title."""
    return f"Audit of permit {audit.permit.id}"


def claim(audit: Audit) -> str:
    """Return the one line that says it all: how many releases need explaining."""
    released = [r for r in audit.rows if r.kept.handling and r.kept.handling.disposal == RELEASED]
    explain = sum(r.needs_explaining for r in released)
    if not released:
        rows = sum(r.needs_explaining for r in audit.rows)
        return f"{grouped(rows)} of {count_words(len(audit.rows), 'record')} {_need(rows)} explaining"
    if not explain:
        return f"None of {count_words(len(released), 'release')} needs explaining"
    return f"{grouped(explain)} of {count_words(len(released), 'release')} {_need(explain)} explaining"


def _need(count: int) -> str:
    return "needs" if count == 1 else "need"


def _body(audit: Audit, region: Region | None, palette: Palette) -> str:
    first, *rest = CAUTIONS
    sections = (
        ("explain", "What needs explaining", findings(audit, region, palette)),
        ("remarks", "The book itself", remarks(audit)),
        ("sites", "Where animals were let go", audit_book.register(audit)),
        ("book", "The book, in order", audit_book.chronicle(audit, anchors(audit))),
        ("clauses", "What it was held against", audit_book.clause_texts(audit)),
        ("ground", "Ground data", audit_book.ground_sources(audit)),
        ("method", "Method", _method(audit)),
    )
    key = palette.legend()
    said = "North is up. Cross: taken. Dashed discs: the radii. Ground as it stood on the day."
    head = f'<h3>The small maps</h3><p class="note">{said}</p>'
    legend = f'<div class="map-key">{head}{key}</div>' if key else ""
    drawn = "".join(
        f'<section id="{name}" class="part"><h2>{escape(head)}</h2>'
        f"{legend if name == 'explain' else ''}{text}</section>"
        for name, head, text in sections
    )
    return (
        f'<header class="strip"><p class="caution" role="note"><span><strong>{escape(first)}</strong> '
        f"{escape(' '.join((*rest, NOT_LEGAL)))}</span></p></header>"
        f'<main class="report">{_head(audit)}{_contents(sections)}{drawn}{_sign_off()}</main>'
        f"<footer><p>{escape(FOOT)}</p></footer>"
    )


def _head(audit: Audit) -> str:
    return (
        f'<section class="answer"><p class="kind">{escape(title(audit))}{_under(audit)}</p>'
        f"<h1>{escape(claim(audit))}</h1><p>{_second_line(audit)}</p>{_facts(audit)}"
        f"{audit_book.totals(audit)}{plots(audit)}</section>"
    )


def _under(audit: Audit) -> str:
    return f", all judged under {escape(audit.under)}" if audit.under else ""


def _second_line(audit: Audit) -> str:
    """Return the verdicts of what needs explaining, and what else is open."""
    rows = to_explain(audit)
    verdicts = audit.verdicts()
    order = (Verdict.NOT_MET, Verdict.MISSING, Verdict.UNCERTAIN)
    each = ", ".join(f"{verdict_mark(v)} {grouped(verdicts[v])}" for v in order if verdicts[v])
    open_remarks = sum(r.attention for r in audit.remarks)
    book = f"{count_words(open_remarks, 'remark')} on the book itself." if open_remarks else ""
    if not rows:
        return escape(book)
    total = count_words(len(audit.rows), "record")
    return (
        f"Of all {escape(total)} {grouped(len(rows))} {_need(len(rows))} explaining: {each}. {escape(book)}"
    )


def _facts(audit: Audit) -> str:
    permit, days = audit.permit, days_of(audit)
    span = " to ".join(local(d, audit)[:10] for d in days) if days else "no dated record"
    facts = (
        ("Permit", permit.id),
        ("Holder", permit.holder),
        ("Authority", permit.authority),
        ("Authorised persons", ", ".join(permit.authorised_persons) or "none named"),
        ("Period of the book", span),
        ("Made", f"{local(audit.now, audit)} ({permit.timezone}), {audit.software}"),
        ("Region", audit.region or "none"),
    )
    items = "".join(f"<div><dt>{escape(k)}</dt><dd>{escape(v)}</dd></div>" for k, v in facts)
    return f'<dl class="facts">{items}</dl>'


def _contents(sections: tuple[tuple[str, str, str], ...]) -> str:
    links = "".join(f'<li><a href="#{name}">{escape(head)}</a></li>' for name, head, _ in sections)
    return f'<nav class="contents" aria-label="On this page"><ul>{links}</ul></nav>'


def _method(audit: Audit) -> str:
    said = "".join(f"<p>{escape(s)}</p>" for s in METHOD)
    made = f"Made with {audit.software} at {local(audit.now, audit)}, {audit.permit.timezone}."
    return f"{said}<p>{escape(made)}</p>{audit_book.inputs(audit)}"


def _sign_off() -> str:
    return (
        '<section class="part explain last"><h2>Sign-off</h2>'
        "<p>The explanations above are complete and right to the best of my knowledge.</p>"
        '<p class="sign"><span>Permit holder</span><span>Date</span><span>Signature</span></p>'
        '<p class="sign"><span>Seen by</span><span>Date</span><span>Signature</span></p></section>'
    )


def page_margins(audit: Audit) -> str:
    """Return what stands in the margins of each printed page: permit, caution, page number."""
    return (
        "@page { size: A4; margin: 16mm 12mm 20mm;"
        f" @top-left {{ content: {css_text(title(audit))}; font: 11px sans-serif; }}"
        f" @top-right {{ content: {css_text(local(audit.now, audit)[:10])}; font: 11px sans-serif; }}"
        f" @bottom-left {{ content: {css_text(FOOT)}; font: 9px/1.3 sans-serif; width: 160mm; }}"
        ' @bottom-right { content: counter(page) " / " counter(pages); font: 11px sans-serif; } }'
    )


def css_text(text: str) -> str:
    """Return text as a CSS string that cannot end itself or its style element.

    Examples
    --------
    >>> css_text('a"<b')
    '"a\\\\22 \\\\3c b"'
    """
    safe = (c if c.isascii() and (c.isalnum() or c in " .,:-") else f"\\{ord(c):x} " for c in text)
    return '"' + "".join(safe) + '"'
