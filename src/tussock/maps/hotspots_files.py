"""The files of one result of hotspots: the page, edges and cells as tables, cells as places."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import numpy as np
import shapely

from tussock.geodesy import Plane
from tussock.ground.region import Region
from tussock.hotspots.found import Hotspots, Rates
from tussock.maps.hotspots_words import CALLS_NOT_SNAKES, edge_name
from tussock.maps.plan_files import is_page
from tussock.tables import csv_text

EDGE_COLUMNS = (
    "edge", "layer", "near_m", "far_m", "incidents", "homes_low", "homes_high", "per_1000", "per_1000_low",
    "per_1000_high", "ratio_low", "ratio_high", "interval_low", "interval_high", "p_more_adjusted",
    "p_adjusted", "tested",
)  # fmt: skip
"""Columns of the table of edges: a row for each band; the ratio is the nearest band's over the farthest's."""
CELL_COLUMNS = (
    "cell", "known", "calls", "incidents", "homes_low", "homes_high", "tested", "per_1000_year",
    "per_1000_year_low", "per_1000_year_high", "p_above", "ring_p_adjusted", "ring_flagged",
)  # fmt: skip
_DECIMALS = 6
_HEAD = 4000


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
                        band.homes.low, band.homes.high, *map(_number, rate), *map(_number, ratio),
                        *map(_number, interval), _number(effect.p_more_adjusted), _number(effect.p_adjusted),
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
    rate, low, high = rates.smoothed.rate()
    for i, name in enumerate(cells.names):
        figures = (rate[i], low[i], high[i], rates.smoothed.above[i], rates.ring.p_adjusted[i])
        yield dict(
            zip(
                CELL_COLUMNS,
                (
                    name, round(float(cells.known[i]), 4), int(cells.calls[i]), int(cells.incidents[i]),
                    float(cells.homes_low[i]), float(cells.homes_high[i]), bool(tested[i]),
                    *map(_number, figures), bool(rates.ring.flagged[i]),
                ),
                strict=True,
            )
        )  # fmt: skip


def cells_geojson(found: Hotspots) -> str:
    """Return the cells of the rates map as GeoJSON (RFC 7946), with what stands in the table."""
    features = []
    if found.rates is not None:
        for outline, row in zip(found.rates.cells.polygons, _cell_rows(found.rates), strict=True):
            shape = json.loads(shapely.to_geojson(_degrees(outline, found.plane)))
            features.append({"type": "Feature", "geometry": shape, "properties": row})
    made = {
        "type": "FeatureCollection",
        "tussock": found.software,
        "note": CALLS_NOT_SNAKES,
        "features": features,
    }
    return json.dumps(made, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _degrees(shape: shapely.Geometry, plane: Plane) -> shapely.Geometry:
    def unprojected(xy: np.ndarray) -> np.ndarray:
        return np.round(np.column_stack(plane.unproject(xy[:, 0], xy[:, 1])), _DECIMALS)

    return shapely.orient_polygons(shapely.transform(shape, unprojected))


def _number(value: float) -> float | None:
    """Return a figure with six digits; ``None`` where there is none."""
    return float(f"{float(value):.6g}") if math.isfinite(value) else None


def _page(found: Hotspots, region: Region) -> str:
    from tussock.maps.hotspots_page import hotspots_page

    return hotspots_page(found, region)


def _alone(make: Callable[[Hotspots], str]) -> Callable[[Hotspots, Region], str]:
    return lambda found, region: make(found)


FILES: Mapping[str, Callable[[Hotspots, Region], str]] = {
    ".html": _page,
    "-edges.csv": _alone(edges_csv),
    "-cells.csv": _alone(cells_csv),
    ".geojson": _alone(cells_geojson),
}
"""End of a file's name → what makes it."""


def is_ours(path: Path) -> bool:
    """Return whether Tussock wrote a file of hotspots, by what stands in it."""
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD).decode("utf-8", "replace")
    except OSError:
        return False
    tables = tuple(",".join(columns) for columns in (EDGE_COLUMNS, CELL_COLUMNS))
    return is_page(head) or head.startswith(tables) or (head.startswith("{") and '"tussock": "' in head)
