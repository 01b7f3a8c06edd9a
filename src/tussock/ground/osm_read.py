"""OpenStreetMap elements read through GDAL, with sound geometries and every repair noted."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from tussock.errors import InputError
from tussock.ground.osm_crosswalk import OsmCrosswalk, Texts
from tussock.ground.osm_geometry import Geometries, read_wkb

GDAL_LAYERS = {"points": "points", "lines": "lines", "areas": "multipolygons", "routes": "multilinestrings"}
"""Our shape → the layer of GDAL's OSM driver."""
_KINDS = ("node", "way", "relation")
NODE, WAY, RELATION = 0, 1, 2
_EXTRA_KEYS = ("name", "addr:housenumber")
_STAMP, _WKB = "osm_timestamp", "(geometry)"
_NO_STAMP = np.datetime64("2004-01-01")
"""Edits before OpenStreetMap began are none: a file without dates says 1970."""
_SWALLOWED_KEYS = ("building", "amenity", "leisure", "tourism")


@dataclass(frozen=True, eq=False)
class Elements:
    """The elements of one shape.

    Attributes
    ----------
    shape
        points, lines, areas or routes; ``""`` where several are joined.
    kind, number
        0 node, 1 way, 2 relation; and the OpenStreetMap id.
    geometry
        WGS 84 degrees; ``None`` where nothing could be made of it.
    note
        What was done to the geometry, ``""`` where nothing.
    tags
        Key → one value or ``None`` per element.
    """

    shape: str
    kind: npt.NDArray[np.int8]
    number: npt.NDArray[np.int64]
    geometry: Geometries
    note: Texts
    tags: Mapping[str, Texts]

    def __len__(self) -> int:
        return len(self.number)

    def column(self, key: str) -> Texts:
        """Return the values of a key; all ``None`` where the layer was read without it."""
        return self.tags.get(key, np.full(len(self), None, dtype=object))

    def taken(self, rows: npt.NDArray[np.bool_] | npt.NDArray[np.intp]) -> Elements:
        """Return the elements of some rows (a mask, or row numbers)."""
        return Elements(
            self.shape,
            self.kind[rows],
            self.number[rows],
            self.geometry[rows],
            self.note[rows],
            {k: v[rows] for k, v in self.tags.items()},
        )

    def ids(self) -> Texts:
        """Return ids such as ``way/123``, unique over all kinds."""
        return np.array(
            [f"{_KINDS[k]}/{n}" for k, n in zip(self.kind, self.number, strict=True)], dtype=object
        )


def joined(parts: Sequence[Elements], *, keys: Iterable[str]) -> Elements:
    """Return the elements of several shapes as one, with these tags."""
    kind, number, geometry, note = (
        np.concatenate([getattr(p, name) for p in parts]) for name in ("kind", "number", "geometry", "note")
    )
    return Elements(
        "", kind, number, geometry, note, {k: np.concatenate([p.column(k) for p in parts]) for k in keys}
    )


def read_elements(
    path: Path, crosswalk: OsmCrosswalk, *, workdir: Path
) -> tuple[tuple[Elements, ...], np.datetime64 | None]:
    """Return the elements of each shape, and the instant of the newest edit (``None``: not in the file).

    Raises
    ------
    InputError
        When GDAL has no OSM driver or cannot read the file to its end.
    """
    config = workdir / "osmconf.ini"
    config.write_text(_config(crosswalk), encoding="utf-8")
    elements, newest = [], []
    for shape in GDAL_LAYERS:
        part, stamps = _read_shape(path, shape, crosswalk.keys(shape), config)
        elements.append(part)
        newest += [stamps.max()] if len(stamps) else []
    config.unlink()
    return tuple(elements), max(newest, default=None)


def _config(crosswalk: OsmCrosswalk) -> str:
    """Return the driver's configuration: exactly the tags we look at as fields, and nothing else."""
    lines = [
        "[general]",
        f"closed_ways_are_polygons={','.join(crosswalk.area_keys)}",
        "attribute_name_laundering=no",
    ]
    for shape, layer in GDAL_LAYERS.items():
        keys = dict.fromkeys((*_EXTRA_KEYS, "type", *crosswalk.keys(shape)))
        lines += [
            f"[{layer}]",
            "osm_id=yes",
            "osm_timestamp=yes",
            f"attributes={','.join(keys)}",
            "other_tags=no",
        ]
    lines += ["[other_relations]", "osm_id=yes", "attributes=type", "other_tags=no"]
    return "\n".join(lines) + "\n"


