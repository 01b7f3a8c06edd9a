"""Build the invented district of Pellerwick: every file of data-demo/ that a plan reads.

The town, its people, its permit and its ground do not exist. The script draws them from one seed, so running
it twice gives the same bytes. All geometry is made in a local transverse Mercator plane [m, east and north of
the centre] and written as longitude-latitude rounded to 7 decimals.

Run: ``python data-demo/build_district.py [FOLDER]`` (default: the folder of this script).
"""

from __future__ import annotations

import os
import sys
from collections import defaultdict
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

os.environ["OGR_CURRENT_DATE"] = "2026-11-01T00:00:00.000Z"  # GeoPackage stores a date of change: fix it

import geopandas as gpd
import numpy as np
import pyogrio
import rasterio
import shapely
import shapely.ops
from build_callouts import further_callouts
from build_common import (
    HABITAT_CLASS,
    PEOPLE,
    SPECIES,
    TO_DEGREES,
    degrees_text,
    stamp,
    write_csv,
)
from build_releases import outcomes, release_table
from build_round import (
    assign_containers,
    callout_rows,
    check_rows,
    container_table,
    incident_rows,
)
from build_sites import Booked, Ground, Sites
from rasterio import features as raster_features
from rasterio.transform import from_origin
from scipy import ndimage
from scipy.interpolate import CubicSpline
from shapely import affinity
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box
from shapely.ops import polygonize, unary_union
from shapely.strtree import STRtree

SEED = 20261125
HALF_M = 4600.0  # half the side of the drawn square
CENTRE = np.array([-700.0, -550.0])  # the town hall

# fmt: off
HIGHWAY = [(-2300, -4700), (-1500, -3600), (-300, -2650), (900, -2050), (1500, -900), (1450, 400), (1700,
    1700), (2450, 3000), (2700, 4700)]
RAILWAY = [(-4700, -1050), (-3300, -1150), (-2000, -900), (-900, -980), (200, -1250), (1150, -1650),
    (2400, -2300), (3600, -2700), (4700, -2900)]
RIVER = [(-4750, 1900), (-3200, 1500), (-1800, 1000), (-500, 650), (700, 750), (1500, 300), (2500, -500),
    (3600, -1000), (4750, -1300)]
CREEKS = {
    "Quarl Creek": [(-2700, -3700), (-1700, -3300), (-900, -3050), (500, -2850), (1750, -1900), (2300,
        -750), (2450, -450)],
    "Bellwether Creek": [(-2000, 4400), (-1500, 3000), (-1400, 2000), (-1250, 1300), (-1150, 850)],
    "Mill Brook": [(-2420, -3050), (-1800, -2150), (-1560, -1450), (-1520, -700), (-1420, -150), (-1130,
        250), (-1020, 640)],
    "Lantern Creek": [(-3900, -2400), (-3300, -1000), (-2750, 200), (-2600, 800), (-2500, 1250)],
    "Sedge Creek": [(4100, 4000), (3000, 2400), (2400, 900), (2350, -350)],
}
ROADS: list[tuple[str, str, list[tuple[float, float]]]] = [
    ("Main Street", "secondary", [(1480, -350), (700, -420), (0, -470), (-700, -550), (-1400, -430),
        (-2300, -520), (-3300, -350), (-4700, -500)]),
    ("Tamsel Road", "primary", [(-300, -2650), (-480, -2000), (-640, -1300), (-700, -550), (-560, 200),
        (-480, 700), (-650, 1500), (-480, 2600), (-700, 3600), (-600, 4700)]),
    ("Upper Tamsel Road", "tertiary", [(-700, -550), (-1180, -60), (-1640, 420), (-1950, 1150), (-2480,
        2000), (-3100, 2900), (-3000, 4700)]),
    ("North Bank Road", "tertiary", [(-600, 1250), (300, 1380), (1300, 1420), (2600, 1560), (3600, 1300),
        (4700, 1500)]),
    ("Ring Road", "tertiary", [(-1640, 420), (-1890, 40), (-1960, -510), (-1880, -1120), (-1350, -1600),
        (-530, -1700), (120, -1480), (470, -960), (560, -430), (330, -30), (-120, 190), (-560, 200),
        (-1180, -60)]),
    ("Stonejack Road", "unclassified", [(-1940, -800), (-2350, -1120), (-2900, -1500), (-3500, -2200),
        (-4700, -2600)]),
    ("Old Ridge Road", "unclassified", [(-1350, -1600), (-1900, -2500), (-2300, -3250), (-3300, -4100),
        (-3600, -4700)]),
    ("Saltgrass Road", "unclassified", [(1480, -350), (2050, -1150), (2900, -1900), (3900, -2100), (4700,
        -1900)]),
    ("Corran Road", "unclassified", [(900, -2050), (1700, -2900), (2200, -3900), (2400, -4700)]),
    ("Hayfield Road", "unclassified", [(2050, 2350), (2900, 2700), (3700, 3300), (4700, 3500)]),
    ("Nettle Flat Road", "unclassified", [(-480, 2600), (500, 2850), (1300, 3300), (2550, 3250)]),
    ("Westering Road", "unclassified", [(-2480, 2000), (-3500, 2300), (-4700, 2750)]),
    ("Ferry Lane", "unclassified", [(-3300, -350), (-3550, 500), (-3600, 1350)]),
    ("Dairy Lane", "unclassified", [(2900, -1900), (3050, -3000), (2200, -3900)]),
    ("Sedge Lane", "unclassified", [(3600, 1300), (3450, 400), (3050, -350)]),
    ("Saw Pit Track", "track", [(-3050, 3700), (-2200, 3950), (-1300, 3550), (-680, 3500)]),
    ("Ridge Track", "track", [(-3450, -2150), (-3050, -2950), (-2350, -3300)]),
]
# fmt: on
HAMLETS = {
    "Upper Tamsel": (-2750, 2400),
    "Nettle Flat": (900, 3080),
    "Corran Gate": (1750, -2980),
    "Stonejack": (-2950, -1560),
    "Saltgrass": (2900, -1900),
    "Hayfield": (2920, 2710),
}
# fmt: off
STREET_WORDS = [
    "Acacia", "Bracken", "Cress", "Dock", "Elder", "Fescue", "Gorse", "Heath", "Iris", "Juniper",
    "Kelp", "Lichen", "Marram", "Nettle", "Orchid", "Pennycress", "Quince", "Rush", "Sorrel", "Thistle",
    "Umbel", "Vetch", "Willow", "Yarrow", "Tea-tree", "Banksia", "Clover", "Daisy", "Flax", "Hazel",
    "Larch", "Maple", "Rowan", "Sedge", "Wattle", "Bluebell", "Currant", "Foxglove", "Laurel", "Myrtle",
    "Plum", "Reed",
]
# fmt: on
ROAD_HALF_M = {
    "trunk": 12.0,
    "primary": 6.0,
    "secondary": 6.0,
    "tertiary": 5.0,
    "residential": 4.0,
    "unclassified": 4.0,
    "service": 2.5,
    "track": 2.5,
    "path": 1.5,
}
NATURAL_CODE = {
    1: "stringybark forest",
    2: "dry woodland",
    3: "heath",
    4: "tussock grassland",
    5: "marsh",
    6: "rock outcrop",
    7: "riparian woodland",
}
COVER_PERCENT = {
    "stringybark forest": 84,
    "dry woodland": 62,
    "riparian woodland": 76,
    "heath": 68,
    "tussock grassland": 52,
    "native pasture": 38,
    "improved pasture": 18,
    "marsh": 60,
    "rock outcrop": 33,
    "quarry floor": 4,
    "crop": 12,
    "house gardens": 34,
    "park lawn": 20,
    "town centre": 8,
    "works": 6,
    "transport corridor": 10,
    "open water": 2,
}
NEW_ESTATE = Point(240, 620)  # where the town grew between the seasons
DEMO_YARD = Point(-2480, -330)
SQUARE = box(-HALF_M, -HALF_M, HALF_M, HALF_M)


# ---------------------------------------------------------------- small tools


def curve(waypoints: Any, *, step: float = 15.0) -> LineString:
    """Smooth line through the waypoints."""
    points = np.asarray(waypoints, dtype=float)
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    t = np.linspace(0.0, along[-1], max(3, int(along[-1] / step)))
    return LineString(np.round(CubicSpline(along, points)(t), 3))


def as_line(geometry: Any) -> LineString:
    """The same geometry, for the type checker."""
    assert isinstance(geometry, LineString)
    return geometry


def meander(waypoints: Any, *, rng: np.random.Generator, swing: float, wave_m: float) -> LineString:
    """Line that follows the waypoints as a sine-generated curve (the shape of real meanders)."""
    base = curve(waypoints, step=10.0)
    xy = np.asarray(base.coords)
    heading = np.unwrap(np.arctan2(*np.diff(xy, axis=0).T[::-1]))
    n = len(heading)
    length = base.length / n
    wobble = ndimage.gaussian_filter1d(rng.normal(size=n), wave_m / length / 2)
    phase = 2 * np.pi * np.arange(n) * length / wave_m + 2.0 * wobble / wobble.std()
    bend = heading + swing * (0.75 + 0.35 * np.sin(phase / 3.3)) * np.sin(phase)
    path = np.vstack([[0.0, 0.0], np.cumsum(length * np.c_[np.cos(bend), np.sin(bend)], axis=0)])
    share = np.linspace(0.0, 1.0, n + 1)[:, None]
    path = xy[0] + path * (base.length / length / n)
    # the swing shortens the way made good; stretch each stretch back on to the base line
    drift = ndimage.gaussian_filter1d(xy - path, wave_m / length / 0.8, axis=0, mode="nearest")
    path = path + drift
    path += (1 - share) * (xy[0] - path[0]) + share * (xy[-1] - path[-1])
    return as_line(LineString(np.round(path, 2)).simplify(0.6))


def polygons_of(geometry: Any, *, least_m2: float = 1.0) -> list[Polygon]:
    """Polygons contained in any geometry, without slivers."""
    parts = shapely.get_parts(shapely.make_valid(geometry))
    found: list[Polygon] = []
    for part in parts:
        if part.geom_type == "Polygon" and part.area >= least_m2:
            found.append(part)
        elif part.geom_type in ("MultiPolygon", "GeometryCollection"):
            found += polygons_of(part, least_m2=least_m2)
    return found


def to_degrees(geometry: Any) -> Any:
    """Geometry of the plane as longitude-latitude, rounded to 7 decimals (1 cm)."""

    def move(xy: np.ndarray) -> np.ndarray:
        lon, lat = TO_DEGREES.transform(xy[:, 0], xy[:, 1])
        return np.asarray(np.round(np.c_[lon, lat], 7))

    moved = shapely.transform(geometry, move)
    return moved if shapely.is_valid(moved) else shapely.make_valid(moved)


def blob(
    centre: Any, *, rx: float, ry: float, rng: np.random.Generator, rough: float = 0.12, turn: float = 0.0
) -> Polygon:
    """Irregular rounded area about a centre."""
    angle = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    radius = np.ones(72)
    for k in range(2, 7):
        radius += rough * rng.normal() / k**0.5 * np.cos(k * angle + rng.uniform(0, 6.28))
    shape = Polygon(np.c_[rx * radius * np.cos(angle), ry * radius * np.sin(angle)]).buffer(0)
    return affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), *centre)


