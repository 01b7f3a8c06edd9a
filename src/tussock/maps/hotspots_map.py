"""The rates map: edges, clusters, cells, ring test and standby on the region's own ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tussock.ground.region import Region
from tussock.hotspots.bands import EdgeEffect
from tussock.hotspots.found import STANDS_OUT, Hotspots, Rates
from tussock.maps.ground_from_region import ground_sketch, unprojected
from tussock.maps.ground_sketch import GroundSketch, encoded, layer_names
from tussock.maps.ground_style import PATTERNS, Pair, Style
from tussock.maps.hotspots_clusters import cylinder_letter
from tussock.maps.hotspots_rates import (
    LEAST_KNOWN_WORDS,
    STEP_WORDS,
    cell_signs,
    flagged,
    steps_of,
)
from tussock.maps.hotspots_words import MORE, count, edge_name, edge_verdict, figure, middle
from tussock.maps.legend import ground_rows, switch_row
from tussock.maps.marks import NORTH, swatch
from tussock.maps.plan_map import HATCH, INK, circle_ring, draw_ground, known_within

if TYPE_CHECKING:
    from tussock.maps.canvas import Canvas

LABEL = "Map of calls for each home, over the district's rate"
MOST_LABELS = 8
"""Flagged cells with a label on the map; the others are outlined."""
_AIR = 0.05
_LEAST_REACH_M = 500.0
_TAIL = 0.05
"""Share of the homes on each side that the first view leaves out."""
RATE_FILLS: tuple[Pair, ...] = (
    ("rgba(94,60,153,0.55)", "rgba(150,120,205,0.55)"),
    ("rgba(178,171,210,0.55)", "rgba(115,105,150,0.5)"),
    ("rgba(247,247,247,0.35)", "rgba(120,120,120,0.25)"),
    ("rgba(253,184,99,0.6)", "rgba(190,130,60,0.55)"),
    ("rgba(230,97,1,0.62)", "rgba(240,130,50,0.65)"),
)
"""PuOr in five classes, ColorBrewer 2.0 (from memory), more than half opaque; dark: the same hues."""
RATE_PATTERNS = ("furrows", "dashes", None, "sparse dots", "crosses")
"""Steps are told apart without colour: lines below the district's rate, points and crosses above."""
_MARK: Pair = ("rgba(20,24,27,0.55)", "rgba(243,245,246,0.6)")
_EDGE: Pair = ("#0b5a3c", "#8fe3b8")


def rate_style(step: int) -> Style:
    """Return how cells of a step are drawn."""
    return Style(STEP_WORDS[step], RATE_FILLS[step], RATE_PATTERNS[step], _MARK, ("#8b8d8f", "#7d8185"), 0.6)


UNTESTED = Style("", None, "rising", ("#8a8d91", "#7d8388"), ("#8a8d91", "#7d8388"), 1.0, "3 3")
FLAGGED = Style("", stroke=INK, weight=3.0)
RING = Style("", stroke=INK, weight=2.4, dash="2 4")
EDGES = Style("", stroke=_EDGE, weight=3.6)
OTHER_EDGES = Style("", stroke=_EDGE, weight=1.8, dash="7 4")
CLUSTER = Style("", stroke=INK, weight=2.6, dash="12 5")
NOT_SHOWN_CLUSTER = Style("", stroke=INK, weight=1.4, dash="2 5")
MONTHS = Style("", stroke=INK, weight=2.4, dash="12 4 2 4")


def draw(sheet: Canvas, found: Hotspots, ground: GroundSketch) -> None:
    """Put everything on the canvas, from the bottom up: cells first, edges and circles above them."""
    draw_ground(sheet, ground)
    hatch = {**PATTERNS["not known"].payload(), "colour": HATCH}
    outside = encoded([known_within(ground)]).get("areas")
    sheet.draw("wash", layer="unknown", level="unknown", z=260, on=True, pattern=hatch, outside=outside)
    if found.rates is not None:
        _draw_cells(sheet, found, found.rates)
    _draw_edges(sheet, found)
    _draw_circles(sheet, found)
    _draw_points(sheet, found)
    whole = _view(found, ground)
    sheet.draw("view", first="homes", all=whole, homes=_homes_view(found) or whole)


