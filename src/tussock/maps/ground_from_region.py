"""The ground beneath a plan's map: the region's layers, cut to the window and unprojected at once."""

from __future__ import annotations

from datetime import date

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.geodesy import Plane
from tussock.ground.features import OPEN_FROM, OPEN_TO, Features
from tussock.ground.region import Region
from tussock.maps.ground_sketch import GroundSketch, sketch
from tussock.planning.record import Plan

SIMPLIFIED_M = 0.5
"""Vertices that move an outline by less are left out [m]: a fifth of a pixel at the closest zoom."""
MOST_DATES = 3
"""So many different spans of a layer are written out."""
AROUND_M = 1500.0
"""Half the window where nothing was searched [m]."""
Geometries = npt.NDArray[np.object_]
Box = tuple[float, float, float, float]


def ground_of(plan: Plan, region: Region) -> GroundSketch:
    """Return the ground in the plan's window on the day of the planned release."""
    day = date.fromisoformat(plan.release_at[:10])
    return ground_sketch(region, box=_window(plan, region.plane), day=day, attributions=plan.sources)


def ground_sketch(region: Region, *, box: Box, day: date, attributions: tuple[str, ...] = ()) -> GroundSketch:
    """Return the features of every layer that are in force on a day, cut to a box.

    Parameters
    ----------
    box
        West, south, east, north in the region's plane [m].
    """
    layers = {
        name: _cut(region.layer(name).on(day), box) for name, s in region.file.layers.items() if s.sources
    }
    known = _known(region, box)
    pairs = [(name, group, g) for name, groups in layers.items() for group, g in groups]
    corners = shapely.box(*box)
    flat = np.array([known, corners, *(g for _, _, g in pairs)], dtype=object)
    degrees = unprojected(flat, region.plane)
    drawn: dict[str, list[tuple[str, BaseGeometry]]] = {}
    for (name, group, _), geometry in zip(pairs, degrees[2:], strict=True):
        drawn.setdefault(name, []).append((group, geometry))
    west, south, east, north = degrees[1].bounds
    return sketch(
        drawn,
        known=degrees[0],
        bounds=(west, south, east, north),
        attributions=attributions,
        dates={name: words for name in drawn if (words := _dates(region.layer(name).on(day), box, day))},
    )


def _dates(features: Features, box: Box, day: date) -> str:
    """Return from when to when what is drawn is in force; empty where nothing of the layer ever ends.

    A layer of things that only begin, such as houses by their year, is no matter of the day.
    """
    near = features.picked(np.sort(features.tree.query(shapely.box(*box))))
    ending = near.valid_to != OPEN_TO
    if not ending.any():
        return ""
    spans = sorted(
        {(str(a), str(b)) for a, b in zip(near.valid_from[ending], near.valid_to[ending], strict=True)}
    )
    said = [f"to {b}" if a == str(OPEN_FROM) else f"from {a} to {b}" for a, b in spans]
    few = said if len(said) <= MOST_DATES else [f"{len(said)} different spans, the last {said[-1]}"]
    return f"in force {', '.join(few)}, as of the release day {day}"


def _window(plan: Plan, plane: Plane) -> Box:
    if plan.rasters is not None:
        return plan.rasters.window.bounds
    x, y = (float(v) for v in plane.project(plan.capture.longitude, plan.capture.latitude))
    reach = max(plan.circle_m, AROUND_M)
    return x - reach, y - reach, x + reach, y + reach


def _cut(features: Features, box: Box) -> list[tuple[str, BaseGeometry]]:
    """Return the features in the box, one collection a class, classes by name."""
    which = np.sort(features.tree.query(shapely.box(*box)))
    found, classes = features.geometries[which], features.text("classes")[which]
    inside = _within(shapely.bounds(found), box)
    kept = np.array(found, dtype=object)
    kept[~inside] = shapely.clip_by_rect(found[~inside], *box)
    there = ~shapely.is_empty(kept)  # only the outline's own box reached in
    kept, classes = _plainer(kept[there]), classes[there]
    groups, owner = np.unique(classes, return_inverse=True)
    return [(str(group), shapely.geometrycollections(kept[owner == k])) for k, group in enumerate(groups)]


def _within(bounds: npt.NDArray[np.float64], box: Box) -> npt.NDArray[np.bool_]:
    west, south, east, north = box
    return np.asarray(
        (bounds[:, 0] >= west) & (bounds[:, 1] >= south) & (bounds[:, 2] <= east) & (bounds[:, 3] <= north)
    )


def _plainer(geometries: Geometries) -> Geometries:
    """Return the outlines with fewer vertices; one that would vanish stays as it is."""
    detailed = shapely.get_num_coordinates(geometries) > 8  # most buildings have no vertex to spare
    plain = shapely.simplify(geometries[detailed], SIMPLIFIED_M, preserve_topology=False)
    gone = shapely.is_empty(plain) | ~shapely.is_valid(plain)
    plain[gone] = geometries[detailed][gone]
    out = np.array(geometries, dtype=object)
    out[detailed] = plain
    return out


def _known(region: Region, box: Box) -> BaseGeometry:
    """Return where every feature layer is known to be complete, cut to the box."""
    extents = {id(e): e for e in (region.layer(n).extent for n, s in region.file.layers.items() if s.sources)}
    known: BaseGeometry = shapely.box(*box)
    for extent in extents.values():
        parts = shapely.clip_by_rect(extent.parts, *box)
        known = shapely.intersection(known, shapely.union_all(parts))
    return known


def unprojected(geometries: Geometries, plane: Plane) -> Geometries:
    """Return geometries of the plane in degrees; all coordinates go through the projection at once."""
    xy = shapely.get_coordinates(geometries)
    lon, lat = plane.unproject(xy[:, 0], xy[:, 1])
    made: Geometries = shapely.set_coordinates(
        np.array(geometries, dtype=object), np.column_stack([lon, lat])
    )
    return made
