"""The audit's drawings: verdicts by clause, by month, and each distance against the limit of its day.

Inline SVG with direct labels and zero shown; the caption is the claim.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from tussock.interval import Verdict
from tussock.maps.audit_words import count_words, local
from tussock.maps.marks import verdict_class
from tussock.maps.words import MOST_KINDS, VERDICT_WORDS, grouped, metres
from tussock.measure.judging import ClauseResult
from tussock.review.audit import Audit, Row

WIDTH = 330.0
"""Of a drawing [units]: one unit is a pixel on a phone of 360 pixels."""
MOST_MONTHS = 30
"""With more months than that the drawing goes by years."""
MOST_INTERVALS = 400
"""More intervals than that would run into each other: none are drawn."""
_ROW, _BAR = 34.0, 10.0
_TALL, _TOP, _FOOT = 130.0, 22.0, 22.0
_LEFT = 34.0
_WORST_FIRST = (Verdict.NOT_MET, Verdict.MISSING, Verdict.UNCERTAIN, Verdict.MET)
_LABELLED = 6


def plots(audit: Audit) -> str:
    """Return the drawings that the audit has anything to show for."""
    drawn = [by_clause(audit), by_month(audit), *(distances(audit, c) for c in _distance_clauses(audit))]
    return f'<div class="plots">{"".join(drawn)}</div>' if any(drawn) else ""


def by_clause(audit: Audit) -> str:
    """Return how many records met each clause and how many did not: a bar for each that is not always met.

    Mandatory clauses only; the others are named beneath.
    """
    counts = _by_clause(audit, mandatory=True)
    if not counts:
        return ""
    open_ones = {name: c for name, c in counts.items() if c[Verdict.MET] < c.total()}
    most = max(c.total() for c in counts.values())
    rows = [_clause_row(k, name, c, most) for k, (name, c) in enumerate(open_ones.items())]
    height = _ROW * len(rows) + 16
    axis = f'<path class="axis" d="M0.5 0V{height - 14:g}"/>{_text(0, height - 2, "0", anchor="start")}'
    axis += _text(WIDTH, height - 2, grouped(most), anchor="end")
    drawing = axis + "".join(rows)
    return _figure(_clause_claim(open_ones), height if rows else 0, drawing, _rest(audit, counts))


def _by_clause(audit: Audit, *, mandatory: bool) -> dict[str, Counter[Verdict]]:
    """Return the verdicts of each clause, in the permit's order."""
    found: dict[str, Counter[Verdict]] = {
        c.id: Counter() for v in audit.permit.versions for c in v.conditions if c.mandatory is mandatory
    }
    for result in (r for row in audit.rows if row.judged for r in row.judged.results):
        if result.verdict is not None and result.mandatory is mandatory:
            found.setdefault(result.id, Counter())[result.verdict] += 1
    return {name: c for name, c in found.items() if c.total()}


def _rest(audit: Audit, counts: dict[str, Counter[Verdict]]) -> str:
    met = [f"{name} ({c.total()})" for name, c in counts.items() if c[Verdict.MET] == c.total()]
    aside = [
        f"{name} ({c.total() - c[Verdict.MET]} of {c.total()} not shown to be met)"
        for name, c in _by_clause(audit, mandatory=False).items()
    ]
    parts = ["Bars: records that the clause applies to; full: not met, hatched: missing, dotted: uncertain."]
    parts += [f"Met wherever they apply: {', '.join(met)}."] if met else []
    parts += [f"Advisory, and apart: {', '.join(aside)}."] if aside else []
    return " ".join(parts)


def _clause_claim(counts: dict[str, Counter[Verdict]]) -> str:
    if not counts:
        return "Every clause is met wherever it applies"
    worst = max(counts, key=lambda name: counts[name][Verdict.NOT_MET])
    misses, total = counts[worst][Verdict.NOT_MET], counts[worst].total()
    if misses:
        return f"Clause {worst} is most often not met: {misses} of {total}"
    least = max(counts, key=lambda name: counts[name].total() - counts[name][Verdict.MET])
    total = counts[least].total()
    waiting = total - counts[least][Verdict.MET]
    return f"No clause is found not met; clause {least} is most often open: {waiting} of {total}"


def _clause_row(k: int, name: str, counts: Counter[Verdict], most: int) -> str:
    top = k * _ROW
    said = ", ".join(f"{counts[v]} {VERDICT_WORDS[v]}" for v in _WORST_FIRST if counts[v])
    out = _text(4, top + 14, name, anchor="start", cls="name")
    out += _text(WIDTH - 1, top + 14, said, anchor="end")
    x = 0.0
    for verdict in _WORST_FIRST:
        wide = counts[verdict] / most * WIDTH
        if wide:
            out += _block(x, top + 18, wide, _BAR, verdict)
        x += wide
    return out


def _block(x: float, y: float, wide: float, tall: float, verdict: Verdict) -> str:
    sign = verdict_class(verdict)
    return f'<rect class="v {sign}" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{tall:.1f}"/>'


