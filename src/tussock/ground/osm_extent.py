"""Where an OpenStreetMap extract is known to hold data: its box, less the empty squares along the edge."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from tussock.errors import InputError
from tussock.geodesy import Plane
from tussock.ground.osm_geometry import Geometries, areas_only
from tussock.ground.osm_pbf import Box

SQUARE_M = 1000.0
"""Side of the squares that are looked at one by one [m] (choice of this project)."""
_STEP_DEG = 0.001
"""A parallel is drawn with a vertex every so often, so that its chords in the plane err < 1 mm."""


@dataclass(frozen=True)
class KnownExtent:
    """The known extent in the plane, and what it was cut from.

    Attributes
    ----------
    geometry
        Polygon or multipolygon in the plane [m].
    cut_m2
        How much of the box (or of the given polygon) was cut away [m²].
    """

    geometry: Any
    cut_m2: float

    @property
    def area_m2(self) -> float:
        """Area in the plane [m²]; the plane's scale makes it 1e-4 too large at most."""
        return float(shapely.area(self.geometry))


def box_polygon(box: Box, *, plane: Plane) -> Any:
    """Return a box of degrees as a polygon in the plane."""
    drawn = shapely.segmentize(shapely.box(*box), _STEP_DEG)
    return projected(np.array([drawn], dtype=object), plane=plane)[0]


def widened(box: Box, *, by_m: float) -> Box:
    """Return a box that reaches ``by_m`` further on every side, at least."""
    west, south, east, north = box
    dy = by_m / 110_500.0  # the shortest degree of latitude on WGS 84 is 110,574 m
    widest = min(max(abs(south), abs(north)) + dy, 89.0)
    dx = dy / float(np.cos(np.radians(widest)))
    return west - dx, south - dy, east + dx, north + dy


def extent_from_box(box: Box, mapped: Geometries, *, plane: Plane) -> KnownExtent:
    """Return the box less every empty 1 km square that joins the box's edge.

    An extract is cut by a boundary, not by its box: between the two lies ground of which the file
    says nothing. A square without any road, track, path or building counts as such ground when a
    chain of empty squares, edge to edge, leads from it to the edge of the box. Empty squares inside
    stay: there the map says that nothing is there.

    Parameters
    ----------
    box
        West, south, east, north [degrees].
    mapped
        Roads and buildings in the plane [m].
    """
    whole = box_polygon(box, plane=plane)
    pieces, cells = _pieces(whole)
    tree = shapely.STRtree(pieces)
    occupied = np.zeros(len(pieces), dtype=bool)
    occupied[np.unique(tree.query(mapped, predicate="intersects")[1])] = True
    gone = _reached_from_edge(cells, ~occupied, shapely.intersects(pieces, shapely.get_exterior_ring(whole)))
    kept = shapely.union_all(pieces[~gone])
    return KnownExtent(areas_only(np.array([kept], dtype=object))[0], float(shapely.area(pieces[gone]).sum()))


def _pieces(whole: Any) -> tuple[Geometries, list[tuple[int, int]]]:
    """Return the squares of the lattice cut by the outline, and the column and row of each."""
    x0, y0, x1, y1 = np.floor(np.array(whole.bounds) / SQUARE_M).astype(int)
    i, j = (a.ravel() for a in np.meshgrid(np.arange(x0, x1 + 1), np.arange(y0, y1 + 1), indexing="ij"))
    squares = shapely.box(i * SQUARE_M, j * SQUARE_M, (i + 1) * SQUARE_M, (j + 1) * SQUARE_M)
    cut = shapely.intersection(squares, whole)
    some = shapely.area(cut) > 0
    return cut[some], [(int(a), int(b)) for a, b in zip(i[some], j[some], strict=True)]


def _reached_from_edge(
    cells: list[tuple[int, int]], empty: npt.NDArray[np.bool_], at_edge: npt.NDArray[np.bool_]
) -> npt.NDArray[np.bool_]:
    """Return which empty squares a chain of empty squares joins to the edge."""
    number = {cell: n for n, cell in enumerate(cells)}
    reached = empty & at_edge
    waiting = deque(int(n) for n in np.flatnonzero(reached))
    while waiting:
        i, j = cells[waiting.popleft()]
        for beside in ((i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)):
            n = number.get(beside)
            if n is not None and empty[n] and not reached[n]:
                reached[n] = True
                waiting.append(n)
    return reached


