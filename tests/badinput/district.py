"""The demonstration district, a file for each layer, so that one can be spoilt and the rest shared."""

from __future__ import annotations

import json
import shutil
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio.raw
import shapely

DEMO = Path(__file__).parents[2] / "data-demo"
TABLES = ("captures.csv", "releases.csv", "consents.csv")
CAPTURE = "C-061"
"""The clear case of the demonstration."""
NOW, RELEASE = (datetime.fromisoformat(t) for t in ("2026-11-14T10:50:00+11:00", "2026-11-14T12:15:00+11:00"))
_AROUND = shapely.box(147.5645, -42.1075, 147.5765, -42.0976)
_MOST = 60


def toml_text(table: Mapping[str, Any]) -> str:
    """Return a table as TOML, what is nested written inline."""
    return "".join(f"{json.dumps(k)} = {_value(v)}\n" for k, v in table.items())


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{json.dumps(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    return hex(value) if isinstance(value, int) and value > 10**300 else repr(value)


@dataclass(frozen=True)
class Layer:
    """A feature layer as its file holds it."""

    wkb: Any
    fields: tuple[str, ...]
    values: tuple[Any, ...]
    crs: str


def read_raw(path: Path, layer: str | None = None) -> Layer:
    """Return a layer."""
    meta, _, wkb, values = pyogrio.raw.read(path, layer=layer)
    return Layer(wkb, tuple(meta["fields"]), tuple(values), str(meta["crs"]))


def write_raw(path: Path, layer: Layer, /, **how: Any) -> None:
    """Write a layer."""
    pyogrio.raw.write(
        path, layer.wkb, list(layer.values), list(layer.fields), crs=layer.crs or None,
        **{"geometry_type": "Unknown"} | how,
    )  # fmt: skip


def build(folder: Path, *, whole: bool) -> Path:
    """Write the district; not whole, a piece of some dozen features of each layer round the capture."""
    folder.mkdir(parents=True)
    region = tomllib.loads((DEMO / "region.toml").read_text(encoding="utf-8"))
    for name, layer in region["layers"].items():
        for source in layer.get("sources", ()):
            found = read_raw(DEMO / source["file"], source.pop("layer", None))
            write_raw(folder / f"{name}.gpkg", found if whole else _piece(found))
            source["file"] = f"{name}.gpkg"
    (folder / "region.toml").write_text(toml_text(region), encoding="utf-8")
    for file in (*TABLES, "permit.toml", "known_extent.geojson", "cover.tif", "elevation.tif"):
        shutil.copy(DEMO / file, folder / file)
    return folder


def _piece(layer: Layer) -> Layer:
    near = np.flatnonzero(shapely.intersects(shapely.from_wkb(layer.wkb), _AROUND))[:_MOST]
    kept = near if len(near) else np.arange(min(3, len(layer.wkb)))
    return Layer(layer.wkb[kept], layer.fields, tuple(v[kept] for v in layer.values), layer.crs)


def linked(base: Path, folder: Path) -> Path:
    """Return a folder in which every file of the district stands as a link."""
    folder.mkdir(parents=True)
    for file in base.iterdir():
        (folder / file.name).symlink_to(file)
    return folder


def replaced(path: Path) -> Path:
    """Return the path, its link gone, so that writing there leaves the shared file alone."""
    path.unlink(missing_ok=True)
    return path
