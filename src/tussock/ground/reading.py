"""Feature files → features in the plane, with every fault collected and each repair said."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from tussock.errors import Faults, InputError
from tussock.geodesy import Plane, transformer_to_wgs84
from tussock.ground.features import OPEN_FROM, OPEN_TO, Features, Geometries
from tussock.ground.region_file import LayerSpec, SourceSpec
from tussock.names import AREA_LAYERS, HABITAT_CLASSES

_AREAS = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)
_KINDS = (
    *_AREAS,
    shapely.GeometryType.POINT,
    shapely.GeometryType.MULTIPOINT,
    shapely.GeometryType.LINESTRING,
    shapely.GeometryType.MULTILINESTRING,
)


@dataclass(frozen=True)
class Reading:
    """A layer as read, and what was repaired or dropped on the way, in words."""

    features: Features
    notes: tuple[str, ...]


def read_layer(folder: Path, name: str, spec: LayerSpec, *, plane: Plane) -> Reading:
    """Return a feature layer in the plane.

    Raises
    ------
    InputError
        All faults of all its sources at once: no file, no CRS, no features, a missing field, points
        or lines in an area layer, coordinates out of range, unknown habitat classes, unreadable dates.
    """
    faults, parts, notes = Faults(), [], []
    for source in spec.sources:
        try:
            part, said = _read_source(folder, name, spec, source, plane)
        except InputError as error:
            faults.take(error)
        else:
            parts.append(part)
            notes += said
    faults.raise_if_any()
    return Reading(_joined(parts), tuple(notes))


def read_polygons(path: Path, *, plane: Plane, layer: str | None = None) -> Geometries:
    """Return the polygons of a file in the plane (known extents).

    Raises
    ------
    InputError
        As for a layer.
    """
    spec = LayerSpec(sources=(SourceSpec(file=path.name, layer=layer),))
    return read_layer(path.parent, "permit_area", spec, plane=plane).features.geometries


def _read_source(
    folder: Path, name: str, spec: LayerSpec, source: SourceSpec, plane: Plane
) -> tuple[Features, list[str]]:
    where = f"{source.file}{f', layer {source.layer}' if source.layer else ''} ({name})"
    meta, wkb, columns = _open(folder / source.file, source, where=where)
    geometries, keep, notes = _sound(wkb, name, where=where)
    columns = {k: v[keep] for k, v in columns.items()}
    accuracy = _to_plane_in_place(geometries, str(meta["crs"]), plane, where=where)
    classes = _classes(columns, spec, source, len(geometries), name, where=where)
    points = shapely.get_dimensions(geometries) == 0
    radius = np.where(points & (name == "dwellings"), spec.point_radius_m, 0.0)
    part = Features(
        name=name,
        geometries=geometries,
        classes=classes,
        names=_text(columns, source.name_field, len(geometries)),
        ids=_text(columns, source.id_field, len(geometries)),
        tenures=_text(columns, source.tenure_field, len(geometries)),
        homes=_numbers(columns, source.homes_field, len(geometries)),
        priority=_numbers(columns, source.priority_field, len(geometries), default=0.0).astype(np.int64),
        valid_from=_days(columns, source.valid_from_field, OPEN_FROM, len(geometries), where=where),
        valid_to=_days(columns, source.valid_to_field, OPEN_TO, len(geometries), where=where),
        error_m=spec.position_error_m + accuracy + radius,
        error_reason="datum" if accuracy > spec.position_error_m else "layer",
    )
    return part, notes


def _open(
    path: Path, source: SourceSpec, *, where: str
) -> tuple[dict[str, Any], Any, dict[str, npt.NDArray[Any]]]:
    import pyogrio.errors
    import pyogrio.raw

    if not path.exists():
        raise InputError("there is no such file", where=where, fix="check 'file' in region.toml")
    wanted = {f: v for f, v in source.model_dump().items() if f.endswith("_field") and v is not None}
    try:
        info = pyogrio.read_info(path, layer=source.layer)
        present = set(info["fields"])
        missing = sorted(set(wanted.values()) - present)
        if missing:
            raise InputError(
                f"there is no field {', '.join(missing)}",
                where=where,
                allowed=", ".join(sorted(present)) or "none",
                fix="correct the field names in region.toml",
            )
        meta, _, wkb, values = pyogrio.raw.read(
            path, layer=source.layer, columns=sorted(set(wanted.values()))
        )
    except (
        pyogrio.errors.DataSourceError,
        pyogrio.errors.DataLayerError,
        pyogrio.errors.FeatureError,
        pyogrio.errors.GeometryError,
        pyogrio.errors.FieldError,
        ValueError,
        UnicodeDecodeError,
        RuntimeError,
    ) as e:
        if isinstance(e, InputError):
            raise
        raise InputError(
            f"it cannot be read ({str(e)[:200]})",
            where=where,
            allowed="GeoPackage, GeoJSON, Shapefile, FlatGeobuf",
            fix="open and save it again with a GIS program",
        ) from None
    if wkb is None or len(wkb) == 0:
        raise InputError(
            "it holds no features", where=where, fix="leave the layer out of region.toml if there are none"
        )
    if not meta.get("crs"):
        raise InputError(
            "it has no coordinate system (CRS)",
            where=where,
            allowed="a file that states its CRS",
            fix="assign the CRS in a GIS program and save it",
        )
    return meta, wkb, dict(zip(meta["fields"], values, strict=True))


def _sound(wkb: Any, name: str, *, where: str) -> tuple[Geometries, npt.NDArray[np.bool_], list[str]]:
    """Return sound geometries, which rows they are, and what was repaired or dropped."""
    raw: Geometries = shapely.from_wkb(wkb, on_invalid="ignore")
    keep = ~(shapely.is_missing(raw) | shapely.is_empty(raw))
    finite = np.isfinite(shapely.bounds(raw)).all(axis=1)
    dropped = int((~(keep & finite)).sum())
    notes = [
        f"{where}: {dropped} features without a usable geometry left out ({_rows(~(keep & finite))})"
    ] * (dropped > 0)
    keep &= finite
    geometries = shapely.force_2d(raw[keep])
    broken = ~shapely.is_valid(geometries)
    if broken.any():
        geometries[broken] = [_mended(g) for g in geometries[broken]]
        notes.append(f"{where}: {int(broken.sum())} invalid geometries repaired")
        gone = shapely.is_empty(geometries)
        if gone.any():
            notes.append(f"{where}: {int(gone.sum())} of them came to nothing and were left out")
            index = np.flatnonzero(keep)
            keep[index[gone]] = False
            geometries = geometries[~gone]
    if not len(geometries):
        raise InputError(
            "no feature has a usable geometry", where=where, fix="mend the layer in a GIS program"
        )
    _check_kinds(geometries, name, where=where)
    return geometries, keep, notes


def _mended(geometry: Any) -> Any:
    """Return the valid form of a geometry, keeping its dimension (areas stay areas)."""
    valid = shapely.make_valid(geometry)
    if shapely.get_dimensions(geometry) < 2:
        return valid
    parts = shapely.get_parts(valid)
    areas = parts[shapely.get_dimensions(parts) == 2]
    return shapely.union_all(areas) if len(areas) else shapely.Polygon()


def _check_kinds(geometries: Geometries, name: str, *, where: str) -> None:
    kinds = shapely.get_type_id(geometries)
    allowed = _AREAS if name in AREA_LAYERS else _KINDS
    wrong = ~np.isin(kinds, [int(k) for k in allowed])
    if wrong.any():
        meant = "polygons" if allowed is _AREAS else "points, lines or polygons"
        raise InputError(
            f"{int(wrong.sum())} features are not {meant}"
            f" ({_rows(wrong)})",
            where=where,
            allowed="polygons only" if allowed is _AREAS else "points, lines and polygons",
            fix="move them to a layer of their own",
        )


def _rows(mask: npt.NDArray[np.bool_], most: int = 5) -> str:
    rows = np.flatnonzero(mask)
    return "feature " + ", ".join(str(int(r) + 1) for r in rows[:most]) + ("…" if len(rows) > most else "")


def _to_plane_in_place(geometries: Geometries, crs_text: str, plane: Plane, *, where: str) -> float:
    """Move the geometries into the plane; return the accuracy of the datum shift [m]."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_user_input(crs_text)
    except CRSError:
        raise InputError(f"its coordinate system '{crs_text[:60]}' is not known", where=where) from None
    transformer, accuracy = transformer_to_wgs84(crs, where=where)
    xy = shapely.get_coordinates(geometries)
    lon, lat = (xy[:, 0], xy[:, 1]) if transformer is None else transformer.transform(xy[:, 0], xy[:, 1])
    bad = ~((np.abs(lon) <= 180) & (np.abs(lat) <= 90))
    if bad.any():
        raise InputError(
            f"{int(bad.sum())} coordinates are no degrees of the Earth, such as {xy[np.argmax(bad)].tolist()}",
            where=where,
            allowed="longitude −180…180, latitude −90…90",
            fix="the axes look swapped, or the CRS named is not the one the numbers are in",
        )
    x, y = plane.project(lon, lat)
    _check_reach(x, y, where=where)
    shapely.set_coordinates(geometries, np.column_stack([x, y]))
    return accuracy


