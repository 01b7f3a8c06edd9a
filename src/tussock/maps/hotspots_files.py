"""The files of one result of hotspots: the page; edges, cells and circles as tables and as places."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import shapely

from tussock.ground.region import Region
from tussock.hotspots.found import Hotspots, Rates
from tussock.maps.hotspots_places import CLUSTER_COLUMNS, MARK, clusters_csv, degrees, geopackage, number
from tussock.maps.hotspots_words import CALLS_NOT_SNAKES, edge_name
from tussock.maps.plan_files import is_page
from tussock.tables import csv_text

EDGE_COLUMNS = (
    "edge", "layer", "near_m", "far_m", "incidents", "homes_low", "homes_high", "per_1000_observed",
    "per_1000_observed_low", "per_1000_observed_high", "ratio_low", "ratio_high", "interval_low",
    "interval_high", "p_more_adjusted", "p_adjusted", "tested",
)  # fmt: skip
"""Columns of the table of edges: a row for each band; the ratio is the nearest band's over the farthest's."""
CELL_COLUMNS = (
    "cell", "known", "calls", "incidents", "homes_low", "homes_high", "tested", "per_1000_year",
    "per_1000_year_low", "per_1000_year_high", "per_1000_observed", "per_1000_observed_low",
    "per_1000_observed_high", "p_above", "ring_p_adjusted", "ring_flagged",
)  # fmt: skip
_HEAD = 4000
_SQLITE = b"SQLite format 3\0"


def edges_csv(found: Hotspots) -> str:
    """Return a row for each edge and band as CSV."""
    return csv_text(EDGE_COLUMNS, _edge_rows(found))


def _edge_rows(found: Hotspots) -> Iterator[dict[str, object]]:
    for effect in found.edges:
        ratio, interval = effect.ratio.ratio, (effect.ratio.low, effect.ratio.high)
        for band in effect.bands:
            rate = (band.rate.value, band.rate.low, band.rate.high)
            yield dict(
                zip(
                    EDGE_COLUMNS,
                    (
                        edge_name(effect), effect.edge.layer, band.near_m, band.far_m, band.incidents,
                        band.homes.low, band.homes.high, *map(number, rate), *map(number, ratio),
                        *map(number, interval), number(effect.p_more_adjusted), number(effect.p_adjusted),
                        effect.tested,
                    ),
                    strict=True,
                )
            )  # fmt: skip


def cells_csv(found: Hotspots) -> str:
    """Return a row for each cell of the rates map as CSV; empty but for its head where there is no map."""
    return csv_text(CELL_COLUMNS, _cell_rows(found.rates) if found.rates else ())


def _cell_rows(rates: Rates) -> Iterator[dict[str, object]]:
    cells, tested = rates.cells, rates.cells.tested
    rate, low, high = rates.yearly()
    over, least, most = rates.smoothed.rate()
    for i, name in enumerate(cells.names):
        yearly, observed = (rate[i], low[i], high[i]), (over[i], least[i], most[i])
        figures = (*yearly, *observed, rates.smoothed.above[i], rates.ring.p_adjusted[i])
        yield dict(
            zip(
                CELL_COLUMNS,
                (
                    name, round(float(cells.known[i]), 4), int(cells.calls[i]), int(cells.incidents[i]),
                    float(cells.homes_low[i]), float(cells.homes_high[i]), bool(tested[i]),
                    *map(number, figures), bool(rates.ring.flagged[i]),
                ),
                strict=True,
            )
        )  # fmt: skip


def cells_geojson(found: Hotspots) -> str:
    """Return the cells of the rates map as GeoJSON (RFC 7946), with what stands in the table."""
    features = []
    if found.rates is not None:
        for outline, row in zip(found.rates.cells.polygons, _cell_rows(found.rates), strict=True):
            shape = json.loads(shapely.to_geojson(degrees(outline, found.plane)))
            features.append({"type": "Feature", "geometry": shape, "properties": row})
    made = {
        "type": "FeatureCollection",
        "tussock": found.software,
        "note": CALLS_NOT_SNAKES,
        "features": features,
    }
    return json.dumps(made, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _page(found: Hotspots, region: Region) -> str:
    from tussock.maps.hotspots_page import hotspots_page

    return hotspots_page(found, region)


def _geopackage(found: Hotspots) -> bytes:
    return geopackage(found, list(_cell_rows(found.rates)) if found.rates else [])


def _alone(make: Callable[[Hotspots], str | bytes]) -> Callable[[Hotspots, Region], str | bytes]:
    return lambda found, region: make(found)


FILES: Mapping[str, Callable[[Hotspots, Region], str | bytes]] = {
    ".html": _page,
    "-edges.csv": _alone(edges_csv),
    "-cells.csv": _alone(cells_csv),
    "-clusters.csv": _alone(clusters_csv),
    ".geojson": _alone(cells_geojson),
    ".gpkg": _alone(_geopackage),
}
"""End of a file's name → what makes it."""


def is_ours(path: Path) -> bool:
    """Return whether Tussock wrote a file of hotspots, by what stands in it."""
    try:
        content = path.read_bytes()
    except OSError:
        return False
    if content.startswith(_SQLITE):
        return MARK.encode() in content
    head = content[:_HEAD].decode("utf-8", "replace")
    tables = tuple(",".join(columns) for columns in (EDGE_COLUMNS, CELL_COLUMNS, CLUSTER_COLUMNS))
    return is_page(head) or head.startswith(tables) or (head.startswith("{") and '"tussock": "' in head)
