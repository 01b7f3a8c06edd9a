"""The one canvas: a folium map that asks no host for anything, with our own page around it.

Everything drawn goes through :class:`Drawn`, which hands JSON to ``canvas.js``; text never passes
through a template, so a name holding ``{{ }}`` or ``<script>`` stays text. Element ids are counters.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from importlib.resources import files
from typing import Any

import folium
from branca.element import Element, Figure
from jinja2 import Template

LEAFLET = "js_lib_leaflet"
POLICY = (
    "default-src 'none'; img-src data: blob:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
)
"""What the page may load: nothing but what it carries. Scripts are added by their hashes."""
MAP_TEMPLATE = Template(
    """{% macro html(this, kwargs) %}<div class="canvas" id={{ this.get_name()|tojson }} role="application"
 aria-roledescription="map" aria-label="{{ this.label|e }}"></div>{% endmacro %}
{% macro script(this, kwargs) %}
tussock.open({{ this.get_name()|tojson }}, {{ this.leaflet|tojson }});
{% endmacro %}"""
)


class OfflineMap(folium.Map):
    """A folium map without tiles, remote scripts or remote styles."""

    default_js: list[tuple[str, str]] = []  # noqa: RUF012  folium's own name and type
    default_css: list[tuple[str, str]] = []  # noqa: RUF012  the same
    _template = MAP_TEMPLATE

    def __init__(self, *, label: str, bounds: Sequence[Sequence[float]]) -> None:
        (south, west), (north, east) = bounds
        centre = [(south + north) / 2, (west + east) / 2]
        super().__init__(location=centre, tiles=None, prefer_canvas=True, zoom_control=False)
        self.label = label
        self.leaflet = {"centre": centre, "limits": [list(b) for b in bounds]}


class Raw(Element):
    """Text that is put into the page as it stands, never read as a template."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def render(self, **kwargs: Any) -> str:
        """Return the text."""
        return self.text


class Drawn(Element):
    """One thing on the map: a kind that ``canvas.js`` or a map's own script knows, and its data."""

    def __init__(self, kind: str, data: Mapping[str, Any]) -> None:
        super().__init__()
        self._name = "drawn"
        self.kind, self.data = kind, data

    def render(self, **kwargs: Any) -> str:
        """Put the call into the page's script."""
        root = self.get_root()
        assert isinstance(root, Figure)
        root.script.add_child(
            Raw(f"tussock.draw({script_json(self.kind)},{script_json(self.data)});"), name=self._id
        )
        return ""


class Canvas:
    """A map to draw on, and the page that carries it.

    Parameters
    ----------
    label
        What the map shows, for those who hear it read.
    limits
        [[south, west], [north, east]] beyond which the map does not move.
    """

    def __init__(self, *, label: str, limits: Sequence[Sequence[float]]) -> None:
        self._map = OfflineMap(label=label, bounds=limits)

    def draw(self, kind: str, **data: Any) -> None:
        """Put one thing on the map, above what was drawn before in the same pane."""
        self._map.add_child(Drawn(kind, data))

    def page(
        self, *, title: str, body: str, styles: Sequence[str], scripts: Sequence[str], language: str = "en"
    ) -> str:
        """Return the whole page.

        Parameters
        ----------
        title
            Plain text.
        body
            HTML whose user text is escaped already; ``<!--map-->`` marks the map's place.
        styles, scripts
            Names of files beside this module, after Leaflet's and the canvas's own.
        """
        figure = Figure()
        figure.add_child(self._map)
        number(figure)
        self._map.render()  # type: ignore[no-untyped-call]  # folium has no types
        here: str = figure.html.render()
        inner = body.replace("<!--map-->", here, 1)
        calls = "\n".join(child.render() for child in figure.script._children.values())
        code = [
            leaflet_script(),
            asset("canvas.js"),
            *(asset(s) for s in scripts),
            calls + "\ntussock.ready();",
        ]
        css = [leaflet_style(), asset("page.css"), *(asset(s) for s in styles)]
        return page_html(title=title, body=inner, styles=css, scripts=code, language=language)


def page_html(
    *, title: str, body: str, styles: Sequence[str], scripts: Sequence[str], language: str = "en"
) -> str:
    """Return a self-contained page whose policy lets nothing load and no other script run.

    Parameters
    ----------
    title
        Plain text; escaped here.
    body
        HTML whose user text is escaped already.
    styles, scripts
        Their text.
    """
    from tussock import __version__

    hashes = " ".join(f"'sha256-{_hash(s)}'" for s in scripts) or "'none'"
    policy = f"{POLICY}; script-src {hashes}"
    head = (
        f'<!DOCTYPE html>\n<html lang="{escape(language)}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="generator" content="Tussock {__version__}">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n<meta name="referrer" content="no-referrer">\n'
        f"<title>{escape(title)}</title>\n"
    )
    css = "".join(f"<style>{s}</style>\n" for s in styles)
    code = "".join(f"<script>{s}</script>\n" for s in scripts)
    return f"{head}{css}</head>\n<body>\n{body}\n{code}</body>\n</html>\n"


def script_json(data: object) -> str:
    """Return JSON that is inert inside a script tag.

    Raises
    ------
    ValueError
        When it holds nan or an infinity, which JSON has no word for.
    """
    text = json.dumps(data, separators=(",", ":"), allow_nan=False)
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def number(root: Element) -> None:
    """Give every element below ``root`` a counter for an id: branca's own are random."""
    for count, element in enumerate(_walk(root)):
        element._id = f"e{count}"


def _walk(element: Element) -> Iterator[Element]:
    yield element
    for child in element._children.values():
        yield from _walk(child)


def asset(name: str) -> str:
    """Return the text of a file in ``maps/static``."""
    return (files("tussock.maps") / "static" / name).read_text("utf-8")


def leaflet_script() -> str:
    """Return Leaflet's script from the installed package, without its note to a source map."""
    text = _leaflet("leaflet.js")
    return re.sub(r"//# sourceMappingURL=\S*", "", text).strip() + "\n"


def leaflet_style() -> str:
    """Return Leaflet's style from the installed package, without pictures: none of its own are used."""
    text = re.sub(r"url\(images/[^)]*\)", "none", _leaflet("leaflet.css"))
    return text.replace("behavior: url(#default#VML);", "")


def _leaflet(name: str) -> str:
    return (files(LEAFLET) / "static" / LEAFLET / name).read_text("utf-8")


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
