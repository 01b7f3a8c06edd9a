"""Rasters sampled where they lie: cover, elevation; slope and aspect by Horn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt
from pyproj import CRS, Transformer

from tussock.errors import InputError
from tussock.geodesy import METRES_PER_DEGREE, Floats, transformer_to_wgs84


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
        width, height = self.cell
        if self.geographic:
            width, height = (
                width * METRES_PER_DEGREE * math.cos(math.radians(lat)),
                height * METRES_PER_DEGREE,
            )
        return horn(grid, width_m=width, height_m=height)

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
        No file, no raster, no CRS, only a ballpark transformation, no such band, or not one value.
    """
    import rasterio
    from rasterio.errors import RasterioError

    if not path.exists():
        raise InputError("there is no such file", where=where, fix="check 'raster' in region.toml")
    try:
        with rasterio.open(path) as source:
            if not 1 <= band <= source.count:
                raise InputError(f"there is no band {band}", where=where, allowed=f"1 to {source.count}")
            values = source.read(band, masked=True).astype(np.float32).filled(np.nan)
            crs_text, transform = source.crs.to_wkt() if source.crs else "", source.transform
    except RasterioError as error:
        raise InputError(f"it cannot be read ({str(error)[:200]})", where=where, allowed="GeoTIFF") from None
    values = np.where(np.isfinite(values), values, np.float32(np.nan))
    if not np.isfinite(values).any():
        raise InputError("every value is missing", where=where, fix="leave the layer out of region.toml")
    values = _in_unit(values, unit, where=where)
    crs = _crs(crs_text, where=where)
    transformer_to_wgs84(crs, where=where)
    same = crs.is_geographic and crs.equals(CRS.from_epsg(4326), ignore_axis_order=True)
    back = (
        None if same else Transformer.from_crs(CRS.from_epsg(4326), crs, always_xy=True, allow_ballpark=False)
    )
    inverse = ~transform
    return Raster(
        values,
        (inverse.a, inverse.b, inverse.c, inverse.d, inverse.e, inverse.f),
        (transform.a, transform.e),
        bool(crs.is_geographic),
        back,
    )


def _crs(text: str, *, where: str) -> CRS:
    if not text:
        raise InputError(
            "it has no coordinate system (CRS)",
            where=where,
            allowed="a GeoTIFF that states its CRS",
            fix="assign the CRS in a GIS program and save it",
        )
    return CRS.from_wkt(text)


def _in_unit(values: npt.NDArray[np.float32], unit: str, *, where: str) -> npt.NDArray[np.float32]:
    if unit == "m":
        return values
    scaled = values / np.float32(100) if unit == "percent" else values
    low, high = float(np.nanmin(scaled)), float(np.nanmax(scaled))
    if low < 0 or high > 1:
        most = 100 if unit == "percent" else 1
        raise InputError(
            f"values from {float(np.nanmin(values)):g} to {float(np.nanmax(values)):g}",
            where=where,
            allowed=f"0 to {most} ({unit}), no-data marked as such",
            fix="correct 'unit' or the file's no-data value",
        )
    return np.asarray(scaled, dtype=np.float32)
