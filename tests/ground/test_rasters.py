"""Rasters read where they lie, held against rasterio's own reading."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from tests.support import cases
from tests.support.regions import Grid, Ground, made_region, raster_of
from tussock.geodesy import Plane
from tussock.ground.lattice import window_around
from tussock.ground.rasters import Raster, read_raster
from tussock.measure.screened import Screen
from tussock.planning.scoring import coarse_pixels

HERE = (147.6, -42.1)
KINDS: dict[str, tuple[str, float, float]] = {  # CRS, width and height of a pixel in its units
    "degrees": ("EPSG:4326", 0.0002, 0.0001),
    "utm": ("EPSG:32755", 12.0, 20.0),
    "national grid": ("EPSG:28355", 10.0, 10.0),
    "web mercator": ("EPSG:3857", 15.0, 15.0),
}


@dataclass(frozen=True)
class Written:
    path: Path
    crs: str
    values: Any

    def read(self, unit: str = "fraction") -> Raster:
        return read_raster(self.path, band=1, unit=unit, where="test")


def write(
    folder: Path, kind: str, *, scale: float = 1.0, south_up: bool = False, nodata: float | None = None
) -> Written:
    crs, width, height = KINDS[kind]
    x, y = (float(v) for v in Transformer.from_crs(4326, crs, always_xy=True).transform(*HERE))
    values = (np.random.default_rng(4).random((40, 60)) * scale).astype(np.float32)
    if nodata is not None:
        values[3, 4] = nodata
    transform = rasterio.Affine(width, 0, x - 30 * width, 0, -height, y + 20 * height)
    if south_up:
        transform = rasterio.Affine(width, 0, x - 30 * width, 0, height, y - 20 * height)
    about = {"driver": "GTiff", "width": 60, "height": 40, "count": 1, "dtype": "float32", "crs": crs}
    with rasterio.open(folder / "r.tif", "w", **about, transform=transform, nodata=nodata) as out:
        out.write(values, 1)
    return Written(folder / "r.tif", crs, values)


def scattered(crs: str, path: Path) -> tuple[Any, Any, Any, Any]:
    """Return points over the raster and round it: x, y in its CRS, longitude, latitude."""
    with rasterio.open(path) as source:
        t = source.transform
        (w, s), (e, n) = (t.c, t.f), (t.c + 60 * t.a, t.f + 40 * t.e)
        s, n = min(s, n), max(s, n)
    rng = np.random.default_rng(8)
    x, y = rng.uniform(w - 0.1 * (e - w), e + 0.1 * (e - w), 500), rng.uniform(s, n, 500)
    lon, lat = Transformer.from_crs(crs, 4326, always_xy=True).transform(x, y)
    return x, y, lon, lat


@pytest.mark.parametrize("south_up", [False, True])
@pytest.mark.parametrize("kind", KINDS)
def test_a_place_reads_the_pixel_that_holds_it(tmp_path: Path, kind: str, south_up: bool) -> None:
    written = write(tmp_path, kind, south_up=south_up)
    x, y, lon, lat = scattered(written.crs, written.path)
    with rasterio.open(written.path) as source:
        t = source.transform
    rows, columns = np.floor((y - t.f) / t.e).astype(int), np.floor((x - t.c) / t.a).astype(int)
    inside = (rows >= 0) & (rows < 40) & (columns >= 0) & (columns < 60)
    found = written.read().sample(lon, lat)
    assert np.isnan(found[~inside]).all()
    assert (~inside).any()
    assert found[inside] == pytest.approx(written.values[rows[inside], columns[inside]])


def test_percent_becomes_a_fraction_and_no_data_is_not_a_number(tmp_path: Path) -> None:
    written = write(tmp_path, "utm", scale=100.0, nodata=-9999.0)
    values = written.read("percent").values
    assert np.isnan(values[3, 4])
    known = ~np.isnan(values)
    assert known.sum() == 40 * 60 - 1
    assert values[known] == pytest.approx(written.values[known] / 100)


def test_slope_in_degrees_counts_ground_metres(tmp_path: Path) -> None:
    # a plane rising 1 m per 10 m to the east, stored in degrees at 60° north, where a degree of longitude
    # is 55.8 km (WGS 84: π a cos φ / (180 √(1 − e² sin² φ)))
    e2 = 0.00669437999014
    degree = (
        math.pi
        * 6_378_137
        * math.cos(math.radians(60))
        / 180
        / math.sqrt(1 - e2 * math.sin(math.radians(60)) ** 2)
    )
    pixel = 0.0002
    values = np.tile(np.arange(9, dtype=np.float32) * pixel * degree / 10, (9, 1)).astype(np.float32)
    raster = raster_of(Grid(values, 20.0, 60.0009, pixel, pixel, epsg=4326), Plane(20.0, 60.0))
    slope, aspect = raster.slope_aspect(20.0009, 60.0)
    # the package takes the equator's degree times cos φ: 0.25 % less than the ellipsoid's at 60°
    assert math.tan(math.radians(slope)) == pytest.approx(0.1, rel=0.0035)
    assert aspect == pytest.approx(270.0, abs=0.01)


def test_slope_at_the_raster_s_edge_is_not_known() -> None:
    raster = raster_of(Grid(np.zeros((5, 5), np.float32), 0.0, 50.0, 10.0, 10.0), Plane(20.0, 60.0))
    lon, lat = Plane(20.0, 60.0).unproject(5.0, 45.0)
    assert math.isnan(raster.slope_aspect(float(lon), float(lat))[0])


@pytest.mark.parametrize("epsg", [4326, 32755, None])
@pytest.mark.parametrize("cell_m", [10.0, 50.0])
def test_cells_are_placed_in_a_raster_to_a_twentieth_of_a_pixel(epsg: int | None, cell_m: float) -> None:
    # the bound that screening allows for, at pixels as fine as the cells
    plane = Plane(*HERE)
    west, north = -3000.0, 3000.0
    width = height = cell_m
    if epsg is not None:
        x, y = Transformer.from_crs(4326, epsg, always_xy=True).transform(*plane.unproject(west, north))
        west, north = float(x), float(y)
    if epsg == 4326:
        width, height = cell_m / 82_600, cell_m / 111_000
    n = int(6000 / cell_m)
    grid = Grid(np.zeros((n, n), np.float32), west, north, width, height, epsg)
    region = made_region(Ground({"habitat": ()}, plane=plane, cell_m=cell_m, grids={"cover": grid}))
    scene = cases.scene(region, 10.0, 20.0)
    window = window_around(10.0, 20.0, reach_m=2500.0, cell_m=cell_m)
    screen = Screen(scene, window, radius_m=30.0)
    column, row = coarse_pixels(region.raster("cover"), screen)
    x, y = np.meshgrid(window.x, window.y)
    exact = region.raster("cover").pixels(*plane.unproject(x.ravel(), y.ravel()))
    for coarse, true in ((column, exact[0]), (row, exact[1])):
        assert np.abs(coarse.ravel() - true).max() <= 0.05
