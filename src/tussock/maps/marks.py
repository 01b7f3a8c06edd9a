"""Our own few marks, drawn as SVG: verdict shapes, cross, disc, north arrow, legend swatches."""

from __future__ import annotations

from html import escape

from tussock.interval import Verdict
from tussock.maps.ground_style import PATTERNS, Pair, Style
from tussock.maps.words import verdict_words

_SHAPES = {
    Verdict.MET: '<circle cx="8" cy="8" r="6" fill="currentColor"/>',
    Verdict.UNCERTAIN: '<circle cx="8" cy="8" r="5.6"/>'
    '<path d="M8 2.4a5.6 5.6 0 0 0 0 11.2z" fill="currentColor"/>',
    Verdict.NOT_MET: '<path d="M3 3l10 10M13 3L3 13" stroke-width="2.6"/>',
    Verdict.MISSING: '<circle cx="8" cy="8" r="5.6"/>',
    None: '<path d="M3 8h10" stroke-width="2.2"/>',
}
_SIGNS = {
    Verdict.MET: "met",
    Verdict.UNCERTAIN: "uncertain",
    Verdict.NOT_MET: "not-met",
    Verdict.MISSING: "missing",
}

CROSS = (
    '<svg viewBox="0 0 28 28" width="28" height="28" aria-hidden="true" class="cross">'
    '<path class="halo" d="M14 2v24M2 14h24"/><path class="line" d="M14 2v24M2 14h24"/></svg>'
)
NORTH = (
    '<svg viewBox="0 0 24 40" width="24" height="40" role="img" aria-label="north is up" class="north">'
    '<path class="f" d="M12 2l7 20l-7 -4l-7 4z"/>'
    '<text x="12" y="38" text-anchor="middle" font-size="14">N</text></svg>'
)


def verdict_mark(verdict: Verdict | None, *, words: str | None = None) -> str:
    """Return the verdict as shape and word: met ●, uncertain ◐, not met ✕, missing ○, a dash for none.

    Parameters
    ----------
    words
        Stand in for "not checked" where a clause does not apply.
    """
    return (
        f'<span class="verdict {verdict_class(verdict)}"><svg viewBox="0 0 16 16" width="16" height="16"'
        f' fill="none" stroke="currentColor" stroke-width="1.8" aria-hidden="true">{_SHAPES[verdict]}</svg>'
        f" {escape(words or verdict_words(verdict))}</span>"
    )


def verdict_shape(verdict: Verdict | None) -> str:
    """Return the verdict's shape alone, drawn in a square of 16 for a map's mark."""
    return _SHAPES[verdict]


def verdict_class(verdict: Verdict | None) -> str:
    """Return the class by which the style sheet colours a verdict."""
    return _SIGNS[verdict] if verdict is not None else "open"


def swatch(style: Style, key: str) -> str:
    """Return a legend swatch for a style; ``key`` is an id of its own in the page."""
    inner = ""
    if style.fill:
        inner += f'<rect width="30" height="18" {_paint("f", style.fill)}/>'
    if style.pattern:
        inner += _patterned(style.pattern, style.mark, key)
    if style.stroke:
        dash = f' stroke-dasharray="{style.dash}"' if style.dash else ""
        shape = "M1 1h28v16h-28z" if style.fill or style.pattern else "M0 9h30"
        line = f'fill="none" stroke-width="{style.weight:g}"{dash} {_paint("s", style.stroke)}'
        inner += f'<path d="{shape}" {line}/>'
    return framed(inner)


def framed(inner: str) -> str:
    """Return SVG shapes in a swatch's frame, 30 by 18."""
    return f'<svg class="swatch" viewBox="0 0 30 18" width="30" height="18" aria-hidden="true">{inner}</svg>'


def _patterned(name: str, colour: Pair, key: str) -> str:
    pattern = PATTERNS[name]
    size = pattern.size if not pattern.words else 12
    path = pattern.path if not pattern.words else PATTERNS["rising"].path
    return (
        f'<pattern id="{key}" width="{size}" height="{size}" patternUnits="userSpaceOnUse">'
        f'<path d="{path}" fill="none" stroke-width="{pattern.width:g}" {_paint("s", colour)}/></pattern>'
        f'<rect width="30" height="18" fill="url(#{key})"/>'
    )


def _paint(part: str, pair: Pair) -> str:
    """Return class and custom properties that the style sheet turns into a fill or stroke by day and dark."""
    return f'class="{part}" style="--l:{pair[0]};--d:{pair[1]}"'