def _check_reach(x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], *, where: str) -> None:
    far = ~(np.hypot(x, y) < 1_000_000)  # true for inf and nan as well
    if far.all():
        raise InputError(
            "it lies more than 1,000 km from the region's centre",
            where=where,
            fix="the axes look swapped, or [plane] in region.toml is wrong",
        )
    if far.any() and not np.isfinite(x[far]).all():
        raise InputError(
            "some of it lies on the other side of the Earth", where=where, fix="clip it to the region"
        )


def _classes(
    columns: dict[str, npt.NDArray[Any]],
    spec: LayerSpec,
    source: SourceSpec,
    n: int,
    name: str,
    *,
    where: str,
) -> npt.NDArray[np.object_]:
    raw = _text(columns, source.class_field, n)
    if source.class_value is not None:
        raw = np.full(n, source.class_value, dtype=object)
    if spec.crosswalk:
        other = spec.crosswalk.get("*")
        raw = np.array([spec.crosswalk.get(v, other if other is not None else v) for v in raw], dtype=object)
    if name == "habitat":
        unknown = sorted({str(v) for v in raw} - set(HABITAT_CLASSES))
        if unknown:
            raise InputError(
                f"habitat classes {', '.join(unknown[:8]) or 'empty'}",
                where=where,
                allowed=", ".join(HABITAT_CLASSES),
                fix="name them in [layers.habitat.crosswalk]",
            )
    return raw


