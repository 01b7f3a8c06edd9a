"""The plan map: muted ground, what is ruled out veiled, the circle, the capture and the numbered sites."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tussock.geodesy import METRES_PER_DEGREE, WGS84
from tussock.maps.card_words import NEAREST_SIGN, place_name
from tussock.maps.consent_block import card_id as consent_card
from tussock.maps.consent_block import letter
from tussock.maps.ground_sketch import GroundSketch, by_class, encoded, layer_names
from tussock.maps.ground_style import (
    BASE,
    OFF_AT_FIRST,
    PATTERNS,
    REASON_PATTERNS,
    Pair,
    Pattern,
    Style,
    style_of,
)
from tussock.maps.marks import CROSS
from tussock.maps.png import Colour, png_address
from tussock.maps.warp import Warp, warp
from tussock.maps.words import compass, metres
from tussock.planning.record import Plan, Rasters, Site

if TYPE_CHECKING:
    from tussock.maps.canvas import Canvas

VEIL = ("rgba(92,97,102,0.50)", "rgba(4,5,6,0.62)", "rgba(110,116,122,0.34)")
"""By day, dark and in print, where less ink is wanted."""
HATCH: Pair = ("#5d6166", "#7d8388")
INK: Pair = ("#0e2a40", "#f4f6f7")
REASON: Pair = ("#3f444a", "#c9ced3")
SCORE_STEPS = 5
SCORE_ALPHA = 140
"""55 % of 255."""
CIVIDIS = ((0, 34, 78), (67, 78, 108), (125, 124, 120), (188, 174, 108), (254, 232, 56))
"""Cividis at 0, ¼, ½, ¾, 1. Source: Nuñez, Anderton & Renslow 2018, PLoS ONE 13(7) (from memory)."""
MASK: tuple[Colour, ...] = ((0, 0, 0, 0), (0, 0, 0, 110), (0, 0, 0, 255))
NEAREST_CARD = "site-nearest"


def circle_ring(
    longitude: float, latitude: float, radius_m: float, *, points: int = 181
) -> list[tuple[float, float]]:
    """Return the closed ring of points [degrees] at a geodesic distance [m] from a point."""
    azimuths = np.linspace(0.0, 360.0, points)
    lon, lat, _ = WGS84.fwd(
        np.full(points, longitude), np.full(points, latitude), azimuths, np.full(points, float(radius_m))
    )
    ring = [(float(x), float(y)) for x, y in zip(lon, lat, strict=True)]
    return [*ring[:-1], ring[0]]


def card_id(site: Site) -> str:
    """Return the id of a site's card in the page."""
    return f"site-{site.rank}"


def shown_sites(plan: Plan) -> list[tuple[Site, str, str]]:
    """Return the sites on the map with sign and card: the offered, and the nearest if it is none of them."""
    shown = [(s, str(s.rank), card_id(s)) for s in plan.sites]
    near = plan.nearest
    if near and not any(same_place(near, s) for s in plan.sites):
        shown.append((near, NEAREST_SIGN, NEAREST_CARD))
    return shown


def waiting_places(plan: Plan) -> list[tuple[Site, str, str]]:
    """Return the places that lack only a consent with sign and card."""
    return [(s, letter(k), consent_card(k)) for k, s in enumerate(plan.needs_consent)]


def same_place(a: Site, b: Site) -> bool:
    """Return whether two sites are the same candidate."""
    return (a.longitude, a.latitude) == (b.longitude, b.latitude)


def draw_plan(canvas: Canvas, plan: Plan, ground: GroundSketch) -> None:
    """Put the whole plan on a canvas, from the ground up."""
    draw_ground(canvas, ground)
    if plan.rasters is not None:
        _draw_rasters(canvas, plan, plan.rasters, ground)
    else:
        _draw_outside(canvas, plan, ground)
    _draw_circle(canvas, plan)
    _draw_capture(canvas, plan)
    _draw_sites(canvas, plan)
    canvas.draw("view", first=_first_view(plan), circle=circle_bounds(plan), sites=_site_bounds(plan))


def limits(plan: Plan, ground: GroundSketch) -> list[list[float]]:
    """Return [[south, west], [north, east]] of everything there is to see."""
    (s, w), (n, e) = circle_bounds(plan)
    gw, gs, ge, gn = ground.bounds
    return [[min(s, gs), min(w, gw)], [max(n, gn), max(e, ge)]]


def circle_bounds(plan: Plan) -> list[list[float]]:
    """Return the box of the circle searched, with a little air for its label."""
    return _box_around(plan.capture.longitude, plan.capture.latitude, max(plan.circle_m, 200.0) * 1.05)


def _box_around(longitude: float, latitude: float, reach_m: float) -> list[list[float]]:
    dy = reach_m / METRES_PER_DEGREE
    dx = dy / max(0.01, math.cos(math.radians(latitude)))
    return [[latitude - dy, longitude - dx], [latitude + dy, longitude + dx]]