@dataclass(frozen=True)
class _Span:
    """A month or a year: how many records ended in it, and how many of those need explaining."""

    name: str
    rows: int
    explain: int


def by_month(audit: Audit) -> str:
    """Return how many records each month has, and how many of those need explaining."""
    spans = _spans(audit)
    if not spans:
        return ""
    most = max(s.rows for s in spans)
    step = (WIDTH - _LEFT) / len(spans)
    columns = "".join(_column(k, s, step, most) for k, s in enumerate(spans))
    base = _TOP + _TALL
    axis = f'<path class="axis" d="M{_LEFT} {base + 0.5:g}H{WIDTH:g}"/>'
    axis += _text(_LEFT - 4, base + 4, "0", anchor="end") + _text(
        _LEFT - 4, _TOP + 5, grouped(most), anchor="end"
    )
    undated = sum(row.when is None for row in audit.rows)
    more = f" {count_words(undated, 'record')} without a date left out." if undated else ""
    note = f"Column: all records by the local date they ended; filled: those that need explaining.{more}"
    return _figure(_month_claim(spans), base + _FOOT, axis + columns, note)


def _spans(audit: Audit) -> list[_Span]:
    """Return every month from the first to the last, or every year where the months are too many."""
    days = [local(row.when, audit) for row in audit.rows if row.when]
    if not days:
        return []
    months = list(_months(min(days)[:7], max(days)[:7]))
    length = 7 if len(months) <= MOST_MONTHS else 4
    names = dict.fromkeys(m[:length] for m in months)
    rows = Counter(d[:length] for d in days)
    explain = Counter(
        local(row.when, audit)[:length] for row in audit.rows if row.when and row.needs_explaining
    )
    return [_Span(name, rows[name], explain[name]) for name in names]


def _months(first: str, last: str) -> Iterator[str]:
    year, month = int(first[:4]), int(first[5:])
    while (name := f"{year:04d}-{month:02d}") <= last:
        yield name
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)


def _month_claim(spans: Sequence[_Span]) -> str:
    worst = max(spans, key=lambda s: (s.explain, -s.rows))
    if not worst.explain:
        return f"Nothing needs explaining in {count_words(len(spans), _unit(spans))}"
    return f"{worst.name} has the most to explain: {worst.explain} of {count_words(worst.rows, 'record')}"


def _unit(spans: Sequence[_Span]) -> str:
    return "month" if len(spans[0].name) > 4 else "year"


def _column(k: int, span: _Span, step: float, most: int) -> str:
    x, base = _LEFT + k * step, _TOP + _TALL
    wide = max(1.0, step - min(4.0, step / 4))
    tall, dark = (n / most * _TALL for n in (span.rows, span.explain))
    out = f'<rect class="all" x="{x + 1:.1f}" y="{base - tall:.1f}" width="{wide:.1f}" height="{tall:.1f}"/>'
    if dark:
        out += f'<rect class="some" x="{x + 1:.1f}" y="{base - dark:.1f}" width="{wide:.1f}"'
        out += f' height="{dark:.1f}"/>'
    if span.explain and step >= 14:
        out += _text(x + 1 + wide / 2, base - tall - 4, grouped(span.explain), anchor="middle")
    return out + _tick(k, span, x, step)


def _tick(k: int, span: _Span, x: float, step: float) -> str:
    """Return the label under a column: the year at its first month, and at the drawing's begin."""
    if len(span.name) == 4:
        return _text(x + step / 2, _TOP + _TALL + 16, span.name, anchor="middle")
    if span.name.endswith("-01") or (k == 0 and span.name[5:] < "10"):
        mark = f'<path class="axis" d="M{x:.1f} {_TOP + _TALL:g}v6"/>'
        return mark + _text(x + 2, _TOP + _TALL + 16, span.name[:4], anchor="start")
    return ""


@dataclass(frozen=True)
class _Drawn:
    """A record's distance against its limit."""

    name: str
    result: ClauseResult

    @property
    def low(self) -> float:
        return self.result.value.low if self.result.value else 0.0

    @property
    def high(self) -> float:
        """The far end; the near one where nothing bounds it."""
        high = self.result.value.high if self.result.value else 0.0
        return high if math.isfinite(high) else self.low


def _distance_clauses(audit: Audit) -> list[str]:
    found = [r for row in audit.rows if row.judged for r in row.judged.results if r.value is not None]
    always = {r.id for r in found if r.kind == "max_distance_from_capture"}
    missed = {r.id for r in found if r.kind == "min_distance_from" and r.verdict is not Verdict.MET}
    return [name for name in dict.fromkeys(r.id for r in found) if name in always | missed]


