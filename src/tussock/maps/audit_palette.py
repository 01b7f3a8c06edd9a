"""The colours and patterns of an audit's small maps, each written into the page once."""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape

from tussock.maps.audit_frame import TENTHS
from tussock.maps.ground_style import PATTERNS, Style, layer_words
from tussock.maps.marks import swatch

HATCHES = (
    '<pattern id="h-missing" width="7" height="7" patternUnits="userSpaceOnUse">'
    '<path class="hatch-line" d="M0 7L7 0M-1 1L1 -1M6 8L8 6"/></pattern>'
    '<pattern id="h-uncertain" width="7" height="7" patternUnits="userSpaceOnUse">'
    '<rect class="hatch-dot" x="1" y="1" width="3" height="3"/></pattern>'
    '<pattern id="h-unknown" width="120" height="120" patternUnits="userSpaceOnUse">'
    '<path class="hatch-line wide" d="M0 120L120 0"/></pattern>'
)
"""Of the plots' bars, and of ground in the small maps that is not known."""


@dataclass
class Palette:
    """Collects the styles of all small maps of a page; each is written into the page once."""

    _names: dict[Style, str] = field(default_factory=dict)
    _layers: dict[Style, str] = field(default_factory=dict)

    def name(self, style: Style, layer: str) -> str:
        """Return the class of a style."""
        self._layers.setdefault(style, layer)
        return self._names.setdefault(style, f"g{len(self._names)}")

    def definitions(self) -> str:
        """Return the patterns, in a drawing of no size."""
        drawn = "".join(_pattern(style, name) for style, name in self._names.items() if style.pattern)
        inner = HATCHES + drawn
        return f'<svg class="defs" width="0" height="0" aria-hidden="true"><defs>{inner}</defs></svg>'

    def style_sheet(self) -> str:
        """Return the styles by day and dark."""
        by_day = "".join(_rule(style, name, dark=False) for style, name in self._names.items())
        dark = "".join(_rule(style, name, dark=True) for style, name in self._names.items())
        return f"{by_day}\n@media screen and (prefers-color-scheme: dark) {{ {dark} }}"

    def legend(self) -> str:
        """Return swatch and words of every style drawn; styles of the same words share one."""
        once = {_words(style, self._layers[style]): (style, name) for style, name in self._names.items()}
        rows = "".join(
            f"<li>{swatch(style, f'k-{name}')} {escape(words)}</li>" for words, (style, name) in once.items()
        )
        return f'<ul class="classes">{rows}</ul>' if rows else ""


def _words(style: Style, layer: str) -> str:
    return style.words or layer_words(layer)


def _pattern(style: Style, name: str) -> str:
    pattern = PATTERNS[style.pattern or ""]
    return (
        f'<pattern id="p-{name}" width="{pattern.size * TENTHS}" height="{pattern.size * TENTHS}"'
        f' patternUnits="userSpaceOnUse"><path class="m-{name}" d="{pattern.path}" fill="none"'
        f' transform="scale({TENTHS})" stroke-width="{pattern.width:g}"/></pattern>'
    )


def _rule(style: Style, name: str, *, dark: bool) -> str:
    k = int(dark)
    rules = f".{name} {{ fill: {style.fill[k] if style.fill else 'none'};"
    if style.stroke:
        dash = f" stroke-dasharray: {_tenfold(style.dash)};" if style.dash else ""
        rules += f" stroke: {style.stroke[k]}; stroke-width: {style.weight * TENTHS:g};{dash}"
    rules += " }"
    if style.pattern:
        rules += f" .m-{name} {{ stroke: {style.mark[k]}; }} .o-{name} {{ fill: url(#p-{name}); }}"
    return rules


def _tenfold(dash: str) -> str:
    return " ".join(f"{float(part) * TENTHS:g}" for part in dash.split())
