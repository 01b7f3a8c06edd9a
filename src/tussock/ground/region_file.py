"""region.toml: which files hold the ground, and what is known of them."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from tussock.errors import Faults, InputError
from tussock.tables import read_bytes

Latitude = Annotated[float, Field(ge=-85, le=85, allow_inf_nan=False)]
Longitude = Annotated[float, Field(ge=-180, le=180, allow_inf_nan=False)]
Metres = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PlaneSpec(_Part):
    """Centre of the region's plane and lattice, and the cell size [m]."""

    longitude: Longitude
    latitude: Latitude
    cell_m: Annotated[float, Field(ge=1, le=200, allow_inf_nan=False)] = 10.0


class SourceSpec(_Part):
    """One file (and layer in it) of a feature layer, and the fields that matter."""

    file: str
    layer: str | None = None
    class_field: str | None = None
    name_field: str | None = None
    id_field: str | None = None
    tenure_field: str | None = None
    homes_field: str | None = None
    priority_field: str | None = None
    valid_from_field: str | None = None
    valid_to_field: str | None = None
    class_value: str | None = None  # class of every feature, where no field holds it


class LayerSpec(_Part):
    """A layer: features from sources, or a raster."""

    sources: tuple[SourceSpec, ...] = ()
    raster: str | None = None
    unit: str | None = None
    band: Annotated[int, Field(ge=1)] = 1
    crosswalk: dict[str, str] = Field(default_factory=dict)
    extent: str | None = None
    as_of: date | None = None
    position_error_m: Metres = 0.0
    point_radius_m: Metres = 10.0
    complete: str = "not stated"
    licence: str = ""
    attribution: str = ""


class RegionFile(_Part):
    """region.toml as read."""

    name: str
    country: Annotated[str, Field(pattern=r"^[A-Z]{2}$")] | None = None
    extent: str | None = None
    note: str = ""
    plane: PlaneSpec
    layers: dict[str, LayerSpec]


def read_region_file(folder: Path) -> RegionFile:
    """Return the region.toml of a folder.

    Raises
    ------
    InputError
        When it is missing, no TOML, or holds unknown keys or values out of range; all faults at once.
    """
    path = folder / "region.toml"
    try:
        raw = tomllib.loads(read_bytes(path).decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise InputError(f"it is not TOML ({error})", where=str(path), fix="mend the line named") from None
    try:
        parsed = RegionFile.model_validate(raw)
    except ValidationError as error:
        raise as_input_error(error, where=path.name) from None
    _check_layers(parsed.layers, where=path.name)
    return parsed


def as_input_error(error: ValidationError, *, where: str) -> InputError:
    """Return pydantic's findings as one error of ours."""
    faults = Faults()
    for item in error.errors(include_url=False):
        key = ".".join(str(p) for p in item["loc"])
        given = _shown(item.get("input"))
        faults.add(f"'{key}' {item['msg'].lower()}{given}", where=where, fix="see the README for the keys")
    try:
        faults.raise_if_any()
    except InputError as collected:
        return collected
    raise AssertionError("a validation error without findings")


def _shown(value: Any) -> str:
    return "" if isinstance(value, dict | list) or value is None else f" (found '{str(value)[:60]}')"


def _check_layers(layers: Mapping[str, LayerSpec], *, where: str) -> None:
    faults = Faults()
    for name, spec in layers.items():
        if bool(spec.sources) == bool(spec.raster):
            faults.add(
                "neither or both of 'sources' and 'raster'"
                if not spec.sources
                else "both 'sources' and 'raster'",
                where=f"{where}, layer {name}",
                allowed='[[layers.NAME.sources]] for features, or raster = "file.tif"',
            )
        if spec.raster and spec.unit not in {"fraction", "percent", "m"}:
            faults.add(
                f"raster unit '{spec.unit}'", where=f"{where}, layer {name}", allowed="fraction, percent or m"
            )
    faults.raise_if_any()