def distances(audit: Audit, clause: str) -> str:
    """Return every record's distance as the interval it is, in the book's order, with the limit of its day.

    Empty with more than :data:`MOST_INTERVALS`.
    """
    drawn = list(_of_clause(audit.rows, clause))
    if not drawn or len(drawn) > MOST_INTERVALS:
        return ""
    limit = max(d.result.limit or 0.0 for d in drawn)
    cut = 2.5 * limit
    top = min(cut, 1.06 * max(limit, *(d.high for d in drawn)))
    step = (WIDTH - _LEFT - 10) / len(drawn)
    inner = "".join(_interval(k, d, step, top) for k, d in enumerate(drawn))
    inner += "".join(_limits(drawn, step, top)) + "".join(_named(drawn, step, top))
    base = _TOP + _TALL
    axis = f'<path class="axis" d="M{_LEFT} {_TOP}V{base + 0.5:g}H{WIDTH:g}"/>'
    axis += _text(_LEFT - 4, base + 4, "0", anchor="end")
    beyond = " Intervals that go on above are cut." if any(d.high > top for d in drawn) else ""
    note = f"Upright line: where the distance may lie; stepped: the limit of the day. In metres.{beyond}"
    return _figure(_distance_claim(clause, drawn), base + 8, axis + inner, note)


def _of_clause(rows: Sequence[Row], clause: str) -> Iterator[_Drawn]:
    for row in rows:
        for r in row.judged.results if row.judged else ():
            if r.id == clause and r.unit == "m" and r.value is not None and r.limit and r.verdict is not None:
                yield _Drawn(row.kept.capture_id, r)


def _distance_claim(clause: str, drawn: Sequence[_Drawn]) -> str:
    misses = [d.name for d in drawn if d.result.verdict is Verdict.NOT_MET]
    unsure = sum(d.result.verdict is Verdict.UNCERTAIN for d in drawn)
    side = "within" if drawn[0].result.kind in MOST_KINDS else "clear of"
    if not misses and not unsure:
        return f"Clause {clause}: all {grouped(len(drawn))} lie {side} the limit of their day"
    said = [f"{len(misses)} beyond the limit" if side == "within" else f"{len(misses)} too near"]
    said = said if misses else []
    said += [f"{unsure} undecided"] if unsure else []
    return f"Clause {clause}: of {count_words(len(drawn), 'distance')} {' and '.join(said)}"


def _y(value: float, top: float) -> float:
    return _TOP + _TALL * (1 - min(value, top) / top)


def _x(k: int, step: float) -> float:
    return _LEFT + 5 + (k + 0.5) * step


def _interval(k: int, one: _Drawn, step: float, top: float) -> str:
    x, sign = _x(k, step), verdict_class(one.result.verdict)
    y1, y2 = _y(one.high, top), _y(one.low, top)
    if y2 - y1 < 3:
        y1, y2 = (y1 + y2) / 2 - 1.5, (y1 + y2) / 2 + 1.5
    wide = max(1.0, min(4.0, step * 0.7))
    return f'<path class="i {sign}" d="M{x:.1f} {y1:.1f}V{y2:.1f}" stroke-width="{wide:.1f}"/>'


def _limits(drawn: Sequence[_Drawn], step: float, top: float) -> Iterator[str]:
    """Yield the limit's stepped line, each height labelled once."""
    said: set[float] = set()
    d = ""
    for k, one in enumerate(drawn):
        limit = one.result.limit or 0.0
        y, x = _y(limit, top), _LEFT + 5 + k * step
        d += f"M{x:.1f} {y:.1f}" if not d else f"V{y:.1f}"
        d += f"H{x + step:.1f}"
        if limit not in said:
            said.add(limit)
            yield _text(x + 2, y - 4, metres(limit), anchor="start" if x < WIDTH - 60 else "end", cls="name")
    yield f'<path class="limit" d="{d}"/>'


def _named(drawn: Sequence[_Drawn], step: float, top: float) -> Iterator[str]:
    """Yield the names of the first few that miss the limit."""
    misses = [(k, d) for k, d in enumerate(drawn) if d.result.verdict is Verdict.NOT_MET]
    for k, one in misses[:_LABELLED]:
        below = one.high < (one.result.limit or 0.0)  # on the side away from the limit's line
        x, y = _x(k, step), _y(one.low, top) + 16 if below else _y(one.high, top) - 5
        anchor = "start" if x < _LEFT + 30 else "end" if x > WIDTH - 30 else "middle"
        yield _text(x, max(_TOP - 8, y), one.name, anchor=anchor)


def _figure(claim: str, height: float, inner: str, note: str) -> str:
    box = f'viewBox="0 0 {WIDTH:g} {height:g}"'
    drawing = f'<svg {box} role="img" aria-label="{escape(claim)}">{inner}</svg>'
    return (
        f'<figure class="plot"><figcaption>{escape(claim)}</figcaption>{drawing if height else ""}'
        f'<p class="note">{escape(note)}</p></figure>'
    )


def _text(x: float, y: float, words: str, *, anchor: str, cls: str = "") -> str:
    kind = f' class="{cls}"' if cls else ""
    return f'<text{kind} x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
