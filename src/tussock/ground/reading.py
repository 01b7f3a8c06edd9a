"""Feature files → features in the plane, with every fault collected and each repair said."""

from __future__ import annotations

import math
import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from tussock.errors import Faults, InputError
from tussock.geodesy import METRES_PER_DEGREE, Plane, transformer_to_wgs84
from tussock.ground.features import OPEN_FROM, OPEN_TO, PER_FEATURE, Features, Geometries
from tussock.ground.gdal_words import listening
from tussock.ground.region_file import LayerSpec, SourceSpec
from tussock.names import AREA_LAYERS, HABITAT_CLASSES, ROAD_CLASSES
from tussock.tables import is_there

_AREAS = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)
_KINDS = (
    *_AREAS,
    shapely.GeometryType.POINT,
    shapely.GeometryType.MULTIPOINT,
    shapely.GeometryType.LINESTRING,
    shapely.GeometryType.MULTILINESTRING,
)
_APART_M = 200_000
"""From here on a layer has nothing of the region: the corners of the widest are 106 km from its centre, a UTM
zone is 330 km wide at 60°."""
_FAR_M = 1_000_000
_MOST_COORDINATE = 1e9
"""No coordinate system of the Earth counts farther: its girth is 4e7 m, 1.3e8 feet."""
_EDGE_M = 100.0
_MOST_EDGES = 5_000_000
"""Most edges that long ones are cut into; a layer of the whole world gets longer ones."""
_MONTH = re.compile(r"(?!0000)[0-9]{4}(-(0[1-9]|1[0-2]))?")
_MOST_HOMES = 1e6
_MOST_PRIORITY = 1e9
Rows = npt.NDArray[np.int64]
"""Which features of the file are kept: their places, the first 0."""


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
        or lines in an area layer, broken geometries, coordinates out of range, unknown habitat classes,
        unreadable dates or numbers.
    """
    if not spec.sources:
        raise InputError(
            f"layer {name} is a raster",
            where="region.toml",
            allowed=f"features, in [[layers.{name}.sources]]",
            fix="trace it as polygons, or leave it out of the clause",
        )
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
    meta, wkb, columns, notes = _open(folder / source.file, source, where=where)
    geometries, rows, said = _sound(wkb, name, where=where)
    accuracy = _to_degrees_in_place(geometries, str(meta["crs"]), where=where)
    geometries, rows, moved = _to_plane(geometries, rows, plane, where=where)
    columns = {k: v[rows] for k, v in columns.items()}
    classes, unclassed = _classes(columns, spec, source, len(geometries), name, where=where)
    points = shapely.get_dimensions(geometries) == 0
    radius = np.where(points & (name == "dwellings"), spec.point_radius_m, 0.0)
    first, last = _in_force(columns, source, rows, where=where)
    part = Features(
        name=name,
        geometries=geometries,
        classes=classes,
        names=_text(columns, source.name_field, len(geometries)),
        ids=_text(columns, source.id_field, len(geometries)),
        tenures=_text(columns, source.tenure_field, len(geometries)),
        homes=_numbers(columns, source.homes_field, rows, default=1.0, most=_MOST_HOMES, where=where),
        priority=_numbers(
            columns, source.priority_field, rows, least=-_MOST_PRIORITY, most=_MOST_PRIORITY, where=where
        ).astype(np.int64),
        valid_from=first,
        valid_to=last,
        error_m=spec.position_error_m + accuracy + radius,
        error_reason="datum" if accuracy > spec.position_error_m else "layer",
    )
    notes += [*said, *moved, *unclassed]
    return part, notes


def _open(
    path: Path, source: SourceSpec, *, where: str
) -> tuple[dict[str, Any], Any, dict[str, npt.NDArray[Any]], list[str]]:
    import tussock.ground.gdal_alone  # noqa: F401 - before pyogrio itself, see there
    import pyogrio.errors  # isort: skip

    if not is_there(path):
        raise InputError("there is no such file", where=where, fix="check 'file' in region.toml")
    if path.is_dir():
        raise InputError("it is a folder", where=f"region.toml, {where}", allowed="a file", fix="name a file")
    try:
        with listening() as said:
            meta, wkb, columns = _read(path, source, where=where)
    except (
        pyogrio.errors.DataSourceError,
        pyogrio.errors.DataLayerError,
        pyogrio.errors.FeatureError,
        pyogrio.errors.GeometryError,
        pyogrio.errors.FieldError,
        ValueError,  # UnicodeDecodeError among them
        RuntimeError,
    ) as e:
        if isinstance(e, InputError):
            raise
        raise InputError(
            f"it cannot be read ({str(e).replace(str(path), path.name)[:200]})",
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
    notes = [f"{where}: the reader says: {w.replace(str(path), path.name)[:200]}" for w in said]
    return meta, wkb, columns, notes


def _read(
    path: Path, source: SourceSpec, *, where: str
) -> tuple[dict[str, Any], Any, dict[str, npt.NDArray[Any]]]:
    import pyogrio
    import pyogrio.raw

    layer = source.layer or _only_layer(path, where=where)
    wanted = {v for f, v in source.model_dump().items() if f.endswith("_field") and v is not None}
    present = set(pyogrio.read_info(path, layer=layer)["fields"])
    if wanted - present:
        raise InputError(
            f"there is no field {', '.join(sorted(wanted - present))}",
            where=where,
            allowed=", ".join(sorted(present)) or "none",
            fix="correct the field names in region.toml",
        )
    meta, _, wkb, values = pyogrio.raw.read(path, layer=layer, columns=sorted(wanted))
    return meta, wkb, dict(zip(meta["fields"], values, strict=True))


def _only_layer(path: Path, *, where: str) -> str | None:
    """Return the one layer with geometries; ``None`` where there is none."""
    import pyogrio

    names = [str(name) for name, kind in pyogrio.list_layers(path) if kind is not None]
    if len(names) > 1:
        raise InputError(
            f"it holds {len(names)} layers, and none is named",
            where=where,
            allowed=", ".join(names[:20]),
            fix='add layer = "…" to the source in region.toml',
        )
    return names[0] if names else None


def _sound(wkb: Any, name: str, *, where: str) -> tuple[Geometries, Rows, list[str]]:
    """Return sound geometries, which features of the file they are, and what was repaired or left out.

    A feature without a geometry is left out; one whose geometry is broken is a fault: where it lies is
    not known, and what is not known must not be taken for absent.
    """
    with np.errstate(invalid="ignore"):
        raw: Geometries = shapely.from_wkb(wkb, on_invalid="ignore")
    given = np.array([w is not None for w in wkb], dtype=bool)
    none = ~given | shapely.is_empty(raw)
    _refuse_broken(~none & (shapely.is_missing(raw) | ~_finite(raw)), where=where)
    rows = np.flatnonzero(~none)
    notes = []
    if none.any():
        notes.append(f"{where}: {int(none.sum())} features without a geometry left out ({_listed(none)})")
    geometries: Geometries = shapely.force_2d(raw[rows])
    broken = ~shapely.is_valid(geometries)
    if broken.any():
        geometries[broken] = [_mended(g) for g in geometries[broken]]
        _refuse_broken(_at(rows, shapely.is_empty(geometries), len(raw)), where=where)
        listed = _listed(_at(rows, broken, len(raw)))
        notes.append(f"{where}: {int(broken.sum())} invalid geometries repaired ({listed})")
    if not len(geometries):
        raise InputError("no feature has a geometry", where=where, fix="mend the layer in a GIS program")
    _check_kinds(geometries, rows, name, where=where)
    return geometries, rows, notes


def _finite(geometries: Geometries) -> npt.NDArray[np.bool_]:
    """Return which geometries have coordinates that can be some, in degrees or metres."""
    fine = np.ones(len(geometries), dtype=bool)
    xy, owner = shapely.get_coordinates(geometries, return_index=True)
    fine[owner[~(np.abs(xy) < _MOST_COORDINATE).all(axis=1)]] = False
    return fine


def _refuse_broken(broken: npt.NDArray[np.bool_], *, where: str) -> None:
    if broken.any():
        raise InputError(
            f"{int(broken.sum())} features have a broken geometry ({_listed(broken)})",
            where=where,
            allowed="rings of three or more different points, numbers as coordinates",
            fix="mend or delete them in a GIS program",
        )


def _at(rows: Rows, mask: npt.NDArray[np.bool_], n: int) -> npt.NDArray[np.bool_]:
    """Return a mask over the kept features as one over all of the file's."""
    out = np.zeros(n, dtype=bool)
    out[rows[mask]] = True
    return out


