"""Exact measures at places: nearest in the plane, then on the ellipsoid, as intervals.

An exact measure depends on region, day, animal and place alone; never on a window or a surface.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely import STRtree

from tussock.geodesy import Floats, distance_m
from tussock.ground.areas import AreaSet
from tussock.ground.features import Geometries
from tussock.interval import TOLERANCE_M
from tussock.measure.between import barriers_between
from tussock.measure.measured import Measured, hull
from tussock.measure.patches import patch_area
from tussock.measure.scene import NATURAL, EarlierRelease, Places, Scene
from tussock.names import UNMAPPED
from tussock.permit.demands import (
    At,
    BarriersBetween,
    BeyondNearest,
    Depth,
    DistanceFromCapture,
    DistanceTo,
    PatchArea,
    Quantity,
    ReleasesNear,
    SameHabitat,
    SamePolygon,
    layers_of,
)

_PAIRS = 100_000
"""Distances worked out in one call at most."""
Reals = npt.NDArray[np.floating[Any]]


def measure(quantity: Quantity, scene: Scene, at: Places) -> Measured:
    """Return a quantity at places, as intervals.

    Parameters
    ----------
    quantity
        What a clause or criterion asks for.
    scene
        The ground on the day, and the case.
    at
        Where.
    """
    if isinstance(quantity, Depth) and quantity.taking:
        return measure(replace(quantity, taking=False), scene.taking, at)
    views = scene.views(layers_of(quantity))
    return hull([_measure(quantity, view, at) for view in views], reason="date")


def _measure(quantity: Quantity, scene: Scene, at: Places) -> Measured:
    match quantity:
        case DistanceFromCapture():
            return distance_from_capture(scene, at)
        case BeyondNearest(nearest_m=nearest):
            beyond = distance_from_capture(scene, at).value - nearest
            return Measured(beyond, beyond, beyond)
        case DistanceTo(layer=layer, classes=classes):
            return distance_to(scene, at, layer, classes)
        case Depth():
            if quantity.at is At.CAPTURE:
                taken = depth(scene, scene.capture, quantity)
                return taken if len(taken.low) == len(at) else taken.repeated(len(at))
            return depth(scene, at, quantity)
        case SameHabitat(loosened_m=loosened):
            return same_habitat(scene, at, loosened_m=loosened)
        case PatchArea():
            return patch_area(scene, at, quantity)
        case SamePolygon(layer=layer):
            return same_polygon(scene, at, layer)
        case BarriersBetween(layer=layer, classes=classes):
            return barriers_between(scene, at, layer, classes)
        case ReleasesNear():
            return releases_near(scene, at, quantity)


def distance_from_capture(scene: Scene, at: Places) -> Measured:
    """Return the geodesic distance capture–place [m]; both radii add linearly."""
    capture, whose = scene.capture, scene.case.capture.reason
    d = distance_m(capture.lon, capture.lat, at.lon, at.lat)
    widened = capture.radius_m + at.radius_m
    reasons = {"position": at.radius_m}
    reasons[whose] = reasons.get(whose, 0.0) + capture.radius_m
    return Measured(np.maximum(d - widened, 0.0), d + widened, d, reasons)


def nearest_m(tree: STRtree, geometries: Geometries, scene: Scene, at: Places) -> Floats:
    """Return the distance [m] to the nearest of some geometries; ∞ where there are none."""
    if not len(geometries):
        return np.full(len(at), np.inf)
    _, nearest = tree.query_nearest(at.points, all_matches=False)
    ends = shapely.get_coordinates(shapely.shortest_line(at.points, geometries[nearest]))[1::2]
    lon, lat = scene.plane.unproject(ends[:, 0], ends[:, 1])
    inside = np.hypot(ends[:, 0] - at.x, ends[:, 1] - at.y) == 0
    return np.where(inside, 0.0, distance_m(at.lon, at.lat, lon, lat))


def distance_to(scene: Scene, at: Places, layer: str, classes: frozenset[str] | None) -> Measured:
    """Return the distance [m] to the nearest feature, cut by the known extent."""
    found = scene.features(layer, classes)
    low, high, value = (np.full(len(at), np.inf) for _ in range(3))
    error = np.zeros(len(at))
    for e, group in found.by_error:
        d = nearest_m(group.tree, group.geometries, scene, at)
        error = np.where(d - e < low + at.radius_m, e, error)
        low, high, value = (
            np.minimum(low, d - e - at.radius_m),
            np.minimum(high, d + e + at.radius_m),
            np.minimum(value, d),
        )
    low = np.maximum(low, 0.0)
    edge = np.maximum(extent_depth(scene, at, layer) - at.radius_m, 0.0)
    cut = np.minimum(low, edge)
    reasons: dict[str, Floats | float] = {
        "position": at.radius_m,
        found.error_reason: error,
        "edge of data": _width(low, cut),
    }
    return Measured(cut, high, value, reasons)


def _width(before: Floats, after: Floats) -> Floats:
    """Return before − after where they differ (∞ − finite is ∞, ∞ − ∞ is 0)."""
    with np.errstate(invalid="ignore"):
        return np.where(before > after, before - after, 0.0)


def extent_depth(scene: Scene, at: Places, layer: str) -> Floats:
    """Return how deep places lie inside a layer's known extent [m]; negative outside."""
    return signed_depth(scene.extent(layer), scene, at)


