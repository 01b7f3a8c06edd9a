"""A region opened for work: layers read when asked for, and kept while their files stay the same."""

from __future__ import annotations

import glob
import hashlib
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from tussock.errors import Faults, InputError
from tussock.geodesy import Plane
from tussock.ground.areas import AreaSet, dissolved, flattened
from tussock.ground.features import Features, kept_with
from tussock.ground.gdal_words import READING
from tussock.ground.rasters import Raster, read_raster
from tussock.ground.reading import read_layer, read_polygons
from tussock.ground.region_file import LayerSpec, PlaneSpec, RegionFile, read_region_file
from tussock.names import RASTER_LAYERS
from tussock.position import Position

_OF_SHAPEFILE = (".shp", ".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx")
_KEPT: dict[Any, Any] = {}
_MOST_KEPT = 256
_FLATTENING = threading.Lock()
NO_GROUND = "no ground data was given"
_MOST_LATITUDE = 85.0
MOST_FROM_CENTRE_M = 110_000.0
"""Farthest from the plane's centre that is planned [m]: regions are up to 150 km wide, so their corners are
106 km out; the plane's scale errs by 1.5e-4 there."""


def _stamp(path: Path) -> tuple[str, int, int]:
    """Return what tells one state of a file from another."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return str(path), 0, -1
    return str(path.resolve()), found.st_mtime_ns, found.st_size


def kept(key: Any, make: Any) -> Any:
    """Return the object kept under a key, made at first; the oldest leave when there are too many."""
    if key not in _KEPT:
        while len(_KEPT) >= _MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)))
        _KEPT[key] = make()
    return _KEPT[key]


def forget() -> None:
    """Drop everything kept between plans (benchmarks and tests)."""
    _KEPT.clear()


@dataclass(frozen=True, eq=False)
class Layer:
    """A feature layer with the polygon inside which it is known to be complete."""

    name: str
    spec: LayerSpec
    features: Features
    extent: AreaSet
    notes: tuple[str, ...]

    def states(self, days: Iterable[date]) -> tuple[Features, ...]:
        """Return what may have stood on some days, each state once; the first is the likeliest.

        On a day before the layer's as-of date a feature that does not say since when it stands may
        not have stood yet: the state without them is one more.
        """
        found: list[Features] = []
        for day in days:
            before = self.spec.as_of is not None and day < self.spec.as_of
            found += [self.on(day, undated=undated) for undated in ((True, False) if before else (True,))]
        return tuple({id(state): state for state in found}.values())

    def on(self, day: date, *, undated: bool = True) -> Features:
        """Return the features in force on a day; habitat comes without overlaps."""
        found = self.features.on(day, undated=undated)
        if self.name != "habitat":
            return found
        with _FLATTENING:  # another thread may be at it already: its work is waited for, not done again
            flat: Features = kept_with(found, "flat", lambda: flattened(found))
        return flat


@dataclass(frozen=True, eq=False)
class Region:
    """A folder of ground data for one district."""

    folder: Path
    file: RegionFile
    plane: Plane

    @property
    def cell_m(self) -> float:
        """Lattice cell size [m]."""
        return self.file.plane.cell_m

    @property
    def layer_names(self) -> frozenset[str]:
        """Names of the layers that region.toml lists."""
        return frozenset(self.file.layers)

    @property
    def blank(self) -> bool:
        """Whether there is no ground data at all, see :func:`no_ground`."""
        return not self.file.layers

    def has(self, name: str) -> bool:
        """Return whether the region has a layer of that name."""
        return name in self.file.layers

    def layer(self, name: str) -> Layer:
        """Return a feature layer as drawn.

        Raises
        ------
        InputError
            When its files cannot be used.
        """
        spec = self.file.layers[name]
        paths = [p for s in spec.sources for p in companions(self.folder / s.file)] + self._extent_paths(spec)
        key = ("layer", name, self.plane, spec.model_dump_json(), self.file.extent, *map(_stamp, paths))
        with READING:
            layer: Layer = kept(key, lambda: self._read(name, spec))
        return layer

    def _read(self, name: str, spec: LayerSpec) -> Layer:
        reading = read_layer(self.folder, name, spec, plane=self.plane)
        return Layer(name, spec, reading.features, self._extent(spec), reading.notes)

    def _extent_paths(self, spec: LayerSpec) -> list[Path]:
        name = spec.extent or self.file.extent
        return [self.folder / name] if name else []

    def _extent(self, spec: LayerSpec) -> AreaSet:
        """Return the known extent; where none is stated, the box of the region's habitat or first layer."""
        paths = self._extent_paths(spec)
        if paths:
            key = ("extent", self.plane, _stamp(paths[0]))
            stated: AreaSet = kept(key, lambda: dissolved(read_polygons(paths[0], plane=self.plane)))
            return stated
        return self.box

    @cached_property
    def box(self) -> AreaSet:
        """The bounding box of the habitat (or else the first feature layer) in the plane."""
        features = [n for n, s in self.file.layers.items() if s.sources]
        name = "habitat" if "habitat" in features else features[0]
        reading = read_layer(self.folder, name, self.file.layers[name], plane=self.plane)
        return AreaSet(
            np.array([shapely.box(*shapely.total_bounds(reading.features.geometries))], dtype=object)
        )

    def raster(self, name: str) -> Raster:
        """Return a raster layer.

        Raises
        ------
        InputError
            When its file cannot be used.
        """
        spec = self.file.layers[name]
        if spec.raster is None:
            raise InputError(
                f"layer {name} is no raster", where="region.toml", fix=f"give [layers.{name}] a raster"
            )
        path, where = self.folder / spec.raster, f"{spec.raster} ({name})"
        key = ("raster", name, spec.band, spec.unit, self.plane, self.bounds, _stamp(path))

        def read() -> Raster:
            found = read_raster(path, band=spec.band, unit=spec.unit or "m", where=where)
            self._check_overlap(found, where=where)
            return found

        with READING:
            raster: Raster = kept(key, read)
        return raster

    def _check_overlap(self, raster: Raster, *, where: str) -> None:
        """Refuse a raster that holds nothing of the region: every place would be unknown, silently."""
        west, south, east, north = self.bounds
        x, y = np.meshgrid(np.linspace(west, east, 21), np.linspace(south, north, 21))
        if raster.holds(*self.plane.unproject(x.ravel(), y.ravel())).any():
            return
        x, y = self.plane.project(*raster.corners())
        if ((west <= x) & (x <= east) & (south <= y) & (y <= north)).any():
            return
        raise InputError(
            "it lies outside the region",
            where=where,
            allowed="a raster that covers the region's known extent, or part of it",
            fix="check its coordinate system and whether its axes are swapped",
        )

    def check_holds(self, position: Position, *, where: str) -> None:
        """Raise InputError when a capture lies outside the region.

        Inside means within the box round the known extents, or else round the data; beyond what is
        known everything is merely uncertain.
        """
        x, y = (float(v) for v in self.plane.project(position.longitude, position.latitude))
        self._check_plane(x, y)
        if _holds(self.bounds, x, y) or _holds(self.data_bounds, x, y):
            return
        west, south, east, north = self.bounds
        lon, lat = self.plane.unproject(np.array([west, east]), np.array([south, north]))
        raise InputError(
            f"latitude {position.latitude:.5f}, longitude {position.longitude:.5f} lies outside the region "
            f"'{self.file.name}'",
            where=where,
            allowed=f"latitude {lat[0]:.4f} to {lat[1]:.4f}, longitude {lon[0]:.4f} to {lon[1]:.4f}",
            fix="check that latitude and longitude are not swapped, or choose the region the capture lies in",
        )

    def _check_plane(self, x: float, y: float) -> None:
        """Refuse a plane whose centre is far from where it is used: its scale errs there."""
        away = float(np.hypot(x, y))
        box = self.bounds
        inside = _holds(box, x, y)
        if inside and not away <= MOST_FROM_CENTRE_M:
            raise InputError(
                f"the plane's centre lies {away / 1000:.0f} km from the capture",
                where="region.toml, [plane]",
                allowed=f"up to {MOST_FROM_CENTRE_M / 1000:.0f} km",
                fix="set longitude and latitude to the middle of the region",
            )

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north [m] of the box round the known extents."""
        boxes = [shapely.total_bounds(self._extent(s).parts) for s in self.file.layers.values() if s.sources]
        west, south = np.min(boxes, axis=0)[:2]
        east, north = np.max(boxes, axis=0)[2:]
        return float(west), float(south), float(east), float(north)

    @property
    def data_bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north [m] of the box round all features."""
        boxes = [
            shapely.total_bounds(self.layer(n).features.geometries)
            for n, s in self.file.layers.items()
            if s.sources
        ]
        west, south = np.min(boxes, axis=0)[:2]
        east, north = np.max(boxes, axis=0)[2:]
        return float(west), float(south), float(east), float(north)

    def paths(self) -> tuple[Path, ...]:
        """Return region.toml and each file that it names, all parts of a Shapefile too."""
        names = {"region.toml"} | ({self.file.extent} if self.file.extent else set())
        for spec in self.file.layers.values():
            names |= {s.file for s in spec.sources} | {n for n in (spec.raster, spec.extent) if n}
        return tuple(sorted({p for name in names for p in companions(self.folder / name)}))

    def hashes(self) -> dict[str, str]:
        """Return the SHA-256 of region.toml and of each file that it names."""
        return {self._name_of(p): sha256(p) for p in self.paths()}

    def _name_of(self, path: Path) -> str:
        """Return a file's name in the folder; of one elsewhere nothing of where it lies."""
        return path.relative_to(self.folder).as_posix() if path.is_relative_to(self.folder) else path.name

    def check(self) -> tuple[str, ...]:
        """Read everything; return what was repaired or should be known.

        Raises
        ------
        InputError
            Every fault of every layer at once.
        """
        faults = Faults()
        notes: list[str] = []
        for name, spec in self.file.layers.items():
            try:
                if spec.raster is not None:
                    self.raster(name)
                    continue
                if name in RASTER_LAYERS:
                    raise InputError(
                        f"layer {name} must be a raster", where="region.toml", allowed='raster = "file.tif"'
                    )
                notes += self.layer(name).notes
                if not self._extent_paths(spec):
                    notes.append(f"layer {name}: no known extent stated, the box of the data is taken")
            except InputError as error:
                faults.take(error)
        faults.raise_if_any()
        return tuple(notes)