def sketch_of(found: Hotspots, region: Region) -> GroundSketch:
    """Return the ground round everything that is drawn, as it stood at the end of the time observed."""
    west, south, east, north = _box(found, region)
    air = max(_LEAST_REACH_M, _AIR * 4 * max(east - west, north - south))
    box = (west - air, south - air, east + air, north + air)
    said = dict.fromkeys(s.attribution for s in region.file.layers.values() if s.attribution)
    drawn = ground_sketch(region, box=box, day=found.asked.last, attributions=tuple(said))
    dates = {n: words.replace("the release day", "the last day observed") for n, words in drawn.dates.items()}
    return replace(drawn, dates=dates)


def _box(found: Hotspots, region: Region) -> tuple[float, float, float, float]:
    """Return the box of the cells [m]; without cells that of the homes and incidents."""
    if found.rates is not None and len(found.rates.cells.polygons):
        west, south, east, north = shapely.total_bounds(found.rates.cells.polygons)
        return float(west), float(south), float(east), float(north)
    x = np.concatenate([found.exposure.x, found.incidents.x])
    y = np.concatenate([found.exposure.y, found.incidents.y])
    if not len(x):
        return region.bounds
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _view(found: Hotspots, ground: GroundSketch) -> list[list[float]]:
    if found.rates is not None and len(found.rates.cells.polygons):
        west, south, east, north = shapely.total_bounds(_degrees(found, list(found.rates.cells.polygons)))
    else:
        west, south, east, north = ground.bounds
    return [[float(south), float(west)], [float(north), float(east)]]


def _homes_view(found: Hotspots) -> list[list[float]]:
    """Return the box of the middle of the homes and of what stands out; empty without homes."""
    x, y = found.exposure.x, found.exposure.y
    if not len(x):
        return []
    (west, east), (south, north) = (np.quantile(v, (_TAIL, 1 - _TAIL)) for v in (x, y))
    for told in found.clusters.standing_out if found.clusters else ():
        (cx, cy), r = told.cluster.centre, told.cluster.radius_m
        west, east = min(west, cx - r), max(east, cx + r)
        south, north = min(south, cy - r), max(north, cy + r)
    air = max(_LEAST_REACH_M, _AIR * (east - west)) / 2
    lon, lat = found.lonlat(np.array([west - air, east + air]), np.array([south - air, north + air]))
    return [[float(lat[0]), float(lon[0])], [float(lat[1]), float(lon[1])]]


def _degrees(found: Hotspots, geometries: Sequence[BaseGeometry]) -> list[BaseGeometry]:
    """Return geometries of the plane in degrees."""
    flat = np.array([*geometries, None], dtype=object)[:-1]
    return list(unprojected(flat, found.plane)) if len(flat) else []


def _draw_cells(sheet: Canvas, found: Hotspots, rates: Rates) -> None:
    polygons = _degrees(found, list(rates.cells.polygons))
    steps = steps_of(rates.smoothed.ratio.tolist())
    for step in range(len(STEP_WORDS)):
        chosen = [p for p, s in zip(polygons, steps, strict=True) if s == step]
        _areas(sheet, chosen, rate_style(step), layer="rates")
    known = np.flatnonzero(~rates.cells.tested & (rates.cells.homes_high > 0))
    _areas(sheet, [polygons[i] for i in known], UNTESTED, layer="untested")
    sure = flagged(rates)
    _areas(sheet, [polygons[i] for i in sure], FLAGGED, layer="flagged")
    ring = np.flatnonzero(rates.ring.flagged)
    _areas(sheet, [polygons[i].buffer(0) for i in ring], RING, layer="ring", on=False)
    for k, i in enumerate(sure[:MOST_LABELS], start=1):
        at = shapely.centroid(polygons[i])
        _label(sheet, str(k), at.x, at.y, layer="flagged")


def _areas(
    sheet: Canvas, polygons: Sequence[BaseGeometry], style: Style, *, layer: str, on: bool = True
) -> None:
    found = encoded(list(polygons)).get("areas") if polygons else None
    if found:
        sheet.draw("disc", layer=layer, on=on, style=style.payload(), areas=found)


def _label(sheet: Canvas, words: str, longitude: float, latitude: float, *, layer: str) -> None:
    sheet.draw("label", layer=layer, text=words, at=[round(latitude, 6), round(longitude, 6)])