def split(area: Polygon, *, most_m2: float, rng: np.random.Generator) -> list[Polygon]:
    """Cut an area across its long side until every piece is small enough."""
    if area.area <= most_m2 * rng.uniform(0.7, 1.3):
        return [area]
    corners = shapely.get_coordinates(area.minimum_rotated_rectangle)
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(*sides.T)
    long, short = (0, 1) if lengths[0] >= lengths[1] else (1, 0)
    origin = corners[1] if long == 1 else corners[0]
    at = origin + sides[long] * rng.uniform(0.4, 0.6)
    across = sides[short] / lengths[short]
    skew = rng.normal(0, 0.06)
    across = np.array([across[0] - skew * across[1], across[1] + skew * across[0]])
    knife = LineString([at - across * 9000, at + across * 9000])
    pieces = polygons_of(shapely.ops.split(area, knife), least_m2=50.0)
    if len(pieces) < 2:
        return [area]
    return [part for piece in pieces for part in split(piece, most_m2=most_m2, rng=rng)]


# ---------------------------------------------------------------- roads, river, streets


def main_lines(rng: np.random.Generator) -> dict[str, Any]:
    """River, creeks, railway, highway and the through roads, as centre lines."""
    river = meander(RIVER, rng=rng, swing=1.25, wave_m=820.0)
    creeks = {name: meander(points, rng=rng, swing=0.8, wave_m=210.0) for name, points in CREEKS.items()}
    highway, railway = curve(HIGHWAY, step=25.0), curve(RAILWAY, step=25.0)
    roads: list[tuple[str, str, LineString]] = [("Midway Highway", "trunk", highway)]
    for name, kind, points in ROADS:
        bent = np.asarray(points, dtype=float)
        if kind in ("unclassified", "track"):  # country roads wander
            line = meander(bent, rng=rng, swing=0.22, wave_m=900.0)
        else:
            line = curve(bent)
        roads.append((name, kind, snap_ends(line, [road[2] for road in roads])))
    return {"river": river, "creeks": creeks, "highway": highway, "railway": railway, "roads": roads}


def snap_ends(line: LineString, others: list[LineString]) -> LineString:
    """Line whose ends lie on a road if one is within 220 m."""
    xy = np.asarray(line.coords).copy()
    for end in (0, -1):
        tip = Point(xy[end])
        near = min(others, key=tip.distance)
        if near.distance(tip) < 220.0:
            target = np.asarray(near.interpolate(near.project(tip)).coords[0])
            move = target - xy[end]
            fade = np.clip(1 - np.hypot(*(xy - xy[end]).T) / 500.0, 0, 1)[:, None] ** 2
            xy = xy + move * fade
            xy[end] = target
    return LineString(xy)


def joined(roads: list[tuple[str, str, LineString]]) -> list[tuple[str, str, LineString]]:
    """Roads that share a vertex wherever they meet; nothing meets the highway but roads that end on it."""
    lines = [LineString(np.round(shapely.get_coordinates(line.simplify(0.4)), 2)) for _, _, line in roads]
    extra: dict[int, set[Any]] = {}
    for _ in range(3):  # an end may lie on a line whose own end has just moved
        extra = end_on_roads(lines)
    for i, line in enumerate(lines):
        for j in STRtree(lines).query(line, predicate="crosses") if roads[i][1] != "trunk" else ():
            if j != i and roads[j][1] != "trunk":
                meet = lines[min(i, int(j))].intersection(lines[max(i, int(j))])
                extra[i] |= {tuple(np.round(point, 2)) for point in shapely.get_coordinates(meet)}
    return [(*roads[i][:2], with_vertices(line, extra[i])) for i, line in enumerate(lines)]


def end_on_roads(lines: list[LineString]) -> dict[int, set[Any]]:
    """Move loose ends on to the road they nearly touch; returns the vertices that road then needs."""
    extra: dict[int, set[Any]] = defaultdict(set)
    tree = STRtree(lines)
    for i, line in enumerate(lines):
        xy = shapely.get_coordinates(line)
        for end in (0, -1):
            tip = Point(xy[end])
            near = [
                (lines[j].distance(tip), int(j))
                for j in tree.query(tip, predicate="dwithin", distance=2.5)
                if j != i
            ]
            if not near:
                continue
            other = min(near)[1]
            on = lines[other].interpolate(lines[other].project(tip))
            corners = shapely.get_coordinates(lines[other])
            gap = np.hypot(*(corners - [on.x, on.y]).T)
            xy[end] = corners[gap.argmin()] if gap.min() < 1.0 else np.round([on.x, on.y], 2)
            if gap.min() >= 1.0:
                extra[other].add(tuple(xy[end]))
        lines[i] = LineString(xy)
    return extra


def with_vertices(line: LineString, points: set[Any]) -> LineString:
    """Line with more vertices, each at its place along it."""
    corners = [tuple(point) for point in line.coords]
    at = [(d, point) for d, point in zip(line_measures(line), corners, strict=True)]
    known = set(corners)
    at += [(line.project(Point(point)), point) for point in points if point not in known]
    return LineString([point for _, point in sorted(at)])


def line_measures(line: LineString) -> list[float]:
    """Distance along a line of each of its vertices."""
    steps = np.hypot(*np.diff(shapely.get_coordinates(line), axis=0).T)
    return [0.0, *np.cumsum(steps).tolist()]


def town_ground(lines: dict[str, Any], *, rng: np.random.Generator) -> Any:
    """Ground the town may be built on."""
    lobes = [
        ((-760, -520), 1080, 930),
        ((-1790, -330), 610, 430),
        ((-1640, 470), 430, 330),
        ((330, -330), 560, 400),
        ((60, -1320), 640, 330),
        ((-780, -1790), 480, 300),
        ((-1830, -1130), 400, 300),
        ((-260, 480), 520, 330),
        ((-820, 1000), 470, 260),
        ((1010, -420), 260, 150),
    ]
    outline = (
        unary_union(
            [blob(at, rx=rx, ry=ry, rng=rng, rough=0.09, turn=rng.uniform(-20, 20)) for at, rx, ry in lobes]
        )
        .buffer(60)
        .buffer(-60)
    )
    keep_off = unary_union(
        [
            lines["river"].buffer(95),
            lines["highway"].buffer(140),
            lines["railway"].buffer(24),
            lines["creeks"]["Lantern Creek"].buffer(70),
            lines["creeks"]["Bellwether Creek"].buffer(45),
            lines["creeks"]["Mill Brook"].buffer(34),
        ]
    )
    parts = polygons_of(outline.difference(keep_off), least_m2=60000.0)
    return unary_union([part for part in parts if part.centroid.x < 1400])


