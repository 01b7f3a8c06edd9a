"""Pictures: PNG read back by OpenCV and GDAL, the warp against pyproj and GDAL's warper."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from rasterio.io import MemoryFile
from rasterio.transform import Affine
from rasterio.warp import Resampling, reproject

from tussock.geodesy import Plane
from tussock.ground.lattice import Window
from tussock.maps.png import png_address, png_bytes
from tussock.maps.warp import mercator, unmercator, warp

PALETTE = [(k, 255 - k, k // 2, 200 if k else 0) for k in range(200)]


@pytest.mark.filterwarnings("ignore:Dataset has no geotransform")  # a picture has none
@pytest.mark.parametrize("colours", [2, 3, 4, 7, 16, 17, 200])
@pytest.mark.parametrize("columns", [1, 7, 8, 13])
def test_png_is_read_by_others_as_written(colours: int, columns: int) -> None:
    rng = np.random.default_rng(colours)
    indexes = rng.integers(0, colours, (11, columns), dtype=np.uint8)
    data = png_bytes(indexes, PALETTE[:colours])
    read = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    assert read is not None
    wanted = np.array([(b, g, r, a) for r, g, b, a in PALETTE[:colours]], np.uint8)[indexes]
    assert np.array_equal(read, wanted)
    with MemoryFile(data) as memory, memory.open() as band:
        assert np.array_equal(band.read(1), indexes)


def test_png_address_asks_no_host() -> None:
    assert png_address(np.zeros((2, 2), np.uint8), PALETTE[:2]).startswith("data:image/png;base64,iVBOR")


def test_mercator_and_back() -> None:
    # EPSG guidance note 7-2, "Popular Visualisation Pseudo-Mercator": 24°22'54.433"N, 100°20'00.000"W
    # is easting -11169055.58, northing 2800000.00
    x, y = mercator(-(100 + 20 / 60), 24 + 22 / 60 + 54.433 / 3600)
    assert float(x) == pytest.approx(-11169055.58, abs=0.01)
    assert float(y) == pytest.approx(2800000.00, abs=0.01)
    lon, lat = unmercator(x, y)
    assert (float(lon), float(lat)) == pytest.approx((-100.333333, 24.381787), abs=1e-6)


@pytest.mark.parametrize("latitude", [-42.9, 0.0, 53.5, 68.0])
@pytest.mark.parametrize("east_m", [0, 60_000])
def test_warp_shows_the_cell_beneath_each_pixel(latitude: float, east_m: int) -> None:
    plane = Plane(147.3, latitude)
    window = Window(east_m // 10 - 500, -300, 1000, 800, 10.0)
    made = warp(window, plane)
    rows, columns = made.cells.shape
    west, south = (float(v) for v in mercator(made.west, made.south))
    east, north = (float(v) for v in mercator(made.east, made.north))
    px = west + (np.arange(columns) + 0.5) * (east - west) / columns
    py = north - (np.arange(rows) + 0.5) * (north - south) / rows
    x, y = plane.project(*unmercator(*np.meshgrid(px, py)))
    i, j = x / 10 - window.column, y / 10 - window.row
    inside = (i > 0) & (i < window.columns) & (j > 0) & (j < window.rows)
    shown = made.cells < window.columns * window.rows
    # KNOTS promises a tenth of a cell
    assert np.abs(made.cells[shown] % window.columns + 0.5 - i[shown]).max() <= 0.6
    assert np.abs(made.cells[shown] // window.columns + 0.5 - j[shown]).max() <= 0.6
    assert (inside != shown).mean() < 0.002
    assert len(np.unique(made.cells[shown])) > 0.75 * window.columns * window.rows


def test_warp_agrees_with_gdal() -> None:
    plane = Plane(13.3, 53.5)
    window = Window(-200, 100, 400, 300, 10.0)
    rng = np.random.default_rng(5)
    blocks = rng.integers(1, 5, (10, 10), dtype=np.uint8)
    values = np.kron(blocks, np.ones((30, 40), np.uint8))
    made = warp(window, plane)
    ours = made.picture(values)
    west, south = (float(v) for v in mercator(made.west, made.south))
    east, north = (float(v) for v in mercator(made.east, made.north))
    theirs = np.zeros_like(ours)
    dx, dy = (east - west) / ours.shape[1], (north - south) / ours.shape[0]
    w, _, _, n = window.bounds
    reproject(
        values[::-1], theirs, src_transform=Affine(10, 0, w, 0, -10, n), src_crs=plane.crs.to_wkt(),
        dst_transform=Affine(dx, 0, west, 0, -dy, north), dst_crs="EPSG:3857",
        resampling=Resampling.nearest,
    )  # fmt: skip
    # they may differ along block edges, by half a pixel
    assert (ours != theirs).mean() < 0.01