def _site_bounds(plan: Plan) -> list[list[float]]:
    """Return the box of capture and sites, at least 400 m across, with a quarter of air."""
    places = [(plan.capture.longitude, plan.capture.latitude)]
    places += [(s.longitude, s.latitude) for s, _, _ in (*shown_sites(plan), *waiting_places(plan))]
    lons, lats = zip(*places, strict=True)
    (s0, w0), (n0, e0) = _box_around((min(lons) + max(lons)) / 2, (min(lats) + max(lats)) / 2, 200.0)
    s, n, w, e = min(s0, *lats), max(n0, *lats), min(w0, *lons), max(e0, *lons)
    dy, dx = (n - s) / 8, (e - w) / 8
    return [[s - dy, w - dx], [n + dy, e + dx]]


def _first_view(plan: Plan) -> str:
    """Return which view opens: the sites where they fill little of the circle, else the circle."""
    (s, _), (n, _) = _site_bounds(plan)
    (cs, _), (cn, _) = circle_bounds(plan)
    return "sites" if (plan.sites or plan.needs_consent) and (n - s) < 0.6 * (cn - cs) else "circle"


def draw_ground(canvas: Canvas, ground: GroundSketch) -> None:
    """Put the ground on a canvas, from the bottom up."""
    base = Style("ground", BASE)
    canvas.draw("ground", layer="ground", on=True, style=base.payload(), **encoded([known_within(ground)]))
    for name in layer_names(ground):
        groups = by_class(ground.layers[name])
        for kind in sorted(groups, key=lambda k: (-style_of(name, k).weight if name == "roads" else 0, k)):
            canvas.draw(
                "ground",
                layer=name,
                on=name not in OFF_AT_FIRST,
                style=style_of(name, kind).payload(),
                **encoded(groups[kind]),
            )


def known_within(ground: GroundSketch) -> BaseGeometry:
    """Return the known extent within the ground handed in: outside it nothing was drawn."""
    return ground.known.intersection(box(*ground.bounds))


def _draw_rasters(canvas: Canvas, plan: Plan, rasters: Rasters, ground: GroundSketch) -> None:
    picture = warp(rasters.window, rasters.plane)
    address = png_address(picture.picture(_score_steps(rasters)), score_palette())
    canvas.draw(
        "picture",
        layer="score",
        level="score",
        z=230,
        on=True,
        offNarrow=True,
        address=address,
        bounds=picture.bounds,
    )
    ring = Polygon(circle_ring(plan.capture.longitude, plan.capture.latitude, plan.circle_m))
    _wash(canvas, "veil", picture, _veil(rasters), level="veil", z=240, outside=ring, fill=VEIL, on=True)
    for k, (key, mask) in enumerate(sorted(rasters.ruled_out.items())):
        values = np.where(rasters.inside, mask, np.uint8(0))
        _wash(
            canvas,
            reason_layer(key),
            picture,
            values,
            level="reasons",
            z=250,
            pattern=reason_pattern(k),
            on=False,
        )
    unknown = np.where(rasters.unknown & rasters.inside, np.uint8(2), np.uint8(0))
    _wash(
        canvas, "unknown", picture, unknown, level="unknown", z=260, outside=known_within(ground),
        pattern=PATTERNS["not known"], colour=HATCH, on=True,
    )  # fmt: skip


def _draw_outside(canvas: Canvas, plan: Plan, ground: GroundSketch) -> None:
    """Draw the veil and the hatch of a plan that carries no rasters: by circle and extent alone."""
    if plan.circle_m > 0:
        ring = Polygon(circle_ring(plan.capture.longitude, plan.capture.latitude, plan.circle_m))
        beyond = encoded([ring])["areas"]
        canvas.draw("wash", layer="veil", level="veil", z=240, on=True, fill=VEIL, outside=beyond)
    hatch = {**PATTERNS["not known"].payload(), "colour": HATCH}
    outside = encoded([known_within(ground)]).get("areas")
    canvas.draw("wash", layer="unknown", level="unknown", z=260, on=True, pattern=hatch, outside=outside)


def _wash(
    canvas: Canvas,
    layer: str,
    picture: Warp,
    values: npt.NDArray[np.uint8],
    *,
    level: str,
    z: int,
    on: bool,
    outside: BaseGeometry | None = None,
    fill: tuple[str, ...] | None = None,
    pattern: Pattern | None = None,
    colour: Pair = REASON,
) -> None:
    data: dict[str, Any] = {"layer": layer, "level": level, "z": z, "on": on, "bounds": picture.bounds}
    data["mask"] = png_address(picture.picture(values), MASK)
    if outside is not None and not outside.is_empty:
        data["outside"] = encoded([outside])["areas"]
    if fill:
        data["fill"] = fill
    if pattern:
        data["pattern"] = {**pattern.payload(), "colour": colour}
    canvas.draw("wash", **data)