def _mended(geometry: Any) -> Any:
    """Return the valid form of a geometry, keeping its dimension (areas stay areas).

    An area keeps all the ground that any of its rings encloses: overlapping parts are joined. Taking
    turns instead (even–odd) would open a hole where two parts of a reserve overlap.
    """
    if shapely.get_dimensions(geometry) < 2:
        return shapely.make_valid(geometry)
    valid = shapely.make_valid(geometry, method="structure", keep_collapsed=False)
    parts = shapely.get_parts(shapely.get_parts(valid))
    areas = parts[shapely.get_dimensions(parts) == 2]
    return shapely.union_all(areas) if len(areas) else shapely.Polygon()


def _check_kinds(geometries: Geometries, rows: Rows, name: str, *, where: str) -> None:
    kinds = shapely.get_type_id(geometries)
    allowed = _AREAS if name in AREA_LAYERS else _KINDS
    wrong = ~np.isin(kinds, [int(k) for k in allowed])
    if wrong.any():
        meant = "polygons" if allowed is _AREAS else "points, lines or polygons"
        raise InputError(
            f"{int(wrong.sum())} features are not {meant} ({_listed(_at(rows, wrong, int(rows[-1]) + 1))})",
            where=where,
            allowed="polygons only" if allowed is _AREAS else "points, lines and polygons",
            fix="move them to a layer of their own",
        )


