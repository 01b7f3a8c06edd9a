"""The relative-risk surface, drawn and in words: off at first, with the line that chance crosses outlined."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.hotspots.cells import Flags
from tussock.hotspots.found import Hotspots
from tussock.hotspots.surface import LEAST_EXPECTED, LEAST_HOMES, Surface
from tussock.maps.ground_from_region import unprojected
from tussock.maps.ground_sketch import encoded
from tussock.maps.ground_style import Style
from tussock.maps.hotspots_parts import bullets
from tussock.maps.hotspots_rates import STEP_WORDS, STEPS, unit_word
from tussock.maps.hotspots_words import count, figure, p_value, percent
from tussock.maps.words import metres, sentence

if TYPE_CHECKING:
    from tussock.maps.canvas import Canvas

LAYER, LINE = "surface", "surface line"
"""Its squares, and the outline of what lies above the line of chance."""
LINE_WORDS = "the line that chance alone crosses anywhere on the map in one of twenty"
MOST_PLACES = 6
"""Places above the line that are named; the others are outlined on the map."""
ABOVE = Style("", stroke=("#14181b", "#f3f5f6"), weight=4.0)
_SQUARE_METRES_PER_HA = 10_000.0


def draw_surface(sheet: Canvas, found: Hotspots, styles: Sequence[Style]) -> None:
    """Put the surface on the canvas: squares in the steps of the rates, then the outline of those above.

    Parameters
    ----------
    styles
        How each step is drawn: those of the rates map, since it is the same quantity.
    """
    told = found.surface
    if told is None:
        return
    steps = np.searchsorted(np.array(STEPS), np.nan_to_num(told.ratio, nan=1.0), side="right")
    seen = ~np.isnan(told.ratio)
    for step, style in enumerate(styles):
        area = merged(told, seen & (steps == step))
        _put(sheet, found, area, style, layer=LAYER, words=f"{STEP_WORDS[step]} here")
    above = merged(told, told.above)
    if not above.is_empty:
        _put(sheet, found, above, Style(""), layer=LINE, words=f"above {LINE_WORDS}")
        line = encoded(_degrees(found, shapely.boundary(above)))["lines"]
        sheet.draw(
            "line", layer=LINE, on=False, stroke=ABOVE.stroke, weight=ABOVE.weight, dash="", lines=line
        )


def _degrees(found: Hotspots, area: BaseGeometry) -> list[BaseGeometry]:
    return list(unprojected(np.array([area], dtype=object), found.plane))


def _put(sheet: Canvas, found: Hotspots, area: BaseGeometry, style: Style, *, layer: str, words: str) -> None:
    if area.is_empty:
        return
    drawn = encoded(_degrees(found, area))["areas"]
    sheet.draw("disc", layer=layer, on=False, style=style.payload(), areas=drawn)
    sheet.draw("told", layers=[layer], title="Smooth surface", lines=[sentence(words)], areas=drawn)


def merged(told: Surface, chosen: Flags) -> BaseGeometry:
    """Return the squares chosen as one area of the plane [m]; empty with none."""
    # each run of a line is one box: thousands instead of a hundred thousand squares
    edges = np.diff(np.pad(chosen.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    line, first = np.nonzero(edges == 1)
    _, last = np.nonzero(edges == -1)
    west, south = told.west + first * told.step_m, told.south + line * told.step_m
    east = told.west + last * told.step_m
    boxes = shapely.box(west, south, east, south + told.step_m)
    whole: BaseGeometry = shapely.union_all(boxes, grid_size=told.step_m / 1000)
    return whole


def surface_words(found: Hotspots) -> str:
    """Return what the surface is, what is above the line, and what it is not; empty where not asked for."""
    told = found.surface
    if told is None:
        why = found.missing.get(LAYER, "") if found.asked.surface else ""
        return f"<h3>{_HEAD}</h3><p>{escape(sentence(f'not looked for: {why}'))}</p>" if why else ""
    return (
        f'<h3>{_HEAD}</h3><p class="lead"><b>{escape(surface_lead(told))}</b></p>'
        f"{bullets(_places(found, told))}{bullets(_what(found, told))}"
    )


_HEAD = "Smooth surface of rates"


def surface_lead(told: Surface) -> str:
    """Return what lies above the line of chance, or that nothing does."""
    if not (~np.isnan(told.ratio)).any():
        return "The surface is empty: nowhere are homes enough, and calls enough due, for a ratio."
    p = f"{p_value(told.p)}, {told.replicates} made-up maps"
    if not told.above.any():
        return f"Nowhere above {LINE_WORDS}: nothing stands out, and that is a result ({p})."
    area = float(told.above.sum()) * told.step_m**2 / _SQUARE_METRES_PER_HA
    many = len(_parts(told))
    return f"{count(many, 'place')}, together {figure(area)} ha, above {LINE_WORDS} ({p})."


def _parts(told: Surface) -> list[BaseGeometry]:
    """Return the places above the line, the largest first."""
    parts = shapely.get_parts(merged(told, told.above))
    return sorted(parts, key=lambda g: (-float(g.area), g.bounds))


def _places(found: Hotspots, told: Surface) -> list[str]:
    """Return where it lies above the line and how high, to about a hundred metres."""
    lines, step = [], told.step_m
    x = told.west + (np.arange(told.ratio.shape[1]) + 0.5) * step
    y = told.south + (np.arange(told.ratio.shape[0]) + 0.5) * step
    across, up = np.meshgrid(x, y)
    parts = _parts(told)
    for part in parts[:MOST_PLACES]:
        inside = told.above & shapely.contains_xy(part, across, up)
        top = np.unravel_index(int(np.where(inside, told.ratio, -1.0).argmax()), told.ratio.shape)
        lon, lat = found.lonlat(across[top].reshape(1), up[top].reshape(1))
        lines.append(
            f"Up to {figure(float(told.ratio[top]))} times the district's rate round "
            f"{float(lat[0]):.3f}, {float(lon[0]):.3f}; the line there: {figure(float(told.upper[top]))}."
        )
    left = len(parts) - MOST_PLACES
    return [*lines, f"{count(left, 'more place')} outlined on the map."] if left > 0 else lines


def _what(found: Hotspots, told: Surface) -> list[str]:
    """Return what the surface is and what it is not."""
    empty = float(np.isnan(told.ratio).mean())
    units = f"{unit_word(found.rates) if found.rates else 'cell'}s"
    return [
        "What it is: incidents smoothed over homes smoothed in the same way (reach "
        f"{metres(told.bandwidth_m, spread=20)}), over the district's rate. It is off at first: switch it on "
        f"under Layers and legend; the {units} go off meanwhile.",
        f"The heavy outline is {LINE_WORDS}: one for the whole map, so looking everywhere is paid "
        "for. What is not within it is not shown to differ from chance, whatever its step.",
        f"Squares with fewer than {LEAST_HOMES:g} homes near, or less than {LEAST_EXPECTED:g} call due, stay "
        f"empty: {percent(empty)} of them. Nothing is said of those.",
        "What it is not: a map of animals, or an outline of where to go. A place shares its calls with those "
        "within reach, so its bounds mean nothing; the circles are surer.",
    ]
