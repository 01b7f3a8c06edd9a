"""Small regions for tests: held in memory, or written out as a user's folder would be.

Everything is given in the region's plane [m], so that a test knows where each thing lies.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pyogrio.raw
import shapely
from pyproj import Transformer
from shapely import Geometry

from tussock.geodesy import Plane
from tussock.ground.areas import AreaSet
from tussock.ground.features import OPEN_FROM, OPEN_TO, Features
from tussock.ground.rasters import Raster
from tussock.ground.region import Layer, Region
from tussock.ground.region_file import LayerSpec, PlaneSpec, RegionFile, SourceSpec

HOBART = Plane(147.6, -42.1)
"""A plane for tests that do not care where on Earth they are."""
FAR_M = 1e5


@dataclass(frozen=True)
class Thing:
    """One feature of a layer, in the plane [m]."""

    geometry: Geometry
    kind: str = ""
    id: str = ""
    error_m: float = 0.0
    valid_from: date | None = None
    valid_to: date | None = None
    priority: int = 0


@dataclass(frozen=True)
class Grid:
    """A raster: values, first row northernmost; pixel edges start at ``west``, ``north`` in its CRS."""

    values: npt.NDArray[np.float32]
    west: float
    north: float
    width: float
    height: float
    epsg: int | None = None


@dataclass(frozen=True)
class Ground:
    """What a test says of the ground.

    Attributes
    ----------
    layers
        Name → its features.
    known
        Name → polygons known to be complete, ``""`` for all other layers; far beyond every test
        where nothing is said.
    grids
        Name → raster; ``epsg`` ``None`` is the plane itself.
    as_of
        Name → day that the layer's data are of.
    """

    layers: Mapping[str, Sequence[Thing]]
    known: Mapping[str, Sequence[Geometry]] = field(default_factory=dict)
    grids: Mapping[str, Grid] = field(default_factory=dict)
    as_of: Mapping[str, date] = field(default_factory=dict)
    plane: Plane = HOBART
    cell_m: float = 10.0

    def known_of(self, name: str) -> Sequence[Geometry]:
        """Return the known extent of a layer."""
        return self.known.get(name) or self.known.get("") or [shapely.box(-FAR_M, -FAR_M, FAR_M, FAR_M)]


@dataclass(frozen=True, eq=False)
class MadeRegion(Region):
    """A region whose layers are held in memory; what a reader would do to them is done."""

    made: Mapping[str, Layer] = field(default_factory=dict)
    rasters: Mapping[str, Raster] = field(default_factory=dict)

    def layer(self, name: str) -> Layer:
        return self.made[name]

    def raster(self, name: str) -> Raster:
        return self.rasters[name]

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        boxes = [shapely.total_bounds(layer.extent.parts) for layer in self.made.values()]
        (west, south), (east, north) = np.min(boxes, axis=0)[:2], np.max(boxes, axis=0)[2:]
        return float(west), float(south), float(east), float(north)


def made_region(ground: Ground) -> MadeRegion:
    """Return the ground as a region in memory."""
    specs = {
        name: LayerSpec(sources=(SourceSpec(file="-"),), as_of=ground.as_of.get(name))
        for name in ground.layers
    }
    specs |= {name: LayerSpec(raster="-", unit="fraction") for name in ground.grids}
    plane = PlaneSpec(longitude=ground.plane.longitude, latitude=ground.plane.latitude, cell_m=ground.cell_m)
    return MadeRegion(
        Path("-"),
        RegionFile(name="test", plane=plane, layers=specs),
        ground.plane,
        made={name: _layer(name, ground, specs[name]) for name in ground.layers},
        rasters={name: raster_of(grid, ground.plane) for name, grid in ground.grids.items()},
    )


def _layer(name: str, ground: Ground, spec: LayerSpec) -> Layer:
    found = features_of(name, ground.layers[name])
    extent = AreaSet(_objects(list(shapely.get_parts(_objects(ground.known_of(name))))))
    return Layer(name, spec, found, extent, ())


def features_of(name: str, things: Sequence[Thing]) -> Features:
    """Return things as a feature layer."""
    n = len(things)
    blank = np.full(n, "", dtype=object)
    return Features(
        name=name,
        geometries=_objects([t.geometry for t in things]),
        classes=_objects([t.kind for t in things]),
        names=blank,
        ids=_objects([t.id for t in things]),
        tenures=blank,
        homes=np.ones(n),
        priority=np.array([t.priority for t in things], dtype=np.int64),
        valid_from=_days([t.valid_from for t in things], OPEN_FROM),
        valid_to=_days([t.valid_to for t in things], OPEN_TO),
        error_m=np.array([t.error_m for t in things], dtype=np.float64),
    )


def _objects(items: Sequence[Any]) -> npt.NDArray[np.object_]:
    out = np.empty(len(items), dtype=object)
    out[:] = items
    return out


def _days(days: Sequence[date | None], default: np.datetime64) -> npt.NDArray[np.datetime64]:
    return np.array([default if d is None else np.datetime64(d, "D") for d in days], dtype="datetime64[D]")


def raster_of(grid: Grid, plane: Plane) -> Raster:
    """Return a raster as the reader would."""
    inverse = (1 / grid.width, 0.0, -grid.west / grid.width, 0.0, -1 / grid.height, grid.north / grid.height)
    geographic = grid.epsg == 4326
    crs: Any = plane.crs if grid.epsg is None else grid.epsg
    back = None if geographic else Transformer.from_crs(4326, crs, always_xy=True)
    return Raster(grid.values, inverse, (grid.width, -grid.height), geographic, back)


def changed(ground: Ground, **layers: Sequence[Thing]) -> Ground:
    """Return the ground with some layers put in place of its own."""
    return replace(ground, layers={**ground.layers, **layers})


def written_region(ground: Ground, folder: Path) -> Path:
    """Write the ground as a folder that ``open_region`` reads: GeoPackages in degrees, region.toml."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = ['name = "test"', "[plane]", f"longitude = {ground.plane.longitude!r}"]
    lines += [f"latitude = {ground.plane.latitude!r}", f"cell_m = {float(ground.cell_m)!r}"]
    for name, things in ground.layers.items():
        _write(folder / f"{name}.gpkg", things, ground.plane)
        extent = [Thing(g) for g in ground.known_of(name)]
        _write(folder / f"{name}-extent.gpkg", extent, ground.plane)
        lines += [f"[layers.{name}]", f'extent = "{name}-extent.gpkg"', f"[[layers.{name}.sources]]"]
        lines += [f'file = "{name}.gpkg"', 'class_field = "kind"', 'id_field = "id"']
        lines += ['priority_field = "priority"', 'valid_from_field = "from"', 'valid_to_field = "to"']
    (folder / "region.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def _write(path: Path, things: Sequence[Thing], plane: Plane) -> None:
    def degrees(xy: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return np.column_stack(plane.unproject(xy[:, 0], xy[:, 1]))

    geometries = shapely.transform(_objects([t.geometry for t in things]), degrees)
    columns: dict[str, npt.NDArray[Any]] = {
        "kind": _objects([t.kind for t in things]),
        "id": _objects([t.id for t in things]),
        "priority": np.array([float(t.priority) for t in things]),
        "from": _objects(["" if t.valid_from is None else t.valid_from.isoformat() for t in things]),
        "to": _objects(["" if t.valid_to is None else t.valid_to.isoformat() for t in things]),
    }
    pyogrio.raw.write(
        path,
        shapely.to_wkb(geometries),
        list(columns.values()),
        list(columns),
        geometry_type="Unknown",
        crs="EPSG:4326",
    )
