"""The ground as it is drawn: one multi-geometry a layer and class, in degrees with six decimals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from tussock.errors import InputError

MICRO = 1_000_000
"""Steps a degree: coordinates go out with six decimals (0.11 m)."""
DRAWN_DIMENSIONS = ("points", "lines", "areas")
DRAW_ORDER = (
    "habitat", "excluded", "protected", "water", "parcels", "railways", "roads", "barriers", "dwellings",
    "peopled_places", "permit_area",
)  # fmt: skip
"""Standard layers from the bottom up; layers a region adds come after them, by name."""


@dataclass(frozen=True)
class GroundSketch:
    """What the map draws beneath the answer; longitude–latitude throughout.

    Attributes
    ----------
    layers
        Layer name → (class, geometry) pairs; geometries in EPSG:4326.
    known
        Where the layers are known to be complete; outside it the map says "not known".
    bounds
        West, south, east, north of what was handed in [degrees].
    attributions
        Who made the data, one sentence each; printed on the map.
    dates
        Layer name → from when to when its features are in force, in words, where they come and go.
    """

    layers: Mapping[str, Sequence[tuple[str, BaseGeometry]]]
    known: BaseGeometry
    bounds: tuple[float, float, float, float]
    attributions: tuple[str, ...] = field(default=())
    dates: Mapping[str, str] = field(default_factory=dict)


def sketch(
    layers: Mapping[str, Sequence[tuple[str, BaseGeometry]]],
    *,
    known: BaseGeometry | None = None,
    bounds: tuple[float, float, float, float] | None = None,
    attributions: Iterable[str] = (),
    dates: Mapping[str, str] | None = None,
) -> GroundSketch:
    """Return the ground to draw.

    Parameters
    ----------
    layers
        Layer name → (class, geometry) pairs in EPSG:4326, already cut to the window. Empty and
        missing geometries are left out.
    known
        Known extent in EPSG:4326; ``None`` for the box of ``bounds``.
    bounds
        West, south, east, north [degrees]; ``None`` for the box of all geometries.
    attributions
        Sentences; repeated ones are printed once.
    dates
        As in :class:`GroundSketch`.

    Raises
    ------
    InputError
        When nothing says where the ground lies, or coordinates are no degrees.
    """
    kept = {name: _drawable(pairs) for name, pairs in layers.items()}
    box_of = bounds or _bounds(kept, known)
    west, south, east, north = box_of
    if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):
        raise InputError(
            f"the ground's box is {box_of}, which is no longitude and latitude",
            where="the map's ground",
            allowed="degrees, EPSG:4326",
            fix="hand the layers in as longitude, latitude",
        )
    extent = box(*box_of) if known is None else known
    return GroundSketch(kept, extent, box_of, tuple(dict.fromkeys(attributions)), dates or {})


def _drawable(pairs: Sequence[tuple[str, BaseGeometry]]) -> tuple[tuple[str, BaseGeometry], ...]:
    return tuple((c, g) for c, g in pairs if g is not None and not g.is_empty)


def _bounds(
    layers: Mapping[str, Sequence[tuple[str, BaseGeometry]]], known: BaseGeometry | None
) -> tuple[float, float, float, float]:
    everything = [g for pairs in layers.values() for _, g in pairs]
    if known is not None and not known.is_empty:
        everything.append(known)
    if not everything:
        raise InputError(
            "no ground and no bounds were given",
            where="the map's ground",
            fix="give the window's bounds in degrees",
        )
    west, south, east, north = shapely.total_bounds(np.array(everything, dtype=object))
    return float(west), float(south), float(east), float(north)


def layer_names(ground: GroundSketch) -> list[str]:
    """Return the layers that hold anything, in drawing order."""
    standard = [n for n in DRAW_ORDER if ground.layers.get(n)]
    return standard + sorted(n for n, pairs in ground.layers.items() if pairs and n not in DRAW_ORDER)


def by_class(pairs: Sequence[tuple[str, BaseGeometry]]) -> dict[str, list[BaseGeometry]]:
    """Return the geometries of each class, classes in order of first appearance."""
    groups: dict[str, list[BaseGeometry]] = {}
    for name, geometry in pairs:
        groups.setdefault(name, []).append(geometry)
    return groups


def encoded(geometries: Sequence[BaseGeometry]) -> dict[str, dict[str, Any]]:
    """Return areas, lines and points, each as one multi-geometry in micro-degrees.

    Each has ``o`` (the first vertex: longitude, latitude), ``d`` (steps from vertex to vertex, two
    numbers each), ``n`` (vertices of each ring or line) and ``p`` (rings of each polygon; areas only).
    Rings are left open. A dimension without geometry is left out.
    """
    parts = shapely.get_parts(np.array(geometries, dtype=object))
    nested = np.isin(shapely.get_type_id(parts), (4, 5, 6, 7))
    while nested.any():  # a collection within a collection
        parts = shapely.get_parts(parts)
        nested = np.isin(shapely.get_type_id(parts), (4, 5, 6, 7))
    dimension = shapely.get_dimensions(parts)
    made: dict[str, dict[str, Any]] = {}
    for k, name in enumerate(DRAWN_DIMENSIONS):
        chosen = parts[dimension == k]
        if len(chosen):
            made[name] = _areas(chosen) if k == 2 else _runs(chosen, open_rings=False)
    return made


def _areas(polygons: npt.NDArray[np.object_]) -> dict[str, Any]:
    rings, owner = shapely.get_rings(polygons, return_index=True)
    counts = np.bincount(owner, minlength=len(polygons))
    return {**_runs(rings, open_rings=True), "p": counts[counts > 0].tolist()}


def _runs(lines: npt.NDArray[np.object_], *, open_rings: bool) -> dict[str, Any]:
    """Return the vertices of many lines as one chain of steps."""
    coords, owner = shapely.get_coordinates(lines, return_index=True)
    counts = np.bincount(owner, minlength=len(lines))
    if open_rings:
        last = np.cumsum(counts) - 1
        coords = np.delete(coords, last, axis=0)
        counts = counts - 1
    steps = np.rint(coords * MICRO).astype(np.int64)
    deltas = np.diff(steps, axis=0, prepend=steps[:1])
    return {"o": steps[0].tolist(), "d": deltas.ravel().tolist(), "n": counts.tolist()}
