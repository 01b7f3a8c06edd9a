"""A record's small map: the region's own vectors, capture and release with their discs, one SVG each.

Paths are whole numbers of tenths of a pixel. Colours and patterns stand once in the page, see
:class:`Palette`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from html import escape

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.clock import local_date
from tussock.geodesy import Plane, distance_m
from tussock.ground.region import Region
from tussock.maps.audit_words import explained
from tussock.maps.ground_from_region import ground_sketch
from tussock.maps.ground_sketch import GroundSketch, layer_names
from tussock.maps.ground_style import PATTERNS, Style, layer_words, style_of
from tussock.maps.marks import swatch, verdict_class, verdict_shape
from tussock.maps.words import MOST_KINDS, metres
from tussock.measure.judging import ClauseResult
from tussock.permit.place_kinds import MaxReleasesNear
from tussock.position import Position
from tussock.review.audit import Audit, Row
from tussock.review.handling import Handling

WIDE, HIGH = 320, 240
"""Of a small map [pixels]."""
TENTHS = 10
_LEAST_REACH_M = 250.0
_CLOSE_REACH_M = 120.0
_AIR = 1.25
_FINER_PX = 0.4
"""Vertices that move an outline by less are left out [pixels]."""
_DOT_PX = 1.6
SITE_KINDS = frozenset(
    {
        "min_distance_from", "habitat_in", "min_patch_area", "within", "not_within", "consent_recorded",
        "max_releases_near", "species_in_range", "same_polygon_as_capture",
    }
)  # fmt: skip
"""Kinds that ask what lies round the release: a second map shows it from near."""
_PARCELS, _CONSENT = "parcels", "consent_recorded"
HATCHES = (
    '<pattern id="h-missing" width="7" height="7" patternUnits="userSpaceOnUse">'
    '<path class="hatch-line" d="M0 7L7 0M-1 1L1 -1M6 8L8 6"/></pattern>'
    '<pattern id="h-uncertain" width="7" height="7" patternUnits="userSpaceOnUse">'
    '<rect class="hatch-dot" x="1" y="1" width="3" height="3"/></pattern>'
    '<pattern id="h-unknown" width="120" height="120" patternUnits="userSpaceOnUse">'
    '<path class="hatch-line wide" d="M0 120L120 0"/></pattern>'
)
"""Of the plots' bars, and of ground in the small maps that is not known."""
Box = tuple[float, float, float, float]


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
        """Return swatch and words of every style, layers in the order drawn."""
        rows = "".join(
            f"<li>{swatch(style, f'k-{name}')} {escape(_words(style, self._layers[style]))}</li>"
            for style, name in self._names.items()
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


@dataclass(frozen=True)
class Frame:
    """What a small map shows: a box of the plane [m], its sides as :data:`WIDE` to :data:`HIGH`."""

    x: float
    y: float
    reach_m: float

    @property
    def box(self) -> Box:
        """West, south, east, north [m]."""
        wide = self.reach_m * WIDE / HIGH
        return self.x - wide, self.y - self.reach_m, self.x + wide, self.y + self.reach_m

    @property
    def per_metre(self) -> float:
        """Tenths of a pixel a metre."""
        return HIGH * TENTHS / (2 * self.reach_m)

    def at(self, xy: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Return plane coordinates as those of the drawing."""
        west, _, _, north = self.box
        return np.column_stack([(xy[:, 0] - west) * self.per_metre, (north - xy[:, 1]) * self.per_metre])


@dataclass(frozen=True)
class View:
    """One small map: what it shows, its caption, and the clauses whose limits are circles in it.

    Attributes
    ----------
    circles
        Drawn round the capture.
    near_by
        Drawn round the release.
    """

    frame: Frame
    title: str
    circles: tuple[ClauseResult, ...] = ()
    near_by: tuple[ClauseResult, ...] = ()

    @property
    def with_parcels(self) -> bool:
        """Whether a clause asks whose ground it is."""
        return any(r.kind == _CONSENT for r in self.near_by)


def small_maps(row: Row, audit: Audit, region: Region, palette: Palette) -> str:
    """Return a record's small maps: where it was taken and let go, and the release from near where asked.

    Empty where nothing is recorded of where it was.
    """
    handling = row.kept.handling
    if handling is None:
        return ""
    site = [r for r in explained(row) if r.kind in SITE_KINDS]
    views = [View(_overview(handling, region.plane), _title(handling), _around_capture(row))]
    if site and handling.let_go_at is not None:
        near = _close(handling.let_go_at, site, row, audit, region.plane)
        views.append(View(near, "The release from near", near_by=tuple(site)))
    drawn = (_map(row, audit, region, palette, view=view) for view in views)
    return f'<div class="maps">{"".join(drawn)}</div>'


def _overview(handling: Handling, plane: Plane) -> Frame:
    places = [p for p in (handling.taken_at, handling.let_go_at) if p is not None]
    at = [(_xy(p, plane), p.radius_m) for p in places]
    west, east = min(xy[0] - r for xy, r in at), max(xy[0] + r for xy, r in at)
    south, north = min(xy[1] - r for xy, r in at), max(xy[1] + r for xy, r in at)
    reach = max((north - south) / 2, (east - west) / 2 * HIGH / WIDE) * _AIR
    return Frame((west + east) / 2, (south + north) / 2, max(reach, _LEAST_REACH_M))


def _close(at: Position, results: list[ClauseResult], row: Row, audit: Audit, plane: Plane) -> Frame:
    limits = [r.limit for r in results if r.unit == "m" and r.limit and r.kind not in MOST_KINDS]
    limits += [m for r in results if (m := _within_m(r, row, audit))]
    reach = max([_CLOSE_REACH_M, 1.6 * at.radius_m, *(1.3 * limit + at.radius_m for limit in limits)])
    return Frame(*_xy(at, plane), reach)


def _around_capture(row: Row) -> tuple[ClauseResult, ...]:
    return tuple(r for r in explained(row) if r.kind == "max_distance_from_capture" and r.limit)


def _xy(at: Position, plane: Plane) -> tuple[float, float]:
    x, y = plane.project(at.longitude, at.latitude)
    return float(x), float(y)


def _map(row: Row, audit: Audit, region: Region, palette: Palette, *, view: View) -> str:
    handling = row.kept.handling
    assert handling is not None  # the caller looked
    frame, plane = view.frame, region.plane
    day = local_date(handling.disposed or audit.now, audit.permit.zone)
    ground = ground_sketch(region, box=frame.box, day=day)
    inner = _ground(ground, plane, frame, palette, with_parcels=view.with_parcels)
    inner += _rings(handling, view, plane)
    inner += _others(row, audit, view, plane)
    inner += _marks(row, handling, plane, frame)
    said = escape(view.title)
    box = f'viewBox="0 0 {WIDE * TENTHS} {HIGH * TENTHS}"'
    return (
        f'<figure class="small-map"><svg {box} role="img" aria-label="{said}">{inner}{_scale(frame)}</svg>'
        f"<figcaption>{said}</figcaption></figure>"
    )


def _title(handling: Handling) -> str:
    a, b = handling.taken_at, handling.let_go_at
    if b is None:
        return "Where it was taken"
    away = float(distance_m(a.longitude, a.latitude, b.longitude, b.latitude))
    return f"Taken at the cross, let go {metres(away, spread=a.radius_m + b.radius_m)} away"


def _ground(ground: GroundSketch, plane: Plane, frame: Frame, palette: Palette, *, with_parcels: bool) -> str:
    """Return the ground's paths from the bottom up; what is not known stays hatched."""
    unknown = f'<rect class="unknown" width="{WIDE * TENTHS}" height="{HIGH * TENTHS}"/>'
    known = _path(_projected(ground.known, plane, frame), closed=True)
    drawn = [unknown, f'<path class="known" d="{known}"/>']
    for name in layer_names(ground):
        if name == _PARCELS and not with_parcels:
            continue
        for kind, geometry in ground.layers[name]:
            style = style_of(name, kind)
            drawn.append(_styled(_projected(geometry, plane, frame), style, palette.name(style, name)))
    return "".join(drawn)


def _styled(flat: npt.NDArray[np.object_], style: Style, name: str) -> str:
    """Return areas, their pattern and lines of one style."""
    dimension = shapely.get_dimensions(flat)
    areas = _path(flat[dimension == 2], closed=True) + _dots(flat[dimension == 0])
    lines = _path(flat[dimension == 1], closed=False)
    out = f'<path class="{name}" d="{areas}"/>' if areas else ""
    out += f'<path class="o-{name}" d="{areas}"/>' if areas and style.pattern else ""
    return out + (f'<path class="{name} line" d="{lines}"/>' if lines else "")


def _projected(geometry: BaseGeometry, plane: Plane, frame: Frame) -> npt.NDArray[np.object_]:
    """Return the parts of a geometry in the drawing's coordinates, without what nobody would see."""
    parts = shapely.get_parts(shapely.get_parts(np.array([geometry], dtype=object)))
    degrees = shapely.get_coordinates(parts)
    if not len(degrees):
        return np.array([], dtype=object)
    x, y = plane.project(degrees[:, 0], degrees[:, 1])
    flat = shapely.set_coordinates(parts, frame.at(np.column_stack([x, y])))
    plain = shapely.simplify(flat, _FINER_PX * TENTHS, preserve_topology=False)
    gone = shapely.is_empty(plain) & (shapely.get_dimensions(flat) == 2)
    plain[gone] = shapely.centroid(flat[gone])  # a house from far is a dot
    return np.asarray(plain[~shapely.is_empty(plain)], dtype=object)


def _path(parts: npt.NDArray[np.object_], *, closed: bool) -> str:
    if not len(parts):
        return ""
    singles = shapely.get_parts(parts)
    rings = shapely.get_rings(singles[shapely.get_dimensions(singles) == 2]) if closed else singles
    return "".join(_run(shapely.get_coordinates(ring), closed=closed) for ring in rings)


def _run(xy: npt.NDArray[np.float64], *, closed: bool) -> str:
    whole = np.rint(xy).astype(int)
    steps = np.diff(whole, axis=0)
    steps = steps[np.any(steps != 0, axis=1)]
    if not len(steps):
        return ""
    moves = " ".join(f"{dx} {dy}" for dx, dy in steps[: -1 if closed and len(steps) > 1 else None])
    return f"M{whole[0, 0]} {whole[0, 1]}l{moves}{'z' if closed else ''}"


def _dots(points: npt.NDArray[np.object_]) -> str:
    size = round(_DOT_PX * TENTHS)
    spots = np.unique(np.rint(shapely.get_coordinates(points)).astype(int), axis=0)
    return "".join(f"M{x - size // 2} {y - size // 2}h{size}v{size}h-{size}z" for x, y in spots)


def _rings(handling: Handling, view: View, plane: Plane) -> str:
    """Return the limits drawn as circles: round the capture, or round the release."""
    drawn = [(handling.taken_at, r) for r in view.circles]
    at = handling.let_go_at
    drawn += [(at, r) for r in view.near_by if at and r.kind == "min_distance_from" and r.limit]
    return "".join(_ring(at, r, plane, view.frame) for at, r in drawn)


def _others(row: Row, audit: Audit, view: View, plane: Plane) -> str:
    """Return the book's other releases as small squares, with the circle in which a clause counts them."""
    counting = [r for r in view.near_by if r.kind == "max_releases_near"]
    frame = view.frame
    at = row.kept.handling.let_go_at if row.kept.handling else None
    if not counting or at is None:
        return ""
    others = [r.kept.handling.let_go_at for r in audit.rows if r is not row and r.kept.handling]
    spots = np.array([_spot(p, plane, frame) for p in others if p is not None]).reshape(-1, 2)
    inside = np.all((spots >= 0) & (spots <= [WIDE * TENTHS, HIGH * TENTHS]), axis=1)
    squares = "".join(f"M{x - 45:.0f} {y - 45:.0f}h90v90h-90z" for x, y in spots[inside])
    circles = [replace(r, limit=_within_m(r, row, audit)) for r in counting]
    drawn = "".join(_ring(at, r, plane, frame) for r in circles if r.limit)
    return drawn + (f'<path class="other" d="{squares}"/>' if squares else "")


def _within_m(result: ClauseResult, row: Row, audit: Audit) -> float | None:
    """Return how far a clause counts earlier releases [m], from the version that judged the record."""
    judged = row.judged
    for version in audit.permit.versions:
        for condition in version.conditions if judged and version.name == judged.disposal else ():
            if condition.id == result.id and isinstance(condition, MaxReleasesNear):
                return condition.within_m
    return None


def _ring(at: Position, result: ClauseResult, plane: Plane, frame: Frame) -> str:
    (x, y), size = _spot(at, plane, frame), (result.limit or 0) * frame.per_metre
    words = escape(f"{metres(result.limit or 0)} · {result.id}")
    circle = f'<circle class="limit" cx="{x:.0f}" cy="{y:.0f}" r="{size:.0f}"/>'
    return circle + _ring_label(x, y, size, words)


def _ring_label(x: float, y: float, size: float, words: str) -> str:
    """Return the label at the first point of the circle that lies well within the drawing."""
    for turn in (90, 270, 60, 120, 240, 300, 30, 150, 210, 330, 0, 180, 45, 135, 225, 315):
        px, py = x + size * math.cos(math.radians(turn)), y - size * math.sin(math.radians(turn))
        if 500 <= px <= WIDE * TENTHS - 500 and 150 <= py <= HIGH * TENTHS - 350:
            return f'<text class="said" x="{px:.0f}" y="{py:.0f}" text-anchor="middle">{words}</text>'
    return ""


def _marks(row: Row, handling: Handling, plane: Plane, frame: Frame) -> str:
    a = _spot(handling.taken_at, plane, frame)
    out = _disc(a, handling.taken_at.radius_m * frame.per_metre)
    if handling.let_go_at is None:
        return out + _cross(a)
    b = _spot(handling.let_go_at, plane, frame)
    out += _disc(b, handling.let_go_at.radius_m * frame.per_metre)
    for kind in ("halo", "way"):
        out += f'<path class="{kind}" d="M{a[0]:.0f} {a[1]:.0f}L{b[0]:.0f} {b[1]:.0f}"/>'
    return out + _cross(a) + _shape(b, row)


def _spot(at: Position, plane: Plane, frame: Frame) -> tuple[float, float]:
    x, y = frame.at(np.array([_xy(at, plane)]))[0]
    return float(x), float(y)


def _disc(at: tuple[float, float], size: float) -> str:
    return f'<circle class="radius" cx="{at[0]:.0f}" cy="{at[1]:.0f}" r="{size:.0f}"/>'


def _cross(at: tuple[float, float]) -> str:
    x, y = at
    d = f"M{x:.0f} {y - 90:.0f}v180M{x - 90:.0f} {y:.0f}h180"
    return f'<path class="cross halo" d="{d}"/><path class="cross" d="{d}"/>'


def _shape(at: tuple[float, float], row: Row) -> str:
    """Return the release's mark: the verdict's shape on a halo."""
    return (
        f'<g class="mark {verdict_class(row.verdict)}" transform="translate({at[0]:.0f} {at[1]:.0f})">'
        '<circle class="back" r="105"/><g transform="scale(10) translate(-8 -8)" fill="none"'
        f' stroke="currentColor" stroke-width="1.8">{verdict_shape(row.verdict)}</g></g>'
    )


def _scale(frame: Frame) -> str:
    """Return a scale bar of a round length, at the lower left."""
    most = WIDE * TENTHS / 3 / frame.per_metre
    step = 10 ** math.floor(math.log10(most))
    length = next(k * step for k in (5, 2, 1) if k * step <= most)
    wide = length * frame.per_metre
    x, y = 80, HIGH * TENTHS - 70
    words = f'<text class="said" x="{x + wide / 2:.0f}" y="{y - 60}" text-anchor="middle">{metres(length)}'
    bar = f'<path class="scale" d="M{x} {y - 40}v40h{wide:.0f}v-40"/>'
    return f'<path class="halo" d="M{x} {y}h{wide:.0f}"/>{bar}{words}</text>'