def signed_depth(areas: AreaSet, scene: Scene, at: Places) -> Floats:
    """Return the signed distance [m] to the edge of a set of areas, inside positive; −∞ for no areas."""
    edge = nearest_m(areas.edge_tree, areas.edge, scene, at)
    return np.where(areas.part_of(at.points) >= 0, edge, -edge)


def depth(scene: Scene, at: Places, asked: Depth) -> Measured:
    """Return the signed distance [m] to the edge of a layer's areas, cut by the known extent."""
    if asked.maybe_spared:
        return _perhaps_spared(scene, at, asked)
    areas = scene.areas(asked.layer, asked.classes, asked.spared)
    s = signed_depth(areas, scene, at)
    if asked.as_mapped:
        widened, nominal = scene.error_m(asked.layer) + at.radius_m, -s if asked.outside else s
        reasons = {"position": at.radius_m, "layer": scene.error_m(asked.layer)}
        return Measured(nominal - widened, nominal + widened, nominal, reasons)
    return _cut_depth(scene, at, asked.layer, s, outside=asked.outside)


def _perhaps_spared(scene: Scene, at: Places, asked: Depth) -> Measured:
    """Return the depth with the areas that may not count held at the low end and left out at the high."""
    held = depth(scene, at, replace(asked, maybe_spared=frozenset()))
    spared = depth(
        scene, at, replace(asked, spared=asked.spared | asked.maybe_spared, maybe_spared=frozenset())
    )
    high = np.maximum(held.high, spared.high)
    whose = scene.case.capture.reason
    reasons = {**held.reasons, whose: np.maximum(_width(high, held.high), held.reasons.get(whose, 0.0))}
    return Measured(held.low, high, held.value, reasons)


def _cut_depth(scene: Scene, at: Places, layer: str, s: Floats, *, outside: bool = False) -> Measured:
    """Return signed distances as intervals, cut by what is known and widened.

    Ground in no habitat polygon is as little known as ground beyond the extent: it may be any class.
    """
    error = scene.error_m(layer)
    known = extent_depth(scene, at, layer)
    widened = error + at.radius_m

    def least() -> Floats:
        return np.asarray(cut_low(s, known))

    def most() -> Floats:
        return np.asarray(cut_high(s, _mapped(scene, at, s, known) if layer == "habitat" else known))

    low: Floats = -most() if outside else least()
    nominal = -s if outside else s

    def high() -> Floats:
        return (-least() if outside else most()) + widened

    def reasons() -> Mapping[str, Floats | float]:
        edge = np.maximum(_width(nominal, low), _width(high() - widened, nominal))
        return {"position": at.radius_m, "layer": error, "edge of data": edge}

    return Measured(low - widened, high, nominal, reasons)