def _read_shape(
    path: Path, shape: str, keys: tuple[str, ...], config: Path
) -> tuple[Elements, npt.NDArray[np.datetime64]]:
    columns = _read_layer(path, GDAL_LAYERS[shape], config)
    kind, number = _identity(columns, shape)
    if shape == "areas":
        columns, kind, number = _with_swallowed(path, columns, kind, number, config)
    geometry, note = read_wkb(columns.pop(_WKB))
    tags = {k: columns[k] for k in (*_EXTRA_KEYS, *keys) if k in columns}
    stamps = np.asarray(columns.get(_STAMP, np.array([], "M8[ms]")))
    stamps = stamps[stamps > _NO_STAMP] if stamps.dtype.kind == "M" else np.array([], "M8[ms]")
    return Elements(shape, kind, number, geometry, note, tags), stamps


def _with_swallowed(
    path: Path,
    columns: dict[str, Texts],
    kind: npt.NDArray[np.int8],
    number: npt.NDArray[np.int64],
    config: Path,
) -> tuple[dict[str, Texts], npt.NDArray[np.int8], npt.NDArray[np.int64]]:
    """Return the areas with the closed ways that the driver swallows.

    A building that is also the outline of a relation (two blocks that make up a school) is left out
    by the driver in favour of the relation, whose tags do not say that a building stands there.
    Asked for buildings only, the driver passes the relation by and gives the building.
    """
    for key in _SWALLOWED_KEYS:
        more = _read_layer(path, f'{GDAL_LAYERS["areas"]} WHERE "{key}" IS NOT NULL', config)
        more_kind, more_number = _identity(more, "areas")
        known = set(zip(kind.tolist(), number.tolist(), strict=True))
        pairs = zip(more_kind.tolist(), more_number.tolist(), strict=True)
        new = np.fromiter((pair not in known for pair in pairs), bool, len(more_kind))
        columns = {k: np.concatenate([v, more[k][new]]) for k, v in columns.items()}
        kind, number = np.concatenate([kind, more_kind[new]]), np.concatenate([number, more_number[new]])
    return columns, kind, number


def _read_layer(path: Path, layer: str, config: Path) -> dict[str, Texts]:
    """Return the columns of one layer, the geometry among them.

    By SQL, because the driver then leaves the other layers aside. Its warnings are about single
    outlines, which are judged one by one afterwards.
    """
    import pyogrio
    import pyogrio.errors
    import pyogrio.raw

    if "OSM" not in pyogrio.list_drivers(read=True):
        raise InputError(
            "the installed GDAL has no OpenStreetMap driver",
            where=f"pyogrio {pyogrio.__version__}",
            allowed="a GDAL with the driver OSM",
            fix="pip install --force-reinstall --only-binary :all: pyogrio",
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # members beyond the extract: counted, said in words
            meta, _, wkb, values = pyogrio.raw.read(
                path, sql=f"SELECT * FROM {layer}", CONFIG_FILE=str(config)
            )
    except (
        pyogrio.errors.DataSourceError,
        pyogrio.errors.DataLayerError,
        pyogrio.errors.FeatureError,
        pyogrio.errors.FieldError,
        pyogrio.errors.GeometryError,
        RuntimeError,
        UnicodeDecodeError,
        ValueError,
    ) as error:
        raise InputError(
            f"GDAL cannot read it ({str(error)[:200]})",
            where=f"{path}, layer {layer}",
            allowed="a whole .osm.pbf extract of one district",
            fix="download the extract again, or cut a smaller one",
        ) from None
    return {**dict(zip(meta["fields"], values, strict=True)), _WKB: wkb}


def _identity(columns: Mapping[str, Texts], shape: str) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int64]]:
    """Return kind and id; the driver gives the id of an area in one of two fields."""
    first = columns["osm_id"]
    if shape != "areas":
        kind = {"points": NODE, "lines": WAY, "routes": RELATION}[shape]
        return np.full(len(first), kind, np.int8), np.array([int(v) for v in first], np.int64)
    relation = np.array([v is not None for v in first], dtype=bool)
    ids = np.where(relation, first, columns["osm_way_id"])
    return np.where(relation, RELATION, WAY).astype(np.int8), np.array([int(v) for v in ids], np.int64)
