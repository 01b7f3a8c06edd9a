"""Seeded damage to a district's files: bytes, cells, values, geometries, rasters, whole files."""

from __future__ import annotations

import csv
import io
import math
import random
import struct
import tomllib
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from tests.badinput.district import TABLES, Layer, read_raw, replaced, toml_text, write_raw

Rng = random.Random
TEXT_FILES = (*TABLES, "region.toml", "permit.toml", "known_extent.geojson")
NASTY = (
    "",
    " ",
    "0",
    "-1",
    "1e300",
    "-1e-300",
    "NaN",
    "inf",
    "-inf",
    "9" * 400,
    "x" * 5000,
    "=1+1",
    "@SUM(A1)",
    "+1",
    "-",
    "<script>alert(1)</script>",
    "\u202e\u05d0\u05d1",
    "١٢",
    "💥",
    "a\nb",
    '"',
    "'",
    "-42,07",
    "-42.07°",
    "147.6",
    "-42.1",
    "null",
    "None",
    "true",
    "2026-11-14",
    "2026-11-14T10:42:00",
    "0001-01-01T00:00Z",
    "9999-12-31T23:59Z",
    "1_000",
    "a,b;c\td",
    "\x07",
    "\u00a0",
    "../../x",
    "%s%n",
    "30 m",
    "unknown",
    "released",
    "yes",
    "forest",
    "primary",
)


def spoilt(folder: Path, rng: Rng, *, gently: bool = False) -> str:
    """Damage one or two things in a folder of links; return in words what was done.

    Gently: mostly what files hold rather than the files, so that more of it is read and planned on.
    """
    ways = _GENTLE if gently else _WAYS
    return "; ".join(rng.choice(ways)(folder, rng) for _ in range(rng.choice((1, 1, 1, 2))))


# Bytes -----------------------------------------------------------------------------------------------


def _bytes(folder: Path, rng: Rng) -> str:
    files = sorted(f.name for f in folder.iterdir() if f.is_file())
    name = rng.choice(TEXT_FILES if rng.random() < 0.6 else files)
    if not (folder / name).is_file():
        return f"{name} is gone already"
    data = bytearray((folder / name).read_bytes())
    ways = [_damage(data, rng) for _ in range(rng.randint(1, 3)) if data]
    replaced(folder / name).write_bytes(bytes(data))
    return f"{name}: bytes {', '.join(ways)}"


def _damage(data: bytearray, rng: Rng) -> str:
    start = rng.randrange(len(data))
    length = min(rng.choice((1, 4, 40, 4096)), len(data) - start)
    match rng.randrange(6):
        case 0:
            for _ in range(rng.randint(1, 8)):
                data[rng.randrange(len(data))] = rng.randrange(256)
            return "changed"
        case 1:
            del data[start : start + length]
            return f"{length} cut out at {start}"
        case 2:
            data[start:start] = data[start : start + length]
            return f"{length} doubled at {start}"
        case 3:
            del data[start:]
            return f"cut at {start}"
        case 4:
            data[start : start + length] = bytes(length)
            return f"{length} zeroed at {start}"
        case _:
            data[start:start] = rng.randbytes(rng.randint(1, 30))
            return f"put in at {start}"


# Tables ----------------------------------------------------------------------------------------------


def _table(folder: Path, rng: Rng) -> str:
    name = rng.choice(TABLES)
    try:
        rows = list(csv.reader(io.StringIO((folder / name).read_text(encoding="utf-8-sig"))))
    except (OSError, UnicodeDecodeError, csv.Error):
        return f"{name} is spoilt already"
    if len(rows) < 2 or not rows[0]:
        return f"{name} is empty already"
    did = [_change_rows(rows, rng) for _ in range(rng.randint(1, 3))]
    delimiter = rng.choice(",,,,;\t")
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=rng.choice(("\n", "\n", "\r\n"))).writerows(rows)
    encoding = rng.choice(("utf-8", "utf-8", "utf-8", "utf-8-sig", "cp1252", "utf-16"))
    replaced(folder / name).write_bytes(out.getvalue().encode(encoding, "replace"))
    return f"{name} ({encoding}, {delimiter!r}): {', '.join(did)}"