def _draw_edges(sheet: Canvas, found: Hotspots) -> None:
    for effect in found.edges:
        first, more = effect is found.headline, edge_verdict(effect) == MORE
        layer = "edges" if first else "more edges" if more else "other edges"
        style = EDGES if more else OTHER_EDGES
        drawn = _outlines(found, effect)
        lines = encoded(drawn).get("lines")
        if not lines:
            continue
        sheet.draw("line", layer=layer, on=first, stroke=style.stroke, weight=style.weight, dash=style.dash,
                   lines=lines)  # fmt: skip
        if first:
            at = _label_place(found, drawn)
            _label(sheet, f"{edge_name(effect)}: {effect_words(effect)}", at[0], at[1], layer=layer)


def effect_words(effect: EdgeEffect) -> str:
    """Return the ratio as short as a label must be."""
    return f"{figure(middle(effect.ratio))} times"


def _outlines(found: Hotspots, effect: EdgeEffect) -> list[BaseGeometry]:
    """Return what is drawn of an edge as lines in degrees: areas by their outline."""
    parts = shapely.get_parts(np.asarray(effect.edge.geometries, dtype=object))
    lines = [shapely.boundary(p) if shapely.get_dimensions(p) == 2 else p for p in parts]
    reach = shapely.box(*_around(found))
    cut = [shapely.intersection(g, reach) for g in lines if shapely.get_dimensions(g) == 1]
    return _degrees(found, [g for g in cut if not g.is_empty])


def _around(found: Hotspots) -> tuple[float, float, float, float]:
    west, south, east, north = found.extent.bounds
    return west, south, east, north


def _label_place(found: Hotspots, drawn: Sequence[BaseGeometry]) -> tuple[float, float]:
    """Return the point of the longest line, among homes, that is farthest from what else has a label."""
    lines = shapely.get_parts(np.array(list(drawn), dtype=object))
    longest = max(lines, key=lambda g: float(g.length))
    points = [longest.interpolate(k, normalized=True) for k in np.linspace(0.02, 0.98, 25)]
    box = _homes_view(found)
    if box:
        (south, west), (north, east) = box
        inner = shapely.box(west, south, east, north)
        inner = shapely.affinity.scale(inner, 0.8, 0.9)
        points = [p for p in points if inner.covers(p)] or points
    told = found.clusters.standing_out if found.clusters else ()
    taken = [(t.longitude, t.latitude) for t in told] + list(found.standby.points if found.standby else ())
    others = shapely.multipoints(taken) if taken else shapely.centroid(longest)
    at = max(points, key=lambda p: float(shapely.distance(p, others)))
    return float(at.x), float(at.y)


def _draw_circles(sheet: Canvas, found: Hotspots) -> None:
    if found.clusters is not None:
        for k, told in enumerate(found.clusters.told, start=1):
            name = "clusters" if told.stands_out else "other clusters"
            style = CLUSTER if told.stands_out else NOT_SHOWN_CLUSTER
            radius = told.cluster.radius_m
            words = f"Cluster {k}" if told.stands_out else f"Circle {k}, not shown"
            _circle(sheet, (told.longitude, told.latitude), radius, words, style, layer=name)
    if found.space_time is not None:
        for k, c in enumerate(found.space_time.scan.cylinders):
            if c.p <= STANDS_OUT:
                words = f"Combination {cylinder_letter(k)}"
                _circle(sheet, found.space_time.centres[k], c.radius_m, words, MONTHS, layer="months")


def _circle(
    sheet: Canvas, at: tuple[float, float], radius_m: float, words: str, style: Style, *, layer: str
) -> None:
    # a circle of a single cell has no radius: drawn wide enough to be seen
    ring = Polygon(circle_ring(*at, max(radius_m, 100.0), points=73))
    _areas(sheet, [ring], style, layer=layer, on=layer != "other clusters")
    if layer != "other clusters":
        _label(sheet, words, at[0], float(ring.bounds[3]), layer=layer)


def _draw_points(sheet: Canvas, found: Hotspots) -> None:
    if found.standby is not None:
        for k, (lon, lat) in enumerate(found.standby.points, start=1):
            _label(sheet, f"Stand by {k}", lon, lat, layer="standby")
    if found.asked.base is not None:
        _label(sheet, "Base", *found.asked.base, layer="base")


