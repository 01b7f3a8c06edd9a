"""The file of cells as the user drew them: read as the region's own layers are, and told apart by names."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.errors import Faults, InputError, together
from tussock.geodesy import Plane
from tussock.ground.features import Features
from tussock.ground.reading import read_layer
from tussock.ground.region import companions, sha256
from tussock.ground.region_file import LayerSpec, SourceSpec
from tussock.hotspots.found import Units
from tussock.hotspots.supplied import OPTION
from tussock.tables import is_there

NAMES = "--units-name"
_AS_LAYER = "permit_area"
"""A layer of areas of the region: polygons only, of no class."""
_DO = {
    "there is no such file": "check the name",
    "it holds no features": f"leave {OPTION} out: hexagons are counted in then",
    "there is no field": f"name one of these with {NAMES}",
    "and none is named": f"name one after a colon: {OPTION} FILE:LAYER",
    "features are not polygons": "leave points and lines out: calls are counted in areas",
    "km from the region's centre": "check the coordinate system, the order of its axes, and the region",
}
"""What to do about a fault of the reader, where region.toml has no part in it: what is found → what to do."""


@dataclass(frozen=True)
class UnitsFile:
    """Which file holds the cells, which layer of it, and in which field their names are.

    Attributes
    ----------
    name_field
        ``None``: the field ``name``, in capitals or not; without one the cells are numbered.
    """

    path: Path
    layer: str | None = None
    name_field: str | None = None

    @staticmethod
    def named(text: str, *, name_field: str | None = None) -> UnitsFile:
        """Return what ``FILE`` or ``FILE:LAYER`` means; a file whose own name has a colon is one."""
        path, colon, layer = text.rpartition(":")
        if colon and path and layer and is_there(Path(path)) and not is_there(Path(text)):
            return UnitsFile(Path(path), layer, name_field)
        return UnitsFile(Path(text), None, name_field)

    @property
    def paths(self) -> tuple[Path, ...]:
        """The files it consists of: a Shapefile is several."""
        return tuple(companions(self.path))

    def hashes(self) -> dict[str, str]:
        """Return the SHA-256 of each of them, under names that no file of a region bears."""
        return {f"units: {p.name}": sha256(p) for p in self.paths}


@dataclass(frozen=True, eq=False)
class Supplied:
    """Cells as read, and what was repaired, left out or should be known, in words."""

    units: Units
    notes: tuple[str, ...]


def read_units(file: UnitsFile, *, plane: Plane, known: BaseGeometry, region: str) -> Supplied:
    """Return the cells of a file in the plane.

    Parameters
    ----------
    known
        The ground on which homes are known [m]: cells that do not touch it are left out and named.
    region
        Its name.

    Raises
    ------
    InputError
        When the file cannot be read, has no coordinate system, holds anything but polygons, or cells
        without a name or two of one name; when no cell touches the ground on which homes are known.
    """
    where = file.path.name
    if file.path.is_dir():
        raise InputError("it is a folder", where=f"{OPTION} {file.path}", allowed="a file", fix="name a file")
    field = file.name_field or _usual_field(file)
    spec = LayerSpec(sources=(_source(file, field),))
    try:
        reading = read_layer(file.path.parent, _AS_LAYER, spec, plane=plane)
    except InputError as error:
        raise _retold(error, file) from None
    notes = [_ours(n) for n in reading.notes]
    names = _names(reading.features, field, where=where)
    if field is None:
        notes.append(f"{where} names no areas ({NAMES}): they are numbered as they stand in it")
    touching = np.asarray(shapely.intersects(reading.features.geometries, known), dtype=np.bool_)
    if not touching.any():
        raise InputError(
            f"none of its {len(names)} areas touches ground of '{region}' where homes are known",
            where=f"{OPTION} {where}",
            allowed="areas of this district",
            fix="check that file and region are of the same district, and the coordinate system of the file",
        )
    if apart := [n for n, here in zip(names, touching.tolist(), strict=True) if not here]:
        notes.append(f"{_areas(apart)} of {where} touch no ground where homes are known, and are left out")
    kept = tuple(n for n, here in zip(names, touching.tolist(), strict=True) if here)
    return Supplied(Units(reading.features.geometries[touching], kept), tuple(notes))


def _source(file: UnitsFile, field: str | None) -> SourceSpec:
    from pydantic import ValidationError

    try:
        return SourceSpec(file=file.path.name, layer=file.layer, name_field=field)
    except ValidationError as error:
        said = "; ".join(str(e["msg"]).removeprefix("Value error, ") for e in error.errors())
        raise InputError(said, where=f"{OPTION}, {NAMES}", fix="check what is named") from None


def _usual_field(file: UnitsFile) -> str | None:
    """Return the field that is called name; ``None`` where there is none, or what is there cannot be read.

    That it cannot be read is told by the reader, in full.
    """
    import tussock.ground.gdal_alone  # noqa: F401 - before pyogrio itself, see there
    import pyogrio.errors  # isort: skip

    if not is_there(file.path) or file.path.is_dir():
        return None
    try:
        layers = [str(name) for name, kind in pyogrio.list_layers(file.path) if kind is not None]
        layer = file.layer or (layers[0] if len(layers) == 1 else None)
        if layer is None:
            return None
        fields = [str(f) for f in pyogrio.read_info(file.path, layer=layer)["fields"]]
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, ValueError, RuntimeError):
        return None
    return next((f for f in fields if f == "name"), next((f for f in fields if f.lower() == "name"), None))


def _names(features: Features, field: str | None, *, where: str) -> tuple[str, ...]:
    if field is None:
        return tuple(str(n) for n in range(1, len(features) + 1))
    names = [" ".join(str(n).split()) for n in features.names]
    faults, at = Faults(), f"{where}, field {field}"
    if bare := [i for i, n in enumerate(names, start=1) if not n]:
        faults.add(
            f"{len(bare)} of {len(names)} areas have no name (area {_few(bare)})",
            where=at,
            allowed="a name for each",
            fix=f"name them, or name another field with {NAMES}",
        )
    for name in sorted(n for n, times in Counter(names).items() if n and times > 1):
        rows = [i for i, n in enumerate(names, start=1) if n == name]
        faults.add(
            f"{len(rows)} areas are called '{name[:60]}' (area {_few(rows)})",
            where=at,
            allowed="a name of its own for each",
            fix=f"join those that belong together, or name another field with {NAMES}",
        )
    faults.raise_if_any()
    return tuple(names)


def _few(rows: Sequence[int], most: int = 5) -> str:
    return ", ".join(map(str, rows[:most])) + ("…" if len(rows) > most else "")


def _areas(names: Sequence[str], most: int = 5) -> str:
    shown = ", ".join(f"'{n[:60]}'" for n in names[:most]) + ("…" if len(names) > most else "")
    return f"{len(names)} area{'' if len(names) == 1 else 's'} ({shown})"


def _retold(error: InputError, file: UnitsFile) -> InputError:
    """Return what the reader of layers found, in the words of the option."""
    told = []
    for one in error.parts or (error,):
        where, fix = _ours(one.where), next((do for said, do in _DO.items() if said in one.found), one.fix)
        if file.layer is not None and "could not be opened" in one.found and (layers := _layers(file)):
            told.append(InputError("there is no such layer", where=f"{OPTION} {where}", allowed=layers))
        else:
            told.append(InputError(_ours(one.found), where=f"{OPTION} {where}", allowed=one.allowed, fix=fix))
    return together(told)


def _layers(file: UnitsFile) -> str:
    """Return the layers of a file that has the one named not; empty where they cannot be listed."""
    import pyogrio

    try:
        return ", ".join(str(name) for name, kind in pyogrio.list_layers(file.path) if kind is not None)
    except (ValueError, RuntimeError):
        return ""


def _ours(text: str) -> str:
    return text.replace(f" ({_AS_LAYER})", "").removeprefix("region.toml, ")
