"""Mapped edges, and in which band of distance from one a place lies.

Distances are straight lines in the region's plane, to what is drawn of the edge. They sort homes into
bands of hundreds of metres and are no legal distances.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import shapely
from shapely import STRtree

from tussock.geodesy import ASSUMED_RADIUS_M, Floats
from tussock.ground.areas import chunks
from tussock.ground.features import Features, Geometries, polygons_of
from tussock.ground.region import Region

INSIDE_M = ASSUMED_RADIUS_M
"""What lies farther inside an area than this [m] is not at its edge (the radius assumed of a position)."""
WITHIN, BEYOND = -1, -2
"""What stands for a band: well inside an area, and farther off than the last band."""
SAME_M = 1.0
"""Two drawings of one thing may lie so far apart [m] (choice of this project)."""


@dataclass(frozen=True, eq=False)
class Edge:
    """Something mapped that animals may come from.

    Attributes
    ----------
    layer, name
        Where it is drawn, and what it is called there; ``""`` for all that bear no name.
    geometries
        Points, lines and areas in the plane [m].
    """

    layer: str
    name: str
    geometries: Geometries


def edges_of(region: Region, layer: str, *, day: date, classes: Iterable[str] | None = None) -> list[Edge]:
    """Return the edges that a layer draws on a day: one for each name, and one for all without a name.

    Parameters
    ----------
    classes
        Only features surely of these, such as ``("wetland",)`` of habitat; ``None`` takes all.

    Raises
    ------
    InputError
        When its files cannot be used.
    """
    found = region.layer(layer).on(day)
    return edges(found if classes is None else found.surely_of(frozenset(classes)))


def edges(found: Features) -> list[Edge]:
    """Return features as edges, one for each name in order of the alphabet, those without one last."""
    names = found.text("names")
    ordered = sorted(set(names.tolist()), key=lambda n: (n == "", n))
    return [Edge(found.name, name, found.geometries[names == name]) for name in ordered]


def once(mapped: Iterable[Edge]) -> list[Edge]:
    """Return edges with what is drawn in two layers as one: a brook of water that is protected too.

    One are edges of one name whose ground touches, and edges that are drawn alike whatever their names; the
    first's name stands. Told twice an edge would be corrected for twice.
    """
    given = [e for e in mapped if len(e.geometries)]
    boxes = np.array([shapely.total_bounds(e.geometries) for e in given]).reshape(-1, 4)
    names = np.array([e.name.casefold() for e in given], dtype=object)
    out: dict[int, Edge] = {}
    for n, edge in enumerate(given):
        boxed = np.abs(boxes[:n] - boxes[n]).max(axis=1) <= SAME_M
        alike = boxed | ((names[:n] == names[n]) & bool(edge.name))
        same = next((k for k in np.flatnonzero(alike).tolist() if k in out and _same(out[k], edge)), None)
        if same is None:
            out[n] = edge
        else:
            out[same] = _joined(out[same], edge)
    return list(out.values())


def _joined(one: Edge, other: Edge) -> Edge:
    layers = dict.fromkeys((*one.layer.split(" and "), other.layer))
    drawn = np.concatenate([one.geometries, other.geometries])
    return Edge(" and ".join(layers), one.name or other.name, drawn)


def _same(one: Edge, other: Edge) -> bool:
    if one.name and one.name.casefold() == other.name.casefold():
        tree = STRtree(one.geometries)
        return bool(tree.query(other.geometries, predicate="dwithin", distance=SAME_M).size)
    a, b = (shapely.union_all(e.geometries) for e in (one, other))
    return bool(shapely.hausdorff_distance(a, b) <= SAME_M)


def band_of(geometries: Geometries, x: Floats, y: Floats, *, limits_m: Floats) -> npt.NDArray[np.int64]:
    """Return the band of each place: 0 upwards, −1 well inside an area, −2 beyond the last band.

    The distance is to the outline of an area, from either side: a garden may lie a little inside what is
    drawn of a reserve.
    """
    out = np.full(len(x), BEYOND, dtype=np.int64)
    if not len(geometries):
        return out
    areas, drawn = _areas_and_outlines(geometries)
    reach = float(limits_m[-1])
    west, south, east, north = shapely.total_bounds(geometries)
    boxed = (x >= west - reach) & (x <= east + reach) & (y >= south - reach) & (y <= north + reach)
    near = np.flatnonzero(boxed)
    points = np.asarray(shapely.points(x[near], y[near]), dtype=object)
    (which, _), found = STRtree(drawn).query_nearest(
        points, max_distance=reach, return_distance=True, all_matches=False
    )
    apart = np.full(len(near), np.inf)
    apart[which] = found
    out[near[which]] = np.maximum(np.searchsorted(limits_m, found, side="left") - 1, 0)
    out[near[(apart > INSIDE_M) & _inside(areas, points)]] = WITHIN
    return out


def _areas_and_outlines(geometries: Geometries) -> tuple[Geometries, Geometries]:
    """Return the areas, and what distances are to: points, lines and the rings of areas, in pieces.

    Areas are joined first: the border between two halves of a reserve is no edge of it.
    """
    parts: Geometries = shapely.get_parts(shapely.get_parts(geometries))
    kinds = shapely.get_dimensions(parts)
    areas = polygons_of(np.array([shapely.union_all(parts[kinds == 2])], dtype=object))
    rings = shapely.get_rings(areas)
    return areas, np.concatenate([parts[kinds == 0], chunks(parts[kinds == 1]), chunks(rings)])


def _inside(areas: Geometries, points: Geometries) -> npt.NDArray[np.bool_]:
    out = np.zeros(len(points), dtype=np.bool_)
    if len(areas):
        shapely.prepare(areas)
        out[STRtree(areas).query(points, predicate="intersects")[0]] = True
    return out
