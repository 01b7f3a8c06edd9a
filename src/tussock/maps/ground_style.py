"""How the ground looks: muted fills, thin grey lines, and a pattern a class so that hue is never alone.

Colours are pairs, by day and dark. Choice of this project.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Pair = tuple[str, str]


@dataclass(frozen=True)
class Pattern:
    """A repeated drawing: an SVG path in a square tile of ``size`` pixels, with words where they must be."""

    path: str
    size: int
    width: float = 1.0
    words: str = ""

    def payload(self) -> dict[str, Any]:
        """Return it as the canvas script takes it."""
        return {"d": self.path, "size": self.size, "width": self.width, "words": self.words}


PATTERNS = {
    "dots": Pattern("M2 2h1.6v1.6h-1.6zM8 8h1.6v1.6h-1.6z", 12, 1.2),
    "sparse dots": Pattern("M3 3h1.6v1.6h-1.6zM13 11h1.6v1.6h-1.6z", 20, 1.2),
    "hooks": Pattern("M3 8l3-4l3 4M13 18l3-4l3 4", 20),
    "ticks": Pattern("M5 4v5M15 14v5", 20),
    "dashes": Pattern("M1 4h7M11 12h7", 20),
    "waves": Pattern("M0 6q3 -3 6 0t6 0t6 0t6 0", 24),
    "triangles": Pattern("M4 9l3-5l3 5zM14 19l3-5l3 5z", 20),
    "grains": Pattern("M4 4h1M14 8h1M8 15h1M18 18h1", 20, 1.4),
    "furrows": Pattern("M0 5h20M0 15h20", 20, 0.7),
    "crosses": Pattern("M6 3v6M3 6h6M16 13v6M13 16h6", 20),
    "falling": Pattern("M0 0l10 10M-2 8l4 4M8 -2l4 4", 10, 1.6),
    "rising": Pattern("M0 10l10 -10M-2 2l4 -4M8 12l4 -4", 10, 1.6),
    "level": Pattern("M0 3h8", 8, 1.8),
    "upright": Pattern("M3 0v8", 8, 1.8),
    "net": Pattern("M0 0l12 12M0 12l12 -12", 12, 1.3),
    "grid": Pattern("M0 5h10M5 0v10", 10, 1.3),
    "beads": Pattern("M3 3h2.6v2.6h-2.6z", 8, 1.8),
    "rings": Pattern("M9 6a3 3 0 1 0 -6 0a3 3 0 1 0 6 0", 12, 1.4),
    "not known": Pattern(
        "".join(f"M0 {y}L{y} 0M{y} 192L192 {y}" for y in range(0, 193, 32)), 192, 1, "not known"
    ),
}
REASON_PATTERNS = ("falling", "rising", "level", "upright", "net", "grid", "beads", "rings")
"""Given to single reasons in turn, so that two switched on together can be told apart without colour."""


@dataclass(frozen=True)
class Style:
    """A class of ground: its words and how it is drawn. Below ``from_zoom`` it is left out."""

    words: str
    fill: Pair | None = None
    pattern: str | None = None
    mark: Pair = ("#8a9385", "#56605a")
    stroke: Pair | None = None
    weight: float = 1.0
    dash: str = ""
    radius: float = 3.0
    from_zoom: float = 0.0

    def payload(self) -> dict[str, Any]:
        """Return the style as the canvas script takes it; nothing that is not drawn."""
        out: dict[str, Any] = {}
        if self.fill:
            out["fill"] = self.fill
        if self.pattern:
            out["pattern"] = {**PATTERNS[self.pattern].payload(), "colour": self.mark}
        if self.stroke:
            out |= {"stroke": self.stroke, "weight": self.weight, "dash": self.dash}
        if self.from_zoom:
            out["fromZoom"] = self.from_zoom
        return {**out, "radius": self.radius}


ROAD: Pair = ("#8b8d8f", "#7d8185")
_GREEN: Pair = ("#a3b198", "#48564a")
_EARTH: Pair = ("#bdb5a2", "#565044")
_WET: Pair = ("#93aab2", "#4b6470")
BASE: Pair = ("#f1f0ec", "#26292a")
"""Ground inside the known extent that no polygon describes."""

STYLES: dict[tuple[str, str], Style] = {
    ("habitat", "forest"): Style("forest", ("#ccd6c2", "#233026"), "dots", _GREEN),
    ("habitat", "woodland"): Style("woodland", ("#d8e0cc", "#2a362b"), "sparse dots", _GREEN),
    ("habitat", "shrubland"): Style("shrubland", ("#e0e1cd", "#313629"), "hooks", _GREEN),
    ("habitat", "grassland"): Style("grassland", ("#e9e8d6", "#35382b"), "ticks", _GREEN),
    ("habitat", "wetland"): Style("wetland", ("#d3dfdd", "#24363a"), "dashes", _WET),
    ("habitat", "rock"): Style("rock", ("#dbd7d2", "#37342f"), "triangles", _EARTH),
    ("habitat", "bare"): Style("bare ground", ("#ebe4d8", "#3b362c"), "grains", _EARTH),
    ("habitat", "cropland"): Style("cropland", ("#efeadb", "#38352a"), "furrows", ("#d6cdb4", "#4b4737")),
    ("habitat", "garden"): Style("garden", ("#e8ebe0", "#2f342c"), "crosses", ("#cfd6c2", "#3f473c")),
    ("habitat", "built"): Style("built-up", ("#e5e3e2", "#303133")),
    ("habitat", "water"): Style("water", ("#c8d8e2", "#1b3142"), "waves", ("#a3bccb", "#3a5568")),
    ("water", "*"): Style("water", ("#c8d8e2", "#1b3142"), None, stroke=("#93b0c2", "#3a5568"), weight=1.2),
    ("dwellings", "*"): Style("buildings", ("#a5a29e", "#686b6e")),
    ("peopled_places", "*"): Style(
        "peopled places",
        None,
        "grid",
        ("#8d8791", "#78717c"),
        stroke=("#6f6874", "#8c8591"),
        weight=1.2,
        radius=4,
    ),
    ("railways", "*"): Style("railway", stroke=("#77797b", "#8a8d90"), weight=1.6, dash="7 4"),
    ("barriers", "*"): Style("barrier", stroke=("#6b6b6b", "#93969a"), weight=2.2, dash="9 3 2 3"),
    ("excluded", "*"): Style(
        "excluded ground", None, "falling", ("#cbc4be", "#484542"), ("#a59d96", "#5d5955"), 1
    ),
    ("protected", "*"): Style("protected area", stroke=("#6f8a6b", "#6c8a6d"), weight=1.8, dash="2 4"),
    ("parcels", "*"): Style("parcels", stroke=("#b1aca4", "#55585a"), weight=0.7),
    ("permit_area", "*"): Style("permit area", stroke=("#5b6166", "#9aa1a6"), weight=2, dash="14 4"),
    ("roads", "motorway"): Style("motorway", stroke=ROAD, weight=3.2),
    ("roads", "trunk"): Style("trunk road", stroke=ROAD, weight=3.0),
    ("roads", "primary"): Style("primary road", stroke=ROAD, weight=2.4),
    ("roads", "secondary"): Style("secondary road", stroke=ROAD, weight=2.0),
    ("roads", "tertiary"): Style("tertiary road", stroke=ROAD, weight=1.6),
    ("roads", "track"): Style("track", stroke=ROAD, weight=1.0, dash="6 3"),
    ("roads", "path"): Style("path", stroke=ROAD, weight=0.8, dash="2 3", from_zoom=14.5),
    ("roads", "service"): Style("service road", stroke=ROAD, weight=0.8, from_zoom=14.5),
    ("roads", "*"): Style("street", stroke=ROAD, weight=1.1),
}
LAYER_WORDS = {
    "habitat": "Habitat", "water": "Water", "dwellings": "Buildings", "peopled_places": "Peopled places",
    "roads": "Roads", "railways": "Railways", "barriers": "Barriers", "excluded": "Excluded ground",
    "protected": "Protected areas", "parcels": "Parcels", "permit_area": "Permit area",
}  # fmt: skip
OFF_AT_FIRST = frozenset({"parcels", "permit_area"})
_ADDED = Style("", None, "grains", ("#8d8791", "#78717c"), ("#7b7580", "#8c8591"), 1.2, "4 2")


def style_of(layer: str, name: str) -> Style:
    """Return the style of a class; a layer the region adds gets a plain outlined one with its own name."""
    found = STYLES.get((layer, name)) or STYLES.get((layer, "*"))
    if found is not None:
        return found
    words = f"{layer}: {name}" if name else layer
    return Style(
        words.replace("_", " "), *(_ADDED.fill, _ADDED.pattern, _ADDED.mark, _ADDED.stroke, 1.2, "4 2")
    )


def layer_words(layer: str) -> str:
    """Return a layer's name as the legend prints it."""
    return LAYER_WORDS.get(layer, layer.replace("_", " ").capitalize())
