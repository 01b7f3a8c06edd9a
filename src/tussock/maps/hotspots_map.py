"""The rates map: edges, clusters, cells, ring test and standby on the region's own ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from tussock.ground.region import Region
from tussock.hotspots.bands import EdgeEffect
from tussock.hotspots.found import STANDS_OUT, Hotspots, Rates, Spot
from tussock.maps.ground_from_region import ground_sketch, unprojected
from tussock.maps.ground_sketch import GroundSketch, encoded
from tussock.maps.ground_style import PATTERNS, Pair, Style
from tussock.maps.hotspots_rates import (
    STEP_WORDS,
    flagged,
    in_order,
    steps_of,
)
from tussock.maps.hotspots_surface import draw_surface
from tussock.maps.hotspots_told import Told, cell_told, cluster_told, cylinder_told, edge_told, point_told
from tussock.maps.hotspots_words import MORE, edge_name, edge_verdict, figure, middle
from tussock.maps.plan_map import HATCH, INK, draw_ground, known_within

if TYPE_CHECKING:
    from tussock.maps.canvas import Canvas

LABEL = "Map of calls for each home, over the usual rate"
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
"""Steps are told apart without colour: lines below the usual rate, points and crosses above."""
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
    draw_surface(sheet, found, [rate_style(step) for step in range(len(STEP_WORDS))])
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
        left, low, right, high = told.spot.outline.bounds
        west, east = min(west, left), max(east, right)
        south, north = min(south, low), max(north, high)
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
    for k, i in enumerate(in_order(rates), start=1):
        title, lines = cell_told(found, rates, k, i)
        areas = encoded([polygons[i]]).get("areas")
        if areas is None:
            continue
        shown = ["untested"] if i in set(known.tolist()) else ["rates", "flagged", "ring"]
        sheet.draw("told", layers=shown, title=title, lines=lines, areas=areas)
        if k <= min(MOST_LABELS, len(sure)):
            at = shapely.point_on_surface(polygons[i])
            _mark(sheet, str(k), [(at.x, at.y)], layer="flagged", order=3, title=title, lines=lines)


def _mark(
    sheet: Canvas,
    words: str,
    places: Sequence[tuple[float, float]],
    *,
    layer: str,
    order: int,
    title: str,
    lines: Sequence[str],
    kind: str = "here",
) -> None:
    """Put a label on the map that is a button too: it tells what it labels.

    Parameters
    ----------
    places
        Longitude and latitude of where it may stand, the best first.
    order
        Labels of a lower one are placed first.
    kind
        ``here``: at a place; ``top``: above, beside or below the four places of a circle; ``point``: beside
        a mark at the place.
    """
    at = [[round(lat, 6), round(lon, 6)] for lon, lat in places]
    sheet.draw(
        "mark", layer=layer, text=words, at=at, order=order, place=kind, title=title, lines=list(lines)
    )


def _areas(
    sheet: Canvas, polygons: Sequence[BaseGeometry], style: Style, *, layer: str, on: bool = True
) -> None:
    found = encoded(list(polygons)).get("areas") if polygons else None
    if found:
        sheet.draw("disc", layer=layer, on=on, style=style.payload(), areas=found)


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
        title, told = edge_name(effect), edge_told(effect)
        sheet.draw("told", layers=[layer], title=title, lines=told, runs=lines)
        if first:
            words = f"{title}: {effect_words(effect)}"
            _mark(sheet, words, _label_places(found, drawn), layer=layer, order=0, title=title, lines=told)


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


def _label_places(found: Hotspots, drawn: Sequence[BaseGeometry]) -> list[tuple[float, float]]:
    """Return points of the longest line, those among homes first, the farthest from other labels before."""
    lines = shapely.get_parts(np.array(list(drawn), dtype=object))
    longest = max(lines, key=lambda g: float(g.length))
    points = [longest.interpolate(k, normalized=True) for k in np.linspace(0.02, 0.98, 49)]
    box = _homes_view(found)
    inner = shapely.box(-180, -90, 180, 90)
    if box:
        (south, west), (north, east) = box
        inner = shapely.affinity.scale(shapely.box(west, south, east, north), 0.8, 0.9)
    told = found.clusters.standing_out if found.clusters else ()
    taken = [(t.spot.longitude, t.spot.latitude) for t in told] + list(
        found.standby.points if found.standby else ()
    )
    others = shapely.multipoints(taken) if taken else shapely.centroid(longest)
    order = sorted(points, key=lambda p: (not inner.covers(p), -float(shapely.distance(p, others))))
    return [(float(p.x), float(p.y)) for p in order]


def _draw_circles(sheet: Canvas, found: Hotspots) -> None:
    if found.clusters is not None:
        for k, told in enumerate(found.clusters.told, start=1):
            name = "clusters" if told.stands_out else "other clusters"
            style = CLUSTER if told.stands_out else NOT_SHOWN_CLUSTER
            _circle(sheet, found, told.spot, style, layer=name, told=cluster_told(k, told))
    if found.space_time is not None:
        for k, c in enumerate(found.space_time.scan.cylinders):
            if c.p <= STANDS_OUT:
                at, told_of = found.space_time.spots[k], cylinder_told(k, found.space_time)
                _circle(sheet, found, at, MONTHS, layer="months", told=told_of)


def _circle(sheet: Canvas, found: Hotspots, spot: Spot, style: Style, *, layer: str, told: Told) -> None:
    """Draw the outline of a circle's cells: what is counted is what is in them."""
    outlines = _degrees(found, [spot.outline])
    areas = encoded(outlines).get("areas")
    if areas is None:
        return
    _areas(sheet, outlines, style, layer=layer, on=layer != "other clusters")
    title, lines = told
    sheet.draw("told", layers=[layer], title=title, lines=lines, areas=areas)
    if layer != "other clusters":
        west, south, east, north = outlines[0].bounds
        x, y = (west + east) / 2, (south + north) / 2
        sides = [(x, north), (x, south), (east, y), (west, y)]
        _mark(sheet, title, sides, layer=layer, order=1, title=title, lines=lines, kind="top")


def _draw_points(sheet: Canvas, found: Hotspots) -> None:
    if found.standby is not None:
        for k, at in enumerate(found.standby.points):
            title, lines = point_told(k, found.standby)
            _mark(sheet, title, [at], layer="standby", order=2, title=title, lines=lines, kind="point")
    if found.asked.base is not None:
        lines = ["Where you start from, as given."]
        _mark(
            sheet, "Base", [found.asked.base], layer="base", order=2, title="Base", lines=lines, kind="point"
        )