def reason_layer(key: str) -> str:
    """Return the layer id of a single reason; the key itself may hold any text."""
    return f"reason:{key}"


def reason_pattern(k: int) -> Pattern:
    """Return the pattern of the k-th single reason."""
    return PATTERNS[REASON_PATTERNS[k % len(REASON_PATTERNS)]]


def _veil(rasters: Rasters) -> npt.NDArray[np.uint8]:
    """Return 2 where any clause rules the cell out, 1 where one is undecided at this grain, else 0."""
    worst = np.zeros(rasters.inside.shape, np.uint8)
    for mask in rasters.ruled_out.values():
        np.maximum(worst, mask, out=worst)
    worst[~rasters.inside] = 0
    return worst


def _score_steps(rasters: Rasters) -> npt.NDArray[np.uint8]:
    """Return 1–5 for a fifth of the score each, 0 where there is none."""
    score = np.nan_to_num(rasters.score, nan=-1.0)
    steps = np.clip(np.floor(score * SCORE_STEPS), 0, SCORE_STEPS - 1).astype(np.uint8) + np.uint8(1)
    return np.asarray(np.where((score >= 0) & rasters.inside, steps, 0), np.uint8)


def score_palette() -> tuple[Colour, ...]:
    """Return transparent and the five steps, 55 % opaque."""
    return ((0, 0, 0, 0), *((r, g, b, SCORE_ALPHA) for r, g, b in CIVIDIS))


def map_point(longitude: float, latitude: float) -> list[float]:
    """Return latitude, longitude with six decimals, as the canvas takes a point."""
    return [round(float(latitude), 6), round(float(longitude), 6)]


def _draw_circle(canvas: Canvas, plan: Plan) -> None:
    if plan.circle_m <= 0:
        return
    c = plan.capture
    ring = circle_ring(c.longitude, c.latitude, plan.circle_m)
    canvas.draw(
        "line", layer="circle", lines=encoded([LineString(ring)])["lines"], stroke=INK, weight=2, dash="9 5"
    )
    words = circle_words(plan)
    for azimuth in (0.0, 180.0):
        lon, lat, _ = WGS84.fwd(c.longitude, c.latitude, azimuth, plan.circle_m)
        canvas.draw("label", layer="circle", at=map_point(lon, lat), text=words)


def circle_words(plan: Plan) -> str:
    """Return what stands on the circle's line: its radius and the clause it comes from."""
    return f"{metres(plan.circle_m)} · {plan.circle_label}" if plan.circle_label else metres(plan.circle_m)


def _draw_capture(canvas: Canvas, plan: Plan) -> None:
    c = plan.capture
    style = Style("capture", ("rgba(14,42,64,0.20)", "rgba(244,246,247,0.20)"), stroke=INK, weight=1.4)
    disc = Polygon(circle_ring(c.longitude, c.latitude, c.radius_m, points=49))
    canvas.draw("disc", layer="capture", style=style.payload(), areas=encoded([disc])["areas"])
    canvas.draw("capture", at=map_point(c.longitude, c.latitude), cross=CROSS, label="capture")


def _draw_sites(canvas: Canvas, plan: Plan) -> None:
    style = Style(
        "site", ("rgba(14,42,64,0.16)", "rgba(244,246,247,0.18)"), stroke=INK, weight=1.6, dash="3 3"
    )
    shown = shown_sites(plan)
    drawn = [*shown, *waiting_places(plan)]
    if drawn:
        discs = [Polygon(circle_ring(s.longitude, s.latitude, s.radius_m, points=49)) for s, _, _ in drawn]
        canvas.draw("disc", layer="sites", style=style.payload(), areas=encoded(discs)["areas"])
    for order, (site, sign, card) in enumerate(shown):
        canvas.draw(
            "site",
            at=map_point(site.longitude, site.latitude),
            sign=sign,
            card=card,
            first=order == 0 and sign != NEAREST_SIGN,
            order=order,
            label=_site_label(site, total=len(plan.sites)),
        )
    for order, (site, sign, card) in enumerate(waiting_places(plan), start=len(shown)):
        canvas.draw(
            "site",
            at=map_point(site.longitude, site.latitude),
            sign=sign,
            card=card,
            first=False,
            waiting=True,
            order=order,
            label=f"Place {sign}, needs consent first: {_away(site)} of the capture. Open its card.",
        )


def _site_label(site: Site, *, total: int) -> str:
    return f"{place_name(site, total=total)[1]}: {_away(site)} of the capture. Open its card."


def _away(site: Site) -> str:
    return f"{metres(site.distance_m, spread=site.radius_m)} {compass(site.bearing_deg)}"


def reason_keys(plan: Plan) -> Sequence[str]:
    """Return the keys of the single reasons, in the order their patterns are given out."""
    return sorted(plan.rasters.ruled_out) if plan.rasters is not None else []
