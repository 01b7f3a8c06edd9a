"""Circles, edges and cells of hotspots as tables and places: what goes into files beside the page."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.geodesy import Plane
from tussock.hotspots.bands import EdgeEffect
from tussock.hotspots.found import STANDS_OUT, ClusterTold, Hotspots, SpaceTime, Spot
from tussock.hotspots.scan import Cluster
from tussock.maps.hotspots_words import edge_name, edge_verdict
from tussock.tables import csv_text

CLUSTER_COLUMNS = (
    "kind", "rank", "longitude", "latitude", "cells", "farthest_corner_m", "incidents", "expected",
    "relative_risk", "homes_low", "homes_high", "first_month", "last_month", "p_chance", "p_uneven",
    "stands_out", "incidents_sure_homes", "expected_sure_homes", "relative_risk_sure_homes", "p_sure_homes",
)  # fmt: skip
"""Columns of the table of circles; a circle of months has a p against chance only. Figures are over the most
homes, but p_chance and p_uneven are the larger over the most and those that are sure; the last four columns
are over the latter alone, and empty where all homes are sure."""
CIRCLE, WITH_BASE, MONTHS = "circle", "circle, distance from the base allowed for", "place and months"
MARK = "tussock_hotspots_cells"
"""Name of the layer of cells: by it a GeoPackage is known for our own."""
STAMP = "2000-01-01T00:00:00.000Z"
"""Date that a GeoPackage bears as its last change, so that the same result gives the same bytes."""
_DECIMALS = 6
Row = Mapping[str, object]


def clusters_csv(found: Hotspots) -> str:
    """Return a row for each circle that was found, whether it stands out or not, as CSV."""
    return csv_text(CLUSTER_COLUMNS, cluster_rows(found))


def cluster_rows(found: Hotspots) -> Iterator[Row]:
    """Yield the circles of the scan, those with the base allowed for, then those of place and months."""
    if found.clusters is not None:
        for kind, told in ((CIRCLE, found.clusters.told), (WITH_BASE, found.clusters.told_with_base)):
            yield from (_cluster(kind, rank, one) for rank, one in enumerate(told, start=1))
    if found.space_time is not None:
        yield from _cylinders(found.space_time)


def _cluster(kind: str, rank: int, told: ClusterTold) -> Row:
    c = told.most
    return {
        "kind": kind,
        "rank": rank,
        **_spot(told.spot),
        "incidents": c.observed,
        "expected": number(c.expected),
        "relative_risk": number(c.relative_risk),
        "homes_low": told.homes[0],
        "homes_high": told.homes[1],
        "p_chance": number(told.p_chance),
        "p_uneven": number(told.p_uneven),
        "stands_out": told.stands_out,
        **_sure(told.least),
    }


def _spot(at: Spot) -> Row:
    return {
        "longitude": round(at.longitude, _DECIMALS),
        "latitude": round(at.latitude, _DECIMALS),
        "cells": at.cells,
        "farthest_corner_m": round(at.reach_m, 1),
    }


def _sure(least: Cluster | None) -> Row:
    """Return a circle's figures over the homes that are sure; none where all are."""
    return {
        "incidents_sure_homes": None if least is None else least.observed,
        "expected_sure_homes": None if least is None else number(least.expected),
        "relative_risk_sure_homes": None if least is None else number(least.relative_risk),
        "p_sure_homes": None if least is None else number(least.p),
    }


def _cylinders(told: SpaceTime) -> Iterator[Row]:
    for rank, (c, at) in enumerate(zip(told.scan.cylinders, told.spots, strict=True), start=1):
        yield {
            "kind": MONTHS,
            "rank": rank,
            **_spot(at),
            "incidents": c.observed,
            "expected": number(c.expected),
            "relative_risk": number(c.observed / c.expected if c.expected > 0 else math.inf),
            "first_month": told.months[c.first].strftime("%Y-%m"),
            "last_month": told.months[c.last].strftime("%Y-%m"),
            "p_chance": number(c.p),
            "stands_out": c.p <= STANDS_OUT,
        }