def _listed(mask: npt.NDArray[np.bool_], most: int = 5) -> str:
    """Return the features as their number in the file, the first 1."""
    rows = np.flatnonzero(mask)
    return "feature " + ", ".join(str(int(r) + 1) for r in rows[:most]) + ("…" if len(rows) > most else "")


def _to_degrees_in_place(geometries: Geometries, crs_text: str, *, where: str) -> float:
    """Turn the coordinates into WGS 84 degrees; return the accuracy of the datum shift [m]."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_user_input(crs_text)
    except CRSError:
        raise InputError(f"its coordinate system '{crs_text[:60]}' is not known", where=where) from None
    if crs.is_geocentric:
        raise InputError(
            f"the coordinate system '{crs.name}' counts from the centre of the Earth",
            where=where,
            allowed="a geographic or projected coordinate system",
            fix="save the layer in EPSG:4326",
        )
    transformer, accuracy = transformer_to_wgs84(crs, where=where)
    lon, lat = _degrees(geometries, transformer)
    bad = ~((np.abs(lon) <= 180) & (np.abs(lat) <= 90))
    if bad.any():
        given = shapely.get_coordinates(geometries)[np.argmax(bad)]
        raise InputError(
            f"{int(bad.sum())} coordinates are no degrees of the Earth, such as"
            f" {given[0]:.8g}, {given[1]:.8g}",
            where=where,
            allowed="longitude −180…180, latitude −90…90",
            fix="the axes look swapped, or the CRS named is not the one the numbers are in",
        )
    geometries[:] = _densified(geometries, crs)
    if transformer is not None:
        shapely.set_coordinates(geometries, np.column_stack(_degrees(geometries, transformer)))
    return accuracy


def _degrees(
    geometries: Geometries, transformer: Any
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return longitudes and latitudes of all coordinates."""
    x, y = shapely.get_coordinates(geometries).T
    return (x, y) if transformer is None else transformer.transform(x, y)


