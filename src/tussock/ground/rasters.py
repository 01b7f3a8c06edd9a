"""Rasters sampled where they lie: cover, elevation; slope and aspect by Horn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from tussock.errors import InputError
from tussock.geodesy import METRES_PER_DEGREE, Floats, distance_m, transformer_to_wgs84
from tussock.ground.gdal_words import listening
from tussock.tables import is_there

ELEVATIONS_M = (-500.0, 9000.0)
"""Elevations of dry ground [m]: the Dead Sea's shore (−430) to Everest (8,849), both from memory, rounded
outwards."""
MOST_PIXELS = 250_000_000
"""Largest raster read [pixels]: 150 km square at 10 m, the widest region (choice of this project)."""
_MOST_VALUE = 1e38


@dataclass(frozen=True, eq=False)
class Raster:
    """One band of a raster, read whole.

    Attributes
    ----------
    values
        Shape (rows, columns), nan where there is no data.
    inverse
        Affine coefficients (a, b, c, d, e, f): column = a x + b y + c, row = d x + e y + f.
    cell
        Column and row spacing in the raster's own unit, signed.
    geographic
        Whether that unit is the degree.
    """

    values: npt.NDArray[np.float32]
    inverse: tuple[float, float, float, float, float, float]
    cell: tuple[float, float]
    geographic: bool
    from_wgs84: Transformer | None

    def pixels(self, lon: Floats, lat: Floats) -> tuple[Floats, Floats]:
        """Return fractional columns and rows of WGS 84 degrees; pixel k spans [k, k + 1)."""
        x, y = (lon, lat) if self.from_wgs84 is None else self.from_wgs84.transform(lon, lat)
        a, b, c, d, e, f = self.inverse
        x, y = np.asarray(x), np.asarray(y)
        return a * x + b * y + c, d * x + e * y + f

    def at_pixels(self, column: Floats, row: Floats) -> Floats:
        """Return the values of the pixels that hold fractional positions; nan outside."""
        with np.errstate(invalid="ignore"):
            i, j = np.floor(column), np.floor(row)
            here = (i >= 0) & (i < self.values.shape[1]) & (j >= 0) & (j < self.values.shape[0])
        out = np.full(np.shape(i), np.nan)
        out[here] = self.values[j[here].astype(np.int64), i[here].astype(np.int64)]
        return out

    def holds(self, lon: Floats, lat: Floats) -> npt.NDArray[np.bool_]:
        """Return which points lie on the raster, with data or without."""
        column, row = self.pixels(lon, lat)
        rows, columns = self.values.shape
        return np.asarray((column >= 0) & (column < columns) & (row >= 0) & (row < rows))

    def corners(self) -> tuple[Floats, Floats]:
        """Return longitudes and latitudes of the four corners and the middle; inf where there are none."""
        rows, columns = self.values.shape
        i, j = np.array([0, columns, columns, 0, columns / 2]), np.array([0, 0, rows, rows, rows / 2])
        a, _, c, _, e, f = self.inverse
        x, y = (i - c) / a, (j - f) / e
        if self.from_wgs84 is None:
            return x, y
        lon, lat = self.from_wgs84.transform(x, y, direction="INVERSE")
        return np.asarray(lon), np.asarray(lat)

    def sample(self, lon: Floats, lat: Floats) -> Floats:
        """Return the values of the pixels that hold the points; nan outside or without data."""
        return self.at_pixels(*self.pixels(lon, lat))

    def slope_aspect(self, lon: float, lat: float) -> tuple[float, float]:
        """Return slope and aspect [degrees] of the pixel that holds a point; nan without all neighbours."""
        column, row = self.pixels(np.array([lon]), np.array([lat]))
        i, j = math.floor(column[0]), math.floor(row[0])
        if not (1 <= i < self.values.shape[1] - 1 and 1 <= j < self.values.shape[0] - 1):
            return math.nan, math.nan
        grid = self.values[j - 1 : j + 2, i - 1 : i + 2].astype(np.float64)
        width, height = self._ground_cell(i, j, lat)
        return horn(grid, width_m=width, height_m=height)

    def _ground_cell(self, i: int, j: int, lat: float) -> tuple[float, float]:
        """Return the spacing of columns and rows [m] on the ground at a pixel, the row spacing signed."""
        width, height = self.cell
        if self.geographic:
            return width * METRES_PER_DEGREE * math.cos(math.radians(lat)), height * METRES_PER_DEGREE
        if self.from_wgs84 is None:
            return width, height
        # a map's metre is not the ground's: web mercator has 1.35 of them at 42°, others count in feet
        a, _, c, _, e, f = self.inverse
        x, y = (np.array([i, i + 1, i]) + 0.5 - c) / a, (np.array([j, j, j + 1]) + 0.5 - f) / e
        lon, lats = self.from_wgs84.transform(x, y, direction="INVERSE")
        east, south = distance_m(lon[0], lats[0], lon[1:], lats[1:])
        return float(east), math.copysign(float(south), height)

    @cached_property
    def pixel_m(self) -> float:
        """Length of the longer side of a pixel [m], roughly."""
        side = max(abs(self.cell[0]), abs(self.cell[1]))
        return side * METRES_PER_DEGREE if self.geographic else side


def horn(grid: npt.NDArray[np.float64], *, width_m: float, height_m: float) -> tuple[float, float]:
    """Return slope and aspect [degrees] at the middle of a 3 × 3 grid of elevations [m].

    Parameters
    ----------
    grid
        Elevations, first row northernmost where ``height_m`` is negative (as rasters store it).
    width_m, height_m
        Spacing of columns and rows [m]; height negative for north-up rasters.

    Returns
    -------
    tuple
        Slope 0…90 and aspect clockwise from north, the direction the ground falls to; aspect is nan
        on flat ground.

    Source: Horn 1981, Proc. IEEE 69:14–47; checked on printed grids and against ``gdaldem`` output.
    """
    (a, b, c), (d, _, f), (g, h, i) = grid
    east = ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * abs(width_m))
    south = ((g + 2 * h + i) - (a + 2 * b + c)) / (8 * abs(height_m))
    north = -south if height_m < 0 else south
    slope = math.degrees(math.atan(math.hypot(east, north)))
    if not slope:
        return slope, math.nan
    return slope, math.degrees(math.atan2(-east, -north)) % 360.0


def read_raster(path: Path, *, band: int, unit: str, where: str) -> Raster:
    """Return one band of a raster; percent becomes a fraction.

    Raises
    ------
    InputError
        No file, no raster, no CRS, only a ballpark transformation, no such band, not one value, values out
        of range for their unit, no georeference, a rotated grid, or too many pixels.
    """
    if not is_there(path):
        raise InputError("there is no such file", where=where, fix="check 'raster' in region.toml")
    band_read = _band(path, band, where=where)
    values = _in_unit(band_read.values, unit, where=where)
    crs = _crs(band_read.crs, where=where)
    transformer_to_wgs84(crs, where=where)
    same = crs.is_geographic and crs.equals(CRS.from_epsg(4326), ignore_axis_order=True)
    back = None if same else _from_wgs84(crs, where=where)
    transform = band_read.transform
    inverse = ~transform
    return Raster(
        values,
        (inverse.a, inverse.b, inverse.c, inverse.d, inverse.e, inverse.f),
        (transform.a, transform.e),
        bool(crs.is_geographic),
        back,
    )


@dataclass(frozen=True)
class _Band:
    values: npt.NDArray[np.float32]
    crs: str
    transform: Any


def _band(path: Path, band: int, *, where: str) -> _Band:
    """Return a band as it stands in its file, its scale and offset applied."""
    import rasterio
    from rasterio.errors import RasterioError

    with listening():  # no georeference, an old datum: checked below and told in our own words
        try:
            with rasterio.open(path) as source:
                _check_shape(source, band, where=where)
                raw = source.read(band, masked=True)
                values = _numbers(raw, scale=source.scales[band - 1], offset=source.offsets[band - 1])
                crs = source.crs.to_wkt() if source.crs else ""
                transform = source.transform
        except (RasterioError, ValueError, MemoryError) as error:
            if isinstance(error, InputError):
                raise
            reason = str(error).replace(str(path), path.name)[:200]
            raise InputError(f"it cannot be read ({reason})", where=where, allowed="GeoTIFF") from None
    if not np.isfinite(values).any():
        raise InputError("every value is missing", where=where, fix="leave the layer out of region.toml")
    _check_grid(transform, where=where)
    return _Band(values, crs, transform)


def _check_shape(source: Any, band: int, *, where: str) -> None:
    if not 1 <= band <= source.count:
        raise InputError(f"there is no band {band}", where=where, allowed=f"1 to {source.count}")
    kind = source.dtypes[band - 1]
    if "complex" in kind:
        raise InputError(f"its values are {kind} numbers", where=where, allowed="whole or decimal numbers")
    if source.width * source.height > MOST_PIXELS:
        raise InputError(
            f"it has {source.width} × {source.height} pixels",
            where=where,
            allowed=f"up to {MOST_PIXELS:,} pixels",
            fix="cut it to the region",
        )


def _numbers(raw: Any, *, scale: float, offset: float) -> npt.NDArray[np.float32]:
    """Return values as decimal numbers, nan where missing, infinite or beyond what a float32 holds."""
    plain = (scale, offset) == (1, 0) and raw.dtype.itemsize <= 4
    values = np.asarray(np.ma.filled(raw.astype(np.float32 if plain else np.float64), np.nan))
    if not plain:
        values = values * scale + offset
    values[~(np.abs(values) < _MOST_VALUE)] = np.nan
    return values.astype(np.float32, copy=False)


def _check_grid(transform: Any, *, where: str) -> None:
    if transform.is_identity:
        raise InputError(
            "it does not say where on Earth it lies",
            where=where,
            allowed="a GeoTIFF with its place and pixel size",
            fix="georeference it in a GIS program and save it",
        )
    if transform.b or transform.d or not (transform.a and transform.e):
        raise InputError(
            "its rows do not run along an axis of its coordinate system",
            where=where,
            allowed="rows west to east, columns north to south, without rotation",
            fix="warp it to EPSG:4326 in a GIS program",
        )


def _from_wgs84(crs: CRS, *, where: str) -> Transformer:
    try:
        return Transformer.from_crs(CRS.from_epsg(4326), crs, always_xy=True, allow_ballpark=False)
    except ProjError:
        raise InputError(
            f"no exact transformation from WGS 84 to '{crs.name}' is installed",
            where=where,
            fix="save the raster in EPSG:4326",
        ) from None


def _crs(text: str, *, where: str) -> CRS:
    if not text:
        raise InputError(
            "it has no coordinate system (CRS)",
            where=where,
            allowed="a GeoTIFF that states its CRS",
            fix="assign the CRS in a GIS program and save it",
        )
    try:
        crs = CRS.from_wkt(text)
    except CRSError:
        raise InputError(f"its coordinate system '{text[:60]}' is not known", where=where) from None
    if crs.is_geocentric or not (crs.is_geographic or crs.is_projected):
        raise InputError(
            f"the coordinate system '{crs.name}' has no degrees and no map plane",
            where=where,
            allowed="a geographic or projected coordinate system",
            fix="warp it to EPSG:4326 in a GIS program",
        )
    return crs


def _in_unit(values: npt.NDArray[np.float32], unit: str, *, where: str) -> npt.NDArray[np.float32]:
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    least, most = {"m": ELEVATIONS_M, "percent": (0.0, 100.0)}.get(unit, (0.0, 1.0))
    if low < least or high > most:
        raise InputError(
            f"values from {low:g} to {high:g}",
            where=where,
            allowed=f"{least:g} to {most:g} ({unit}), no-data marked as such",
            fix="correct 'unit' or the file's no-data value",
        )
    if unit != "percent":
        return values
    if high <= 1:
        raise InputError(
            f"no value is above {high:g} percent",
            where=where,
            allowed="0 to 100 (percent)",
            fix='write unit = "fraction" if 1 stands for full cover',
        )
    return np.asarray(values / np.float32(100), dtype=np.float32)