def cluster_outlines(found: Hotspots) -> list[BaseGeometry]:
    """Return the outlines [m] of the cells of each circle, in the order of `cluster_rows`."""
    spots: list[Spot] = []
    if found.clusters is not None:
        spots += [t.spot for t in (*found.clusters.told, *found.clusters.told_with_base)]
    if found.space_time is not None:
        spots += found.space_time.spots
    return [s.outline for s in spots]


def number(value: float) -> float | None:
    """Return a figure with six digits; ``None`` where there is none."""
    return float(f"{float(value):.6g}") if math.isfinite(value) else None


def geopackage(found: Hotspots, cells: Sequence[Row]) -> bytes:
    """Return cells, edges and circles as a GeoPackage of three layers, EPSG:4326; same result, same bytes.

    Parameters
    ----------
    cells
        A row for each cell of the rates map, in their order.
    """
    import pyogrio

    outlines = [] if found.rates is None else list(found.rates.cells.polygons)
    edges = [_edge(e) for e in found.edges]
    drawn = [shapely.unary_union(np.asarray(e.edge.geometries, dtype=object)) for e in found.edges]
    circles = list(cluster_rows(found))
    layers = (
        (MARK, cells, [degrees(g, found.plane) for g in outlines]),
        ("tussock_hotspots_edges", edges, [degrees(g, found.plane) for g in drawn]),
        ("tussock_hotspots_circles", circles, [degrees(g, found.plane) for g in cluster_outlines(found)]),
    )
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": STAMP})
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "hotspots.gpkg"
            for name, rows, shapes in layers:
                _write(path, name, rows, shapes)
            return path.read_bytes()
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": before})


def _edge(effect: EdgeEffect) -> Row:
    low, high = effect.ratio.ratio
    near, far = effect.bands[0], effect.bands[-1]
    return {
        "edge": edge_name(effect),
        "layer": effect.edge.layer,
        "found": edge_verdict(effect),
        "ratio_low": number(low),
        "ratio_high": number(high),
        "interval_low": number(effect.ratio.low),
        "interval_high": number(effect.ratio.high),
        "p_more_adjusted": number(effect.p_more_adjusted),
        "incidents_near": near.incidents,
        "incidents_far": far.incidents,
    }


def degrees(shape: BaseGeometry, plane: Plane) -> BaseGeometry:
    """Return a geometry of the plane in degrees with six decimals, rings turned as GeoJSON has them."""

    def unprojected(xy: np.ndarray) -> np.ndarray:
        return np.round(np.column_stack(plane.unproject(xy[:, 0], xy[:, 1])), _DECIMALS)

    return shapely.orient_polygons(shapely.transform(shape, unprojected))


def _write(path: Path, layer: str, rows: Sequence[Row], shapes: Sequence[BaseGeometry]) -> None:
    import pyogrio.raw

    columns = list(dict.fromkeys(c for row in rows for c in row))
    made = [_column([row.get(c) for row in rows]) for c in columns]
    pyogrio.raw.write(
        str(path), np.array([shapely.to_wkb(g) for g in shapes], dtype=object), [v for v, _ in made], columns,
        field_mask=[m for _, m in made], layer=layer, driver="GPKG", crs="EPSG:4326",
        geometry_type="Unknown", append=path.exists(),
    )  # fmt: skip


def _column(cells: list[object]) -> tuple[np.ndarray, np.ndarray]:
    """Return a column as numbers, or as text where any cell is one; and where it is empty."""
    empty = np.array([c is None for c in cells], dtype=np.bool_)
    if any(isinstance(c, str) for c in cells):
        return np.array(cells, dtype=object), empty
    if all(isinstance(c, bool | np.bool_) for c in cells):
        return np.array(cells, dtype=np.bool_), empty
    return np.array([0.0 if c is None else float(str(c)) for c in cells], dtype=np.float64), empty
