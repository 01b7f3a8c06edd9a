"""Patches: contiguous suitable habitat cut by barriers, or contiguous property, with their area."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from tussock.geodesy import WGS84, Floats, Plane
from tussock.ground.areas import GRID_M, AreaSet, dissolved, faces, flattened
from tussock.ground.features import Geometries, kept_with, polygons_of
from tussock.measure.measured import Measured
from tussock.measure.scene import NATURAL, Places, Scene
from tussock.permit.demands import PatchArea
from tussock.permit.ground_columns import parcels_in

SQUARE_METRES_PER_HA = 10_000.0
OVERSHOOT_M = 0.001
"""How far a barrier is drawn out beyond its ends [m]: more than noding moves them."""


@dataclass(frozen=True, eq=False)
class Patches:
    """Disjoint patches.

    Attributes
    ----------
    areas
        The patches.
    whole
        Their ground as one: an edge between two patches is none of its own.
    hectares, open_ended
        Known area of each [ha], and whether it may go on beyond what is known.
    """

    areas: AreaSet
    whole: AreaSet
    hectares: Floats
    open_ended: npt.NDArray[np.bool_]


def patch_sets(scene: Scene, asked: PatchArea) -> tuple[Patches, ...]:
    """Return the sets of patches that a quantity speaks of, for the scene's day; the best set counts.

    Habitat has one. Property has several where consents overlap: one consent is enough.
    """
    sets: tuple[Patches, ...]
    if asked.of == "property":
        sets = scene.made("property", lambda: _property(scene))
        return sets
    found = scene.features("habitat", asked.classes or NATURAL)
    barriers = scene.features("barriers").geometries if scene.region.has("barriers") else None
    key = ("patches", None if barriers is None else id(barriers))
    sets = kept_with(found, key, lambda: (_habitat(scene, asked, barriers),))
    return sets


def _habitat(scene: Scene, asked: PatchArea, barriers: Geometries | None) -> Patches:
    whole = scene.areas("habitat", asked.classes or NATURAL)
    if barriers is not None:
        whole = _without(whole, polygons_of(barriers))
    lines = np.empty(0, dtype=object) if barriers is None else barriers[shapely.get_dimensions(barriers) == 1]
    parts = _cut(whole.parts, lines)
    return Patches(
        AreaSet(parts), whole, area_ha(parts, scene.plane), _reaching(parts, scene.extent("habitat"))
    )


def _without(whole: AreaSet, solid: Geometries) -> AreaSet:
    """Return the areas less barrier areas."""
    if not len(solid) or not len(whole.parts):
        return whole
    touched = np.unique(whole.tree.query(solid, predicate="intersects")[1])
    taken = shapely.difference(whole.parts[touched], shapely.union_all(solid), grid_size=GRID_M)
    return AreaSet(np.concatenate([np.delete(whole.parts, touched), polygons_of(taken)]))


def _cut(parts: Geometries, lines: Geometries) -> Geometries:
    """Return areas cut along lines."""
    if not len(lines) or not len(parts):
        return parts
    crossing = shapely.STRtree(lines).query(parts, predicate="intersects")
    crossed = np.unique(crossing[0])
    if not len(crossed):
        return parts
    pieces = faces(
        parts[crossed], rank=np.arange(len(crossed)), cuts=_overshooting(lines[np.unique(crossing[1])])
    )
    return np.concatenate([np.delete(parts, crossed), pieces.polygons])


def _overshooting(lines: Geometries) -> Geometries:
    """Return lines a millimetre longer at both ends, so that one drawn up to an edge cuts it."""
    out = []
    for line in shapely.get_parts(lines):
        xy = shapely.get_coordinates(line)
        for end, inner in ((0, 1), (-1, -2)):
            way = xy[end] - xy[inner]
            length = float(np.hypot(*way))
            xy[end] += way / length * OVERSHOOT_M if length else 0.0
        out.append(shapely.linestrings(xy))
    return np.array(out, dtype=object)


def _reaching(parts: Geometries, extent: AreaSet) -> npt.NDArray[np.bool_]:
    """Return which parts come within a millimetre of the edge of the known extent."""
    reaching = np.zeros(len(parts), dtype=bool)
    if len(parts) and len(extent.edge):
        reaching[np.unique(extent.edge_tree.query(parts, predicate="dwithin", distance=0.001)[0])] = True
        reaching |= ~shapely.intersects(shapely.union_all(extent.parts), parts)
    return reaching


def _property(scene: Scene) -> tuple[Patches, ...]:
    """Return contiguous parcels under one consent as one patch, and every other parcel by itself.

    Consents that share ground go to different sets, so that the patches of a set never overlap.
    """
    parcels = flattened(scene.features("parcels"))
    covered = np.zeros(len(parcels), dtype=bool)
    taken: list[npt.NDArray[np.bool_]] = []
    layers: list[list[Geometries]] = []
    for consent in scene.case.consents_in_force():
        mask = np.isin(parcels.text("ids"), parcels_in(consent.parcel_id))
        covered |= mask
        free = next((k for k, t in enumerate(taken) if not (t & mask).any()), len(taken))
        if free == len(taken):
            taken.append(np.zeros(len(parcels), dtype=bool))
            layers.append([])
        taken[free] |= mask
        layers[free].append(dissolved(parcels.geometries[mask]).parts)
    alone = polygons_of(parcels.geometries[~covered])
    # without a consent the owner is not known: the next parcel may be the same property
    sets = [_closed(np.concatenate(groups), scene.plane, open_ended=False) for groups in layers]
    return (*sets, _closed(alone, scene.plane, open_ended=True))


def _closed(parts: Geometries, plane: Plane, *, open_ended: bool) -> Patches:
    areas = AreaSet(parts)
    whole = dissolved(parts)
    return Patches(areas, whole, area_ha(parts, plane), np.full(len(parts), open_ended))


def area_ha(parts: Geometries, plane: Plane) -> Floats:
    """Return geodesic areas [ha] of polygons in the plane."""
    out = np.empty(len(parts))
    for k, part in enumerate(parts):
        lon_lat = shapely.transform(part, lambda xy: np.column_stack(plane.unproject(xy[:, 0], xy[:, 1])))
        out[k] = (
            abs(WGS84.geometry_area_perimeter(shapely.orient_polygons(lon_lat))[0]) / SQUARE_METRES_PER_HA
        )
    return out


def patch_area(scene: Scene, at: Places, asked: PatchArea) -> Measured:
    """Return the area of the patch round each place [ha], the best of the sets.

    In a set it is the hull over the patches that the place's disc may lie in; 0 at the low end where
    the disc reaches out of them all, ∞ at the high end where a patch may go on beyond what is known.
    """
    reach = at.radius_m + scene.error_m("habitat" if asked.of == "habitat" else "parcels")
    ends = [_in_set(found, at, reach) for found in patch_sets(scene, asked)]
    low, high, value = (np.max([e[k] for e in ends], axis=0) for k in range(3))
    edge = np.where(np.isinf(high), np.inf, 0.0)
    spread = np.where(np.isinf(high), 0.0, high) - np.where(np.isinf(high), 0.0, low)
    return Measured(low, high, value, {"position": spread, "edge of data": edge})


def _in_set(found: Patches, at: Places, reach: float) -> tuple[Floats, Floats, Floats]:
    """Return low and high ends and the nominal value in one set of patches [ha]."""
    here = found.areas.part_of(at.points)
    value = np.append(found.hectares, 0.0)[here]
    low, high = np.full(len(at), np.inf), np.zeros(len(at))
    which, part = found.areas.tree.query(at.points, predicate="dwithin", distance=reach)
    np.minimum.at(low, which, found.hectares[part])
    np.maximum.at(high, which, np.where(found.open_ended[part], np.inf, found.hectares[part]))
    low = np.where(_spills(found.whole, at, reach) | ~np.isfinite(low), 0.0, low)
    return low, np.maximum(high, low), value


def _spills(whole: AreaSet, at: Places, reach: float) -> npt.NDArray[np.bool_]:
    """Return where a place's disc reaches ground in no patch."""
    near = np.zeros(len(at), dtype=bool)
    if len(whole.edge):
        near[np.unique(whole.edge_tree.query(at.points, predicate="dwithin", distance=reach)[0])] = True
    return near | (whole.part_of(at.points) < 0)