def _text(columns: dict[str, npt.NDArray[Any]], field: str | None, n: int) -> npt.NDArray[np.object_]:
    if field is None:
        return np.full(n, "", dtype=object)
    return np.array(["" if _empty(v) else _plain(v) for v in columns[field]], dtype=object)


def _plain(value: Any) -> str:
    """Return a cell as text; whole floats lose their point, so that ids read alike in every format."""
    return (
        str(int(value))
        if isinstance(value, float | np.floating) and value == int(value)
        else str(value).strip()
    )


def _empty(value: Any) -> bool:
    return value is None or (isinstance(value, float | np.floating) and not np.isfinite(value))


def _numbers(
    columns: dict[str, npt.NDArray[Any]], field: str | None, n: int, *, default: float = 1.0
) -> npt.NDArray[np.float64]:
    if field is None:
        return np.full(n, default)
    out = np.full(n, default)
    for i, value in enumerate(columns[field]):
        try:
            number = float(value)
        except (TypeError, ValueError):
            continue
        out[i] = number if np.isfinite(number) else default
    return out


def _days(
    columns: dict[str, npt.NDArray[Any]], field: str | None, default: np.datetime64, n: int, *, where: str
) -> npt.NDArray[np.datetime64]:
    out = np.full(n, default)
    if field is None:
        return out
    for i, value in enumerate(columns[field]):
        if (
            value is None
            or (isinstance(value, np.datetime64) and np.isnat(value))
            or str(value).strip() in {"", "NaT"}
        ):
            continue
        try:
            out[i] = np.datetime64(str(value).strip()[:10].replace("/", "-"), "D")
        except ValueError:
            raise InputError(
                f"{field} '{str(value)[:40]}' is not a date (feature {i + 1})",
                where=where,
                allowed="dates such as 2026-11-21",
            ) from None
    return out


def _joined(parts: list[Features]) -> Features:
    if len(parts) == 1:
        return parts[0]
    names = (
        "geometries",
        "classes",
        "names",
        "ids",
        "tenures",
        "homes",
        "priority",
        "valid_from",
        "valid_to",
        "error_m",
    )
    arrays: dict[str, Any] = {f: np.concatenate([getattr(p, f) for p in parts]) for f in names}
    reason = "datum" if any(p.error_reason == "datum" for p in parts) else "layer"
    return Features(name=parts[0].name, error_reason=reason, **arrays)