def read_extent(path: Path) -> Any:
    """Return the polygons of a file the user gives as known extent, in WGS 84 degrees.

    Raises
    ------
    InputError
        When it cannot be read, has no CRS, holds no polygon or anything but polygons.
    """
    from pyproj import CRS

    from tussock.geodesy import transformer_to_wgs84

    where = f"--extent {path}"
    wkb, crs = _open_extent(path, where)
    geometry = shapely.from_wkb(wkb, on_invalid="ignore")
    areas = np.isin(
        shapely.get_type_id(geometry), (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)
    )
    if not len(geometry) or not areas.all():
        raise InputError(
            f"{int((~areas).sum())} of {len(geometry)} features are not polygons",
            where=where,
            allowed="one or several polygons",
            fix="draw the outline of the district as a polygon",
        )
    transformer, _ = transformer_to_wgs84(CRS.from_user_input(crs), where=where)
    if transformer is not None:
        geometry = shapely.transform(
            geometry, lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))
        )
    return _checked_degrees(shapely.force_2d(geometry), where)


def _open_extent(path: Path, where: str) -> tuple[npt.NDArray[np.object_], str]:
    import pyogrio.errors
    import pyogrio.raw

    if not path.exists():
        raise InputError("there is no such file", where=where, fix="check the path")
    try:
        meta, _, wkb, _ = pyogrio.raw.read(path, columns=[])
    except (
        pyogrio.errors.DataSourceError,
        pyogrio.errors.DataLayerError,
        pyogrio.errors.GeometryError,
        pyogrio.errors.FeatureError,
        RuntimeError,
        ValueError,
    ) as error:
        raise InputError(
            f"it cannot be read ({str(error)[:200]})",
            where=where,
            allowed="GeoJSON, GeoPackage, Shapefile",
            fix="save the outline as GeoJSON",
        ) from None
    if wkb is None or not len(wkb) or not meta.get("crs"):
        raise InputError(
            "it holds no features" if meta.get("crs") else "it has no coordinate system",
            where=where,
            allowed="polygons in a file that states its CRS",
            fix="save the outline as GeoJSON",
        )
    return wkb, str(meta["crs"])


def _checked_degrees(geometry: Geometries, where: str) -> Any:
    whole = shapely.union_all(shapely.make_valid(geometry))
    bounds = shapely.bounds(whole)
    if not np.isfinite(bounds).all() or (np.abs(bounds) > [180, 90, 180, 90]).any():
        raise InputError(
            "its coordinates are no longitude and latitude on the Earth",
            where=where,
            allowed="longitude −180…180, latitude −90…90",
            fix="the axes look swapped; save it again in EPSG:4326",
        )
    return areas_only(np.array([whole], dtype=object))[0]


def extent_from_polygon(polygon: Any, box: Box | None, *, plane: Plane) -> KnownExtent:
    """Return the user's polygon (degrees) in the plane, cut to the file's box where it has one.

    Raises
    ------
    InputError
        When the two have no ground in common.
    """
    given = projected(np.array([shapely.segmentize(polygon, _STEP_DEG)], dtype=object), plane=plane)[0]
    kept = given if box is None else shapely.intersection(given, box_polygon(box, plane=plane))
    kept = areas_only(np.array([kept], dtype=object))[0]
    if kept is None or shapely.is_empty(kept):
        raise InputError(
            "the polygon and the extract have no ground in common",
            where="--extent",
            allowed=f"a polygon that meets {', '.join(f'{v:.4f}' for v in box or ())} (W, S, E, N)",
            fix="check the order of the coordinates, or take the extract of that district",
        )
    return KnownExtent(kept, float(shapely.area(given) - shapely.area(kept)))


def projected(geometry: Geometries, *, plane: Plane) -> Geometries:
    """Return geometries in degrees as geometries in the plane."""
    moved: Geometries = shapely.transform(
        geometry, lambda xy: np.column_stack(plane.project(xy[:, 0], xy[:, 1]))
    )
    return moved


def unprojected(geometry: Any, *, plane: Plane) -> Any:
    """Return a geometry of the plane in degrees."""
    return shapely.transform(geometry, lambda xy: np.column_stack(plane.unproject(xy[:, 0], xy[:, 1])))