def map_part(found: Hotspots, ground: GroundSketch) -> str:
    """Return the map's place in the page, its key and legend."""
    credit = "; ".join((*ground.attributions, "map drawn with Leaflet"))
    tools = (
        '<div class="map-tools"><button type="button" data-view="homes">Most homes</button>'
        '<button type="button" data-view="all">All</button></div>'
    )
    return (
        f'<section class="map-part" aria-label="Map"><div class="map-box"><!--map-->{NORTH}{tools}</div>'
        '<noscript><p class="block">The map needs scripts; the rest of the page does not.</p></noscript>'
        f'{_key(found)}<p class="credits">{escape(credit)}</p><p class="print-scale"></p>'
        f"{_legend(found, ground)}</section>"
    )


def _key(found: Hotspots) -> str:
    """Return the line beneath the map that must be read without opening anything."""
    if found.rates is None:
        return ""
    steps = "".join(
        f"<span>{swatch(rate_style(k), f'k-rate-{k}')} {escape(words)}</span>"
        for k, words in enumerate(STEP_WORDS)
    )
    bold = swatch(FLAGGED, "k-flagged")
    sure = f"{bold} surely above, P(RR&gt;1) over 0.95; numbers as in the table"
    return (
        '<p class="key"><b>Incidents for each home, over the district&#x27;s</b></p>'
        f'<p class="key">{steps}<span>{sure}</span></p>'
    )


def _legend(found: Hotspots, ground: GroundSketch) -> str:
    rows = ""
    more = [e for e in found.edges if edge_verdict(e) == MORE]
    if found.headline is not None:
        rows += switch_row("edges", swatch(EDGES, "l-edges"), "The edge of the headline")
    if len(more) > 1:
        rows += switch_row("more edges", swatch(EDGES, "l-more-edges"), "Others whose homes call more often")
    if len(more) < len(found.edges):
        rows += switch_row("other edges", swatch(OTHER_EDGES, "l-other-edges"), "Other edges")
    rows += _circle_rows(found) + _rate_rows(found)
    if found.standby is not None:
        rows += switch_row("standby", "", count(len(found.standby.points), "point") + " to stand by at")
    if found.asked.base is not None:
        rows += switch_row("base", "", "Base")
    hatch = swatch(Style("", None, "not known", HATCH), "l-hatch")
    rows += switch_row("unknown", hatch, "Not known: beyond the data")
    land = "".join(ground_rows(name, ground) for name in layer_names(ground))
    return (
        '<details class="legend"><summary>Layers and legend</summary><div class="legend-body">'
        f"<fieldset><legend>What is found</legend>{rows}</fieldset>"
        f"<fieldset><legend>Ground, as mapped</legend>{land}</fieldset></div></details>"
    )


def _circle_rows(found: Hotspots) -> str:
    rows = ""
    if found.clusters is not None:
        told = found.clusters.told
        if any(t.stands_out for t in told):
            rows += switch_row("clusters", swatch(CLUSTER, "l-clusters"), "Clusters that stand out")
        if not all(t.stands_out for t in told):
            picture = swatch(NOT_SHOWN_CLUSTER, "l-other-clusters")
            rows += switch_row("other clusters", picture, "Circles that do not stand out")
    if found.space_time is not None and found.space_time.scan.standing_out(p=STANDS_OUT):
        rows += switch_row("months", swatch(MONTHS, "l-months"), "Unusual place and months")
    return rows


def _rate_rows(found: Hotspots) -> str:
    if found.rates is None:
        return ""
    told = found.rates
    rows = switch_row("rates", "", "Smoothed rate over the district's, in five steps")
    rows += switch_row(
        "flagged", swatch(FLAGGED, "l-flagged"), "Surely above the district: P(RR>1) over 0.95"
    )
    if told.ring.flagged.any():
        rows += switch_row("ring", swatch(RING, "l-ring"), "Above the cells around (ring test)")
    if any(cell_signs(told, i)[0][0] == "open" for i in range(len(told.cells.names))):
        rows += switch_row("untested", swatch(UNTESTED, "l-untested"), LEAST_KNOWN_WORDS)
    return rows
