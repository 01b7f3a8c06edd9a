"""Slope and aspect by Horn: printed grids, and the real slope raster of a sanctuary.

Sources: Esri, *How Slope works* (ArcGIS Desktop 10.4 help) and *How Aspect works*: the grids and
figures as printed there; Horn 1981, Proc. IEEE 69:14–47 (from memory). The raster: Kagwene Gorilla
Sanctuary (Funwi-Gabga & Mateu 2012, data of spatstat.data, GPL-2+, acknowledgement WCS–TMLP), whose
``slopeangle.tif`` is the output of ``gdaldem slope`` (Horn) on ``elevation.tif`` to 2e-6°.
"""

from __future__ import annotations

import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Proj

from tests.support.extracts import absent
from tussock.geodesy import Floats
from tussock.ground.rasters import horn, read_raster

SLOPE_GRID = np.array([[50, 45, 50], [30, 30, 30], [8, 10, 10]], dtype=float)
ASPECT_GRID = np.array([[101, 92, 85], [101, 92, 85], [101, 91, 84]], dtype=float)


def test_printed_slope() -> None:
    slope, _ = horn(SLOPE_GRID, width_m=5.0, height_m=-5.0)
    assert slope == pytest.approx(75.25762, abs=0.000005 + 1e-4)
    assert math.tan(math.radians(slope)) == pytest.approx(3.80032, abs=0.000005 + 1e-5)


def test_printed_aspect() -> None:
    _, aspect = horn(ASPECT_GRID, width_m=1.0, height_m=-1.0)
    assert aspect == pytest.approx(92.64, abs=0.005)


def test_flat_ground_has_no_aspect() -> None:
    slope, aspect = horn(np.full((3, 3), 7.0), width_m=5.0, height_m=-5.0)
    assert (slope, math.isnan(aspect)) == (0.0, True)


@pytest.mark.parametrize(("fall", "expected"), [((0, 1), 90), ((0, -1), 270), ((1, 0), 180), ((-1, 0), 0)])
def test_aspect_is_where_the_ground_falls_to(fall: tuple[int, int], expected: float) -> None:
    # by hand: rows go south, columns east; the ground falls 5 m a cell towards the side named
    rows, columns = np.mgrid[0:3, 0:3]
    grid = 100.0 - 5.0 * (fall[0] * rows + fall[1] * columns)
    slope, aspect = horn(grid, width_m=5.0, height_m=-5.0)
    assert (slope, aspect) == pytest.approx((45, expected))
    # the same stored southernmost row first
    assert horn(grid[::-1], width_m=5.0, height_m=5.0) == pytest.approx((45, expected))


def inner(values: Floats) -> Floats:
    """Return the nine neighbours of every pixel that has them all, shape (n, m, 3, 3)."""
    return np.lib.stride_tricks.sliding_window_view(values, (3, 3))


def test_the_slope_raster_of_kagwene(test_data: Path) -> None:
    with rasterio.open(test_data / "kagwene" / "elevation.tif") as source:
        elevation, cell = source.read(1).astype(float), source.transform
    with rasterio.open(test_data / "kagwene" / "slopeangle.tif") as source:
        printed = source.read(1).astype(float)[1:-1, 1:-1]
    grids = inner(elevation)
    known = np.isfinite(grids).all(axis=(2, 3)) & np.isfinite(printed)
    assert known.sum() > 15_000
    ours = np.array([horn(g, width_m=cell.a, height_m=cell.e)[0] for g in grids[known]])
    assert np.abs(ours - printed[known]).max() <= 1e-4


def test_a_place_reads_the_slope_of_its_pixel_on_the_ground(test_data: Path) -> None:
    # gdaldem counts the grid's metres; on the ground they are longer or shorter by the grid's scale there
    raster = read_raster(test_data / "kagwene" / "elevation.tif", band=1, unit="m", where="elevation")
    with rasterio.open(test_data / "kagwene" / "slopeangle.tif") as source:
        printed = source.read(1).astype(float)
        to_degrees = Proj(source.crs)
        rng = np.random.default_rng(5)
        rows, columns = rng.integers(1, 148, 400), rng.integers(1, 180, 400)
        east, north = source.xy(rows, columns)
    lon, lat = to_degrees(np.asarray(east), np.asarray(north), inverse=True)
    checked = 0
    for k, (row, column) in enumerate(zip(rows, columns, strict=True)):
        slope, _ = raster.slope_aspect(float(lon[k]), float(lat[k]))
        if math.isnan(slope) or math.isnan(printed[row, column]):
            continue
        scale = to_degrees.get_factors(lon[k], lat[k]).meridional_scale
        expected = math.degrees(math.atan(math.tan(math.radians(printed[row, column])) * scale))
        assert slope == pytest.approx(expected, abs=1e-4)
        checked += 1
    assert checked > 200


@pytest.mark.parametrize(("width", "height"), [(10.0, 10.0), (7.0, 19.0)])
def test_gdaldem(tmp_path: Path, width: float, height: float) -> None:
    if shutil.which("gdaldem") is None:
        absent("gdaldem is not installed (Debian: gdal-bin)")
    values = np.random.default_rng(3).uniform(0, 40, (30, 40)).astype(np.float32)
    transform = rasterio.Affine(width, 0.0, 500_000.0, 0.0, -height, 5_900_000.0)
    about = {
        "driver": "GTiff",
        "width": 40,
        "height": 30,
        "count": 1,
        "dtype": "float32",
        "crs": "EPSG:32633",
    }
    with rasterio.open(tmp_path / "dem.tif", "w", **about, transform=transform) as out:
        out.write(values, 1)
    found = {}
    for what in ("slope", "aspect"):
        command = ["gdaldem", what, str(tmp_path / "dem.tif"), str(tmp_path / f"{what}.tif"), "-q"]
        subprocess.run(command, check=True, capture_output=True)
        with rasterio.open(tmp_path / f"{what}.tif") as source:
            found[what] = source.read(1).astype(float)[1:-1, 1:-1]
    grids = inner(values.astype(float))
    ours = np.array([[horn(g, width_m=width, height_m=-height) for g in row] for row in grids])
    assert np.abs(ours[..., 0] - found["slope"]).max() <= 1e-4
    if width == height:  # gdaldem leaves the pixel's sides out of the aspect, which is right for squares only
        assert np.abs((ours[..., 1] - found["aspect"] + 180) % 360 - 180).max() <= 1e-3