def _mapped(scene: Scene, at: Places, s: Floats, known: Floats) -> Floats:
    """Return what is known, less the unmapped ground, at places outside the areas asked for."""
    outside = s < 0
    if not outside.any():
        return known
    mapped = known.copy()
    depth_there = signed_depth(scene.areas("habitat"), scene, at.taken(outside))
    mapped[outside] = np.minimum(known[outside], depth_there)
    return mapped


def cut_low(s: Reals, known: Reals) -> Any:
    """Return the low end of a signed depth: areas may end where knowledge ends. Rises with both."""
    return np.where(s > 0, np.minimum(s, np.maximum(known, 0)), s)


def cut_high(s: Reals, known: Reals) -> Any:
    """Return the high end of a signed depth: areas may go on, or begin, beyond the known extent.

    Rises with the depth, falls with what is known; outside the extent all is possible.
    """
    # where the two edges are one, the areas may go on
    inside = np.where(s < known - TOLERANCE_M, s, np.inf)
    return np.where(s > 0, inside, np.where(known > 0, np.maximum(s, -known), np.inf))


def habitat_class(scene: Scene, at: Places) -> npt.NDArray[np.object_]:
    """Return the habitat class at each point, ``unmapped`` where no polygon is."""
    found = scene.features("habitat")
    out = np.full(len(at), UNMAPPED, dtype=object)
    which, feature = found.tree.query(at.points, predicate="intersects")
    # on a shared edge the later row stands, whatever the order of the hits
    order = np.argsort(feature, kind="stable")
    out[which[order]] = found.classes[feature[order]]
    return out


def class_distances(scene: Scene) -> dict[str, Measured]:
    """Return the distance [m] from the capture to the nearest polygon of each natural class mapped."""
    mapped = sorted(set(scene.features("habitat").classes) & NATURAL)
    return {c: distance_to(scene, scene.capture, "habitat", frozenset([c])) for c in mapped}


def same_habitat(scene: Scene, at: Places, *, loosened_m: float = 0.0) -> Measured:
    """Return the distance [m] from the capture to the nearest polygon of the place's natural class.

    ``loosened_m`` lowers the low end: by so much the limit may be wider, see the clause.

    The hull over the classes that the place's disc may lie in; ∞ at the high end where that may be no
    natural class.
    """
    return loosened(_same_habitat(scene, at), loosened_m, reason=scene.case.capture.reason)


def loosened(found: Measured, metres: float, *, reason: str) -> Measured:
    """Return the distances of :func:`same_habitat` with the low ends so much [m] lower."""
    low, high = np.maximum(found.low - metres, 0.0), found.high
    width = np.where(high > low, high - np.where(np.isfinite(low), low, 0.0), 0.0)
    return Measured(low, high, found.value, {reason: width})


def _same_habitat(scene: Scene, at: Places) -> Measured:
    by_class = scene.made("class distances", lambda: class_distances(scene))
    low, high = np.full(len(at), np.inf), np.full(len(at), -np.inf)
    value = np.full(len(at), np.inf)
    here = habitat_class(scene, at)
    for name, there in by_class.items():
        possible = distance_to(scene, at, "habitat", frozenset([name])).low <= 0
        low = np.where(possible, np.minimum(low, there.low), low)
        high = np.where(possible, np.maximum(high, there.high), high)
        value = np.where(here == name, there.value, value)
    natural = depth(scene, at, Depth("habitat", NATURAL))
    high = np.where((natural.low < 0) | (high < low), np.inf, high)
    return Measured(low, high, value)