def _holds(box: tuple[float, float, float, float], x: float, y: float) -> bool:
    west, south, east, north = box
    return west <= x <= east and south <= y <= north


def companions(path: Path) -> list[Path]:
    """Return the files that a named one consists of: a Shapefile is several of one stem."""
    if path.suffix.lower() != ".shp":
        return [path]
    beside = path.parent.glob(f"{glob.escape(path.stem)}.*")
    return sorted(p for p in beside if p.suffix.lower() in _OF_SHAPEFILE and p.is_file()) or [path]


def sha256(path: Path) -> str:
    """Return a file's SHA-256; kept while the file stays the same."""
    digest: str = kept(("sha256", *_stamp(path)), lambda: _digest(path))
    return digest


def _digest(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except (OSError, ValueError):
        return ""


def open_region(folder: Path) -> Region:
    """Return the region of a folder; its layers are read when asked for.

    Raises
    ------
    InputError
        When region.toml is missing or wrong.
    """
    file = read_region_file(folder)
    if not any(spec.sources for spec in file.layers.values()):
        raise InputError("no feature layer", where="region.toml", allowed="at least habitat and dwellings")
    return Region(folder, file, Plane(file.plane.longitude, file.plane.latitude))


def no_ground(longitude: float, latitude: float) -> Region:
    """Return a region without ground data: a plane round a place [degrees], and no layer.

    What asks for a layer is missing there; distances between places are on the ellipsoid and need none.
    """
    middle = float(max(-_MOST_LATITUDE, min(_MOST_LATITUDE, latitude)))
    file = RegionFile(name=NO_GROUND, plane=PlaneSpec(longitude=longitude, latitude=middle), layers={})
    return Region(Path(), file, Plane(float(longitude), middle))
