"""Geometries from GDAL's well-known binary that other readers give up on, and their repair."""

from __future__ import annotations

import struct
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

Geometries = npt.NDArray[np.object_]
Texts = npt.NDArray[np.object_]
_MULTIPOLYGON = 6
_LEAST_RING = 4


def read_wkb(wkb: Texts) -> tuple[Geometries, Texts]:
    """Return sound geometries and, for each, what was done to it (``""``: nothing).

    A ring of two points makes a whole read fail; here it costs that ring alone. Where no ring is
    left the points stay, so that a house cut down to one corner is still a house there. Everything
    else invalid goes through ``make_valid``, keeping the parts of the highest dimension.
    """
    geometry: Geometries = shapely.from_wkb(wkb, on_invalid="ignore")
    note: Texts = np.full(len(geometry), "", dtype=object)
    for i in np.flatnonzero(shapely.is_missing(geometry)):
        geometry[i], note[i] = _salvaged(wkb[i])
    for i in np.flatnonzero(~shapely.is_valid(geometry) & ~shapely.is_missing(geometry)):
        reason = shapely.is_valid_reason(geometry[i]).split("[")[0].strip().lower()
        geometry[i] = highest_dimension(shapely.make_valid(geometry[i]))
        note[i] = note[i] or reason
    geometry[shapely.is_empty(geometry)] = None
    return geometry, note


def highest_dimension(geometry: Any) -> Any:
    """Return the areas of a geometry; its lines where it has none; else its points."""
    parts = _flat(geometry)
    if not len(parts):
        return None
    dimension = shapely.get_dimensions(parts)
    best = parts[dimension == dimension.max()]
    return best[0] if len(best) == 1 else shapely.union_all(best)


def areas_only(geometry: Geometries) -> Geometries:
    """Return multipolygons; ``None`` where a geometry holds no area."""
    out: Geometries = np.full(len(geometry), None, dtype=object)
    areas = shapely.get_dimensions(geometry) == 2
    out[areas] = [shapely.multipolygons(_flat(g)) for g in geometry[areas]]
    return out


def simplest(geometry: Geometries) -> Geometries:
    """Return the same geometries, a multi-geometry of one part as that part."""
    out = geometry.copy()
    multi = (shapely.get_type_id(out) >= 4) & (shapely.get_num_geometries(out) == 1)
    out[multi] = shapely.get_geometry(out[multi], 0)
    return out


def _flat(geometry: Any) -> Geometries:
    parts: Geometries = shapely.get_parts(shapely.get_parts(np.array([geometry], dtype=object)))
    return parts[~shapely.is_empty(parts)]


def _salvaged(blob: bytes | None) -> tuple[Any, str]:
    """Return what can be made of a multipolygon that GEOS refuses, and what was done."""
    try:
        polygons = _rings(blob or b"")
    except (struct.error, ValueError):
        polygons = []
    sound = [
        [_closed(r) for r in rings if len(r) >= _LEAST_RING]
        for rings in polygons
        if len(rings[0]) >= _LEAST_RING
    ]
    if sound:
        made = shapely.MultiPolygon([shapely.Polygon(r[0], r[1:]) for r in sound])
        return made, "a ring of fewer than four points left out"
    points = [p for rings in polygons for r in rings for p in r.tolist()]
    distinct = list(dict.fromkeys(map(tuple, points)))
    if not distinct:
        return None, "no geometry"
    rest = shapely.Point(distinct[0]) if len(distinct) == 1 else shapely.LineString(distinct)
    return rest, f"a ring of {len(points)} points"


def _closed(ring: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return ring if (ring[0] == ring[-1]).all() else np.vstack([ring, ring[:1]])


def _rings(blob: bytes) -> list[list[npt.NDArray[np.float64]]]:
    """Return the rings of each polygon of a little-endian multipolygon (OGC 06-103r4, § 8.2)."""
    order, kind, count = struct.unpack_from("<BII", blob)
    if order != 1 or kind != _MULTIPOLYGON:
        return []
    at, polygons = 9, []
    for _ in range(count):
        (rings,) = struct.unpack_from("<I", blob, at + 5)
        at += 9
        polygon = []
        for _ in range(rings):
            (n,) = struct.unpack_from("<I", blob, at)
            polygon.append(np.frombuffer(blob, "<f8", 2 * n, at + 4).reshape(-1, 2))
            at += 4 + 16 * n
        if polygon:
            polygons.append(polygon)
    return polygons