def same_polygon(scene: Scene, at: Places, layer: str) -> Measured:
    """Return the signed distance [m] to the edge of the polygon that holds the capture.

    Where the capture's disc reaches several polygons, or none is sure, the interval spans them;
    where it reaches beyond the known extent, the capture may lie in any polygon.
    """
    nowhere = np.full(len(at), -np.inf)
    near = polygons_near_capture(scene, layer)
    whose = scene.case.capture.reason
    if not capture_known(scene, layer):
        return Measured(nowhere, -nowhere, nowhere, {whose: 0.0, "edge of data": np.inf})
    if not len(near):
        return Measured(nowhere, nowhere, nowhere)
    sets = [AreaSet(shapely.get_parts(g)) for g in near]
    each = [_cut_depth(scene, at, layer, signed_depth(one, scene, at)) for one in sets]
    high, value = np.max([m.high for m in each], axis=0), np.max([m.value for m in each], axis=0)
    if len(near) > 1 or not _holds_disc(scene, layer, near[0]):
        return Measured(nowhere, high, value, {"position": at.radius_m, whose: np.inf})
    return Measured(each[0].low, high, value, each[0].reasons)


def polygons_near_capture(scene: Scene, layer: str) -> Geometries:
    """Return the polygons of a layer that the capture may lie in."""
    found = scene.features(layer).geometries
    near: Geometries = found[shapely.dwithin(found, scene.capture.points[0], _disc_m(scene, layer))]
    return near


def capture_known(scene: Scene, layer: str) -> bool:
    """Return whether the capture's disc lies wholly inside a layer's known extent."""
    return bool(extent_depth(scene, scene.capture, layer)[0] >= scene.capture.radius_m)


def _disc_m(scene: Scene, layer: str) -> float:
    return scene.capture.radius_m + scene.error_m(layer)


def _holds_disc(scene: Scene, layer: str, geometry: shapely.Geometry) -> bool:
    point = scene.capture.points[0]
    inside = bool(shapely.intersects(geometry, point))
    return inside and float(shapely.distance(shapely.boundary(geometry), point)) >= _disc_m(scene, layer)


def releases_near(scene: Scene, at: Places, asked: ReleasesNear) -> Measured:
    """Return how many individuals were released near, within the days before, as [surely, possibly]."""
    sure, maybe, nominal = np.zeros(len(at)), np.zeros(len(at)), np.zeros(len(at))
    counted = counted_releases(scene, asked)
    if not counted:
        return Measured(sure, maybe, nominal, {"position": maybe - sure})
    lon, lat = np.array([[r.longitude] for r, _ in counted]), np.array([[r.latitude] for r, _ in counted])
    for (r, counts), d in zip(counted, _away(lon, lat, at), strict=True):
        widened = r.radius_m + at.radius_m
        sure += (d + widened <= asked.within_m) * (r.individual_count * counts)
        maybe += (d - widened <= asked.within_m) * r.individual_count
        nominal += (d <= asked.within_m) * r.individual_count
    return Measured(sure, maybe, nominal, {"position": maybe - sure})


def _away(lon: Floats, lat: Floats, at: Places) -> Iterator[Floats]:
    """Yield the distances of several positions from some places, a batch of them worked out at a time."""
    batch = max(1, _PAIRS // max(1, len(at)))
    for start in range(0, len(lon), batch):
        some = slice(start, start + batch)
        yield from distance_m(lon[some], lat[some], at.lon, at.lat)


def counted_releases(scene: Scene, asked: ReleasesNear) -> list[tuple[EarlierRelease, bool]]:
    """Return the earlier releases that may count, and whether each counts whenever the animal is let go.

    That is, within the days asked for, and of the animal's species where that is asked.
    """
    case, names = scene.case, {name.casefold() for name in scene.case.animal.names}
    found = []
    for r in case.earlier:
        since = [(t - r.instant).total_seconds() for t in (case.released, case.last)]
        in_time = [0 <= s <= asked.within_days * 86_400 for s in since]
        maybe = since[1] >= 0 and since[0] <= asked.within_days * 86_400
        theirs = {name.casefold() for name in (r.scientific_name, r.other_name) if name}
        if maybe and (theirs & names or not asked.same_species):
            surely = not asked.same_species or (len(names) == 1 and theirs == names)
            found.append((r, all(in_time) and surely))
    return found
