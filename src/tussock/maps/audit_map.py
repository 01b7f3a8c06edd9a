"""An audit on one map: every release with its verdict as shape and word, tied to its place of capture."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import LineString, Polygon

from tussock.clock import local_date
from tussock.geodesy import METRES_PER_DEGREE
from tussock.ground.region import Region
from tussock.interval import Verdict
from tussock.maps.audit_words import ORDER, animal_words, count_words, day, decided, outcome_words
from tussock.maps.cautions import CAUTIONS, NOT_LEGAL, footer_cautions
from tussock.maps.ground_from_region import ground_sketch
from tussock.maps.ground_sketch import GroundSketch, encoded, layer_names
from tussock.maps.ground_style import PATTERNS, Style
from tussock.maps.legend import ground_rows, switch_row
from tussock.maps.marks import NORTH, verdict_class, verdict_mark, verdict_shape
from tussock.maps.plan_map import HATCH, INK, circle_ring, draw_ground, known_within, map_point
from tussock.maps.words import VERDICT_WORDS
from tussock.position import Position
from tussock.review.audit import Audit, Row, in_order_of_explaining

if TYPE_CHECKING:
    from tussock.maps.canvas import Canvas

MOST_MARKS = 2000
"""More marks than that make a map slow: those that need explaining are drawn first."""
_LEAST_M = 300.0
_AIR = 0.06
"""Of a view, a share of its width or height; the ground goes on for four times that."""
LABEL = "Map of the places of capture and release, each release with its verdict"
_WORST_FIRST = (Verdict.NOT_MET, Verdict.MISSING, Verdict.UNCERTAIN, Verdict.MET)


def audit_map(audit: Audit, region: Region) -> str:
    """Return one self-contained page that asks no host for anything; the same audit gives the same bytes.

    Records without a place of release, or without anything to judge, stand in the list only.
    """
    from tussock.maps.canvas import Canvas

    rows = in_order_of_explaining(audit.rows)
    drawn = [row for row in rows if _release(row) is not None][:MOST_MARKS]
    names = {id(row): f"m{k + 1}" for k, row in enumerate(rows)}
    ground = _ground(audit, region)
    (west, south, east, north) = ground.bounds
    sheet = Canvas(label=LABEL, limits=[[south, west], [north, east]])
    draw_ground(sheet, ground)
    _draw_unknown(sheet, ground)
    _draw_ways(sheet, drawn)
    for order, row in enumerate(drawn):
        _draw_release(sheet, row, order=order, card=names[id(row)], audit=audit)
    _draw_view(sheet, drawn, ground)
    body = _body(audit, ground, rows, names, drawn)
    return sheet.page(title=f"Map of the audit of {audit.permit.id}", body=body, styles=["audit.css"],
                      scripts=["audit.js"])  # fmt: skip


def _release(row: Row) -> Position | None:
    handling = row.kept.handling
    return handling.let_go_at if handling is not None else None


def _taken(row: Row) -> Position | None:
    return row.kept.handling.taken_at if row.kept.handling is not None else None


def _ground(audit: Audit, region: Region) -> GroundSketch:
    """Return the ground round every place of the book."""
    places = [p for row in audit.rows for p in (_taken(row), _release(row)) if p is not None]
    if places:
        lon, lat = (np.array([getattr(p, axis) for p in places]) for axis in ("longitude", "latitude"))
        x, y = region.plane.project(lon, lat)
        west, east, south, north = float(min(x)), float(max(x)), float(min(y)), float(max(y))
    else:
        west, south, east, north = region.bounds
    air = max(_LEAST_M, 4 * _AIR * max(east - west, north - south))
    box = (west - air, south - air, east + air, north + air)
    sources = tuple(dict.fromkeys(s.attribution for s in audit.ground if s.attribution))
    drawn = ground_sketch(region, box=box, day=local_date(audit.now, audit.permit.zone), attributions=sources)
    dates = {
        name: words.replace("the release day", "the day of the audit") for name, words in drawn.dates.items()
    }
    return replace(drawn, dates=dates)


def _draw_unknown(sheet: Canvas, ground: GroundSketch) -> None:
    hatch = {**PATTERNS["not known"].payload(), "colour": HATCH}
    outside = encoded([known_within(ground)]).get("areas")
    sheet.draw("wash", layer="unknown", level="unknown", z=260, on=True, pattern=hatch, outside=outside)


def _draw_ways(sheet: Canvas, rows: Sequence[Row]) -> None:
    """Draw the radius of every place, and a line from each capture to its release."""
    pairs = [(a, b) for row in rows if (a := _taken(row)) and (b := _release(row))]
    if not pairs:
        return
    ways = [LineString([(a.longitude, a.latitude), (b.longitude, b.latitude)]) for a, b in pairs]
    discs = [
        Polygon(circle_ring(p.longitude, p.latitude, p.radius_m, points=33))
        for pair in pairs
        for p in pair
        if p.radius_m > 0
    ]
    style = Style(
        "radius", ("rgba(14,42,64,0.10)", "rgba(244,246,247,0.12)"), stroke=INK, weight=1, dash="3 3"
    )
    if discs:
        sheet.draw("disc", layer="radii", style=style.payload(), areas=encoded(discs)["areas"])
    sheet.draw("line", layer="ways", lines=encoded(ways)["lines"], stroke=INK, weight=1.2)
    sheet.draw("captures", layer="captures", at=[map_point(a.longitude, a.latitude) for a, _ in pairs])


def _draw_release(sheet: Canvas, row: Row, *, order: int, card: str, audit: Audit) -> None:
    at = _release(row)
    assert at is not None  # only those are drawn
    words = VERDICT_WORDS[row.verdict]
    sheet.draw(
        "record",
        at=map_point(at.longitude, at.latitude),
        layer=layer_id(row.verdict),
        sign=verdict_class(row.verdict),
        shape=verdict_shape(row.verdict),
        words=f"{row.kept.capture_id} {words}" if row.needs_explaining else "",
        label=f"{row.kept.capture_id}, {words}, {day(row.when, audit)}, {animal_words(row)}. To the list.",
        card=card,
        order=order,
    )


def layer_id(verdict: Verdict) -> str:
    """Return the layer of the releases with a verdict."""
    return f"verdict:{verdict.value}"


def _draw_view(sheet: Canvas, drawn: Sequence[Row], ground: GroundSketch) -> None:
    west, south, east, north = ground.bounds
    whole = _around(drawn) if drawn else [[south, west], [north, east]]
    explain = [row for row in drawn if row.needs_explaining]
    sheet.draw("view", first="all", all=whole, explain=_around(explain) if explain else whole)


def _around(rows: Iterable[Row]) -> list[list[float]]:
    """Return the box of captures and releases, at least 600 m across."""
    places = [p for row in rows for p in (_taken(row), _release(row)) if p is not None]
    lats, lons = [p.latitude for p in places], [p.longitude for p in places]
    dy = max(_LEAST_M / METRES_PER_DEGREE, _AIR * (max(lats) - min(lats)))
    dx = max(dy / max(0.01, math.cos(math.radians(lats[0]))), _AIR * (max(lons) - min(lons)))
    return [[min(lats) - dy, min(lons) - dx], [max(lats) + dy, max(lons) + dx]]


def _body(
    audit: Audit, ground: GroundSketch, rows: Sequence[Row], names: dict[int, str], drawn: Sequence[Row]
) -> str:
    from tussock.maps.audit_report import claim, title

    first, *rest = CAUTIONS
    tools = (
        '<div class="map-tools"><button type="button" data-view="all">All</button>'
        '<button type="button" data-view="explain">To explain</button></div>'
    )
    credit = "; ".join((*ground.attributions, "map drawn with Leaflet"))
    lists = "".join(_list(v, rows, names, drawn, audit) for v in _WORST_FIRST)
    return (
        '<a class="skip" href="#cards">To the list</a>'
        f'<header class="strip"><p class="caution" role="note"><span><strong>{escape(first)}</strong> '
        f"{escape(' '.join((*rest, NOT_LEGAL)))}</span></p></header>"
        f'<main class="plan"><section class="answer"><p class="kind">{escape(title(audit))}</p>'
        f'<h1>{escape(claim(audit))}</h1><p class="under">{escape(_note(rows, drawn))}</p></section>'
        f'<section class="map-part" aria-label="Map"><div class="map-box"><!--map-->{NORTH}{tools}</div>'
        '<noscript><p class="block">The map needs scripts; the list does not.</p></noscript>'
        f'{_key(drawn)}<p class="credits">{escape(credit)}</p><p class="print-scale"></p>'
        f"{_legend(ground, drawn)}</section>"
        f'<section class="cards" id="cards" tabindex="-1">{lists}</section></main>'
        f"<footer>{footer_cautions()}</footer>"
    )


def _note(rows: Sequence[Row], drawn: Sequence[Row]) -> str:
    left = len(rows) - len(drawn)
    said = f"{count_words(len(drawn), 'release')} on the map."
    return f"{said} {count_words(left, 'other record')} in the list only." if left else said


def _key(drawn: Sequence[Row]) -> str:
    """Return the line beneath the map: every shape with its word and count."""
    counts = {v: sum(row.verdict is v for row in drawn) for v in ORDER}
    shapes = "".join(f"<span>{verdict_mark(v)} {n}</span>" for v, n in counts.items() if n)
    return f'<p class="key">{shapes}<span><b class="plus">+</b> capture</span></p>'


def _legend(ground: GroundSketch, drawn: Sequence[Row]) -> str:
    found = [v for v in ORDER if any(row.verdict is v for row in drawn)]
    answer = "".join(switch_row(layer_id(v), verdict_mark(v), "release") for v in found)
    if drawn:
        answer += switch_row("captures", '<b class="plus">+</b>', "capture")
        answer += switch_row("ways", "", "from capture to release") + switch_row("radii", "", "radius")
    land = "".join(ground_rows(name, ground) for name in layer_names(ground))
    return (
        '<details class="legend"><summary>Layers and legend</summary><div class="legend-body">'
        f"<fieldset><legend>The audit</legend>{answer}</fieldset>"
        f"<fieldset><legend>Ground, as mapped</legend>{land}</fieldset></div></details>"
    )


def _list(
    verdict: Verdict, rows: Sequence[Row], names: dict[int, str], drawn: Sequence[Row], audit: Audit
) -> str:
    """Return the records with a verdict; those that are met folded away."""
    found = [row for row in rows if row.verdict is verdict]
    if not found:
        return ""
    on_map = {id(row) for row in drawn}
    items = "".join(_item(row, names[id(row)], audit, on_map=id(row) in on_map) for row in found)
    title = f"{verdict_mark(verdict)} {escape(count_words(len(found), 'record'))}"
    is_open = "" if verdict is Verdict.MET else " open"
    return (
        f'<details class="more"{is_open}><summary>{title}</summary><ul class="on-map">{items}</ul></details>'
    )


def _item(row: Row, name: str, audit: Audit, *, on_map: bool) -> str:
    said = f"{day(row.when, audit)}, {animal_words(row)}, {outcome_words(row)}"
    why = decided(row)
    button = f'<button type="button" data-show="{name}">On the map</button>' if on_map else ""
    more = f'<p class="note">{escape(why)}</p>' if why else ""
    return (
        f'<li class="record" id="{name}" tabindex="-1"><div><p><b>{escape(row.kept.capture_id)}</b> '
        f"{escape(said)}</p>{more}</div>{button}</li>"
    )