def _change_rows(rows: list[list[str]], rng: Rng) -> str:
    i, j = rng.randrange(1, len(rows)) if len(rows) > 1 else 0, rng.randrange(len(rows[0]))
    way = rng.randrange(9)
    if way <= 3 and j < len(rows[i]):
        rows[i][j] = rng.choice(NASTY)
        return f"row {i + 1} {rows[0][j]} = {rows[i][j][:30]!r}"
    if way == 4:
        rows[0][j] = rng.choice((*NASTY, rows[0][0], rows[0][j].upper()))
        return f"column {j} renamed {rows[0][j][:30]!r}"
    if way == 5 and len(rows[0]) > 1:
        for row in rows:
            del row[j : j + 1]
        return f"column {j} dropped"
    if way == 6:
        rows.append(list(rows[i]))
        return f"row {i + 1} doubled"
    if way == 7:
        body = rows[1:]
        rng.shuffle(body)
        rows[1:] = body
        return "rows shuffled"
    text = rng.choice(NASTY)
    for row in rows[1:]:
        row[j : j + 1] = [text]
    return f"column {j} all {text[:30]!r}"


# TOML ------------------------------------------------------------------------------------------------


def _toml(folder: Path, rng: Rng) -> str:
    name = rng.choice(("region.toml", "permit.toml"))
    try:
        table = tomllib.loads((folder / name).read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return f"{name} is spoilt already"
    did = [_change_value(table, rng) for _ in range(rng.randint(1, 2))]
    replaced(folder / name).write_text(toml_text(table), encoding="utf-8")
    return f"{name}: {', '.join(did)}"


def _places(value: Any, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [p for k, v in items for p in ((*way, k), *_places(v, (*way, k)))]


def _change_value(table: dict[str, Any], rng: Rng) -> str:
    places = _places(table)
    if not places:
        return "nothing left"
    *way, last = rng.choice(places)
    holder: Any = table
    for step in way:
        holder = holder[step]
    path = ".".join(map(str, (*way, last)))[:80]
    match rng.randrange(4):
        case 0:
            del holder[last]
            return f"{path} dropped"
        case 1 if isinstance(holder, dict):
            holder[rng.choice(("", "x", "file", "limit_m", "kind", "layer", str(last).upper()))] = holder.pop(
                last
            )
            return f"{path} renamed"
        case 2 if isinstance(holder[last], int | float) and not isinstance(holder[last], bool):
            holder[last] = holder[last] * rng.choice((-1, 0, 1e-9, 0.5, 1.01, 3, 1e9)) + rng.choice(
                (0, 0, 1e-6, 1)
            )
            return f"{path} = {holder[last]}"
        case _:
            holder[last] = _junk(rng)
            return f"{path} = {str(holder[last])[:40]!r}"


def _junk(rng: Rng) -> Any:
    return rng.choice(
        (
            rng.choice(NASTY),
            rng.choice(NASTY),
            True,
            False,
            0,
            -1,
            7,
            10**18,
            0.0,
            1e300,
            math.nan,
            math.inf,
            [],
            {},
            [[]],
            {"a": {}},
            ["x", 1],
            date(2026, 1, 1),
            date(1, 1, 1),
            datetime(2026, 1, 1, 12),
            time(22, 0),
            "dwellings",
            "ground.gpkg",
            "cover.tif",
            "captures.csv",
            "habitat",
            "met",
            "min_distance_from",
            "EPSG:4326",
            "..",
            "/",
            "\u202egpj.exe",
        )
    )


# Features --------------------------------------------------------------------------------------------


def _features(folder: Path, rng: Rng) -> str:
    names = sorted(f.name for f in folder.iterdir() if f.suffix == ".gpkg" and f.is_file())
    name = rng.choice(names)
    try:
        layer = read_raw(folder / name)
    except Exception:
        return f"{name} is spoilt already"
    if layer.wkb is None or not len(layer.wkb):
        return f"{name} is empty already"
    did, layer = rng.choice((_geometries, _geometries, _geometries, _values, _crs, _set))(layer, rng)
    try:
        write_raw(replaced(folder / name), layer, layer=Path(name).stem, driver="GPKG")
    except Exception as error:
        replaced(folder / name).write_bytes(b"")
        return f"{name}: {did} could not be written ({type(error).__name__})"
    return f"{name}: {did}"


def _with(layer: Layer, **changes: Any) -> Layer:
    return Layer(**({f: getattr(layer, f) for f in ("wkb", "fields", "values", "crs")} | changes))


def _geometries(layer: Layer, rng: Rng) -> tuple[str, Layer]:
    wkb = layer.wkb.copy()
    way = rng.choice(tuple(_SHAPES))
    count = rng.choice((1, 1, 3, len(wkb)))
    for i in rng.sample(range(len(wkb)), min(count, len(wkb))):
        wkb[i] = _SHAPES[way](wkb[i], rng)
    return f"{count} geometries {way}", _with(layer, wkb=wkb)


def _moved(by: Callable[[np.ndarray, Rng], np.ndarray]) -> Callable[[bytes, Rng], bytes]:
    def shape(wkb: bytes, rng: Rng) -> bytes:
        geometry = shapely.from_wkb(wkb, on_invalid="ignore")
        if geometry is None:
            return wkb
        try:
            return bytes(shapely.to_wkb(shapely.transform(geometry, lambda xy: by(xy, rng))))
        except shapely.errors.ShapelyError:  # a ring that no longer closes: only bytes can say so
            return _number_in(wkb, rng)

    return shape


def _one_vertex(xy: np.ndarray, rng: Rng) -> np.ndarray:
    out = xy.copy()
    out[rng.randrange(len(out))] += rng.choice((1e-7, 1e-3, 0.1, 5.0, 100.0, 1e6)) * rng.choice((-1, 1))
    return out


def _as(make: Callable[[Any], Any]) -> Callable[[bytes, Rng], bytes]:
    def shape(wkb: bytes, rng: Rng) -> bytes:
        geometry = shapely.from_wkb(wkb, on_invalid="ignore")
        return wkb if geometry is None else bytes(shapely.to_wkb(make(geometry)))

    return shape


def _number_in(wkb: bytes, rng: Rng) -> bytes:
    if len(wkb) < 32:
        return wkb
    at = 9 + 4 * ((len(wkb) - 9) % 16 != 0) + 8 * rng.randrange((len(wkb) - 13) // 8)
    return (
        wkb[:at]
        + struct.pack("<d", rng.choice((math.nan, math.inf, -math.inf, 1e308, 5e-324, 0.0)))
        + wkb[at + 8 :]
    )


def _bytes_in(wkb: bytes, rng: Rng) -> bytes:
    data = bytearray(wkb)
    _damage(data, rng)
    return bytes(data)


def _bow_tie(geometry: Any) -> Any:
    west, south, east, north = geometry.bounds
    if west == east or south == north:
        return geometry
    return shapely.Polygon([(west, south), (east, north), (east, south), (west, north)])


_SHAPES: dict[str, Callable[[bytes, Rng], Any]] = {
    "shifted a little": _moved(lambda xy, rng: xy + rng.uniform(-1e-4, 1e-4)),
    "shifted far": _moved(lambda xy, rng: xy + rng.choice((-1, 1)) * 10 ** rng.uniform(-2, 4)),
    "with axes swapped": _moved(lambda xy, rng: xy[:, ::-1]),
    "mirrored": _moved(lambda xy, rng: -xy),
    "scaled": _moved(lambda xy, rng: xy * 10 ** rng.uniform(-9, 9)),
    "with one vertex moved": _moved(_one_vertex),
    "rounded": _moved(lambda xy, rng: np.round(xy, rng.randint(0, 4))),
    "as points": _as(lambda g: g.centroid),
    "as lines": _as(lambda g: g.boundary if g.geom_type.endswith("Polygon") else g),
    "as their box": _as(shapely.envelope),
    "as bow ties": _as(_bow_tie),
    "as collections": _as(lambda g: shapely.GeometryCollection([g, g.centroid])),
    "with height": _as(lambda g: shapely.force_3d(g, 1e300)),
    "doubled in one": _as(lambda g: shapely.MultiPolygon([g, g]) if g.geom_type == "Polygon" else g),
    "as the whole Earth": lambda wkb, rng: bytes(shapely.to_wkb(shapely.box(-180, -90, 180, 90))),
    "gone": lambda wkb, rng: None,
    "empty": lambda wkb, rng: bytes(shapely.to_wkb(shapely.Polygon())),
    "with a strange number": _number_in,
    "with strange bytes": _bytes_in,
}


def _values(layer: Layer, rng: Rng) -> tuple[str, Layer]:
    if not layer.fields:
        return "nothing", layer
    i = rng.randrange(len(layer.fields))
    column = layer.values[i].copy()
    count = rng.choice((1, 3, len(column)))
    for at in rng.sample(range(len(column)), min(count, len(column))):
        if column.dtype == object:
            column[at] = rng.choice((*NASTY, None))
        else:
            column = column.astype(np.float64)
            column[at] = rng.choice((math.nan, math.inf, -5, 1e300, 0))
    values = tuple(column if n == i else v for n, v in enumerate(layer.values))
    return f"{count} values of {layer.fields[i]}", _with(layer, values=values)


def _crs(layer: Layer, rng: Rng) -> tuple[str, Layer]:
    crs = rng.choice(
        ("", "EPSG:4283", "EPSG:32755", "EPSG:3857", "EPSG:27700", "EPSG:4978", "EPSG:4267", "EPSG:2193")
    )
    return f"labelled {crs or 'without CRS'}", _with(layer, crs=crs)


def _set(layer: Layer, rng: Rng) -> tuple[str, Layer]:
    n = len(layer.wkb)
    match rng.randrange(5):
        case 0:
            kept, said = rng.sample(range(n), n), "features shuffled"
        case 1:
            kept, said = sorted(rng.choices(range(n), k=n)), "features drawn with repeats"
        case 2:
            kept, said = [], "no features"
        case 3:
            kept, said = [*range(n), *range(n)], "features doubled"
        case _:
            i = rng.randrange(len(layer.fields)) if layer.fields else 0
            fields, values = list(layer.fields), list(layer.values)
            del fields[i : i + 1], values[i : i + 1]
            return f"field {i} dropped", _with(layer, fields=tuple(fields), values=tuple(values))
    at = np.array(kept, dtype=np.int64)
    return said, _with(layer, wkb=layer.wkb[at], values=tuple(v[at] for v in layer.values))


# Rasters ---------------------------------------------------------------------------------------------


def _raster(folder: Path, rng: Rng) -> str:
    import rasterio
    from rasterio.errors import RasterioError
    from rasterio.transform import Affine

    name = rng.choice(("cover.tif", "elevation.tif"))
    try:
        with rasterio.open(folder / name) as source:
            values, profile = source.read(1), dict(source.profile)
    except (RasterioError, OSError):
        return f"{name} is spoilt already"
    for key in ("blockxsize", "blockysize", "tiled", "interleave", "predictor", "compress"):
        profile.pop(key, None)
    t = profile["transform"]
    match rng.randrange(8):
        case 0:
            f = [rng.choice((0, 1, -1, 1.01, 1e-6, 1e6)) for _ in range(6)]
            profile["transform"] = Affine(*(v * k for v, k in zip(tuple(t)[:6], f, strict=True)))
            said = f"transform times {f}"
        case 1:
            shift = rng.choice((1e-7, 1e-3, 0.5, 400.0))
            profile["transform"] = Affine(
                t.a, t.b + rng.choice((0, 1e-4)), t.c + shift, t.d, t.e, t.f - shift
            )
            said = f"moved by {shift}"
        case 2:
            profile["crs"] = rng.choice(
                (None, "EPSG:32755", "EPSG:3857", "EPSG:4978", "EPSG:4283", "EPSG:5711")
            )
            said = f"labelled {profile['crs']}"
        case 3:
            profile["nodata"] = rng.choice((None, 0, float(values.flat[rng.randrange(values.size)])))
            said = f"no-data {profile['nodata']}"
        case 4:
            kind = rng.choice(("float64", "int16", "complex64", "uint8", "float32"))
            with np.errstate(all="ignore"):
                values = (values.astype(np.float64) * rng.choice((1, 0.01, 100, -1))).astype(kind)
            profile |= {"dtype": kind, "nodata": None}
            said = f"as {kind}"
        case 5:
            bad = rng.choice((math.nan, math.inf, 1e300, -9999.0))
            values = values.astype(np.float64)
            n = rng.choice((1, 100, values.size))
            values.flat[rng.sample(range(values.size), n)] = bad
            profile |= {"dtype": "float64", "nodata": None}
            said = f"{n} values {bad}"
        case 6:
            values = values[: rng.randint(1, 40), : rng.randint(1, 40)]
            profile |= {"height": values.shape[0], "width": values.shape[1]}
            said = f"only {values.shape}"
        case _:
            values = values[rng.choice((slice(None), slice(None, None, -1))), :: rng.choice((1, -1))]
            said = "turned over"
    try:
        with rasterio.open(replaced(folder / name), "w", **profile) as out:
            out.write(np.ascontiguousarray(values), 1)
    except Exception as error:
        replaced(folder / name).write_bytes(b"")
        return f"{name}: {said} could not be written ({type(error).__name__})"
    return f"{name}: {said}"


# Whole files -----------------------------------------------------------------------------------------


def _file(folder: Path, rng: Rng) -> str:
    files = sorted(f.name for f in folder.iterdir() if f.is_file())
    one, other = rng.sample(files, 2)
    match rng.randrange(4):
        case 0:
            replaced(folder / one)
            return f"{one} removed"
        case 1:
            data = (folder / other).read_bytes()
            replaced(folder / one).write_bytes(data)
            return f"{one} is {other}"
        case 2:
            replaced(folder / one).mkdir()
            return f"{one} is a folder"
        case _:
            replaced(folder / one).write_bytes(b"")
            return f"{one} is empty"


_WAYS = (_bytes, _bytes, _table, _table, _toml, _toml, _features, _features, _raster, _file)
_GENTLE = (_bytes, _table, _toml, _toml, _features, _features, _features, _features, _raster, _raster)
