"""The folder that an OpenStreetMap import leaves: region.toml, ground.gpkg, known_extent.geojson."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from tussock.errors import InputError
from tussock.ground.osm_geometry import Geometries
from tussock.names import AREA_LAYERS

REGION, GROUND, EXTENT = "region.toml", "ground.gpkg", "known_extent.geojson"
LICENCE = "ODbL 1.0"
ATTRIBUTION = "© OpenStreetMap contributors, ODbL 1.0"
_FIRST_LINE = "# Written by `tussock region from-osm` from an OpenStreetMap extract."
_SEAL = "# sha256 of what follows (a changed file is not overwritten): "
_EPOCH = "1970-01-01T00:00:00.000Z"


@dataclass(frozen=True, eq=False)
class OutLayer:
    """One layer as it goes into ground.gpkg."""

    name: str
    geometry: Geometries
    columns: Mapping[str, npt.NDArray[Any]]


@dataclass(frozen=True)
class RegionText:
    """What region.toml says beside the layers."""

    name: str
    country: str | None
    plane: Mapping[str, float]
    as_of: date | None


def plane_written(folder: Path) -> dict[str, float] | None:
    """Return the [plane] of a region.toml that an earlier import wrote; ``None`` without one."""
    text = _our_region(folder)
    if text is None:
        return None
    try:
        plane = tomllib.loads(text)["plane"]
        return {k: float(plane[k]) for k in ("longitude", "latitude", "cell_m")}
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError):
        raise InputError(
            "[plane] cannot be read",
            where=str(folder / REGION),
            allowed="longitude, latitude and cell_m as numbers",
            fix="put the three numbers back, or choose another --out",
        ) from None


def check_out(folder: Path, *, force: bool) -> None:
    """Refuse to write over what an import did not write, or what has been changed by hand since.

    Raises
    ------
    InputError
        When the folder is a file, holds other things than a region of ours, or an edited region.toml.
    """
    if not folder.exists():
        return
    if not folder.is_dir():
        raise InputError(
            "it is a file", where=f"--out {folder}", allowed="a folder", fix="choose another --out"
        )
    text = _our_region(folder)
    if force or not any(folder.iterdir()):
        return
    if text is None:
        raise InputError(
            "the folder holds files that Tussock did not write",
            where=f"--out {folder}",
            allowed="a new or empty folder, or a region built from OpenStreetMap before",
            fix="choose another --out, or add --force to write into it",
        )
    if not _sealed(text):
        raise InputError(
            "region.toml has been changed since it was written",
            where=f"--out {folder}",
            allowed="a region.toml as the import wrote it",
            fix="build into a new folder and carry your changes over, or add --force to lose them",
        )


def _our_region(folder: Path) -> str | None:
    path = folder / REGION
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None
    return text if text.startswith(_FIRST_LINE) else None


def _sealed(text: str) -> bool:
    head, _, body = text.partition("\n\n")
    return head.rpartition(_SEAL)[2].strip() == _digest(body)


def _digest(body: str) -> str:
    return hashlib.sha256(body.encode()).hexdigest()


@contextmanager
def built_aside(folder: Path) -> Iterator[Path]:
    """Yield a new folder beside the wanted one; move its files into place when all went well.

    Raises
    ------
    InputError
        When the place cannot be written to; nothing of the old content is lost then.
    """
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as error:
        raise _unwritable(folder, error) from None
    try:
        yield aside
        _put_in_place(aside, folder)
    except OSError as error:
        raise _unwritable(folder, error) from None
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _put_in_place(aside: Path, folder: Path) -> None:
    """Move a whole new folder at once; into a folder that exists, file by file, each of them whole."""
    aside.chmod(0o755)
    if not folder.exists():
        aside.rename(folder)
        return
    for name in (GROUND, EXTENT, REGION):
        (aside / name).replace(folder / name)


def _unwritable(folder: Path, error: OSError) -> InputError:
    return InputError(
        f"it cannot be written ({error.strerror or error})",
        where=f"--out {folder}",
        fix="choose a folder you may write to, on a disk with room",
    )


def write_ground(folder: Path, layers: tuple[OutLayer, ...], *, as_of: date | None) -> None:
    """Write the layers into one GeoPackage; the same layers give the same bytes."""
    import pyogrio
    import pyogrio.errors
    import pyogrio.raw

    stamp = f"{as_of.isoformat()}T00:00:00.000Z" if as_of else _EPOCH
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": stamp})
    try:
        for n, layer in enumerate(layers):
            pyogrio.raw.write(
                str(folder / GROUND),
                shapely.to_wkb(layer.geometry),
                list(layer.columns.values()),
                list(layer.columns),
                layer=layer.name,
                driver="GPKG",
                crs="EPSG:4326",
                append=n > 0,
                geometry_type="MultiPolygon" if layer.name in AREA_LAYERS else "Unknown",
            )
    except pyogrio.errors.DataSourceError as error:
        raise OSError(None, str(error)) from None
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": before})


def write_extent(folder: Path, extent: Any) -> None:
    """Write the known extent (degrees, 9 decimals: 0.1 mm) as GeoJSON."""
    parts = [_rounded(p) for p in shapely.get_parts(extent)]
    feature = {
        "type": "Feature",
        "properties": {"complete": "not checked", "attribution": ATTRIBUTION},
        "geometry": {"type": "MultiPolygon", "coordinates": parts},
    }
    text = json.dumps({"type": "FeatureCollection", "features": [feature]}, ensure_ascii=False)
    (folder / EXTENT).write_text(text + "\n", encoding="utf-8")


def _rounded(polygon: Any) -> list[list[list[float]]]:
    rings = (polygon.exterior, *polygon.interiors)
    return [np.round(shapely.get_coordinates(r), 9).tolist() for r in rings]


def write_region(folder: Path, text: RegionText, layers: tuple[OutLayer, ...]) -> None:
    """Write region.toml, sealed with the digest of its content."""
    lines = [f"name = {_quoted(text.name)}"]
    lines += [f"country = {_quoted(text.country)}"] if text.country else []
    lines += [f"extent = {_quoted(EXTENT)}", "", "[plane]"]
    lines += [f"{key} = {value!r}" for key, value in text.plane.items()]
    for layer in layers:
        lines += ["", *_layer_lines(layer, text.as_of)]
    body = "\n".join(lines) + "\n"
    (folder / REGION).write_text(f"{_FIRST_LINE}\n{_SEAL}{_digest(body)}\n\n{body}", encoding="utf-8")


def _layer_lines(layer: OutLayer, as_of: date | None) -> list[str]:
    lines = [f"[layers.{layer.name}]"]
    lines += [f"as_of = {as_of.isoformat()}"] if as_of else []
    lines += ["point_radius_m = 10.0"] if layer.name == "dwellings" else []
    lines += [
        'complete = "not checked"',
        f"licence = {_quoted(LICENCE)}",
        f"attribution = {_quoted(ATTRIBUTION)}",
        f"[[layers.{layer.name}.sources]]",
        f"file = {_quoted(GROUND)}",
        f"layer = {_quoted(layer.name)}",
        'class_field = "class"',
        'name_field = "name"',
        'id_field = "osm_id"',
    ]
    return lines + (['priority_field = "priority"'] if "priority" in layer.columns else [])


def _quoted(text: str) -> str:
    """Return a TOML basic string; JSON's escapes are TOML's, but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
