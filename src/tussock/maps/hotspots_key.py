"""What stands around the hotspots' map: its key, the switches of its layers, and where a tap is answered."""

from __future__ import annotations

from html import escape

from tussock.hotspots.found import STANDS_OUT, Hotspots
from tussock.maps.ground_sketch import GroundSketch, layer_names
from tussock.maps.ground_style import Style
from tussock.maps.hotspots_map import (
    CLUSTER,
    EDGES,
    FLAGGED,
    MONTHS,
    NOT_SHOWN_CLUSTER,
    OTHER_EDGES,
    RING,
    UNTESTED,
    rate_style,
)
from tussock.maps.hotspots_rates import LEAST_KNOWN_WORDS, STEP_WORDS, cell_signs, unit_word
from tussock.maps.hotspots_surface import ABOVE, LINE, LINE_WORDS
from tussock.maps.hotspots_surface import LAYER as SURFACE
from tussock.maps.hotspots_words import MORE, count, edge_verdict
from tussock.maps.legend import ground_rows, switch_row
from tussock.maps.marks import NORTH, swatch
from tussock.maps.plan_map import HATCH


def map_part(found: Hotspots, ground: GroundSketch) -> str:
    """Return the map's place in the page, its key and legend."""
    credit = "; ".join((*ground.attributions, "map drawn with Leaflet"))
    tools = (
        '<div class="map-tools"><button type="button" data-view="homes">Most homes</button>'
        '<button type="button" data-view="all">All</button></div>'
    )
    return (
        '<section class="map-part" aria-label="Map"><div class="map-box">'
        f"<!--map-->{NORTH}{tools}{TOLD}</div>"
        '<noscript><p class="block">The map needs scripts; the rest of the page does not.</p></noscript>'
        f'{_key(found)}<p class="credits">{escape(credit)}</p><p class="print-scale"></p>'
        f"{_legend(found, ground)}</section>"
    )


TOLD = (
    '<section class="told" aria-label="What is here" tabindex="-1" hidden><div class="told-body" '
    'aria-live="polite"></div><button type="button" class="told-close">Close</button></section>'
)
"""Where the page's script tells of what is tapped; beside or below, never over the map's buttons."""
TAP = (
    "Tap or click the map for the figures of what is there. By keyboard: Tab goes from label to label, Enter "
    "tells; on the map itself arrows move it and Enter tells of its middle."
)


def _key(found: Hotspots) -> str:
    """Return the lines beneath the map that must be read without opening anything."""
    tap = f'<p class="key tap">{escape(TAP)}</p>'
    if found.rates is None and found.surface is None:
        return tap
    steps = "".join(
        f"<span>{swatch(rate_style(k), f'k-rate-{k}')} {escape(words)}</span>"
        for k, words in enumerate(STEP_WORDS)
    )
    return (
        '<p class="key"><b>Incidents for each home, over the usual</b></p>'
        f'<p class="key">{steps}{_cells_key(found)}{_surface_key(found)}</p>{tap}'
    )


def _cells_key(found: Hotspots) -> str:
    if found.rates is None:
        return ""
    words = "probably above, P(RR>1) over 0.95; numbers as in the table"
    return f'<span data-when="cells">{swatch(FLAGGED, "k-flagged")} {escape(words)}</span>'


def _surface_key(found: Hotspots) -> str:
    """Return what the outline means while the surface is on; nothing above the line is said as well."""
    if found.surface is None:
        return ""
    if found.surface.above.any():
        said = f"{swatch(ABOVE, 'k-above')} above {escape(LINE_WORDS)}"
    else:
        said = f"nowhere above {escape(LINE_WORDS)}"
    return f'<span data-when="surface" hidden>{said}; empty: no ratio, nothing said</span>'


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
        return _surface_rows(found)
    told = found.rates
    cells = f"{unit_word(told)}s"
    rows = switch_row("rates", "", f"Smoothed rate of {cells} over the usual, in five steps")
    rows += switch_row("flagged", swatch(FLAGGED, "l-flagged"), "Probably above the usual: P(RR>1) over 0.95")
    if told.ring.flagged.any():
        rows += switch_row("ring", swatch(RING, "l-ring"), f"Above the {cells} around (ring test)")
    if any(cell_signs(told, i)[0][0] == "open" for i in range(len(told.cells.names))):
        rows += switch_row("untested", swatch(UNTESTED, "l-untested"), LEAST_KNOWN_WORDS)
    return rows + _surface_rows(found)


def _surface_rows(found: Hotspots) -> str:
    """Return the switches of the surface and its line; off at first."""
    if found.surface is None:
        return ""
    words = "Smooth surface of rates, in the same five steps; empty where too few homes are near"
    rows = switch_row(SURFACE, "", words)
    if found.surface.above.any():
        rows += switch_row(LINE, swatch(ABOVE, "l-above"), f"Above {LINE_WORDS}")
    return rows