def _to_plane(
    geometries: Geometries, rows: Rows, plane: Plane, *, where: str
) -> tuple[Geometries, Rows, list[str]]:
    """Return the geometries in the plane, which features of the file they are, and what to know.

    What reaches far is cut to the surroundings first: the far side of the Earth has no place in the plane,
    and a polygon round it would come out inside out, the region left outside it.
    """
    xy, owner = shapely.get_coordinates(geometries, return_index=True)
    x, y = plane.project(xy[:, 0], xy[:, 1])
    far = ~(np.hypot(x, y) < _FAR_M)  # true for inf and nan as well
    if not far.any():
        shapely.set_coordinates(geometries, np.column_stack([x, y]))
        _check_near(geometries, where=where)
        return geometries, rows, []
    reaching = np.unique(owner[far])
    geometries[reaching] = [_near(g, plane) for g in geometries[reaching]]
    kept = ~shapely.is_empty(geometries)
    if not kept.any():
        raise InputError(
            "it lies more than 1,000 km from the region's centre",
            where=where,
            fix="the axes look swapped, or [plane] in region.toml is wrong",
        )
    listed = _listed(_at(rows, np.isin(np.arange(len(rows)), reaching), int(rows[-1]) + 1))
    said = f"{len(reaching)} features reach farther than 1,000 km from the region's centre ({listed})"
    geometries, rows = geometries[kept], rows[kept]
    xy = shapely.get_coordinates(geometries)
    shapely.set_coordinates(geometries, np.column_stack(plane.project(xy[:, 0], xy[:, 1])))
    _check_near(geometries, where=where)
    return geometries, rows, [f"{where}: {said} and were cut there: are their axes swapped?"]


def _check_near(geometries: Geometries, *, where: str) -> None:
    """Refuse features that all lie apart from the region: a zone too far, and no dwelling would be known."""
    away = float(shapely.distance(geometries, shapely.Point(0, 0)).min())
    if away > _APART_M:
        raise InputError(
            f"it lies {away / 1000:,.0f} km from the region's centre",
            where=where,
            allowed=f"something within {_APART_M / 1000:.0f} km of it",
            fix="check the zone of its coordinate system, the order of its axes, and [plane] in region.toml",
        )


def _near(geometry: Any, plane: Plane) -> Any:
    """Return the part of a geometry in degrees that lies round the plane's centre, 1,000 km and more away."""
    high = _FAR_M / METRES_PER_DEGREE
    wide = min(high / math.cos(math.radians(min(abs(plane.latitude) + high, 89.0))), 180.0)
    south, north = max(plane.latitude - high, -90.0), min(plane.latitude + high, 90.0)
    west, east = plane.longitude - wide, plane.longitude + wide
    boxes = [shapely.box(west + turn, south, east + turn, north) for turn in (-360.0, 0.0, 360.0)]
    parts = shapely.get_parts(shapely.intersection(geometry, shapely.union_all(boxes)))
    parts = parts[shapely.get_dimensions(parts) == shapely.get_dimensions(geometry)]
    return shapely.union_all(parts)


def _densified(geometries: Geometries, crs: Any) -> Geometries:
    """Return the geometries with points along their long edges.

    An edge is straight in the coordinates it is given in. An edge along a parallel, straight in the plane
    instead, would cut the corner by L² tan φ / 8R: 44 m in the middle of 50 km at 42°, 0.7 mm in 200 m.
    """
    unit_m = METRES_PER_DEGREE if crs.is_geographic else float(crs.axis_info[0].unit_conversion_factor or 1)
    step = _EDGE_M / unit_m
    points = float(shapely.length(geometries).sum()) / step
    return np.asarray(shapely.segmentize(geometries, step * max(1.0, points / _MOST_EDGES)))


