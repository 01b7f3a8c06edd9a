"""The next two days as one small drawing: night, now, the earliest release, and what each clause allows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from html import escape
from itertools import pairwise

from tussock.maps.hours import clock
from tussock.planning.record import ClockFacts, Plan
from tussock.spans import Part, Spans
from tussock.sun import HORIZON_DEG, sun_spans

HOURS = 48.0
HOUR_S = 3600.0
WIDTH = 330.0
"""Of the drawing [units]: one unit is a pixel on a phone of 360 pixels."""
TICK_H = 6
_HEAD, _ROW, _BAR, _TEXT = 58.0, 38.0, 12.0, 14.0
_NEAR_S = 12 * HOUR_S
"""A release planned later than that starts the drawing, and not the present."""
STOPPED = "The clock:"
"""So begins the STOP line of a plan that the clock has stopped."""


@dataclass(frozen=True)
class Axis:
    """From when to when the drawing runs [POSIX s], and the offsets [s] of local time along it."""

    start: float
    offsets: tuple[tuple[float, float], ...]

    @property
    def end(self) -> float:
        """Its right end."""
        return self.start + HOURS * HOUR_S

    def x(self, t: float) -> float:
        """Return where an instant stands, held within the drawing."""
        return WIDTH * min(1.0, max(0.0, (t - self.start) / (HOURS * HOUR_S)))

    def local(self, t: float) -> datetime:
        """Return an instant as local time."""
        known = [offset for since, offset in self.offsets if since <= t] or [self.offsets[0][1]]
        return datetime.fromtimestamp(t, timezone(timedelta(seconds=known[-1])))


def stopped_by_clock(plan: Plan) -> bool:
    """Return whether no time of the planned release suited the clauses of the clock."""
    return not plan.sites and any(s.startswith(STOPPED) for s in plan.stop)


def timeline(plan: Plan) -> str:
    """Return the drawing with its claim; empty where no clause of the clock is known or the place is not."""
    facts, axis = plan.clock, axis_of(plan)
    if facts is None or not facts.lines or axis is None or not _placed(plan):
        return ""
    rows = [*_rows(facts), ("All of these", together(facts))]
    height = _HEAD + _ROW * len(rows)
    inner = "".join(
        (
            _nights(plan, axis, height),
            _ticks(axis, height),
            _marks(plan, axis, height),
            "".join(_row(axis, k, *row, last=k == len(rows) - 1) for k, row in enumerate(rows)),
        )
    )
    said = "; ".join(f"{name}: {_words(spans, axis)}" for name, spans in rows)
    return (
        f'<figure class="clockline"><figcaption>{escape(_claim(plan, axis))}</figcaption>'
        f'<svg viewBox="0 0 {WIDTH:g} {height:g}" role="img" aria-label="{escape(said)}">{_HATCH}{inner}'
        '</svg><p class="note">Bars: when each clause allows a release. Hatched: dark. Local time.</p>'
        "</figure>"
    )


_HATCH = (
    '<defs><pattern id="dark" width="6" height="6" patternUnits="userSpaceOnUse">'
    '<path class="hatch" d="M0 6L6 0"/></pattern></defs>'
)


def axis_of(plan: Plan) -> Axis | None:
    """Return the drawing's axis; ``None`` where the plan's clock cannot be read."""
    now, first = _seconds(plan.now), _seconds(plan.release_at)
    if now is None or first is None:
        return None
    texts = [plan.release_at]
    if plan.clock is not None:
        texts += [t for line in plan.clock.lines for span in line.spans for t in span]
    known = {datetime.fromisoformat(t) for t in texts if _seconds(t) is not None}
    offsets = sorted({(d.timestamp(), (d.utcoffset() or timedelta()).total_seconds()) for d in known})
    return Axis(now if first - now <= _NEAR_S else first - HOUR_S, tuple(offsets))


def _placed(plan: Plan) -> bool:
    return abs(plan.capture.latitude) <= 90  # false where it was left out


def _seconds(text: str) -> float | None:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    return at.timestamp() if at.tzinfo is not None else None


def _rows(facts: ClockFacts) -> Iterator[tuple[str, Spans]]:
    for line in facts.lines:
        yield line.id, _spans(line.spans)


def _spans(texts: Iterable[tuple[str, str]]) -> Spans:
    parts = ((_seconds(a), _seconds(b)) for a, b in texts)
    return Spans.joined((a, b) for a, b in parts if a is not None and b is not None)


def together(facts: ClockFacts) -> Spans:
    """Return when all clauses of the clock allow a release."""
    rows = [spans for _, spans in _rows(facts)]
    common = rows[0]
    for spans in rows[1:]:
        common = common & spans
    return common


def _claim(plan: Plan, axis: Axis) -> str:
    assert plan.clock is not None  # the caller looked
    parts = [p for p in together(plan.clock).parts if p[1] - p[0] >= HOUR_S / 60]
    if not parts:
        return "No time in the next two days meets every clause of the clock"
    return f"Every clause of the clock allows {_words(Spans(tuple(parts)), axis)}"


def _words(spans: Spans, axis: Axis) -> str:
    parts = [_between(p, axis) for p in spans.parts if p[1] > p[0]]
    return " and ".join(parts[:2]) or "no time"


def _between(part: Part, axis: Axis) -> str:
    first, last = (axis.local(t) for t in part)
    if part[1] >= axis.end - 60:
        return f"from {_day(first)}"
    if first.date() == last.date():
        return f"{first:%H:%M} to {_day(last)}"
    return f"{_day(first)} to {_day(last)}"


def _day(at: datetime) -> str:
    return f"{at:%H:%M} on {at.day} {at:%B}"


def _nights(plan: Plan, axis: Axis, height: float) -> str:
    c = plan.capture
    day = sun_spans(c.longitude, c.latitude, at_least_deg=HORIZON_DEG, within=(axis.start, axis.end))
    edges = [axis.start, *(t for part in day.parts for t in part), axis.end]
    drawn = []
    for a, b in list(pairwise(edges))[::2]:
        x, wide = axis.x(a), axis.x(b) - axis.x(a)
        if wide <= 0:
            continue
        drawn.append(f'<rect class="night" x="{x:.1f}" y="40" width="{wide:.1f}" height="{height - 40:g}"/>')
        drawn.append(
            f'<rect x="{x:.1f}" y="40" width="{wide:.1f}" height="{height - 40:g}" fill="url(#dark)"/>'
        )
    return "".join(drawn)


def _ticks(axis: Axis, height: float) -> str:
    made = []
    for t in _full_hours(axis):
        at = axis.local(t)
        if at.hour % TICK_H:
            continue
        x = axis.x(t)
        cls = "tick day" if at.hour == 0 else "tick"
        made.append(f'<path class="{cls}" d="M{x:.1f} 40V{height:g}"/>')
        if 8 < x < WIDTH - 8:
            words = f"{at.day} {at:%b}" if at.hour == 0 else f"{at:%H}"
            made.append(_text(x, 36, words, anchor="middle"))
    return "".join(made)


def _full_hours(axis: Axis) -> Iterator[float]:
    first = datetime.fromtimestamp(axis.start, UTC).replace(minute=0, second=0, microsecond=0)
    quarter = timedelta(minutes=15)  # some zones stand a quarter of an hour aside
    at = first
    while at.timestamp() <= axis.end:
        if at.timestamp() >= axis.start and axis.local(at.timestamp()).minute == 0:
            yield at.timestamp()
        at += quarter


def _marks(plan: Plan, axis: Axis, height: float) -> str:
    """Return the lines of now and of the earliest release, each with its word."""
    now, first = _seconds(plan.now), _seconds(plan.release_at)
    made = []
    if now is not None and now >= axis.start:
        words = clock(axis.local(now).isoformat(), beside=plan.release_at)
        made.append(_mark(axis.x(now), height, f"now {words}", cls="now", y=13.0))
    if first is not None:
        made.append(_mark(axis.x(first), height, f"earliest {clock(plan.release_at)}", cls="first", y=13.0))
    if len(made) == 2 and now is not None and first is not None:
        # both at the left: the second stands after the first on the same line
        made[1] = _mark(
            axis.x(first), height, f"earliest release {clock(plan.release_at)}", cls="first", y=13.0,
            text_x=max(axis.x(first), axis.x(now) + 118),
        )  # fmt: skip
    return "".join(made)


def _mark(x: float, height: float, words: str, *, cls: str, y: float, text_x: float | None = None) -> str:
    at = x if text_x is None else text_x
    anchor = "start" if at < WIDTH * 0.6 else "end"
    at = max(1.0, at) if anchor == "start" else min(WIDTH - 1, at)
    return f'<path class="{cls}" d="M{x:.1f} 18V{height:g}"/>{_text(at, y, words, anchor=anchor)}'


def _row(axis: Axis, k: int, name: str, spans: Spans, *, last: bool) -> str:
    top = _HEAD + k * _ROW
    bars = "".join(
        f'<rect class="bar-{"all" if last else "one"}" x="{axis.x(a):.1f}" y="{top + 4:g}"'
        f' width="{max(1.0, axis.x(b) - axis.x(a)):.1f}" height="{_BAR:g}"/>'
        for a, b in spans.parts
        if a < axis.end and b > axis.start
    )
    words = f"{name}" if bars else f"{name}: no time"
    return f"{_text(2, top, words, anchor='start', cls='name')}{bars}"


def _text(x: float, y: float, words: str, *, anchor: str, cls: str = "") -> str:
    kind = f' class="{cls}"' if cls else ""
    return f'<text{kind} x="{x:.1f}" y="{y:g}" text-anchor="{anchor}">{escape(words)}</text>'
