"""Nearest distances worked out by others: geographiclib with plain numpy, and DuckDB's spatial extension.

Neither shares code with the package: no plane of ours, no shapely index, no PROJ geodesics. Both read
the file that the region's layer is in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from geographiclib.geodesic import Geodesic

Floats = npt.NDArray[np.float64]
RADIUS_M = 6_371_000.0
BEND = math.sqrt(32 / 27)
"""A line that is straight in degrees, at angle α from north, turns by tan φ sin α (1 + cos² α) / R per metre:
tan φ along a parallel, most where cos² α = 1/3, where the product is √(32/27) = 1.089."""
PIECE_M = 5.0
"""Length of the pieces that edges are cut into where they are straight in longitude and latitude."""


@dataclass(frozen=True)
class Edges:
    """Sides of rings and lines in degrees, shape (n, 2, 2), and those of rings apart."""

    sides: Floats
    rings: Floats


def edges_of(path: Path, layer: str) -> Edges:
    """Return the edges of a layer's lines and polygons; the GeoPackage's binary is taken apart by hand."""
    import sqlite3

    with sqlite3.connect(path) as book:
        [(column,)] = book.execute(
            "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?", [layer]
        )
        rows = book.execute(f'SELECT "{column}" FROM "{layer}"').fetchall()
    book.close()
    lines: list[Floats] = []
    rings: list[Floats] = []
    for (blob,) in rows:
        envelope = (0, 32, 48, 48, 64)[(blob[3] >> 1) & 7]
        _collect(memoryview(blob)[8 + envelope :], lines, rings)
    sides = [np.stack([xy[:-1], xy[1:]], axis=1) for xy in (*lines, *rings)]
    closed = [np.stack([xy[:-1], xy[1:]], axis=1) for xy in rings]
    return Edges(np.concatenate(sides), np.concatenate(closed) if closed else np.empty((0, 2, 2)))


def _collect(wkb: memoryview, lines: list[Floats], rings: list[Floats]) -> int:
    """Take apart one well-known binary (little-endian, 2-D); return its length."""
    assert wkb[0] == 1
    kind, at = int.from_bytes(wkb[1:5], "little"), 5

    def number() -> int:
        nonlocal at
        at += 4
        return int.from_bytes(wkb[at - 4 : at], "little")

    def points() -> Floats:
        nonlocal at
        n = number()
        xy = np.frombuffer(wkb[at : at + 16 * n], "<f8").reshape(n, 2)
        at += 16 * n
        return xy

    if kind == 1:
        xy = np.frombuffer(wkb[at : at + 16], "<f8").reshape(1, 2)
        lines.append(np.concatenate([xy, xy]))  # an edge of no length
        at += 16
    elif kind == 2:
        lines.append(points())
    elif kind == 3:
        rings.extend(points() for _ in range(number()))
    else:
        for _ in range(number()):
            at += _collect(wkb[at:], lines, rings)
    return at


@dataclass(frozen=True)
class Nearest:
    """The nearest edge to a point [m]: with edges straight on the ground, and straight in degrees.

    ``bend_m`` bounds how far the two ways apart may lie, for the edges that compete.
    """

    on_the_ground: float
    in_degrees: float
    bend_m: float


def nearest_m(edges: Edges, lon: float, lat: float) -> Nearest:
    """Return the distances to the nearest edge [m], 0 inside a ring.

    On the ground: straight in the azimuthal equidistant plane of the point, whose distances from the
    point are geodesics by geographiclib. In degrees: the same for pieces of 5 m cut in degrees.
    """
    if _inside(edges.rings, lon, lat):
        return Nearest(0.0, 0.0, 0.0)
    local = (edges.sides - [lon, lat]) * _metres_per_degree(lat)
    rough = _to_sides(local)
    near = np.flatnonzero(rough <= rough.min() * 1.004 + 0.5)
    lengths = np.hypot(*(local[near, 1] - local[near, 0]).T)
    straight = np.array([_pieces_m(edges.sides[k], 1, lon, lat) for k in near])
    bends = BEND * lengths**2 * abs(math.tan(math.radians(lat))) / 8 / RADIUS_M
    close = np.flatnonzero(straight - bends <= (straight + bends).min())
    pieces = np.maximum(np.ceil(lengths / PIECE_M), 1).astype(int)
    bent = [_pieces_m(edges.sides[near[k]], int(pieces[k]), lon, lat) for k in close]
    return Nearest(float(straight.min()), min(bent), float(bends[close].max()))


def _metres_per_degree(lat: float) -> Floats:
    """Return the length of a degree of longitude and of latitude [m]."""
    a, f = Geodesic.WGS84.a, Geodesic.WGS84.f
    e2, phi = f * (2 - f), math.radians(lat)
    w = math.sqrt(1 - e2 * math.sin(phi) ** 2)
    return np.array([a / w * math.cos(phi), a * (1 - e2) / w**3]) * math.pi / 180


def _pieces_m(side: Floats, count: int, lon: float, lat: float) -> float:
    """Return the distance to a side cut into equal pieces of degrees [m]."""
    marks = side[0] + np.linspace(0, 1, count + 1)[:, None] * (side[1] - side[0])
    xy = np.array([_azimuthal(lon, lat, *m) for m in marks])
    return float(_to_sides(np.stack([xy[:-1], xy[1:]], axis=1)).min())


def _azimuthal(lon: float, lat: float, to_lon: float, to_lat: float) -> tuple[float, float]:
    found: dict[str, Any] = Geodesic.WGS84.Inverse(lat, lon, to_lat, to_lon)
    bearing = math.radians(found["azi1"])
    return found["s12"] * math.sin(bearing), found["s12"] * math.cos(bearing)


def _to_sides(sides: Floats) -> Floats:
    """Return the distance of the origin from each side."""
    a, b = sides[:, 0], sides[:, 1]
    along = b - a
    length = (along**2).sum(axis=1)
    t = np.clip(-(a * along).sum(axis=1) / np.where(length > 0, length, 1.0), 0.0, 1.0)
    return np.asarray(np.linalg.norm(a + t[:, None] * along, axis=1))


def _inside(rings: Floats, lon: float, lat: float) -> bool:
    """Return whether a ray to the east crosses the rings an odd number of times."""
    if not len(rings):
        return False
    (ax, ay), (bx, by) = rings[:, 0].T, rings[:, 1].T
    crossing = (ay <= lat) != (by <= lat)
    ax, ay, bx, by = ax[crossing], ay[crossing], bx[crossing], by[crossing]
    east = ax + (lat - ay) / (by - ay) * (bx - ax) > lon
    return bool(np.count_nonzero(east) % 2)


def duckdb_nearest_m(path: Path, layer: str, lon: Floats, lat: Floats, *, within_m: Floats) -> Floats:
    """Return the distances to the nearest feature [m] as DuckDB finds them; ∞ beyond ``within_m``.

    Each point's features are projected by DuckDB's own PROJ into the point's azimuthal equidistant
    plane and measured there by its own planar distance.
    """
    import duckdb
    import duckdb_extension_spatial

    extension = next(Path(duckdb_extension_spatial.__file__).parent.rglob("*.duckdb_extension"))
    with duckdb.connect(config={"allow_unsigned_extensions": "true"}) as base:
        base.execute(f"LOAD '{extension}'")
        base.execute(f"CREATE TABLE f AS SELECT geom FROM ST_Read('{path}', layer = '{layer}')")
        base.execute("CREATE TABLE p (n INTEGER, lon DOUBLE, lat DOUBLE, w DOUBLE, h DOUBLE)")
        high = within_m / 110_000.0
        points = np.column_stack([lon, lat, high / np.cos(np.radians(lat)), high]).tolist()
        base.executemany("INSERT INTO p VALUES (?, ?, ?, ?, ?)", [[n, *p] for n, p in enumerate(points)])
        found = base.execute(
            """
            SELECT n, min(ST_Distance(ST_Point(0, 0), ST_Transform(geom, 'EPSG:4326',
                '+proj=aeqd +ellps=WGS84 +lat_0=' || lat || ' +lon_0=' || lon, always_xy := true)))
            FROM p JOIN f ON ST_XMin(geom) <= lon + w AND ST_XMax(geom) >= lon - w
                         AND ST_YMin(geom) <= lat + h AND ST_YMax(geom) >= lat - h
            GROUP BY n
            """
        ).fetchall()
    out = np.full(len(lon), np.inf)
    for n, metres in found:
        out[n] = metres
    return out
