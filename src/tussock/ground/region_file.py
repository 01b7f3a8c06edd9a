"""region.toml: which files hold the ground, and what is known of them."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from tussock.errors import Faults, InputError
from tussock.names import FEATURE_LAYERS, HABITAT_CLASSES, RASTER_LAYERS, ROAD_CLASSES, STANDARD_LAYERS
from tussock.tables import read_bytes

_MOST_NAME, _MOST_PART = 1000, 255
_UNITS = {"cover": ("fraction", "percent"), "elevation": ("m",)}
_BIDI = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Characters that turn the order of what is read."""


def _one_line(value: str) -> str:
    if not value.strip() or any(unicodedata.category(c) == "Cc" or c in _BIDI for c in value):
        raise ValueError("it is empty, or holds control characters")
    return value


def _file_name(value: str) -> str:
    if any(len(part.encode()) > _MOST_PART for part in _one_line(value).split("/")):
        raise ValueError("it is longer than a file name can be")
    return value


def _calendar_day(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.date() if value == datetime(value.year, value.month, value.day) else None
    return date.fromisoformat(value) if isinstance(value, str) and len(value) == 10 else value


Name = Annotated[str, Field(max_length=_MOST_NAME), AfterValidator(_one_line)]
FileName = Annotated[str, Field(max_length=_MOST_NAME), AfterValidator(_file_name)]
Day = Annotated[date, BeforeValidator(_calendar_day)]

Latitude = Annotated[float, Field(ge=-85, le=85, allow_inf_nan=False)]
Longitude = Annotated[float, Field(ge=-180, le=180, allow_inf_nan=False)]
Metres = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)]


class _Part(BaseModel):
    # strict: true is no number, and 0 is no date
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class PlaneSpec(_Part):
    """Centre of the region's plane and lattice, and the cell size [m]."""

    longitude: Longitude
    latitude: Latitude
    cell_m: Annotated[float, Field(ge=1, le=200, allow_inf_nan=False)] = 10.0


class SourceSpec(_Part):
    """One file (and layer in it) of a feature layer, and the fields that matter."""

    file: FileName
    layer: Name | None = None
    class_field: Name | None = None
    name_field: Name | None = None
    id_field: Name | None = None
    tenure_field: Name | None = None
    homes_field: Name | None = None
    priority_field: Name | None = None
    valid_from_field: Name | None = None
    valid_to_field: Name | None = None
    class_value: Name | None = None  # class of every feature, where no field holds it


class LayerSpec(_Part):
    """A layer: features from sources, or a raster."""

    sources: Annotated[tuple[SourceSpec, ...], Field(strict=False)] = ()
    raster: FileName | None = None
    unit: str | None = None
    band: Annotated[int, Field(ge=1)] = 1
    crosswalk: dict[str, str] = Field(default_factory=dict)
    extent: FileName | None = None
    as_of: Day | None = None
    position_error_m: Metres = 0.0
    point_radius_m: Metres = 10.0
    complete: str = "not stated"
    licence: str = ""
    attribution: str = ""


class RegionFile(_Part):
    """region.toml as read."""

    name: Name
    country: Annotated[str, Field(pattern=r"^[A-Z]{2}$")] | None = None
    extent: FileName | None = None
    note: str = ""
    plane: PlaneSpec
    layers: dict[Name, LayerSpec]


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
    except (ValueError, RecursionError) as error:  # ValueError: no TOML, no UTF-8, a number of 5,000 digits
        if isinstance(error, InputError):
            raise
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
        key = ".".join(str(p) for p in item["loc"] if p != "[key]")
        said = item["msg"].removeprefix("Value error, ")
        faults.add(
            f"'{key[:80]}': {said[:1].lower()}{said[1:]}{_shown(item.get('input'))}",
            where=where,
            fix="see the README for the keys",
        )
    try:
        faults.raise_if_any()
    except InputError as collected:
        return collected
    raise AssertionError("a validation error without findings")


def _shown(value: Any) -> str:
    if isinstance(value, dict | list) or value is None:
        return ""
    try:
        return f" (found '{str(value)[:60]}')"
    except ValueError:  # Python prints no number of more than 4,300 digits
        return " (found a number of thousands of digits)"


def _check_layers(layers: Mapping[str, LayerSpec], *, where: str) -> None:
    faults = Faults()
    for name, spec in layers.items():
        at = f"{where}, layer {name}"
        _check_name(name, where=at, faults=faults)
        _check_holder(name, spec, where=at, faults=faults)
        _check_crosswalk(name, spec, where=at, faults=faults)
        for number, source in enumerate(spec.sources, start=1):
            if source.class_value is not None and source.class_field is not None:
                found = "both 'class_field' and 'class_value'"
                faults.add(found, where=f"{at}, source {number}", allowed="one of them", fix="drop one")
    faults.raise_if_any()


def _check_name(name: str, *, where: str, faults: Faults) -> None:
    meant = name.strip().lower().replace(" ", "_").replace("-", "_")
    if name not in STANDARD_LAYERS and meant in STANDARD_LAYERS:
        faults.add(f"a layer named '{name}'", where=where, allowed=meant, fix=f"write it [layers.{meant}]")


def _check_holder(name: str, spec: LayerSpec, *, where: str, faults: Faults) -> None:
    """Note faults in what holds the layer: features from sources, or a raster with its unit."""
    if bool(spec.sources) == bool(spec.raster):
        faults.add(
            "both 'sources' and 'raster'" if spec.sources else "neither 'sources' nor 'raster'",
            where=where,
            allowed='[[layers.NAME.sources]] for features, or raster = "file.tif"',
        )
    elif (spec.raster and name in FEATURE_LAYERS) or (spec.sources and name in RASTER_LAYERS):
        faults.add(
            f"layer {name} is given as {'a raster' if spec.raster else 'features'}",
            where=where,
            allowed='raster = "file.tif"' if name in RASTER_LAYERS else "[[layers.NAME.sources]]",
        )
    elif spec.raster:
        units = _UNITS.get(name, ("fraction", "percent", "m"))
        if spec.unit not in units:
            allowed = " or ".join(units)
            faults.add(f"raster unit '{spec.unit}'", where=where, allowed=allowed, fix="correct 'unit'")


def _check_crosswalk(name: str, spec: LayerSpec, *, where: str, faults: Faults) -> None:
    known = {"habitat": HABITAT_CLASSES, "roads": ROAD_CLASSES}.get(name)
    unknown = sorted(set(spec.crosswalk.values()) - set(known or ())) if known else []
    if known and unknown:
        faults.add(
            f"the crosswalk leads to {', '.join(map(repr, unknown[:8]))}",
            where=where,
            allowed=", ".join(known),
            fix="correct the crosswalk",
        )