def _classes(
    columns: dict[str, npt.NDArray[Any]],
    spec: LayerSpec,
    source: SourceSpec,
    n: int,
    name: str,
    *,
    where: str,
) -> tuple[npt.NDArray[np.object_], list[str]]:
    """Return the class of each feature, and what to know of them."""
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
                f"habitat classes {', '.join(u or 'empty' for u in unknown[:8])}",
                where=where,
                allowed=", ".join(HABITAT_CLASSES),
                fix="name them in [layers.habitat.crosswalk]",
            )
    if name == "roads" and (source.class_field or source.class_value):
        strange = [str(v) for v in raw if v not in ROAD_CLASSES]
        kinds = ", ".join(sorted({v or "empty" for v in strange})[:8])
        if strange:
            return raw, [f"{where}: {len(strange)} roads are of no road class ({kinds})"]
    return raw, []


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
    columns: dict[str, npt.NDArray[Any]],
    field: str | None,
    rows: Rows,
    *,
    default: float = 0.0,
    least: float = 0.0,
    most: float,
    where: str,
) -> npt.NDArray[np.float64]:
    """Return a column as numbers, ``default`` where a cell is empty."""
    out = np.full(len(rows), default)
    for i, value in enumerate(columns[field] if field else ()):
        if _empty(value) or str(value).strip() == "":
            continue
        try:
            out[i] = float(value)
        except (TypeError, ValueError):
            out[i] = np.nan
        if not least <= out[i] <= most:
            raise InputError(
                f"{field} '{str(value)[:40]}' (feature {rows[i] + 1})",
                where=where,
                allowed=f"a number from {least:.0f} to {most:.0f}, or empty",
                fix="correct it, or leave the field out of region.toml",
            )
    return out


def _in_force(
    columns: dict[str, npt.NDArray[Any]], source: SourceSpec, rows: Rows, *, where: str
) -> tuple[npt.NDArray[np.datetime64], npt.NDArray[np.datetime64]]:
    """Return the first and the last day of each feature."""
    first = _days(columns, source.valid_from_field, OPEN_FROM, rows, where=where)
    last = _days(columns, source.valid_to_field, OPEN_TO, rows, where=where, end=True)
    turned = first > last
    if turned.any():
        i = int(np.argmax(turned))
        raise InputError(
            f"in force from {first[i]} to {last[i]} (feature {rows[i] + 1})",
            where=where,
            allowed="a last day on or after the first",
            fix="correct the dates",
        )
    return first, last


def _days(
    columns: dict[str, npt.NDArray[Any]],
    field: str | None,
    default: np.datetime64,
    rows: Rows,
    *,
    where: str,
    end: bool = False,
) -> npt.NDArray[np.datetime64]:
    out = np.full(len(rows), default)
    for i, value in enumerate(columns[field] if field else ()):
        if _empty(value) or str(value).strip() in {"", "NaT"}:
            continue
        try:
            out[i] = _day(_plain(value), end=end)
        except ValueError:
            raise InputError(
                f"{field} '{str(value)[:40]}' is not a date (feature {rows[i] + 1})",
                where=where,
                allowed="dates such as 2026-11-21, months such as 2026-11, years such as 2026",
                fix="correct it in a GIS program",
            ) from None
    return out


def _day(text: str, *, end: bool) -> np.datetime64:
    """Return the day of an ISO date or date and time; of a month or a year its first day, or its last.

    numpy alone would take "20260501" for a year and "now" for today.
    """
    text = text.replace("/", "-")
    if _MONTH.fullmatch(text):
        year, month = int(text[:4]), int(text[5:] or (12 if end else 1))
        return np.datetime64(date(year, month, monthrange(year, month)[1] if end else 1), "D")
    if len(text) < 10:
        raise ValueError
    day = datetime.fromisoformat(text).date() if len(text) > 10 else date.fromisoformat(text)
    return np.datetime64(day, "D")


def _joined(parts: list[Features]) -> Features:
    if len(parts) == 1:
        return parts[0]
    arrays: dict[str, Any] = {f: np.concatenate([getattr(p, f) for p in parts]) for f in PER_FEATURE}
    reason = "datum" if any(p.error_reason == "datum" for p in parts) else "layer"
    return Features(name=parts[0].name, error_reason=reason, **arrays)