class Streets:
    """Residential streets traced along a direction field that bends with the through roads."""

    def __init__(self, arteries: list[LineString], ground: Any, *, rng: np.random.Generator) -> None:
        self.rng, self.cell = rng, 60.0
        self.seen: dict[tuple[int, int], list[tuple[float, float, float, int]]] = defaultdict(list)
        self.lines: list[LineString] = []
        self.step = 6.0
        west, south, east, north = ground.bounds
        self.origin = np.array([west - 100, north + 100])
        shape = (int((north - south + 200) / 10), int((east - west + 200) / 10))
        self.mask = raster_features.rasterize(
            [ground], out_shape=shape, transform=from_origin(*self.origin, 10, 10)
        ).astype(bool)
        self.quarters = rng.uniform([west, south], [east, north], (16, 2))
        self.quarter_angle = rng.uniform(0, np.pi, 16)
        self._field(arteries, shape)
        for number, artery in enumerate(arteries):
            self._remember(np.asarray(artery.segmentize(8.0).coords), -1 - number)

    def _field(self, arteries: list[LineString], shape: tuple[int, int]) -> None:
        rows, cols = shape[0] // 4 + 1, shape[1] // 4 + 1
        x = self.origin[0] + 40 * np.arange(cols)[None, :] + 20
        y = self.origin[1] - 40 * np.arange(rows)[:, None] - 20
        noise = ndimage.gaussian_filter(self.rng.normal(size=(rows, cols)), 9)
        total = 0.06 * np.exp(4j * (0.5 + 1.3 * noise / noise.std()))
        for artery in arteries:
            xy = np.asarray(artery.segmentize(40.0).coords)
            middle, way = (xy[1:] + xy[:-1]) / 2, np.diff(xy, axis=0)
            for (mx, my), (dx, dy) in zip(middle, way, strict=True):
                total = (
                    total
                    + np.exp(-((x - mx) ** 2 + (y - my) ** 2) / (2 * 230.0**2))
                    * np.exp(4j * np.arctan2(dy, dx))
                    * np.hypot(dx, dy)
                    / 400
                )
        swirl = ndimage.gaussian_filter(self.rng.normal(size=(rows, cols)), 5)
        self.angle = np.exp(1j * (np.angle(total) + 4 * 0.16 * swirl / swirl.std()))

    def _at(self, x: float, y: float) -> complex | None:
        row, col = int((self.origin[1] - y) / 10), int((x - self.origin[0]) / 10)
        if not (0 <= row < self.mask.shape[0] and 0 <= col < self.mask.shape[1]) or not self.mask[row, col]:
            return None
        r, c = (self.origin[1] - y) / 40 - 0.5, (x - self.origin[0]) / 40 - 0.5
        r0, c0 = min(max(int(r), 0), self.angle.shape[0] - 2), min(max(int(c), 0), self.angle.shape[1] - 2)
        fr, fc, a = r - r0, c - c0, self.angle
        return complex(
            (1 - fr) * ((1 - fc) * a[r0, c0] + fc * a[r0, c0 + 1])
            + fr * ((1 - fc) * a[r0 + 1, c0] + fc * a[r0 + 1, c0 + 1])
        )

    def _remember(self, xy: np.ndarray, number: int) -> None:
        way = np.arctan2(*np.gradient(xy, axis=0).T[::-1])
        for (x, y), heading in zip(xy, way, strict=True):
            self.seen[int(x // self.cell), int(y // self.cell)].append((x, y, heading, number))

    def _crowded(self, x: float, y: float, heading: float, apart: float) -> bool:
        reach = int(apart // self.cell) + 1
        i, j = int(x // self.cell), int(y // self.cell)
        for a in range(i - reach, i + reach + 1):
            for b in range(j - reach, j + reach + 1):
                for px, py, ph, _ in self.seen.get((a, b), ()):
                    if (px - x) ** 2 + (py - y) ** 2 < apart**2 and abs(np.cos(ph - heading)) > 0.75:
                        return True
        return False

    def _heading(self, x: float, y: float, like: float) -> float | None:
        value = self._at(x, y)
        if value is None:
            return None
        base = np.angle(value) / 4
        return float(base + np.pi / 2 * round((like - base) / (np.pi / 2)))

    def _long_way(self, x: float, y: float) -> float:
        nearest = int(np.argmin(np.hypot(*(self.quarters - [x, y]).T)))
        return float(self.quarter_angle[nearest])

    def trace(self, x: float, y: float, *, cross: bool, apart: float, most_m: float) -> LineString | None:
        """One street through a seed, as far as it keeps its distance from its like."""
        like = self._long_way(x, y) + (np.pi / 2 if cross else 0.0)
        first = self._heading(x, y, like)
        if first is None or self._crowded(x, y, first, apart):
            return None
        halves = []
        for sign in (0.0, np.pi):
            px, py, heading = x, y, first + sign
            half: list[tuple[float, float]] = []
            while len(half) * self.step < most_m / 2:
                turn = self._heading(px, py, heading)
                if turn is None or self._crowded(px, py, turn, apart * 0.72):
                    break
                heading = turn
                half.append((px, py))
                px, py = px + self.step * np.cos(heading), py + self.step * np.sin(heading)
            halves.append(half)
        points = halves[1][::-1] + halves[0][1:]
        if len(points) * self.step < 75.0:
            return None
        xy = np.asarray(points)
        self._remember(xy, len(self.lines))
        line = as_line(LineString(xy).simplify(0.5))
        self.lines.append(line)
        return line

    def fill(self, *, cross: bool, apart: float, most_m: tuple[float, float]) -> None:
        """Streets until no seed finds room."""
        height, width = self.mask.shape
        seeds = self.rng.uniform([0, 0], [width * 10, height * 10], (9000, 2)) * [1, -1] + self.origin
        for x, y in seeds:
            tight = 0.82 if np.hypot(*(CENTRE - [x, y])) < 450 else 1.0
            self.trace(x, y, cross=cross, apart=apart * tight, most_m=self.rng.uniform(*most_m))


def reach_out(lines: list[LineString], arteries: list[LineString], blocked: Any) -> list[LineString]:
    """Streets whose loose ends run on to the next road where it is near."""
    everything = arteries + lines
    tree = STRtree(everything)
    grown = []
    for number, line in enumerate(lines):
        xy: list[Any] = [tuple(point) for point in line.coords]
        for end in (0, -1):
            tip, before = np.asarray(xy[end]), np.asarray(xy[1 if end == 0 else -2])
            way = (tip - before) / np.hypot(*(tip - before))
            ray = LineString([tip + way * 0.5, tip + way * 72])
            hits: list[tuple[float, Any]] = []
            for other in tree.query(ray):
                if other == number + len(arteries) or not everything[other].intersects(ray):
                    continue
                hits += [
                    (float(np.hypot(*(point - tip))), tuple(point + way * 0.05))
                    for point in shapely.get_coordinates(everything[other].intersection(ray))
                ]
            if hits and not LineString([tip, min(hits)[1]]).intersects(blocked):
                xy.insert(0, min(hits)[1]) if end == 0 else xy.append(min(hits)[1])
        grown.append(LineString(xy))
    return grown


def tidy(edges: list[LineString], fixed: Any, *, rng: np.random.Generator) -> list[LineString]:
    """Street edges without stubs, slivers of blocks and islands; some links dropped to make courts."""

    def keys(edge: LineString) -> tuple[Any, Any]:
        return tuple(np.round(edge.coords[0], 1)), tuple(np.round(edge.coords[-1], 1))

    near_fixed = fixed.buffer(0.3)
    shapely.prepare(near_fixed)
    is_fixed = [bool(near_fixed.covers(edge)) for edge in edges]
    alive = set(range(len(edges)))
    small = [ring for ring in polygonize(edges) if ring.area < 3200]
    for ring in small:
        sides = [i for i in alive if not is_fixed[i] and ring.buffer(0.3).covers(edges[i])]
        if sides:
            alive.discard(max(sides, key=lambda i: (edges[i].length, i)))

    def degrees() -> dict[Any, int]:
        count: dict[Any, int] = defaultdict(int)
        for i in alive:
            for key in keys(edges[i]):
                count[key] += 1
        return count

    order = rng.permutation(len(edges))
    for i in order:  # four-way crossings become staggered, some streets end as courts
        if i not in alive or is_fixed[i] or not 45 < edges[i].length < 190:
            continue
        count = degrees() if rng.uniform() < 0.13 else None
        if count and all(count[key] >= 3 for key in keys(edges[i])):
            alive.discard(int(i))
    for _ in range(4):
        count = degrees()
        stubs = {
            i
            for i in alive
            if not is_fixed[i] and edges[i].length < 42 and any(count[key] == 1 for key in keys(edges[i]))
        }
        alive -= stubs
        if not stubs:
            break
    linked: set[Any] = {key for i in alive if is_fixed[i] for key in keys(edges[i])}
    reached = {i for i in alive if is_fixed[i]}
    while True:
        new = {i for i in alive - reached if any(key in linked for key in keys(edges[i]))}
        if not new:
            break
        reached |= new
        linked |= {key for i in new for key in keys(edges[i])}
    return [edges[i] for i in sorted(reached) if not is_fixed[i]]


def town_streets(
    lines: dict[str, Any], ground: Any, *, rng: np.random.Generator
) -> list[tuple[str, str, LineString]]:
    """Residential streets with names."""
    window = ground.buffer(150)
    arteries = [
        part
        for _, kind, road in lines["roads"]
        if kind in ("primary", "secondary", "tertiary", "unclassified")
        for part in shapely.get_parts(road.intersection(window))
        if part.geom_type == "LineString" and part.length > 20
    ]
    streets = Streets(arteries, ground, rng=rng)
    streets.fill(cross=False, apart=82.0, most_m=(350, 1300))
    streets.fill(cross=True, apart=165.0, most_m=(120, 900))
    blocked = unary_union(
        [lines["railway"].buffer(15), lines["river"].buffer(60), lines["highway"].buffer(60)]
    )
    grown = reach_out(streets.lines, arteries, blocked)
    noded = [part for part in shapely.get_parts(unary_union(arteries + grown)) if part.length > 0.5]
    kept = tidy(noded, unary_union(arteries), rng=rng)
    words = len(STREET_WORDS)
    ends = ("Street", "Avenue", "Crescent", "Rise", "Way")
    names = [f"{STREET_WORDS[n % words]} {ends[n // words % 5]}" for n in range(len(grown))]
    tree = STRtree(grown)
    named = []
    for edge in kept:
        source = int(tree.nearest(edge.interpolate(0.5, normalized=True)))
        named.append((names[source], "residential", edge))
    return named


# ---------------------------------------------------------------- buildings


class Builder:
    """Places footprints that keep off roads, water, reserved ground and one another."""

    def __init__(self, roads: list[tuple[str, str, LineString]], keep_off: Any) -> None:
        self.road_tree = STRtree([road for _, _, road in roads])
        self.half = [ROAD_HALF_M[kind] + 2.0 for _, kind, _ in roads]
        self.keep_off = keep_off
        shapely.prepare(self.keep_off)
        self.cells: dict[tuple[int, int], list[Polygon]] = defaultdict(list)

    def place(self, shape: Polygon, *, gap: float = 2.2) -> bool:
        """True when the shape found room and is now standing."""
        i, j = int(shape.centroid.x // 50), int(shape.centroid.y // 50)
        for a in (i - 1, i, i + 1):
            for b in (j - 1, j, j + 1):
                if any(other.distance(shape) < gap for other in self.cells.get((a, b), ())):
                    return False
        for near in self.road_tree.query(shape, predicate="dwithin", distance=14.0):
            if self.road_tree.geometries[near].distance(shape) < self.half[near]:
                return False
        if self.keep_off.intersects(shape):
            return False
        self.cells[i, j].append(shape)
        return True


def footprint(
    at: np.ndarray, heading: float, *, wide: float, deep: float, rng: np.random.Generator
) -> Polygon:
    """A house: a rectangle, often with a wing."""
    shape: Any = box(-wide / 2, -deep / 2, wide / 2, deep / 2)
    if rng.uniform() < 0.55:
        wing, side = rng.uniform(0.35, 0.5) * wide, rng.choice([-1, 1])
        ahead = rng.choice([-1, 1])
        x0 = side * (wide / 2 - wing / 2)
        out = deep / 2 + rng.uniform(2.0, 4.0)
        shape = shape.union(box(x0 - wing / 2, min(0, ahead * out), x0 + wing / 2, max(0, ahead * out)))
    turned = affinity.rotate(shape, np.degrees(heading), origin=(0, 0))
    placed: Polygon = shapely.set_precision(affinity.translate(turned, *at), 0.01)
    return placed


def along(line: LineString, d: float) -> tuple[np.ndarray, float]:
    """Point and heading at a distance along a line."""
    a, b = line.interpolate(max(d - 4, 0)), line.interpolate(min(d + 4, line.length))
    return np.asarray(line.interpolate(d).coords[0]), float(np.arctan2(b.y - a.y, b.x - a.x))


def town_buildings(
    builder: Builder, roads: list[tuple[str, str, LineString]], town: Any, *, rng: np.random.Generator
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Houses, flats and shops on both sides of every street of the town."""
    homes: list[dict[str, Any]] = []
    others: list[dict[str, Any]] = []
    shapely.prepare(town)
    for _, kind, road in roads:
        if kind in ("trunk", "track", "path", "service"):
            continue
        for side in (-1.0, 1.0):
            d = rng.uniform(6, 14)
            while d < road.length - 4:
                at, heading = along(road, d)
                r = float(np.hypot(*(at - CENTRE)))
                lot = (15.5 if r < 500 else 17.5 if r < 1000 else 20.0) * rng.uniform(0.9, 1.22)
                d += lot / 2
                at, heading = along(road, min(d, road.length))
                d += lot / 2
                if not town.contains(Point(at)) or rng.uniform() < 0.035 + 0.05 * (r > 1200):
                    continue
                building(
                    builder,
                    at,
                    heading,
                    side=side,
                    kind=kind,
                    r=r,
                    lot=lot,
                    rng=rng,
                    homes=homes,
                    others=others,
                )
    return homes, others


def building(
    builder: Builder,
    at: np.ndarray,
    heading: float,
    *,
    side: float,
    kind: str,
    r: float,
    lot: float,
    rng: np.random.Generator,
    homes: list[dict[str, Any]],
    others: list[dict[str, Any]],
) -> None:
    """One lot: a shop in the middle of the town, flats near it, else a house."""
    normal = side * np.array([-np.sin(heading), np.cos(heading)])
    half = ROAD_HALF_M[kind]
    shop = r < 150 + 230 * (kind in ("primary", "secondary", "tertiary")) and rng.uniform() < 0.9
    flats = not shop and r < 620 and rng.uniform() < 0.09
    if shop:
        wide, deep, setback = lot - 2.6, rng.uniform(16, 28), 3.0
    elif flats:
        wide, deep, setback = rng.uniform(15, 24), rng.uniform(12, 16), 6.0
    else:
        wide, deep, setback = (
            min(lot - 5, rng.uniform(9.5, 15.5)),
            rng.uniform(8, 11.5),
            rng.uniform(4.5, 9.5),
        )
    middle = at + normal * (half + 3.0 + setback + deep / 2)
    shape = (
        shapely.set_precision(
            affinity.translate(
                affinity.rotate(
                    box(-wide / 2, -deep / 2, wide / 2, deep / 2), np.degrees(heading), origin=(0, 0)
                ),
                *middle,
            ),
            0.01,
        )
        if shop or flats
        else footprint(middle, heading + rng.normal(0, 0.02), wide=wide, deep=deep, rng=rng)
    )
    if not builder.place(shape, gap=1.0 if shop else 2.0):
        return
    if shop:
        others.append({"class": "shop", "geometry": shape})
    elif flats:
        homes.append({"class": "apartments", "homes": int(rng.integers(4, 19)), "geometry": shape})
    else:
        homes.append({"class": "house", "homes": 1, "geometry": shape})


def country_buildings(
    builder: Builder, roads: list[tuple[str, str, LineString]], town: Any, *, rng: np.random.Generator
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[Any]]:
    """Hamlets, and farmhouses with their sheds and drives."""
    homes: list[dict[str, Any]] = []
    sheds: list[dict[str, Any]] = []
    drives: list[Any] = []
    quiet = town.buffer(150)
    country = [
        (n, k, r)
        for n, k, r in roads
        if k in ("unclassified", "tertiary", "primary", "secondary", "residential")
    ]
    for place in HAMLETS.values():
        for _, kind, road in country:
            near = road.intersection(Point(place).buffer(rng.uniform(300, 430)))
            for part in shapely.get_parts(near):
                if part.geom_type == "LineString":
                    hamlet_row(builder, part, kind=kind, rng=rng, homes=homes)
    for name, kind, road in country:
        if kind == "residential":
            continue
        d = rng.uniform(100, 500)
        while d < road.length:
            at, heading = along(road, d)
            d += rng.uniform(330, 800)
            if quiet.contains(Point(at)) or not SQUARE.buffer(-150).contains(Point(at)):
                continue
            farm(builder, at, heading, road=name, rng=rng, homes=homes, sheds=sheds, drives=drives)
    return homes, sheds, drives


def site_buildings(
    builder: Builder, sites: dict[str, Polygon], *, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Schools, hospital and works: large buildings in line with their block."""
    found: list[dict[str, Any]] = []
    for name, site in sites.items():
        word = next((w for w in ("school", "hospital", "works") if w in name), None)
        if word is None:
            continue
        corners = shapely.get_coordinates(site.minimum_rotated_rectangle)
        way = corners[1] - corners[0]
        turn = np.degrees(np.arctan2(way[1], way[0]))
        yard = site.buffer(-13)
        for _ in range(120):
            if sum(row["site"] == name for row in found) >= 5:
                break
            at = rng.uniform(site.bounds[:2], site.bounds[2:])
            wide, deep = rng.uniform(22, 46), rng.uniform(12, 24)
            shape = affinity.translate(
                affinity.rotate(box(-wide / 2, -deep / 2, wide / 2, deep / 2), turn, origin=(0, 0)), *at
            )
            shape = shapely.set_precision(shape, 0.01)
            if yard.contains(shape) and all(row["geometry"].distance(shape) > 9 for row in found):
                found.append({"class": f"{word} building", "site": name, "geometry": shape})
    return [{"class": row["class"], "geometry": row["geometry"]} for row in found]


def hamlet_row(
    builder: Builder, road: LineString, *, kind: str, rng: np.random.Generator, homes: list[dict[str, Any]]
) -> None:
    """Scattered houses on both sides of a country road."""
    for side in (-1.0, 1.0):
        d = rng.uniform(5, 30)
        while d < road.length:
            at, heading = along(road, d)
            d += rng.uniform(24, 52)
            normal = side * np.array([-np.sin(heading), np.cos(heading)])
            middle = at + normal * (ROAD_HALF_M[kind] + rng.uniform(10, 22))
            shape = footprint(
                middle,
                heading + rng.normal(0, 0.08),
                wide=rng.uniform(10, 16),
                deep=rng.uniform(8, 12),
                rng=rng,
            )
            if rng.uniform() < 0.82 and builder.place(shape, gap=6.0):
                homes.append({"class": "house", "homes": 1, "geometry": shape})


def farm(
    builder: Builder,
    at: np.ndarray,
    heading: float,
    *,
    road: str,
    rng: np.random.Generator,
    homes: list[dict[str, Any]],
    sheds: list[dict[str, Any]],
    drives: list[Any],
) -> None:
    """One farmhouse back from the road, with sheds behind it and a drive."""
    side = rng.choice([-1.0, 1.0])
    normal = side * np.array([-np.sin(heading), np.cos(heading)])
    middle = at + normal * rng.uniform(55, 210) + rng.normal(0, 15, 2)
    turn = heading + rng.normal(0, 0.3)
    shape = footprint(middle, turn, wide=rng.uniform(14, 19), deep=rng.uniform(10, 13), rng=rng)
    if not builder.place(shape, gap=25.0):
        return
    homes.append({"class": "farmhouse", "homes": 1, "geometry": shape})
    bend = (at + middle) / 2 + rng.normal(0, 9, 2)
    yard = middle - normal * 14
    drives.append(
        (
            f"drive off {road}",
            "service",
            LineString([at, *np.asarray(curve([at, bend, yard], step=12).coords)[1:]]),
        )
    )
    for _ in range(rng.integers(1, 4)):
        spot = middle + normal * rng.uniform(28, 55) + rng.normal(0, 18, 2)
        shed = footprint(spot, turn, wide=rng.uniform(12, 30), deep=rng.uniform(9, 15), rng=rng)
        if builder.place(shed, gap=4.0):
            sheds.append({"class": "shed", "geometry": shed})


# ---------------------------------------------------------------- terrain and natural ground


class Terrain:
    """Elevation and natural ground on a 20 m grid of the plane."""

    def __init__(self, lines: dict[str, Any], *, rng: np.random.Generator) -> None:
        self.cell, self.half = 20.0, HALF_M + 400
        n = int(2 * self.half / self.cell)
        self.transform = from_origin(-self.half, self.half, self.cell, self.cell)
        self.x = -self.half + self.cell * (np.arange(n) + 0.5)[None, :] + np.zeros((n, 1))
        self.y = self.half - self.cell * (np.arange(n) + 0.5)[:, None] + np.zeros((1, n))
        self.rng = rng
        self.river_m = self._distance([lines["river"]])
        self.creek_m = self._distance(list(lines["creeks"].values()))
        ridge_m = self._distance([curve([(-4900, -1500), (-4000, -2350), (-3300, -3300), (-2500, -4900)])])
        self.ridge = np.exp(-((ridge_m / 620.0) ** 2)) * (1 + 0.35 * self.noise(9))
        north = 1 / (1 + np.exp(-(self.y - 3050 - 0.10 * np.abs(self.x + 1500)) / 420))
        north *= np.exp(-(((self.x + 2200) / 2600) ** 2))
        plain = 34 * (1 - np.exp(-((ndimage.gaussian_filter(self.river_m, 12) / 900.0) ** 1.6)))
        carve = 7 * np.exp(-((self.creek_m / 70) ** 2)) + 5 * np.exp(-((self.river_m / 45) ** 2))
        rough = 4 + 18 * np.clip(self.ridge + north, 0, 1.2)
        self.z = (
            196
            - 0.0022 * self.x
            + plain
            + 215 * self.ridge
            + 190 * north
            + rough * self.noise(14)
            + 0.35 * rough * self.noise(4)
            - carve
        )
        self.z += 42 * np.exp(-(((self.x - 3300) / 1100) ** 2 + ((self.y - 3600) / 900) ** 2))
        self.north = north

    def noise(self, sigma: float) -> np.ndarray:
        """Smooth noise, mean 0 and spread 1."""
        field = ndimage.gaussian_filter(self.rng.normal(size=self.x.shape), sigma, mode="reflect")
        return np.asarray((field - field.mean()) / field.std())

    def _distance(self, shapes: list[Any]) -> np.ndarray:
        burnt = raster_features.rasterize(
            shapes, out_shape=self.x.shape, transform=self.transform, all_touched=True
        )
        return np.asarray(ndimage.distance_transform_edt(burnt == 0) * self.cell)

    def mask(self, shape: Any) -> np.ndarray:
        """True where a cell's centre lies in the shape."""
        return np.asarray(
            raster_features.rasterize([shape], out_shape=self.x.shape, transform=self.transform).astype(bool)
        )

    def natural(self, *, town: Any, areas: dict[str, Any]) -> list[tuple[str, Polygon]]:
        """Natural ground as a clean coverage of smoothed polygons."""
        code = np.zeros(self.x.shape, dtype=np.uint8)
        dry = 0.7 * self.noise(16) + 0.55 * self.noise(6) + 0.8 * np.clip(self.ridge + self.north, 0, 1)
        code[dry > 1.12] = 2
        code[(self.noise(11) + 0.4 * self.noise(4) > 1.55) & (code == 0)] = 4
        code[(self.north > 0.42 + 0.14 * self.noise(7))] = 1
        code[self.mask(areas["state forest"]) & (self.noise(8) > -1.0)] = 1
        code[self.mask(areas["reserve"]) & (self.noise(6) > -0.9)] = 2
        code[self.mask(areas["common"])] = 2
        code[self.mask(areas["common"]) & (self.noise(5) > 0.55)] = 4
        code[self.mask(areas["common"]) & (self.noise(5) > 1.1)] = 3
        code[self.ridge > 0.33 + 0.1 * self.noise(6)] = 2
        code[self.ridge > 0.56 + 0.13 * self.noise(5)] = 3
        code[(self.ridge > 0.86 + 0.15 * self.noise(3))] = 6
        width = 48 + 30 * self.noise(8)
        code[self.creek_m < 22 + 16 * self.noise(6)] = 7
        code[(self.river_m < width)] = 7
        for marsh in areas["marshes"]:
            inside = self.mask(marsh)
            code[inside] = 5
            code[inside & (self.noise(4) > 1.3)] = 7
        code[self.mask(town)] = 0
        code = ndimage.median_filter(code, size=3)
        found = [
            (NATURAL_CODE[int(value)], shapely.geometry.shape(shape))
            for shape, value in raster_features.shapes(code, mask=code > 0, transform=self.transform)
        ]
        found = [(kind, shape) for kind, shape in found if shape.area > 4500]
        simple = shapely.coverage_simplify([shape for _, shape in found], 30.0)
        return rounded([(kind, shape) for (kind, _), shape in zip(found, simple, strict=True)])


def rounded(areas: list[tuple[str, Polygon]]) -> list[tuple[str, Polygon]]:
    """Areas of a coverage with their common edges rounded (Chaikin's corner cutting, twice)."""
    edges = shapely.get_parts(shapely.line_merge(unary_union([shape.boundary for _, shape in areas])))
    curves = []
    for edge in edges:
        xy = np.asarray(edge.coords)
        closed = edge.is_ring
        for _ in range(2):
            a, b = xy[:-1], xy[1:]
            cut = np.stack([0.75 * a + 0.25 * b, 0.25 * a + 0.75 * b], axis=1).reshape(-1, 2)
            xy = np.vstack([cut, cut[:1]]) if closed else np.vstack([xy[:1], cut[1:-1], xy[-1:]])
        curves.append(LineString(xy))
    tree = STRtree([shape for _, shape in areas])
    result = []
    for face in polygonize(unary_union(curves)):
        inside = tree.query(face.representative_point(), predicate="intersects")
        if len(inside):
            result.append((areas[int(inside.min())][0], face))
    return result


def set_areas(lines: dict[str, Any], *, rng: np.random.Generator) -> dict[str, Any]:
    """Hand-placed areas: reserves, marshes, works, burnt ground, the extent."""
    river_water = lines["river"].buffer(14).union(LineString(lines["river"].coords).buffer(11))
    areas: dict[str, Any] = {
        "state forest": blob((-2250, 3900), rx=1350, ry=560, rng=rng, rough=0.08, turn=4).intersection(
            SQUARE
        ),
        "reserve": blob((-3150, 1650), rx=620, ry=430, rng=rng, rough=0.07),
        "ridge reserve": blob((-3750, -2950), rx=760, ry=430, rng=rng, rough=0.08, turn=-52).intersection(
            SQUARE
        ),
        "common": blob((-2885, -50), rx=470, ry=620, rng=rng, rough=0.09),
        "marshes": [
            blob((2650, -240), rx=430, ry=190, rng=rng, turn=-35),
            blob((150, 1040), rx=260, ry=120, rng=rng, turn=12),
            blob((-3950, 1350), rx=300, ry=170, rng=rng),
        ],
        "quarry": blob((-2900, -2560), rx=150, ry=110, rng=rng),
        "airfield": affinity.rotate(box(2500, -3850, 2640, -2750), -18, origin=(2570, -3300)),
        "unmapped": affinity.rotate(box(2950, 1900, 3560, 2330), 9),
        "burnt": [
            blob((-2080, -2760), rx=400, ry=250, rng=rng, rough=0.16, turn=30),
            blob((-2960, 360), rx=250, ry=200, rng=rng, rough=0.16),
        ],
        "extent": Polygon(
            [
                (-4500, -4500),
                (2750, -4500),
                (3050, -2600),
                (3330, -900),
                (3240, 700),
                (3460, 2400),
                (3300, 4500),
                (-4500, 4500),
            ]
        ),
        "dams": [
            blob(rng.uniform(-4300, 4300, 2), rx=rng.uniform(14, 34), ry=rng.uniform(12, 24), rng=rng)
            for _ in range(46)
        ],
        "river water": river_water,
    }
    areas["oxbow"] = curve([(2330, -120), (2420, 10), (2560, 20), (2640, -90), (2610, -200)], step=8).buffer(
        13
    )
    return areas


# ---------------------------------------------------------------- habitat and parcels


def coverage(layers: list[tuple[str, list[tuple[str, Any]]]]) -> list[tuple[str, Polygon]]:
    """Areas laid over one another, first on top, as a clean noded coverage."""
    kinds, shapes = [], []
    for _, members in layers:
        for kind, shape in members:
            for part in polygons_of(shape):
                kinds.append(kind)
                shapes.append(shapely.set_precision(part, 0.05))
    edges = shapely.union_all([shape.boundary for shape in shapes] + [SQUARE.boundary], grid_size=0.05)
    faces = [face for face in polygonize(edges) if face.area > 0.5]
    tree = STRtree(shapes)
    points = [face.representative_point() for face in faces]
    face_of, shape_of = tree.query(points, predicate="intersects")
    best: dict[int, int] = {}
    for face, shape in zip(face_of.tolist(), shape_of.tolist(), strict=True):
        best[face] = min(best.get(face, shape), shape)
    groups: dict[int, list[Polygon]] = defaultdict(list)
    for face, shape in best.items():
        groups[shape].append(faces[face])
    result = []
    for shape in sorted(groups):
        result += [(kinds[shape], part) for part in polygons_of(unary_union(groups[shape]))]
    return result


def absorb(pieces: list[tuple[str, Polygon]], *, least_m2: float) -> list[tuple[str, Polygon]]:
    """Slivers joined to the neighbour with the longest common edge."""
    shapes = [shape for _, shape in pieces]
    tree = STRtree(shapes)
    joined: dict[int, list[Polygon]] = defaultdict(list)
    gone = set()
    for i, (kind, shape) in enumerate(pieces):
        if shape.area >= least_m2 or kind in ("open water", "transport corridor"):
            continue
        near = [
            (shapes[j].boundary.intersection(shape.boundary).length, int(j))
            for j in tree.query(shape)
            if j != i
            and shapes[j].area >= least_m2
            and pieces[j][0] not in ("open water", "transport corridor")
        ]
        if near and max(near)[0] > 0:
            joined[max(near)[1]].append(shape)
            gone.add(i)
    result = []
    for i, (kind, shape) in enumerate(pieces):
        if i not in gone:
            merged = unary_union([shape, *joined[i]]) if joined[i] else shape
            result += [(kind, part) for part in polygons_of(merged)]
    return result


def country_blocks(lines: dict[str, Any], town: Any) -> list[Polygon]:
    """Country between roads, railway, river and town."""
    cuts = [road for _, kind, road in lines["roads"] if kind != "track"]
    cuts += [lines["railway"], lines["river"], *lines["creeks"].values(), SQUARE.boundary, town.boundary]
    faces = polygonize(unary_union(cuts))
    return [
        face
        for face in faces
        if SQUARE.contains(face.representative_point())
        and not town.contains(face.representative_point())
        and face.area > 1
    ]


def town_lots(blocks: list[Polygon], outer: Any, homes: list[dict[str, Any]]) -> list[tuple[Polygon, int]]:
    """House lots: each home's nearest ground within its block."""
    centres = [home["geometry"].centroid for home in homes]
    tree = STRtree(centres)
    lots: list[tuple[Polygon, int]] = []
    for block in [*blocks, outer]:
        inside = np.sort(tree.query(block, predicate="contains"))
        if len(inside) == 0:
            continue
        cells = (
            shapely.get_parts(
                shapely.voronoi_polygons(MultiPoint([centres[i] for i in inside]), extend_to=block)
            )
            if len(inside) > 1
            else [block]
        )
        cell_tree = STRtree(list(cells))
        for i in inside:
            found = cell_tree.query(centres[i], predicate="intersects")
            lot = (
                cells[int(found.min())]
                .intersection(block)
                .intersection(homes[i]["geometry"].buffer(34, join_style="mitre"))
            )
            parts = polygons_of(lot, least_m2=80)
            if parts:
                lots.append((max(parts, key=lambda part: part.area), int(i)))
    return lots


# ---------------------------------------------------------------- writing


def write_layer(
    path: Path, layer: str, rows: list[dict[str, Any]], *, crs: str = "EPSG:4326", mixed: bool = False
) -> None:
    """One GeoPackage layer; rows carry plane geometry."""
    frame = gpd.GeoDataFrame(
        [{k: v for k, v in row.items() if k != "geometry"} for row in rows],
        geometry=[to_degrees(row["geometry"]) for row in rows],
        crs="EPSG:4326",
    )
    if crs != "EPSG:4326":
        frame = frame.to_crs(crs)
        frame.geometry = shapely.set_precision(frame.geometry.values, 0.01)
    options: dict[str, Any] = {"geometry_type": "Unknown"} if mixed else {}
    pyogrio.write_dataframe(frame, path, layer=layer, driver="GPKG", append=False, **options)


def write_rasters(
    folder: Path, terrain: Terrain, habitat: list[tuple[str, Polygon]], *, rng: np.random.Generator
) -> None:
    """Elevation [m] and ground cover [percent] on a longitude-latitude grid of about 20 m."""
    west, north, dx, dy = 147.5442, -42.0584, 0.00024, 0.00018
    width, height = 465, 463
    lon = west + dx * (np.arange(width) + 0.5)[None, :] + np.zeros((height, 1))
    lat = north - dy * (np.arange(height) + 0.5)[:, None] + np.zeros((1, width))
    x, y = TO_DEGREES.transform(lon, lat, direction="INVERSE")
    col, row = (x + terrain.half) / terrain.cell - 0.5, (terrain.half - y) / terrain.cell - 0.5
    z = ndimage.map_coordinates(terrain.z, [row, col], order=1, mode="nearest")
    kinds = list(COVER_PERCENT)
    profile = {
        "driver": "GTiff",
        "width": width,
        "height": height,
        "count": 1,
        "crs": "EPSG:4326",
        "transform": from_origin(west, north, dx, dy),
        "compress": "deflate",
        "tiled": False,
    }
    burn = raster_features.rasterize(
        [(to_degrees(shape), kinds.index(kind) + 1) for kind, shape in habitat],
        out_shape=(height, width),
        transform=profile["transform"],
        dtype="uint8",
    )
    mean = np.array([0, *COVER_PERCENT.values()], dtype=float)[burn]
    patchy = ndimage.gaussian_filter(rng.normal(size=burn.shape), 1.6)
    cover = np.clip(mean * (1 + 0.22 * patchy / patchy.std()) + 2.5 * rng.normal(size=burn.shape), 0, 100)
    cover = np.where(burn == 0, 255, np.round(cover)).astype("uint8")
    with rasterio.open(
        folder / "elevation.tif", "w", dtype="float32", nodata=-9999.0, predictor=3, **profile
    ) as file:
        file.write(np.round(z, 1).astype("float32"), 1)
    with rasterio.open(folder / "cover.tif", "w", dtype="uint8", nodata=255, predictor=2, **profile) as file:
        file.write(cover, 1)


# ---------------------------------------------------------------- the district


def reserve_sites(blocks: list[Polygon]) -> dict[str, Polygon]:
    """Whole town blocks kept for schools, parks, the hospital and works."""
    wanted = [
        ("playground park 4", (-1900, 250)),
        ("playground park 5", (300, -420)),
        ("playground park 6", (-700, -1650)),
        ("primary school", (-1250, -480)),
        ("high school", (-1350, -1050)),
        ("hospital", (-150, -880)),
        ("town park", (-860, -330)),
        ("playground park", (150, -100)),
        ("playground park 2", (-1850, -800)),
        ("sports ground", (200, -1200)),
        ("works", (-500, -1120)),
        ("cemetery", (-250, 120)),
        ("playground park 3", (-900, 1420)),
        ("works 2", (-1050, -850)),
    ]
    chosen: dict[str, Polygon] = {}
    left = [block for block in blocks if block.area > 7000]
    for name, at in wanted:
        goal = 30000 if "school" in name or name in ("sports ground", "hospital", "cemetery") else 14000
        best = min(left, key=lambda b: b.centroid.distance(Point(at)) + abs(b.area - goal) / 60)
        chosen[name] = best
        left.remove(best)
    return chosen


def peopled_rows(
    sites: dict[str, Polygon], lines: dict[str, Any], homes: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Places where people gather, as points, lines and polygons."""
    rows: list[dict[str, Any]] = [
        {
            "class": "school",
            "name": "Pellerwick Primary School",
            "geometry": sites["primary school"].buffer(-8),
        },
        {"class": "school", "name": "Pellerwick High School", "geometry": sites["high school"].buffer(-8)},
        {
            "class": "hospital",
            "name": "Pellerwick District Hospital",
            "geometry": sites["hospital"].buffer(-8),
        },
        {"class": "childcare", "name": "Little Rushes Childcare", "geometry": Point(-420, -180)},
        {"class": "childcare", "name": "North Bank Childcare", "geometry": Point(-820, 1390)},
        {"class": "kennels", "name": "Saltgrass Kennels", "geometry": Point(2240, -1460)},
        {"class": "stables", "name": "Westering Stables", "geometry": Point(-2650, 1980)},
        {"class": "picnic_place", "name": "Old Ferry Picnic Place", "geometry": Point(-3560, 1290)},
        {"class": "picnic_place", "name": "Stonejack Lookout", "geometry": Point(-3450, -2140)},
        {
            "class": "campground",
            "name": "Saw Pit Campground",
            "geometry": affinity.rotate(box(-1420, 3600, -1310, 3690), 14),
        },
        {"class": "marked_track", "name": "River Walk", "geometry": river_walk(lines)},
        {
            "class": "marked_track",
            "name": "Ridge Walk",
            "geometry": curve([(-3450, -2150), (-3600, -2500), (-3480, -2900), (-3700, -3250)], step=12),
        },
    ]
    for n, key in enumerate(
        (
            "town park",
            "playground park",
            "playground park 2",
            "playground park 3",
            "playground park 4",
            "playground park 5",
            "playground park 6",
        ),
        start=1,
    ):
        rows.append(
            {
                "class": "playground",
                "name": f"Playground {n}",
                "geometry": sites[key].representative_point().buffer(12),
            }
        )
    for n, row in enumerate(rows, start=1):
        row["id"] = f"PP-{n:02d}"
    return [{"id": row["id"], **{k: v for k, v in row.items() if k != "id"}} for row in rows]


def river_walk(lines: dict[str, Any]) -> LineString:
    """Path on the town's bank of the river."""
    bank = lines["river"].parallel_offset(42, "right", join_style="round")
    parts = [
        part for part in shapely.get_parts(bank.intersection(box(-1500, -200, 700, 1300))) if part.length > 50
    ]
    return as_line(max(parts, key=lambda part: part.length).simplify(1.0))


def parcels(
    lines: dict[str, Any],
    areas: dict[str, Any],
    *,
    town: Any,
    lots: list[tuple[Polygon, int]],
    blocks: list[Polygon],
    sites: dict[str, Polygon],
    rng: np.random.Generator,
) -> list[dict[str, Any]]:
    """Land parcels with tenure; road, rail and highway reserves are in no parcel."""
    roads = unary_union(
        [
            road.buffer(ROAD_HALF_M[kind] + (5 if kind != "trunk" else 14), quad_segs=3)
            for _, kind, road in lines["roads"]
            if kind not in ("track", "service")
        ]
        + [lines["railway"].buffer(14, quad_segs=3)]
    )
    frontage = lines["river"].buffer(38, quad_segs=4)
    rows: list[dict[str, Any]] = []

    def add(shape: Any, tenure: str, name: str = "", least_m2: float = 60.0) -> None:
        for part in polygons_of(shape, least_m2=least_m2):
            rows.extend(
                {"tenure": tenure, "name": name, "geometry": whole}
                for whole in polygons_of(shapely.set_precision(part, 0.05), least_m2=least_m2)
            )

    public = [
        (areas["reserve"].difference(frontage), "public land", "Tamsel Bend Reserve"),
        (areas["ridge reserve"], "public land", "Stonejack Ridge Reserve"),
        (areas["state forest"], "state forest", "Saw Pit State Forest"),
        (areas["common"], "council", "Westgate Common"),
        (areas["marshes"][0], "public land", "Sedge Marsh"),
        (areas["marshes"][1], "council", "Cress Marsh"),
        (areas["airfield"].buffer(60), "council", "Pellerwick Airfield"),
        (areas["quarry"].buffer(40), "private quarry", "Stonejack Quarry"),
    ]
    taken: Any = frontage.union(roads).union(town)
    for n, piece in enumerate(strips(lines["river"], every_m=900.0)):
        add(
            piece.intersection(frontage).difference(roads),
            "public land",
            f"Tamsel water frontage {n + 1}",
            400.0,
        )
    for shape, tenure, name in public:
        add(shape.difference(taken).intersection(SQUARE), tenure, name, 2000.0)
        taken = taken.union(shape)
    for block in country_blocks(lines, town):
        for part in split(block, most_m2=330000.0, rng=rng):
            forest = part.intersection(areas["state forest"]).area > 0.5 * part.area
            add(part.difference(taken), "state forest" if forest else "private farm", "", 2500.0)
    house_lots = unary_union([lot for lot, _ in lots])
    for lot, _ in lots:
        add(lot.difference(roads), "private")
    for block in blocks:
        add(block.difference(roads).difference(house_lots.buffer(0.05)), "council", "", 900.0)
    flat = coverage([("parcels", [(str(n), row["geometry"]) for n, row in enumerate(rows)])])
    kept = [(rows[int(n)], part) for n, part in flat if part.area >= 60.0]
    return [
        {"parcelID": f"P-{number:05d}", "tenure": row["tenure"], "name": row["name"], "geometry": part}
        for number, (row, part) in enumerate(kept, start=1)
    ]


def strips(line: LineString, *, every_m: float) -> list[Polygon]:
    """Corridor of a line cut into lengths."""
    cuts = np.arange(0, line.length, every_m)
    return [shapely.ops.substring(line, a, a + every_m).buffer(60, cap_style="flat") for a in cuts]


def habitat_layers(
    lines: dict[str, Any],
    areas: dict[str, Any],
    *,
    terrain: Terrain,
    town: Any,
    ground: Any,
    sites: dict[str, Polygon],
    blocks: list[Polygon],
    rng: np.random.Generator,
) -> Any:
    """Habitat as a clean coverage: water first, then works, town, natural ground, paddocks."""
    corridor = unary_union(
        [lines["highway"].buffer(16, quad_segs=3), lines["railway"].buffer(7, quad_segs=3)]
    )
    water = [areas["river water"], areas["oxbow"], *areas["dams"]]
    parks = [sites[key] for key in sites if "park" in key or key in ("cemetery", "sports ground")]
    middle = [
        block
        for block in blocks
        if np.hypot(block.centroid.x - CENTRE[0], block.centroid.y - CENTRE[1]) < 330
    ]
    works = [sites[key] for key in sites if key.startswith("works")]
    fields = []
    for block in country_blocks(lines, town):
        for part in split(block, most_m2=85000.0, rng=rng):
            luck, open_country = rng.uniform(), part.distance(town) > 60
            kind = "crop" if luck < 0.22 else "native pasture" if luck < 0.45 else "improved pasture"
            fields.append((kind if open_country else "improved pasture", part))
    return [
        ("water", [("open water", shape) for shape in water]),
        ("corridor", [("transport corridor", corridor)]),
        ("works", [("quarry floor", areas["quarry"]), ("park lawn", areas["airfield"])]),
        ("middle", [("town centre", shape) for shape in middle] + [("works", shape) for shape in works]),
        ("parks", [("park lawn", shape) for shape in parks]),
        ("town", [("house gardens", town)]),
        ("natural", terrain.natural(town=town, areas=areas)),
        ("fields", fields),
    ]


def build(folder: Path) -> dict[str, Any]:
    """Write every file into the folder; returns what was made, for those who want to look."""
    rng = np.random.default_rng(SEED)
    lines = main_lines(rng)
    areas = set_areas(lines, rng=rng)
    ground = town_ground(lines, rng=rng)
    streets = town_streets(lines, ground, rng=rng)
    lines["roads"] = lines["roads"] + streets
    noded = unary_union([road for _, kind, road in lines["roads"] if kind not in ("trunk", "track")])
    blocks = [
        block
        for block in polygonize(noded)
        if ground.buffer(60).contains(block.representative_point()) and block.area < 150000
    ]
    blocks.sort(key=lambda block: (round(block.centroid.x), round(block.centroid.y)))
    sites = reserve_sites(blocks)
    closed = unary_union(
        [
            lines["river"].buffer(50),
            lines["railway"].buffer(16),
            lines["highway"].buffer(60),
            areas["quarry"].buffer(80),
            areas["airfield"].buffer(120),
            areas["reserve"],
            areas["ridge reserve"],
            areas["state forest"],
            areas["common"],
            *areas["marshes"],
            areas["oxbow"].buffer(20),
            *[dam.buffer(15) for dam in areas["dams"]],
            *[creek.buffer(25) for creek in lines["creeks"].values()],
            areas["unmapped"].buffer(250),
            *[shape.buffer(-1) for shape in sites.values()],
        ]
    )
    builder = Builder(lines["roads"], closed)
    edge = unary_union([ground.buffer(25), *blocks])
    homes, others = town_buildings(builder, lines["roads"], edge, rng=rng)
    hamlets, sheds, drives = country_buildings(builder, lines["roads"], edge, rng=rng)
    houses = STRtree([home["geometry"] for home in [*homes, *hamlets]])
    drives = [
        drive for drive in drives if not len(houses.query(drive[2].buffer(3.5), predicate="intersects"))
    ]
    lines["roads"] = joined(lines["roads"] + drives)
    town_homes = len(homes)
    homes += hamlets
    others += sheds + site_buildings(builder, sites, rng=rng)
    outer_homes = [home["geometry"].buffer(24, quad_segs=3) for home in homes[:town_homes]]
    town: Any = unary_union([*blocks, *outer_homes]).buffer(12).buffer(-12)
    town = unary_union(polygons_of(town, least_m2=5000)).difference(
        unary_union([lines["railway"].buffer(14), lines["river"].buffer(40)])
    )
    town = unary_union([Polygon(part.exterior) for part in polygons_of(town, least_m2=5000)]).simplify(1.5)
    town = town.difference(
        unary_union([lines["creeks"]["Mill Brook"].buffer(26), lines["railway"].buffer(14)])
    )
    terrain = Terrain(lines, rng=rng)
    areas["dams"] = [
        dam
        for dam in areas["dams"]
        if not dam.intersects(town.buffer(60))
        and not dam.buffer(10).intersects(unary_union([road for _, _, road in lines["roads"]]))
        and SQUARE.contains(dam)
        and not any(dam.distance(home["geometry"]) < 20 for home in hamlets)
    ]
    habitat = coverage(
        habitat_layers(
            lines, areas, terrain=terrain, town=town, ground=ground, sites=sites, blocks=blocks, rng=rng
        )
    )
    habitat = absorb(
        [
            (kind, part)
            for kind, shape in habitat
            for part in polygons_of(shape.intersection(SQUARE).difference(areas["unmapped"]))
        ],
        least_m2=900.0,
    )
    lots = town_lots(blocks, town.difference(unary_union(blocks)), homes[:town_homes])
    land = parcels(lines, areas, town=town, lots=lots, blocks=blocks, sites=sites, rng=rng)
    homes = known_homes(homes, areas, rng=rng)
    made = {
        "lines": lines,
        "areas": areas,
        "homes": homes,
        "others": others,
        "habitat": habitat,
        "land": land,
        "town": town,
        "sites": sites,
        "terrain": terrain,
        "blocks": blocks,
        "town_homes": town_homes,
    }
    made["peopled"] = peopled_rows(sites, lines, homes)
    write_ground(folder, made)
    write_rasters(folder, terrain, habitat, rng=rng)
    write_records(folder, made, rng=rng)
    return made


def known_homes(
    homes: list[dict[str, Any]], areas: dict[str, Any], *, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Homes as the layer has them: patchy beyond the known extent, some dated because they are new."""
    kept = [home for home in homes if areas["extent"].contains(home["geometry"]) or rng.uniform() < 0.3]
    order = sorted(range(len(kept)), key=lambda i: (kept[i]["geometry"].distance(NEW_ESTATE), i))
    for place, i in enumerate(order[:110]):
        day = datetime(2026, 2, 20) + timedelta(days=int(2.3 * place + rng.integers(0, 9)))
        kept[i]["valid_from"] = day.date().isoformat()
    for number, home in enumerate(kept, start=1):
        home["id"] = f"D-{number:05d}"
    return kept


def write_ground(folder: Path, made: dict[str, Any]) -> None:
    """All feature layers."""
    lines, areas = made["lines"], made["areas"]
    ground = folder / "ground.gpkg"
    for name in ("ground.gpkg", "parcels.gpkg", "burnt.gpkg"):
        (folder / name).unlink(missing_ok=True)
    write_layer(
        ground,
        "habitat",
        [
            {"id": f"H-{n:05d}", "kind": kind, "geometry": shape}
            for n, (kind, shape) in enumerate(made["habitat"], start=1)
        ],
    )
    write_layer(
        ground,
        "dwellings",
        [
            {
                "id": home["id"],
                "class": home["class"],
                "homes": home["homes"],
                "valid_from": home.get("valid_from"),
                "geometry": home["geometry"],
            }
            for home in made["homes"]
        ],
    )
    write_layer(
        ground, "other_buildings", [{"id": f"B-{n:04d}", **row} for n, row in enumerate(made["others"], 1)]
    )
    clipped = [
        (name, kind, part)
        for name, kind, road in lines["roads"]
        for part in shapely.get_parts(road.intersection(SQUARE))
        if part.geom_type == "LineString"
    ]
    write_layer(
        ground,
        "roads",
        [
            {"id": f"R-{n:04d}", "highway": kind, "name": name, "geometry": part}
            for n, (name, kind, part) in enumerate(clipped, start=1)
        ],
    )
    write_layer(
        ground,
        "railways",
        [
            {
                "id": "RW-1",
                "class": "rail",
                "name": "Midway Line",
                "geometry": lines["railway"].intersection(SQUARE),
            }
        ],
    )
    write_layer(ground, "barriers", barrier_rows(lines, areas))
    water = [
        ("river", "River Tamsel", areas["river water"].intersection(SQUARE)),
        ("oxbow", "Heron Oxbow", areas["oxbow"]),
        *[("farm_dam", "", dam) for dam in areas["dams"]],
        *[("creek", name, line.intersection(SQUARE)) for name, line in lines["creeks"].items()],
    ]
    write_layer(
        ground,
        "water",
        [
            {"id": f"W-{n:02d}", "class": kind, "name": name, "geometry": shape}
            for n, (kind, name, shape) in enumerate(water, start=1)
        ],
        mixed=True,
    )
    write_layer(ground, "peopled_places", made["peopled"], mixed=True)
    write_layer(
        ground,
        "excluded",
        [
            {"id": "X-1", "class": "quarry", "name": "Stonejack Quarry", "geometry": areas["quarry"]},
            {
                "id": "X-2",
                "class": "sports_ground",
                "name": "Pellerwick Oval",
                "geometry": made["sites"]["sports ground"].buffer(-8),
            },
            {"id": "X-3", "class": "airfield", "name": "Pellerwick Airfield", "geometry": areas["airfield"]},
        ],
    )
    write_layer(
        ground,
        "protected",
        [
            {
                "id": "PR-1",
                "class": "nature_reserve",
                "name": "Tamsel Bend Reserve",
                "approval": "PDW-A-17",
                "geometry": areas["reserve"],
            },
            {
                "id": "PR-2",
                "class": "conservation_area",
                "name": "Stonejack Ridge Reserve",
                "approval": None,
                "geometry": areas["ridge reserve"],
            },
        ],
    )
    write_layer(
        ground, "permit_area", [{"id": "PA-1", "name": "Pellerwick District", "geometry": SQUARE.buffer(-60)}]
    )
    write_layer(folder / "parcels.gpkg", "parcels", made["land"])
    write_layer(
        folder / "burnt.gpkg",
        "burnt",
        [
            {
                "id": "F-1",
                "name": "Old Ridge Road fire",
                "valid_from": "2025-11-20",
                "valid_to": "2026-05-31",
                "geometry": areas["burnt"][0],
            },
            {
                "id": "F-2",
                "name": "Westgate Common fire",
                "valid_from": "2026-02-10",
                "valid_to": "2027-02-10",
                "geometry": areas["burnt"][1],
            },
        ],
        crs="EPSG:32755",
    )
    extent = gpd.GeoDataFrame(
        {"name": ["ground surveyed"]}, geometry=[to_degrees(areas["extent"])], crs="EPSG:4326"
    )
    (folder / "known_extent.geojson").write_text(
        extent.to_json(drop_id=True, indent=1) + "\n", encoding="utf-8"
    )


def barrier_rows(lines: dict[str, Any], areas: dict[str, Any]) -> list[dict[str, Any]]:
    """The fenced highway, open where the river and Quarl Creek pass beneath, and the airfield fence."""
    gaps = unary_union(
        [
            lines["river"].intersection(lines["highway"]).buffer(48),
            lines["creeks"]["Quarl Creek"].intersection(lines["highway"]).buffer(14),
        ]
    )
    rows = [
        {"id": f"BA-{n}", "class": "highway", "name": "Midway Highway fence", "geometry": part}
        for n, part in enumerate(
            shapely.get_parts(lines["highway"].intersection(SQUARE).difference(gaps)), start=1
        )
    ]
    return [
        *rows,
        {
            "id": f"BA-{len(rows) + 1}",
            "class": "fence",
            "name": "airfield fence",
            "geometry": areas["airfield"].buffer(25, join_style="mitre").exterior,
        },
    ]


# ---------------------------------------------------------------- captures, releases, consents


def season_moments(rng: np.random.Generator) -> list[datetime]:
    """Sixty days of capture over two seasons, most in late spring, by daylight."""
    months = {
        (2025, 9): 2,
        (2025, 10): 5,
        (2025, 11): 7,
        (2025, 12): 7,
        (2026, 1): 6,
        (2026, 2): 5,
        (2026, 3): 3,
        (2026, 4): 1,
        (2026, 7): 1,
        (2026, 8): 1,
        (2026, 9): 4,
        (2026, 10): 8,
    }
    moments = []
    for (year, month), count in months.items():
        first = 12 if month == 9 else 1
        for _ in range(count):
            day, minute = int(rng.integers(first, 29)), int(rng.normal(13 * 60, 150))
            moments.append(datetime(year, month, day) + timedelta(minutes=min(max(minute, 7 * 60), 19 * 60)))
    moments += [
        datetime(2026, 11, day) + timedelta(minutes=int(rng.integers(8 * 60, 18 * 60)))
        for day in (2, 3, 4, 5, 6, 8, 9, 10, 12, 13)
    ]
    return sorted(moments)


# share of captures, where, found in, what was written down
CAPTURE_KINDS = [
    (0.54, "edge", "yard", "back lawn by the fence"),
    (0.16, "edge", "building", "laundry"),
    (0.11, "farm", "building", "machinery shed"),
    (0.08, "farm", "yard", "hen run"),
    (0.05, "inner", "yard", "under a water tank"),
    (0.06, "farm", "road", "on the drive"),
]


def capture_pools(made: dict[str, Any]) -> dict[str, list[Any]]:
    """Homes where snakes turn up: near bush at the edge of town, farms near bush, the inner town."""
    words = ("forest", "woodland", "shrubland", "wetland", "grassland")
    wild = STRtree([shape for kind, shape in made["habitat"] if HABITAT_CLASS[kind] in words])
    known = [home for home in made["homes"] if made["areas"]["extent"].contains(home["geometry"])]
    pools: dict[str, list[Any]] = {"edge": [], "farm": [], "inner": []}
    for home in known:
        shape = home["geometry"]
        if home["class"] == "farmhouse":
            if len(wild.query(shape, predicate="dwithin", distance=110)):
                pools["farm"].append(shape)
        elif home["class"] == "house":
            if len(wild.query(shape, predicate="dwithin", distance=38)):
                pools["edge"].append(shape)
            elif 400 < shape.centroid.distance(Point(CENTRE)) < 1200:
                pools["inner"].append(shape)
    return pools


def capture_places(made: dict[str, Any], *, rng: np.random.Generator) -> list[tuple[Any, str, str]]:
    """Sixty places: mostly yards at the edge of town, then farms, drives and the inner town."""
    pools = capture_pools(made)
    places: list[tuple[Any, str, str]] = []
    for kind in rng.choice(len(CAPTURE_KINDS), size=60, p=[share for share, *_ in CAPTURE_KINDS]):
        _, pool, found, word = CAPTURE_KINDS[int(kind)]
        home = pools[pool][int(rng.integers(len(pools[pool])))]
        angle = rng.uniform(0, 2 * np.pi)
        off = 0.0 if found == "building" else rng.uniform(7, 16)
        at = np.array([home.centroid.x, home.centroid.y]) + off * np.array([np.cos(angle), np.sin(angle)])
        places.append((at, found, word))
    return places


def capture_rows(made: dict[str, Any], *, rng: np.random.Generator) -> list[dict[str, Any]]:
    """The captures, ordinary ones first drawn at random, then the special ones laid over them."""
    moments, places = season_moments(rng), capture_places(made, rng=rng)
    rows = []
    for n, (moment, (at, found, word)) in enumerate(zip(moments, places, strict=True), start=1):
        name = str(rng.choice(list(SPECIES)[:3], p=[0.52, 0.3, 0.18]))
        row = {
            "captureID": f"C-{n:03d}",
            "moment": moment,
            "at": at,
            "coordinateUncertaintyInMeters": str(rng.choice(["5", "8", "12", "20", "30"])),
            "geodeticDatum": "EPSG:4326",
            "scientificName": name,
            "individualCount": "1",
            "lifeStage": str(rng.choice(["adult", "subadult", "juvenile"], p=[0.7, 0.18, 0.12])),
            "sex": str(rng.choice(["female", "male", "unknown"])),
            "gravid": "no",
            "identification": "certain",
            "origin": "wild_local",
            "animalCondition": "fit",
            "foundIn": found,
            "trapCheckDate": "",
            "recordedBy": PEOPLE[int(rng.integers(3))],
            "occurrenceRemarks": word,
            "standard": rng.uniform() < 0.15,
        }
        row["gravid"] = "unknown" if row["sex"] == "unknown" else "no"
        rows.append(row)
    for number, change in special_captures(made).items():
        rows[number - 1].update(change)
    west = sorted(capture_pools(made)["edge"], key=lambda home: home.distance(DEMO_YARD))
    for number, home in zip(
        (54, 55, 56), west[1::3], strict=False
    ):  # a busy fortnight beside Westgate Common
        at = np.array([home.centroid.x - 9.0, home.centroid.y + 3.0])
        rows[number - 1].update(at=at, foundIn="yard", occurrenceRemarks="beside Westgate Common")
    before, after = rows[10]["moment"], rows[52]["moment"]  # the same evening, and the small hours before
    rows[11].update(moment=before.replace(hour=23, minute=57), standard=False)
    rows[51].update(moment=after.replace(hour=0, minute=4), standard=False)
    rows += last_captures(made)
    return rows


def special_captures(made: dict[str, Any]) -> dict[int, dict[str, Any]]:
    """Rows that show what a plan has to cope with."""
    return {
        4: {
            "coordinateUncertaintyInMeters": "500",
            "occurrenceRemarks": "taken by a neighbour, place from the phone call only",
        },
        7: {
            "identification": "probable",
            "scientificName": "Austrelaps superbus",
            "lifeStage": "juvenile",
            "orScientificName": "Notechis scutatus",
            "occurrenceRemarks": "shed skin and a short look; could be a young tiger snake",
        },
        10: {
            "at": np.array([-4462.0, -300.0]),
            "foundIn": "road",
            "occurrenceRemarks": "Main Street, near the western edge of the region",
        },
        12: {
            "foundIn": "building",
            "occurrenceRemarks": "hallway, found going to bed",
        },
        15: {
            "at": np.array([3195.0, 620.0]),
            "foundIn": "yard",
            "occurrenceRemarks": "stockyard close to where the survey ends",
        },
        17: {
            "scientificName": "Pseudonaja textilis",
            "origin": "possible_escapee",
            "foundIn": "yard",
            "lifeStage": "adult",
            "at": np.array([-1020.0, 260.0]),
            "occurrenceRemarks": "calm, clipped scale; species not native to the district",
        },
        19: {
            "scientificName": "Pseudonaja textilis",
            "lifeStage": "egg",
            "individualCount": "9",
            "identification": "probable",
            "origin": "unknown",
            "sex": "unknown",
            "gravid": "unknown",
            "foundIn": "yard",
            "associatedOrganisms": "clutch of nine; mother not seen",
            "occurrenceRemarks": "leathery eggs turned up in compost; the local snakes bear live young",
        },
        22: {
            "animalCondition": "injured",
            "foundIn": "road",
            "occurrenceRemarks": "struck by a mower, open wound",
        },
        13: {"organismID": "PT-0031", "occurrenceRemarks": "back lawn by the fence; marked before release"},
        24: {
            "sex": "female",
            "gravid": "yes",
            "scientificName": "Notechis scutatus",
            "lifeStage": "adult",
            "organismID": "PT-0034",
            "occurrenceRemarks": "machinery shed; heavy with young, marked before release",
        },
        26: {"coordinateUncertaintyInMeters": "", "occurrenceRemarks": "radius not recorded"},
        28: {
            "scientificName": "Notechis scutatus",
            "lifeStage": "neonate",
            "individualCount": "14",
            "sex": "unknown",
            "gravid": "no",
            "associatedOrganisms": "mother: PT-0034",
            "occurrenceRemarks": "a litter under roofing iron; the marked mother was seen beside it",
        },
        29: {"individualCount": "2", "occurrenceRemarks": "two together under a water tank"},
        30: {
            "foundIn": "trap_or_netting",
            "trapCheckDate": "same",
            "occurrenceRemarks": "in fruit netting, freed unhurt",
        },
        33: {"animalCondition": "sick", "occurrenceRemarks": "limp, breathing with open mouth"},
        35: {
            "identification": "unknown",
            "scientificName": "",
            "occurrenceRemarks": "bagged by a resident, not yet seen",
        },
        37: {
            "moment": datetime(2026, 7, 19, 11, 25),
            "scientificName": "Notechis scutatus",
            "foundIn": "yard",
            "standard": False,
            "occurrenceRemarks": "dug up with a woodpile; no version of the permit in force",
        },
        41: {
            "foundIn": "vehicle",
            "origin": "brought_in",
            "occurrenceRemarks": "came out of a caravan parked the night before",
        },
        42: {"organismID": "PT-0031", "occurrenceRemarks": "laundry; the marked animal of C-013 once more"},
        44: {
            "at": CENTRE + np.array([-62.0, 48.0]),
            "foundIn": "road",
            "scientificName": "Notechis scutatus",
            "occurrenceRemarks": "kerb outside a shop in the middle of town",
        },
        47: {
            "at": np.array([1330.0, -367.0]),
            "foundIn": "road",
            "occurrenceRemarks": "verge of Main Street, near the highway",
        },
        50: {"foundIn": "water", "occurrenceRemarks": "farm dam pump pit"},
        52: {
            "foundIn": "building",
            "occurrenceRemarks": "garage, just past midnight",
        },
    }


def last_captures(made: dict[str, Any]) -> list[dict[str, Any]]:
    """The capture of the demonstration and two that follow it; planted: C-063 is left out."""
    base = {
        "coordinateUncertaintyInMeters": "10",
        "geodeticDatum": "EPSG:4326",
        "individualCount": "1",
        "lifeStage": "adult",
        "sex": "male",
        "gravid": "no",
        "identification": "certain",
        "origin": "wild_local",
        "animalCondition": "fit",
        "foundIn": "yard",
        "trapCheckDate": "",
        "recordedBy": PEOPLE[0],
        "standard": False,
    }
    bush = unary_union(
        [
            shape
            for kind, shape in made["habitat"]
            if kind == "dry woodland" and shape.distance(DEMO_YARD) < 600
        ]
    )
    house = min(
        (
            home
            for home in made["homes"]
            if home["class"] == "house"
            and not home.get("valid_from")
            and home["geometry"].distance(DEMO_YARD) < 300
        ),
        key=lambda home: (home["geometry"].distance(bush), home["id"]),
    )["geometry"].centroid
    edge = np.asarray(shapely.ops.nearest_points(house, bush)[1].coords[0])
    start = np.array([house.x, house.y])
    yard = start + (edge - start) * min(1.0, 13.0 / np.hypot(*(edge - start)))
    return [
        {
            **base,
            "captureID": "C-061",
            "moment": datetime(2026, 11, 14, 10, 42),
            "at": yard,
            "scientificName": "Notechis scutatus",
            "occurrenceRemarks": "backyard at the western edge of town, bush over the fence",
        },
        {
            **base,
            "captureID": "C-062",
            "moment": datetime(2026, 11, 15, 16, 20),
            "at": np.array([560.0, 2790.0]),
            "scientificName": "Austrelaps superbus",
            "sex": "female",
            "gravid": "unknown",
            "recordedBy": PEOPLE[1],
            "occurrenceRemarks": "hay shed at Nettle Flat",
        },
        {
            **base,
            "captureID": "C-064",
            "moment": datetime(2026, 11, 16, 9, 5),
            "at": np.array([-2890.0, -1480.0]),
            "scientificName": "Drysdalia coronoides",
            "lifeStage": "juvenile",
            "sex": "unknown",
            "occurrenceRemarks": "leaf litter beside a veranda at Stonejack",
        },
    ]


def capture_table(rows: list[dict[str, Any]], *, rng: np.random.Generator) -> list[dict[str, Any]]:
    """Rows as captures.csv has them."""
    place = ("coordinateUncertaintyInMeters", "geodeticDatum", "scientificName")
    animal = ("individualCount", "lifeStage", "sex", "gravid", "identification", "origin")
    table = []
    for row in rows:
        lat, lon = degrees_text(row["at"])
        check = stamp(row["moment"] + timedelta(minutes=-20)) if row["trapCheckDate"] else ""
        table.append(
            {
                "captureID": row["captureID"],
                "calloutID": row["calloutID"],
                "eventDate": stamp(row["moment"], standard=row["standard"]),
                "decimalLatitude": lat,
                "decimalLongitude": lon,
                **{key: row[key] for key in place},
                "vernacularName": SPECIES.get(row["scientificName"], "snake"),
                "orScientificName": row.get("orScientificName", ""),
                **{key: row[key] for key in animal},
                "animalCondition": row["animalCondition"],
                "foundIn": row["foundIn"],
                "trapCheckDate": check,
                "organismID": row.get("organismID", ""),
                "associatedOrganisms": row.get("associatedOrganisms", ""),
                "containerID": row["containerID"],
                "recordedDate": stamp(row["moment"] + timedelta(minutes=int(rng.integers(20, 300)))),
                "recordedBy": row["recordedBy"],
                "occurrenceRemarks": row["occurrenceRemarks"],
            }
        )
    return table


OUTLYING = ("P-00063", "P-00147", "P-00139", "P-00083", "P-00274")
"""Farms whose owners agreed, for captures far from the favourite places."""


def consent_rows(made: dict[str, Any], sites: Sites) -> list[dict[str, Any]]:
    """Consents for the parcels that hold most release ground, one lapsed, one withdrawn."""
    land = made["land"]
    tree = STRtree([row["geometry"] for row in land])
    holds = tree.query(shapely.points(sites.xy), predicate="within")[1]
    count = np.bincount(holds, minlength=len(land))
    order = [int(i) for i in np.argsort(-count, kind="stable") if count[i] > 0]
    forest = [i for i in order if land[i]["tenure"] == "state forest"][:4]
    council = [i for i in order if land[i]["tenure"] == "council"][:3]
    farms = [i for i in order if land[i]["tenure"] == "private farm"][:12]
    public = [i for i in order if land[i]["tenure"] == "public land" and "Reserve" not in land[i]["name"]][:4]
    rows = []
    for n, i in enumerate([*council, *forest, *farms, *public], start=1):
        tenure = land[i]["tenure"]
        rows.append(
            {
                "consentID": f"CN-{n:03d}",
                "parcelID": land[i]["parcelID"],
                "layer": "",
                "featureID": "",
                "tenure": tenure,
                "capacity": {"private farm": "owner"}.get(tenure, "manager"),
                "written": "yes",
                "validFrom": "2025-07-01",
                "validTo": "2027-06-30",
                "species": "",
                "number": "",
                "withdrawnOn": "",
            }
        )
    rows[8].update(validTo="2026-06-30")
    rows[10].update(withdrawnOn="2026-10-12")
    rows[11].update(written="no", validTo="")
    rows[12].update(species="Drysdalia coronoides|Austrelaps superbus", number="6")
    rows[13].update(capacity="tenant", validFrom="2026-08-20")
    rows.append(
        {
            "consentID": f"CN-{len(rows) + 1:03d}",
            "parcelID": "",
            "layer": "protected",
            "featureID": "PR-1",
            "tenure": "public land",
            "capacity": "reserve manager",
            "written": "yes",
            "validFrom": "2026-08-05",
            "validTo": "2027-06-30",
            "species": "Notechis scutatus",
            "number": "4",
            "withdrawnOn": "",
        }
    )
    own = {
        "capacity": "owner",
        "tenure": "private farm",
        "layer": "",
        "featureID": "",
        "species": "",
        "number": "",
    }
    rows += [
        {**rows[0], **own, "consentID": f"CN-{n:03d}", "parcelID": p} for n, p in enumerate(OUTLYING, 25)
    ]
    return rows


HOLDERS = (
    "Orla Finchmere", "Bram Tolliver-Ash", "Wren Castlow", "Edda Marrick", "Tobit Hallowfen",
    "Sunniva Perrot", "Caspar Whinfield", "Liss Oakhanger", "Perrin Dunmarsh", "Hester Vaughlin",
    "Ivo Sallowby", "Maren Thickett",
)  # fmt: skip
"""Nobody: given names and surnames put together for this district."""


def holder_rows(made: dict[str, Any], sites: Sites) -> list[dict[str, Any]]:
    """Whom to call about the farms that hold release ground; numbers of no real plan."""
    land = made["land"]
    tree = STRtree([row["geometry"] for row in land])
    holds = tree.query(shapely.points(sites.xy).tolist(), predicate="dwithin", distance=60.0)[1]
    farms = sorted({land[i]["parcelID"] for i in holds.tolist() if land[i]["tenure"] == "private farm"})
    return [
        {"parcelID": parcel, "holder": HOLDERS[n % len(HOLDERS)], "contact": f"00 0000 {n + 1:04d}"}
        for n, parcel in enumerate(farms)
    ]


def write_records(folder: Path, made: dict[str, Any], *, rng: np.random.Generator) -> None:
    """Both seasons: callouts, captures, how holding ended, checks, incidents, containers, consents."""
    sites = Sites(made)
    consents = consent_rows(made, sites)
    captures = capture_rows(made, rng=rng)
    for row in captures:
        row["day"] = row["moment"].date().isoformat()
    by_parcel = {
        row["parcelID"]: row["consentID"] for row in consents if row["parcelID"] not in ("", *OUTLYING)
    }
    ended = outcomes(captures, sites, Ground(made, consents, Booked()), consents=by_parcel, rng=rng)
    around = np.random.default_rng([SEED, 2])  # apart, so that no capture moves with it
    cleaned = assign_containers(captures, ended)
    callouts = callout_rows(captures, capture_pools(made), rng=around)
    callouts += further_callouts(made, rng=np.random.default_rng([SEED, 3]))
    callouts.sort(key=lambda row: datetime.fromisoformat(row["eventDate"]))
    tables = {
        "consents": consents,
        "holders": holder_rows(made, sites),
        "callouts": callouts,
        "checks": check_rows(captures, ended, rng=around),
        "incidents": incident_rows(ended),
        "containers": container_table(cleaned),
        "captures": capture_table(captures, rng=around),
        "releases": release_table(ended),
    }
    for name, rows in tables.items():
        write_csv(folder / f"{name}.csv", rows)
    made["sites_ok"], made["captures"] = sites, captures


def main() -> None:
    """Command line: the folder to write into."""
    build(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent)


if __name__ == "__main__":
    main()
