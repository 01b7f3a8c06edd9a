"""Pieces of the hotspots' drawings: a figure with its claim as title, text, scales, intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

WIDTH = 330.0
"""Of a drawing [units]: one unit is a pixel on a phone of 360 pixels."""
TICKS = (1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0)
TICK_WORDS = ("1/32", "1/16", "1/8", "1/4", "1/2", "1", "2", "4", "8", "16", "32", "64")


def plot(claim: str, height: float, inner: str, note: str, *, said: Sequence[str]) -> str:
    """Return a figure: the claim, the drawing, and how to read it; all but ``inner`` is plain text.

    Parameters
    ----------
    said
        The figures that are drawn, in words, for those who hear the page read.
    """
    box = f'viewBox="0 0 {WIDTH:g} {height:g}"'
    heard = escape(f"{claim}. {'; '.join(said)}.")
    drawing = f'<svg {box} role="img" aria-label="{heard}">{inner}</svg>' if height else ""
    return (
        f'<figure class="plot"><figcaption>{escape(claim)}</figcaption>{drawing}'
        f'<p class="note">{escape(note)}</p></figure>'
    )


def text(x: float, y: float, words: str, *, anchor: str = "start", cls: str = "") -> str:
    """Return a text at a point."""
    kind = f' class="{cls}"' if cls else ""
    return f'<text{kind} x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'


def line(d: str, cls: str) -> str:
    """Return a path."""
    return f'<path class="{cls}" d="{d}"/>'


class Ratios:
    """A scale of ratios: equal steps are equal factors, 1 is always on it.

    Parameters
    ----------
    values
        What must be seen, as far as it lies between 1/32 and 64.
    left, right
        Where the scale begins and ends [units].
    """

    def __init__(self, values: Sequence[float], *, left: float, right: float) -> None:
        seen = [min(max(v, TICKS[0]), TICKS[-1]) for v in values if not math.isnan(v)]
        low, high = min([0.5, *seen]), max([2.0, *seen])
        self.low = max(t for t in TICKS if t <= low)
        self.high = min(t for t in TICKS if t >= high)
        self.left, self.right = left, right

    def at(self, value: float) -> float:
        """Return where a ratio lies [units]; those beyond the ends lie at them."""
        inside = min(max(value, self.low), self.high)
        part = math.log(inside / self.low) / math.log(self.high / self.low)
        return self.left + part * (self.right - self.left)

    @property
    def ticks(self) -> list[tuple[float, str]]:
        """Where marks stand, and their words."""
        held = zip(TICKS, TICK_WORDS, strict=True)
        return [(self.at(t), said) for t, said in held if self.low <= t <= self.high]


class Amounts:
    """A scale that begins at 0 and ends at a round figure."""

    def __init__(self, most: float, *, start: float, end: float) -> None:
        self.most = rounded_up(most)
        self.start, self.end = start, end

    def at(self, value: float) -> float:
        """Return where a value lies [units]; those beyond the end lie at it."""
        return self.start + min(value / self.most, 1.0) * (self.end - self.start)


def rounded_up(value: float) -> float:
    """Return the least round figure that is not below a value; 1 for none."""
    if not 0 < value < math.inf:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(
        k * power for k in (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10) if k * power >= value * (1 - 1e-9)
    )


def across(low: float, high: float, y: float, *, open_low: bool = False, open_high: bool = False) -> str:
    """Return an interval lying from ``low`` to ``high``; an end that goes on beyond is an arrow."""
    left = f"M{low + 5:.1f} {y - 4:.1f}L{low:.1f} {y:.1f}l5 4" if open_low else f"M{low:.1f} {y - 4:.1f}v8"
    right = f"M{high:.1f} {y - 4:.1f}v8"
    if open_high:
        right = f"M{high - 5:.1f} {y - 4:.1f}L{high:.1f} {y:.1f}l-5 4"
    return line(f"M{low:.1f} {y:.1f}H{high:.1f}{left}{right}", "span")


def upright(x: float, low: float, high: float) -> str:
    """Return an interval standing at ``x`` from ``low`` to ``high``."""
    return line(f"M{x:.1f} {low:.1f}V{high:.1f}M{x - 2:.1f} {low:.1f}h4M{x - 2:.1f} {high:.1f}h4", "span")


def dot(x: float, y: float, *, full: bool = True) -> str:
    """Return the mark of a value: full where it stands out, hollow where it does not."""
    return f'<circle class="{"dot-full" if full else "dot-open"}" cx="{x:.1f}" cy="{y:.1f}" r="5"/>'


_SHAPES = {
    "full": '<circle cx="8" cy="8" r="6" fill="currentColor"/>',
    "half": '<circle cx="8" cy="8" r="5.6"/><path d="M8 2.4a5.6 5.6 0 0 0 0 11.2z" fill="currentColor"/>',
    "cross": '<path d="M3 3l10 10M13 3L3 13" stroke-width="2.6"/>',
    "open": '<circle cx="8" cy="8" r="5.6"/>',
}


def finding_mark(shape: str, words: str) -> str:
    """Return a finding as shape and words: full ● told, half ◐ not shown, cross ✕, open ○ not tested."""
    return (
        '<span class="verdict"><svg viewBox="0 0 16 16" width="16" height="16" fill="none"'
        f' stroke="currentColor" stroke-width="1.8" aria-hidden="true">{_SHAPES[shape]}</svg>'
        f" {escape(words)}</span>"
    )
