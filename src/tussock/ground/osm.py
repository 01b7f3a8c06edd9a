"""`tussock region from-osm`: a region built from an OpenStreetMap extract."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from tussock.errors import InputError, UsageError
from tussock.geodesy import Plane
from tussock.ground.osm_crosswalk import osm_crosswalk
from tussock.ground.osm_extent import (
    KnownExtent,
    extent_from_box,
    extent_from_polygon,
    projected,
    read_extent,
    unprojected,
    widened,
)
from tussock.ground.osm_frame import checked_plane, date_of_data, new_plane, working_box
from tussock.ground.osm_geometry import Geometries
from tussock.ground.osm_layers import BuiltLayer, all_buildings, build_layer, lost_areas
from tussock.ground.osm_pbf import Box, read_pbf
from tussock.ground.osm_read import Elements, read_elements
from tussock.ground.osm_report import OsmReport
from tussock.ground.osm_write import (
    RegionText,
    built_aside,
    check_out,
    plane_written,
    write_extent,
    write_ground,
    write_region,
)

MARGIN_M = 1000.0
"""Features that lie wholly further than this outside the box are left out [m]; nothing is clipped."""
BESIDE_M = 25.0
"""A house number further than this from any building has no building of its own [m] (judgement)."""


def region_from_osm(
    pbf: Path,
    *,
    out: Path,
    extent: Path | None = None,
    as_of: date | None = None,
    country: str | None = None,
    force: bool = False,
) -> OsmReport:
    """Build a region folder from an OpenStreetMap extract; the same file gives the same bytes.

    Parameters
    ----------
    pbf
        The extract (.osm.pbf).
    out
        The folder to write; built aside and moved into place at the end. A region built before keeps
        its plane.
    extent
        Polygons inside which the extract is known to be complete; else the header's box less the
        empty squares along its edge.
    as_of
        Date of the data; else the header's replication date, else the day of the newest edit.
    country
        ISO 3166 alpha-2 code for region.toml.
    force
        Write into a folder that Tussock did not write, or over an edited region.toml.

    Raises
    ------
    UsageError
        When the country is not two letters.
    InputError
        When the file is no whole PBF extract, has no box and no ``extent`` is given, holds nothing
        of use, or is too wide; when the extent cannot be used; when ``out`` cannot be written.
    """
    code = _country(country)
    check_out(out, force=force)
    _check_name(pbf)
    file = read_pbf(pbf)
    polygon = read_extent(extent) if extent else None
    box = working_box(pbf, file, polygon)
    frame = plane_written(out) or new_plane(box)
    plane = checked_plane(frame, box, out=out)
    crosswalk = osm_crosswalk()
    with built_aside(out) as folder:
        elements, newest = read_elements(pbf, crosswalk, workdir=folder)
        near, outside = _within(elements, widened(box, by_m=MARGIN_M))
        built = tuple(build_layer(rules, near, file) for rules in crosswalk.layers)
        layers = tuple(b.layer for b in built if len(b.layer.geometry))
        _check_something(len(layers), pbf)
        buildings = projected(all_buildings(near), plane=plane)
        if polygon is None:
            known = _extent_of(box, built, buildings, plane=plane)
        else:
            known = extent_from_polygon(polygon, file.box, plane=plane)
        when, source = date_of_data(as_of, file, newest)
        write_ground(folder, layers, as_of=when)
        write_extent(folder, unprojected(known.geometry, plane=plane))
        write_region(folder, RegionText(out.resolve().name, code, frame, when), layers)
    return OsmReport(
        out=out,
        counts={b.layer.name: len(b.layer.geometry) for b in built},
        repaired=tuple(m for b in built for m in b.repaired),
        dropped=tuple(m for b in built for m in b.dropped),
        cut=lost_areas(file, crosswalk) + tuple(m for b in built for m in b.cut),
        outside=outside,
        buildings=len(buildings),
        loose_addresses=_loose_addresses(near, buildings, plane=plane),
        extent_km2=known.area_m2 / 1e6,
        extent_cut_km2=known.cut_m2 / 1e6,
        unmapped_ha=_unmapped_m2(_geometry(built, "habitat"), known, plane=plane) / 1e4,
        as_of=when,
        as_of_from=source,
        plane=(plane.longitude, plane.latitude),
    )


def _country(code: str | None) -> str | None:
    if code is None:
        return None
    if not re.fullmatch(r"[A-Za-z]{2}", code):
        raise UsageError(
            f"'{code}' is no country code",
            where="--country",
            allowed="two letters of ISO 3166, such as AU",
            fix="give the code, or leave the option out",
        )
    return code.upper()


def _check_name(pbf: Path) -> None:
    """GDAL's driver goes by the name."""
    allowed = "an extract ending in .osm.pbf"
    if not pbf.is_file():
        raise InputError("there is no such file", where=str(pbf), allowed=allowed, fix="check the path")
    if pbf.suffix.lower() != ".pbf":
        raise InputError(
            f"its name ends in '{pbf.suffix}'",
            where=str(pbf),
            allowed=allowed,
            fix="choose the .osm.pbf form of the extract; rename it if it is one",
        )


def _check_something(layers: int, pbf: Path) -> None:
    if not layers:
        raise InputError(
            "nothing in it is of use: no building, road, water or habitat in its box",
            where=str(pbf),
            fix="choose the extract of an inhabited district",
        )


def _within(elements: Iterable[Elements], box: Box) -> tuple[tuple[Elements, ...], int]:
    """Return the elements that touch the box, and how many do not.

    Outlines reach far outside an extract's box (a lake, a long trail): they stay whole.
    """
    area = shapely.box(*box)
    shapely.prepare(area)
    near, outside = [], 0
    for part in elements:
        rows = shapely.intersects(part.geometry, area) | shapely.is_missing(part.geometry)
        near.append(part.taken(rows))
        outside += int((~rows).sum())
    return tuple(near), outside


def _geometry(built: Iterable[BuiltLayer], name: str) -> Geometries:
    return next(b.layer.geometry for b in built if b.layer.name == name)


def _extent_of(box: Box, built: Iterable[BuiltLayer], buildings: Geometries, *, plane: Plane) -> KnownExtent:
    roads = projected(_geometry(built, "roads"), plane=plane)
    known = extent_from_box(box, np.concatenate([roads, buildings]), plane=plane)
    if known.area_m2 > 0:
        return known
    raise InputError(
        "no road or building lies in the extract's box, so where it is complete is not known",
        where="known extent",
        fix="give --extent FILE with the outline of the district as a polygon",
    )


def _loose_addresses(elements: Iterable[Elements], buildings: Geometries, *, plane: Plane) -> int:
    """Return how many house numbers mapped as points lie further than 25 m from any building."""
    points = next(e for e in elements if e.shape == "points")
    numbered = np.array([v is not None for v in points.column("addr:housenumber")], dtype=bool)
    there = projected(points.geometry[numbered], plane=plane)
    near = shapely.STRtree(buildings).query(there, predicate="dwithin", distance=BESIDE_M)[0]
    return len(there) - len(np.unique(near))


def _unmapped_m2(habitat: Geometries, known: KnownExtent, *, plane: Plane) -> float:
    """Return the ground of the known extent in no habitat polygon [m²]."""
    ground: Any = projected(habitat, plane=plane)
    broken = ~shapely.is_valid(ground)
    ground[broken] = shapely.make_valid(ground[broken])
    mapped = shapely.intersection(shapely.union_all(ground), known.geometry)
    return known.area_m2 - float(shapely.area(mapped))
