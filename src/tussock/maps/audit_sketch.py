"""A record's small map: the region's own vectors, capture and release with their discs, one SVG each.

Paths are whole numbers of tenths of a pixel. Colours and patterns stand once in the page, see
:class:`Palette`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from html import escape

import numpy as np

from tussock.clock import local_date
from tussock.geodesy import Plane, distance_m
from tussock.ground.region import Region
from tussock.maps.audit_frame import HIGH, TENTHS, WIDE, Frame, ground_paths
from tussock.maps.audit_palette import Palette
from tussock.maps.audit_words import explained
from tussock.maps.ground_from_region import ground_sketch
from tussock.maps.marks import verdict_class, verdict_shape
from tussock.maps.words import MOST_KINDS, metres
from tussock.measure.judging import ClauseResult
from tussock.permit.place_kinds import MaxReleasesNear
from tussock.position import Position
from tussock.review.audit import Audit, Row
from tussock.review.handling import Handling

_LEAST_REACH_M = 250.0
_CLOSE_REACH_M = 120.0
_AIR = 1.25
SITE_KINDS = frozenset(
    {
        "min_distance_from", "habitat_in", "min_patch_area", "within", "not_within", "consent_recorded",
        "max_releases_near", "species_in_range", "same_polygon_as_capture",
    }
)  # fmt: skip
"""Kinds that ask what lies round the release: a second map shows it from near."""
_CONSENT = "consent_recorded"


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
    ground = ground_sketch(region, box=frame.beyond, day=day)
    inner = ground_paths(ground, plane, frame, named=palette.name, with_parcels=view.with_parcels)
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
