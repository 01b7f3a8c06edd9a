"""What a folder of ground data can have wrong: refused in words, or accepted, and then read aright."""

from __future__ import annotations

import math
import sqlite3
import struct
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from pyproj import Transformer

from tests.badinput.folder import (
    GROUND,
    LAT,
    LON,
    OTHER,
    SQUARE,
    Folder,
    refused,
    transform_over,
    write_features,
)
from tussock.ground.region import forget, open_region
from tussock.position import Position

BOW_TIE = shapely.Polygon([(LON, LAT), (LON + 0.01, LAT + 0.01), (LON + 0.01, LAT), (LON, LAT + 0.01)])
POINT, LINE = shapely.Point(LON, LAT), shapely.LineString([(LON, LAT), (LON + 0.001, LAT)])
NOTHING = struct.pack("<BIII", 1, 3, 1, 2) + struct.pack("<4d", LON, LAT, LON + 0.01, LAT)
"""A polygon in WKB whose one ring has two points."""


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return Folder(tmp_path)


def _area_m2(geometry: shapely.Geometry) -> float:
    """Return the geodesic area of a polygon in degrees, by geographiclib."""
    total = 0.0
    for part in shapely.get_parts(geometry):
        ring = Geodesic.WGS84.Polygon()
        for lon, lat in shapely.get_coordinates(part)[:-1]:
            ring.AddPoint(lat, lon)
        total += abs(ring.Compute()[2])
    return total


# Geometries ------------------------------------------------------------------------------------------


def test_layer_without_crs(folder: Folder) -> None:
    folder.features("roads", [LINE], crs=None).refused(
        "roads.gpkg (roads)", "no coordinate system", "Do: assign"
    )


def test_empty_layer(folder: Folder) -> None:
    folder.features("roads", []).refused("roads.gpkg (roads)", "no features", "leave the layer out")


@pytest.mark.parametrize("layer", ["habitat", "parcels", "excluded", "protected", "permit_area"])
@pytest.mark.parametrize(
    "wrong", [POINT, LINE, shapely.GeometryCollection([SQUARE, POINT])], ids=lambda g: g.geom_type
)
def test_area_layer_with_something_else(folder: Folder, layer: str, wrong: shapely.Geometry) -> None:
    fields = {"kind": ["forest", "forest"]}
    folder.features(layer, [SQUARE, wrong], fields, file="a.gpkg", source='class_field = "kind"')
    folder.refused(f"a.gpkg ({layer})", "1 features are not polygons (feature 2)", "polygons only")


def test_extent_of_lines(folder: Folder) -> None:
    folder.top = 'extent = "extent.gpkg"'
    write_features(folder.path / "extent.gpkg", [LINE])
    folder.refused("extent.gpkg", "not polygons")


def test_mixed_and_three_dimensional_geometries_are_accepted(folder: Folder) -> None:
    folder.features("dwellings", [shapely.force_3d(SQUARE, 12.5), POINT, shapely.force_3d(LINE, -1e9)])
    layer = folder.region().layer("dwellings")
    assert len(layer.features) == 3
    assert not shapely.has_z(layer.features.geometries).any()
    assert layer.features.error_m.tolist() == [0, 10, 0]  # a dwelling given as a point has its radius


def test_geometry_collection_is_refused_where_lines_may_be(folder: Folder) -> None:
    folder.features("roads", [shapely.GeometryCollection([LINE, POINT])]).refused(
        "feature 1", "points, lines and polygons"
    )


def test_feature_without_geometry_is_left_out_and_said(folder: Folder) -> None:
    folder.features("dwellings", [SQUARE, None, shapely.Polygon(), OTHER])
    assert len(folder.region().layer("dwellings").features) == 2
    assert (
        "dwellings.gpkg (dwellings): 2 features without a geometry left out (feature 2, 3)" in folder.notes()
    )


def test_layer_of_nothing_but_missing_geometries(folder: Folder) -> None:
    folder.features("dwellings", [None, None]).refused(
        "dwellings.gpkg (dwellings)", "no feature has a geometry"
    )


@pytest.mark.parametrize(
    "broken",
    [
        NOTHING,
        shapely.to_wkb(shapely.Polygon([(LON, LAT), (LON + 0.01, LAT), (LON, LAT)])),
        shapely.to_wkb(shapely.LineString([(LON, LAT), (LON + 0.1, LAT)])).replace(
            struct.pack("<d", LON + 0.1), struct.pack("<d", math.nan)
        ),
        shapely.to_wkb(SQUARE).replace(struct.pack("<d", LON), struct.pack("<d", math.inf)),
    ],
    ids=["ring of two points", "ring of two different points", "not a number", "infinite"],
)
def test_broken_geometry_is_refused_not_dropped(folder: Folder, broken: bytes) -> None:
    """Where a broken feature lies is unknown; to leave it out would be to say that nothing is there."""
    folder.features("protected", [None, SQUARE, broken]) if broken[1] == 3 else folder.features(
        "roads", [None, LINE, broken]
    )
    folder.refused("1 features have a broken geometry (feature 3)", "mend or delete")


def test_bow_tie_keeps_both_wings_and_is_said(folder: Folder) -> None:
    """The wings of the bow tie are two triangles that meet where its diagonals cross."""
    folder.features("protected", [BOW_TIE])
    found = folder.region().layer("protected").features.geometries
    middle = (LON + 0.005, LAT + 0.005)
    wings = [
        shapely.Polygon([(LON, LAT), middle, (LON, LAT + 0.01)]),
        shapely.Polygon([(LON + 0.01, LAT), (LON + 0.01, LAT + 0.01), middle]),
    ]
    assert shapely.area(found).sum() == pytest.approx(sum(map(_area_m2, wings)), rel=2e-5)
    assert "protected.gpkg (protected): 1 invalid geometries repaired (feature 1)" in folder.notes()


def test_overlapping_parts_of_one_reserve_leave_no_hole(folder: Folder) -> None:
    """Even–odd repair would make the overlap ground outside the reserve."""
    one, other = (
        shapely.box(LON, LAT, LON + 0.02, LAT + 0.02),
        shapely.box(LON + 0.01, LAT + 0.01, LON + 0.03, LAT + 0.03),
    )
    folder.features("protected", [shapely.MultiPolygon([one, other])])
    region = folder.region()
    found = region.layer("protected").features.geometries[0]
    x, y = region.plane.project(LON + 0.015, LAT + 0.015)
    assert shapely.contains_xy(found, float(x), float(y))
    assert shapely.area(found) == pytest.approx(_area_m2(shapely.union(one, other)), rel=2e-5)


def test_numbers_of_features_are_those_of_the_file(folder: Folder) -> None:
    """Features left out before do not shift the number that is named."""
    folder.features("protected", [None, None, SQUARE, POINT]).refused("feature 4")


def test_curves_are_drawn_as_lines(folder: Folder) -> None:
    """Half a disc drawn with a curve tool: CIRCULARSTRING through three points, closed by a line."""
    arc = struct.pack("<BII6d", 1, 8, 3, LON, LAT, LON + 0.001, LAT + 0.001, LON + 0.002, LAT)
    chord = struct.pack("<BII4d", 1, 2, 2, LON + 0.002, LAT, LON, LAT)
    ring = struct.pack("<BII", 1, 9, 2) + arc + chord
    folder.features("protected", [struct.pack("<BII", 1, 10, 1) + ring])
    found = folder.region().layer("protected").features.geometries[0]
    half_disc = math.pi * 0.001**2 / 2
    metre = _area_m2(SQUARE) / 0.001**2
    assert shapely.area(found) == pytest.approx(half_disc * metre, rel=2e-3)


# Where it lies ---------------------------------------------------------------------------------------


def test_swapped_axes(folder: Folder) -> None:
    folder.features("dwellings", [shapely.Point(LAT, LON)]).refused(
        "dwellings.gpkg", "−180…180", "axes look swapped"
    )


def test_swapped_axes_within_range(tmp_path: Path) -> None:
    folder = Folder(tmp_path, plane="longitude = 10.0\nlatitude = 50.0\n")
    write_features(tmp_path / "habitat.gpkg", [shapely.box(50.0, 10.0, 50.1, 10.1)], {"kind": ["forest"]})
    folder.refused("habitat.gpkg (habitat)", "1,000 km", "axes look swapped")


def test_one_swapped_feature_among_others_is_said(folder: Folder) -> None:
    folder.features("dwellings", [SQUARE, shapely.Point(42.1, 47.6)])
    assert "1 features reach farther than 1,000 km from the region's centre (feature 2)" in folder.notes()


def test_projected_coordinates_labelled_as_degrees(folder: Folder) -> None:
    box = shapely.box(549_000, 5_338_000, 549_100, 5_338_100)
    folder.features("dwellings", [box]).refused("no degrees of the Earth", "CRS named is not the one")


def test_whole_layer_far_away(folder: Folder) -> None:
    folder.features("protected", [shapely.box(10, 20, 11, 21)]).refused(
        "protected.gpkg", "more than 1,000 km"
    )


def test_layer_labelled_with_the_neighbouring_zone(folder: Folder) -> None:
    """Eastings of zone 55 read as zone 54 lie 6° too far west, and no house would be known.

    496.2 km by geographiclib; the plane stretches that far out.
    """
    there = Transformer.from_crs(4326, 32755, always_xy=True)
    moved = shapely.transform(SQUARE, lambda xy: np.column_stack(there.transform(xy[:, 0], xy[:, 1])))
    folder.features("dwellings", [moved], crs="EPSG:32754")
    folder.refused("dwellings.gpkg (dwellings)", "it lies 497 km", "within 200 km", "zone")


def test_plane_far_from_its_region_by_one_digit(tmp_path: Path) -> None:
    folder = Folder(tmp_path, plane=f"longitude = {LON - 5}\nlatitude = {LAT}\n")
    folder.refused("habitat.gpkg (habitat)", "it lies 410 km", "[plane]")


def test_district_in_the_middle_of_a_state(folder: Folder) -> None:
    """The state's border is far; the state holds the region all the same."""
    folder.features("permit_area", [shapely.box(LON - 4, LAT - 4, LON + 4, LAT + 4)])
    found = folder.region().layer("permit_area").features.geometries[0]
    assert shapely.contains_xy(found, 0.0, 0.0)


def test_region_across_the_antimeridian(tmp_path: Path) -> None:
    """Fiji: drawn in two parts on either side of 180°, the ground is one in the plane."""
    folder = Folder(tmp_path, plane="longitude = 179.99\nlatitude = -17.0\n")
    west, east = shapely.box(179.9, -17.1, 180.0, -16.9), shapely.box(-180.0, -17.1, -179.9, -16.9)
    write_features(tmp_path / "habitat.gpkg", [west, east], {"kind": ["forest", "forest"]})
    found = folder.region().layer("habitat").features.geometries
    assert shapely.area(shapely.union_all(found)) == pytest.approx(_area_m2(west) + _area_m2(east), rel=1e-5)
    assert shapely.distance(found[0], found[1]) < 1e-3


def test_polygon_across_the_whole_earth_for_want_of_a_cut(tmp_path: Path) -> None:
    """The same drawn as one box from −179.9° to 179.9° runs the wrong way round the Earth."""
    folder = Folder(tmp_path, plane="longitude = 179.95\nlatitude = -17.0\n")
    write_features(
        tmp_path / "habitat.gpkg", [shapely.box(-179.9, -17.1, 179.9, -16.9)], {"kind": ["forest"]}
    )
    assert "1 features reach farther than 1,000 km from the region's centre (feature 1)" in folder.notes()


def _half_world() -> shapely.Geometry:
    return shapely.box(0, -90, 180, 90)


@pytest.mark.parametrize(
    "wide",
    [
        shapely.box(-180, -90, 180, 90),
        _half_world(),
        shapely.box(100, -60, 179, 10),
        shapely.box(60, -85, 170, 80),
    ],
    ids=["Earth", "half of it", "a continent", "from pole to tropics"],
)
def test_area_round_the_region_holds_it_however_wide(folder: Folder, wide: shapely.Geometry) -> None:
    """Moved to the plane as it is, the Earth's outline comes out inside out: the region lay outside it."""
    folder.features("dwellings", [OTHER, wide])
    found = folder.region().layer("dwellings").features.geometries
    assert len(found) == 2
    assert shapely.contains_xy(found[1], [0.0, 40_000.0, -40_000.0], [0.0, 40_000.0, -40_000.0]).all()
    assert "(feature 2) and were cut there" in folder.notes()


def test_line_round_the_earth_keeps_its_piece_here(folder: Folder) -> None:
    """The parallel through the region's middle; its piece lies on it, everything else is cut off."""
    folder.features("roads", [shapely.LineString([(-180, LAT), (180, LAT)])])
    found = folder.region().layer("roads").features.geometries[0]
    assert shapely.distance(found, shapely.Point(0, 0)) < 0.01
    assert 2_000_000 < shapely.length(found) < 6_000_000


def test_coordinates_beyond_any_map(folder: Folder) -> None:
    box = shapely.box(LON, LAT, LON + 1e200, LAT + 1)
    folder.features("protected", [SQUARE, box]).refused("broken geometry (feature 2)")


@pytest.mark.parametrize("epsg", [4326, 4283, 3857])
def test_long_edges_run_where_their_coordinates_say(folder: Folder, epsg: int) -> None:
    """An edge of 50 km along a parallel: its middle lies on the parallel, 44 m from the plane's chord.

    Checked against points put along the parallel one by one; web mercator's lines keep parallels too.
    """
    there = Transformer.from_crs(4326, epsg, always_xy=True)
    box = shapely.box(LON - 0.3, LAT, LON + 0.3, LAT + 0.1)
    moved = shapely.transform(box, lambda xy: np.column_stack(there.transform(xy[:, 0], xy[:, 1])))
    folder.features("protected", [moved], crs=f"EPSG:{epsg}")
    region = folder.region()
    found = region.layer("protected").features.geometries[0]
    lon = np.linspace(LON - 0.3, LON + 0.3, 41)
    x, y = region.plane.project(lon, np.full(41, LAT))
    away = shapely.distance(shapely.boundary(found), shapely.points(x, y))
    chord = shapely.LineString([(x[0], y[0]), (x[-1], y[-1])])
    assert shapely.distance(chord, shapely.Point(x[20], y[20])) == pytest.approx(44, abs=2)
    assert away.max() < 0.002


# Coordinate systems ----------------------------------------------------------------------------------

EXACT = [28355, 7855, 32755, 3857, 4283, 7844, 9473]


@pytest.mark.parametrize("epsg", EXACT)
def test_features_in_another_crs_land_where_they_are(folder: Folder, epsg: int) -> None:
    """UTM, MGA94 and MGA2020 zone 55, web mercator, GDA94, GDA2020, Australian Albers."""
    there = Transformer.from_crs(4326, epsg, always_xy=True)
    moved = shapely.transform(SQUARE, lambda xy: np.column_stack(there.transform(xy[:, 0], xy[:, 1])))
    folder.features("dwellings", [moved], crs=f"EPSG:{epsg}").features("excluded", [SQUARE])
    region = folder.region()
    found, plain = (region.layer(n).features for n in ("dwellings", "excluded"))
    off = float(shapely.hausdorff_distance(found.geometries[0], plain.geometries[0]))
    assert off <= float(found.error_m[0]) + 1e-3
    assert (found.error_reason == "datum") == (found.error_m[0] > 0)


@pytest.mark.parametrize(
    ("crs", "words"),
    [
        ("+proj=longlat +ellps=bessel +no_defs", "ballpark"),
        ("EPSG:5711", "no tie to the Earth"),
        ('LOCAL_CS["site grid",UNIT["metre",1]]', "no tie to the Earth"),
        ("EPSG:4978", "centre of the Earth"),
    ],
)
def test_features_without_an_exact_way_to_wgs84(folder: Folder, crs: str, words: str) -> None:
    folder.features("dwellings", [SQUARE], crs=crs).refused("dwellings.gpkg (dwellings)", words, "EPSG:4326")


@pytest.mark.parametrize(
    ("srs", "words"), [(0, "ballpark"), (-1, "no tie to the Earth"), (12345, "no coordinate system")]
)
def test_geopackage_of_undefined_crs(folder: Folder, srs: int, words: str) -> None:
    folder.features("dwellings", [SQUARE])
    with sqlite3.connect(folder.path / "dwellings.gpkg") as file:
        file.execute(f"update gpkg_geometry_columns set srs_id = {srs}")
        file.execute(f"update gpkg_contents set srs_id = {srs}")
    file.close()
    folder.refused("dwellings.gpkg (dwellings)", words)


def test_older_datum_widens_and_says_nothing_on_the_terminal(folder: Folder) -> None:
    """AGD84's best grid is not installed: the operation that is has 3 m (EPSG), and they become width."""
    folder.features("dwellings", [SQUARE], crs="EPSG:4203")
    found = folder.region().layer("dwellings").features
    assert found.error_m[0] >= 3 and found.error_reason == "datum"


def test_layers_asked_for_by_several_threads_keep_their_warnings(tmp_path: Path) -> None:
    """Reading turns the filters of warnings, which all threads share: one must not undo another's.

    The British grid's best transformation is not installed here, which pyproj warns of each time; the
    broken ones among the squares make shapely turn the same filters.
    """
    folder = Folder(tmp_path, plane="longitude = -2.0\nlatitude = 52.0\n")
    square = shapely.box(400_000, 250_000, 400_100, 250_100)
    torn = shapely.Polygon([(4e5, 25e4), (401_000, 251_000), (401_000, 25e4), (4e5, 251_000)])
    write_features(tmp_path / "habitat.gpkg", [square], {"kind": ["forest"]}, crs="EPSG:27700")
    names = [f"own{n}" for n in range(8)]
    for name in names:
        folder.features(name, [torn, square], file=f"{name}.gpkg", crs="EPSG:27700")
    region = folder.region()
    for _ in range(6):
        forget()
        with ThreadPoolExecutor(4) as pool:
            assert [len(f.features) for f in pool.map(region.layer, names)] == [2] * 8


# Fields ----------------------------------------------------------------------------------------------


def test_wrong_field_name(folder: Folder) -> None:
    folder.features("roads", [LINE], {"kind": ["primary"]}, source='class_field = "knd"\nname_field = "nm"')
    folder.refused("roads.gpkg (roads)", "no field knd, nm", "Allowed: kind")


@pytest.mark.parametrize("value", ["jungle", "Forest", "unmapped", "", None])
def test_unknown_habitat_class(folder: Folder, value: Any) -> None:
    folder.features(
        "habitat", [GROUND, SQUARE], {"kind": ["forest", value]}, file="h.gpkg", source='class_field = "kind"'
    )
    folder.refused("h.gpkg (habitat)", f"habitat classes {value or 'empty'}", "Allowed: forest", "crosswalk")


def test_roads_of_no_known_class_are_said(folder: Folder) -> None:
    folder.features(
        "roads", [LINE, LINE, LINE], {"kind": ["Primary", None, "track"]}, source='class_field = "kind"'
    )
    assert "2 roads are of no road class (Primary, empty)" in folder.notes()


NO_DAYS = [
    "20240501", "2024-13", "2024-02-30", "01/05/2024", "1.5.2024", "2024-5-1", "today", "now", "nat", "null",
    "tomorrow", "99999-01-01", "2024.5", "0000", "２０２４-05-01", "2024-05-01T99:00", "-2024-01-01",
]  # fmt: skip


@pytest.mark.parametrize("value", NO_DAYS)
def test_unreadable_date(folder: Folder, value: str) -> None:
    """numpy alone takes "20240501" for the year 20,240,501 and "nat" for never: the house would be gone."""
    folder.features(
        "dwellings", [SQUARE, SQUARE], {"since": ["2024-05-01", value]}, source='valid_from_field = "since"'
    )
    folder.refused("dwellings.gpkg (dwellings)", f"since '{value}' is not a date (feature 2)", "2026-11-21")


@pytest.mark.parametrize(
    ("value", "first", "last"),
    [
        ("2024-05-01", "2024-05-01", "2024-05-01"),
        (" 2024/05/01 ", "2024-05-01", "2024-05-01"),
        ("2024-05-01T23:30:00+10:00", "2024-05-01", "2024-05-01"),
        ("2024-02", "2024-02-01", "2024-02-29"),
        ("2024", "2024-01-01", "2024-12-31"),
        (2024, "2024-01-01", "2024-12-31"),
        (2024.0, "2024-01-01", "2024-12-31"),
        (np.datetime64("2024-05-01T12:00", "ms"), "2024-05-01", "2024-05-01"),
        ("", "0001-01-01", "9999-12-31"),
        (None, "0001-01-01", "9999-12-31"),
    ],
)
def test_dates_that_are_read(folder: Folder, value: Any, first: str, last: str) -> None:
    """A house of 2024 stands from the year's first day, ground closed until 2024 is closed to its last."""
    typed = np.array([value]) if isinstance(value, np.datetime64) else [value]
    source = 'valid_from_field = "a"\nvalid_to_field = "b"'
    found = (
        folder.features("burnt", [SQUARE], {"a": typed, "b": typed}, source=source)
        .region()
        .layer("burnt")
        .features
    )
    assert (str(found.valid_from[0]), str(found.valid_to[0])) == (first, last)


def test_dates_the_wrong_way_round(folder: Folder) -> None:
    """Such a feature would never be in force."""
    days = {"a": ["2024-01-01", "2025-01-01"], "b": ["2024-01-02", "2024-12-31"]}
    folder.features("burnt", [SQUARE, OTHER], days, source='valid_from_field = "a"\nvalid_to_field = "b"')
    folder.refused("burnt.gpkg (burnt)", "2025-01-01", "2024-12-31", "feature 2")


@pytest.mark.parametrize(
    ("field", "values"),
    [
        ("homes_field", ["many"]),
        ("homes_field", [-5.0]),
        ("homes_field", [1e300]),
        ("priority_field", ["high"]),
        ("priority_field", [1e300]),
    ],
)
def test_numbers_that_are_none(folder: Folder, field: str, values: list[Any]) -> None:
    folder.features("dwellings", [SQUARE], {"n": values}, source=f'{field} = "n"')
    folder.refused("dwellings.gpkg (dwellings)", "(feature 1)", "a number from")


def test_numbers_that_are_missing(folder: Folder) -> None:
    folder.features("dwellings", [SQUARE, SQUARE], {"n": [math.nan, 3.0]}, source='homes_field = "n"')
    assert folder.region().layer("dwellings").features.homes.tolist() == [1, 3]


# Files and formats -----------------------------------------------------------------------------------


@pytest.mark.parametrize("driver", ["GeoJSON", "ESRI Shapefile", "FlatGeobuf", "GPKG"])
def test_formats_read_alike(folder: Folder, driver: str) -> None:
    ending = {"GeoJSON": "geojson", "ESRI Shapefile": "shp", "FlatGeobuf": "fgb", "GPKG": "gpkg"}[driver]
    fields = {"kind": ["house", "flats"], "n": [1.0, 40.0]}
    folder.features(
        "dwellings", [SQUARE, OTHER], fields, file=f"d.{ending}", driver=driver, geometry_type="Polygon",
        source='class_field = "kind"\nhomes_field = "n"\nid_field = "n"',
    )  # fmt: skip
    found = folder.region().layer("dwellings").features
    by_class = dict(zip(found.classes, zip(found.homes, found.ids, strict=True), strict=True))
    assert by_class == {"house": (1, "1"), "flats": (40, "40")}
    assert shapely.area(found.geometries).sum() == pytest.approx(_area_m2(SQUARE) + _area_m2(OTHER), rel=2e-5)


def test_shapefile_cuts_field_names_and_they_are_listed(folder: Folder) -> None:
    fields = {"kind_of_building": ["house"]}
    folder.features(
        "dwellings", [SQUARE], fields, file="d.shp", driver="ESRI Shapefile", geometry_type="Polygon",
        source='class_field = "kind_of_building"',
    )  # fmt: skip
    folder.refused("d.shp (dwellings)", "no field kind_of_building", "Allowed: kind_of_bu")


@pytest.mark.parametrize(
    ("part", "words"), [(".prj", "no coordinate system"), (".shx", "cannot be read"), (".dbf", "no field n")]
)
def test_shapefile_with_a_part_missing(folder: Folder, part: str, words: str) -> None:
    folder.features(
        "dwellings", [SQUARE], {"n": [1.0]}, file="d.shp", driver="ESRI Shapefile", geometry_type="Polygon",
        source='homes_field = "n"',
    )  # fmt: skip
    (folder.path / "d.shp").with_suffix(part).unlink()
    folder.refused("d.shp (dwellings)", words)


def test_several_layers_and_none_named(folder: Folder) -> None:
    """Reading the first would take roads for dwellings."""
    folder.features("roads", [LINE], file="g.gpkg", layer="roads", source='layer = "roads"')
    folder.features("dwellings", [SQUARE], file="g.gpkg", layer="houses")
    folder.refused("g.gpkg (dwellings)", "2 layers, and none is named", "Allowed: roads, houses", "layer =")


def test_layer_that_is_not_there(folder: Folder) -> None:
    folder.features("dwellings", [SQUARE], source='layer = "hoses"').refused(
        "dwellings.gpkg, layer hoses", "'hoses'"
    )


def _text(text: str) -> Callable[[Path], object]:
    return lambda path: path.write_text(text, encoding="utf-8")


def _half(path: Path) -> None:
    write_features(path, [SQUARE] * 3000)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 2 // 3])


SPOILT: dict[str, Callable[[Path], object]] = {
    "zero bytes": _text(""),
    "some text": _text("hello " * 100),
    "a folder": lambda path: path.mkdir(),
    "cut short": _half,
    "not there": lambda path: None,
}


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT)
@pytest.mark.parametrize("name", ["d.gpkg", "d.geojson", "d.shp", "d.fgb"])
def test_unreadable_files(folder: Folder, name: str, spoil: Callable[[Path], object]) -> None:
    if spoil is _half:
        _half(folder.path / "whole.gpkg")
        (folder.path / "whole.gpkg").rename(folder.path / name)
    else:
        spoil(folder.path / name)
    said = folder.listed("dwellings", name).refused(f"{name} (dwellings)")
    assert str(folder.path) not in said


@pytest.mark.parametrize("name", ["d.shp", "d.tif", "d.geojson", "d"])
def test_wrong_extension_is_read_for_what_it_is(folder: Folder, name: str) -> None:
    write_features(folder.path / "d.gpkg", [SQUARE])
    (folder.path / "d.gpkg").rename(folder.path / name)
    folder.listed("dwellings", name)
    assert len(folder.region().layer("dwellings").features) == 1
    assert str(folder.path) not in folder.notes()


def _collection(*geometries: str) -> str:
    rows = ",".join(f'{{"type":"Feature","properties":{{}},"geometry":{g}}}' for g in geometries)
    return f'{{"type":"FeatureCollection","features":[{rows}]}}'


GOOD_POINT = f'{{"type":"Point","coordinates":[{LON},{LAT}]}}'


@pytest.mark.parametrize(
    "spoilt",
    [
        '{"type":"Polygon","coordinates":[[[147.6,-42.1],[147.61,-42.1]]]}',
        f'{{"type":"Point","coordinates":[NaN,{LAT}]}}',
        f'{{"type":"Point","coordinates":[1e999,{LAT}]}}',
    ],
    ids=["ring of two points", "not a number", "infinite"],
)
def test_geojson_of_broken_geometries(folder: Folder, spoilt: str) -> None:
    (folder.path / "d.geojson").write_text(_collection(GOOD_POINT, spoilt))
    folder.listed("dwellings", "d.geojson").refused("d.geojson (dwellings)")


@pytest.mark.parametrize(
    "spoilt",
    [
        "null",
        '{"type":"Pint","coordinates":[147.6,-42.1]}',
        '{"type":"Point","coordinates":[147.6]}',
        '{"type":"Point","coordinates":["147.6","-42.1"]}',
        '{"type":"Polygon","coordinates":[]}',
    ],
    ids=["null", "unknown type", "one coordinate", "coordinates in quotes", "no ring"],
)
def test_geojson_of_missing_geometries_is_said(folder: Folder, spoilt: str) -> None:
    (folder.path / "d.geojson").write_text(_collection(GOOD_POINT, spoilt))
    folder.listed("dwellings", "d.geojson")
    assert "without a geometry left out (feature 2)" in folder.notes()


@pytest.mark.parametrize("text", ["null", "[]", "{}", '{"type":"FeatureCollection"}', _collection(), '{"a":'])
def test_geojson_that_is_none(folder: Folder, text: str) -> None:
    (folder.path / "d.geojson").write_text(text)
    folder.listed("dwellings", "d.geojson").refused("d.geojson (dwellings)")


# Rasters ---------------------------------------------------------------------------------------------


def _slope_of_ten_percent(rows: int = 60, columns: int = 60) -> np.ndarray:
    """Elevations on a plane that rises 1 m in 10 m eastwards, at 30 m pixels."""
    return np.tile((100 + 3.0 * np.arange(columns)).astype(np.float32), (rows, 1))


COVER = np.linspace(0, 1, 10_000, dtype=np.float32).reshape(100, 100)


def _spoilt(at: float, value: float, kind: str = "f4") -> np.ndarray:
    out = (COVER * at).astype(kind)
    out[50, 50] = value
    return out


@pytest.mark.parametrize(
    ("values", "unit", "words"),
    [
        (np.full((9, 9), np.nan, "f4"), "fraction", "every value is missing"),
        (np.full((9, 9), 1e300), "fraction", "every value is missing"),
        (COVER * 100, "fraction", "values from 0 to 100"),
        (COVER, "percent", 'write unit = "fraction"'),
        (_spoilt(100, -9999, "i2"), "percent", "no-data marked as such"),
        (_spoilt(1, 7.0), "fraction", "values from 0 to 7"),
        (COVER.astype("c8"), "fraction", "complex64"),
    ],
    ids=[
        "all nan",
        "all huge",
        "percent as fraction",
        "fraction as percent",
        "unmarked no-data",
        "one above",
        "complex",
    ],
)
def test_cover_that_is_refused(folder: Folder, values: np.ndarray, unit: str, words: str) -> None:
    folder.raster("cover", values, unit=unit).refused("cover.tif (cover)", words)


@pytest.mark.parametrize("value", [-9999.0, -32768.0, 30_000.0])
def test_elevation_with_unmarked_no_data(folder: Folder, value: float) -> None:
    folder.raster("elevation", _spoilt(500, value), unit="m").refused(
        "elevation.tif", "-500 to 9000 (m)", "no-data"
    )


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e300])
def test_single_missing_values_are_unknown_there(folder: Folder, value: float) -> None:
    folder.raster("cover", _spoilt(1, value, "f8"), unit="fraction")
    cover = folder.region().raster("cover")
    lon, lat = np.array([LON + 0.0005, LON + 0.0095]), np.array([LAT - 0.0005, LAT - 0.0005])
    assert np.isnan(cover.sample(lon, lat)).tolist() == [True, False]


def test_marked_no_data_is_unknown(folder: Folder) -> None:
    folder.raster("cover", _spoilt(100, 255, "u1"), unit="percent", nodata=255)
    sampled = folder.region().raster("cover").sample(np.array([LON + 0.0005]), np.array([LAT - 0.0005]))
    assert np.isnan(sampled).all()


def test_scale_and_offset_of_a_band_are_applied(folder: Folder) -> None:
    """Stored 0…100 with scale 0.01 is a fraction; stored decimetres above 100 m are metres."""
    folder.raster("cover", np.full((9, 9), 35, "u1"), unit="fraction", scale=0.01)
    folder.raster("elevation", np.full((9, 9), 1234, "i2"), unit="m", scale=0.1, offset=100.0)
    region, at = folder.region(), (np.array([LON]), np.array([LAT]))
    assert region.raster("cover").sample(*at)[0] == pytest.approx(0.35, abs=1e-6)
    assert region.raster("elevation").sample(*at)[0] == pytest.approx(223.4, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "unit", "allowed"),
    [
        ("cover", "m", "fraction or percent"),
        ("cover", "acres", "fraction or percent"),
        ("elevation", "percent", "m"),
        ("moisture", "", "fraction or percent or m"),
    ],
)
def test_wrong_unit(folder: Folder, name: str, unit: str, allowed: str) -> None:
    folder.raster(name, COVER, unit=unit).refused(
        f"region.toml, layer {name}", f"raster unit '{unit}'", allowed
    )


@pytest.mark.parametrize("epsg", EXACT[:4])
def test_raster_in_another_crs_gives_the_same_within_a_pixel(folder: Folder, epsg: int) -> None:
    """The same ground in degrees and in another CRS: values along a ramp agree to a pixel's step."""
    from rasterio.warp import reproject, transform_bounds

    bounds = transform_bounds("EPSG:4326", f"EPSG:{epsg}", *GROUND.bounds)
    there = np.full((140, 140), np.nan, np.float32)
    to = transform_over(bounds, columns=140, rows=140)
    source = transform_over(GROUND.bounds, columns=100, rows=100)
    ramp = np.tile(np.linspace(0, 1, 100, dtype=np.float32), (100, 1))
    reproject(
        ramp,
        there,
        src_transform=source,
        src_crs="EPSG:4326",
        dst_transform=to,
        dst_crs=f"EPSG:{epsg}",
        dst_nodata=np.nan,
    )
    folder.raster("cover", ramp, unit="fraction")
    folder.raster("other", there, unit="fraction", crs=f"EPSG:{epsg}", transform=to)
    region = folder.region()
    rng = np.random.default_rng(5)
    lon, lat = LON + rng.uniform(-0.045, 0.045, 500), LAT + rng.uniform(-0.045, 0.045, 500)
    plain, moved = region.raster("cover").sample(lon, lat), region.raster("other").sample(lon, lat)
    assert np.isfinite(moved).all()
    assert np.abs(plain - moved).max() <= 1 / 99 + 1e-6


@pytest.mark.parametrize(("epsg", "unit_m"), [(32755, 1.0), (3857, 1.0), (2227, 0.3048006096)])
def test_slope_is_taken_on_the_ground_whatever_the_map_counts_in(
    tmp_path: Path, epsg: int, unit_m: float
) -> None:
    """A plane rising 3 m from column to column, pixels 30 map units wide.

    Its slope is 3 m over the geodesic length of a pixel, here by geographiclib: web mercator stretches by
    1.35 at 42°, EPSG:2227 counts in US survey feet.
    """
    lon, lat = (-122.0, 37.5) if epsg == 2227 else (LON, LAT)
    folder = Folder(tmp_path, plane=f"longitude = {lon}\nlatitude = {lat}\n")
    write_features(
        tmp_path / "habitat.gpkg",
        [shapely.box(lon - 0.05, lat - 0.05, lon + 0.05, lat + 0.05)],
        {"kind": ["forest"]},
    )
    there = Transformer.from_crs(4326, epsg, always_xy=True)
    x, y = there.transform(lon, lat)
    to = _transform(30, 0, x - 900, 0, -30, y + 900)
    folder.raster("elevation", _slope_of_ten_percent(), unit="m", crs=f"EPSG:{epsg}", transform=to)
    slope, _ = folder.region().raster("elevation").slope_aspect(lon, lat)
    (lon1, lat1), (lon2, lat2) = (there.transform(x + d, y, direction="INVERSE") for d in (-15, 15))
    ground = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"]
    assert ground == pytest.approx(30 * unit_m * (0.742 if epsg == 3857 else 1.0), rel=2e-3)
    assert slope == pytest.approx(math.degrees(math.atan(3 / ground)), rel=1e-3)


def _transform(*six: float) -> Any:
    from rasterio.transform import Affine

    return Affine(*six)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"crs": None}, "no coordinate system"),
        ({"transform": _transform(1, 0, 0, 0, 1, 0)}, "does not say where on Earth"),
        ({"transform": _transform(0, 0.001, 147.55, 0.001, 0, -42.15)}, "rows do not run along an axis"),
        ({"transform": _transform(8e-4, 5e-4, 147.55, 5e-4, -8e-4, -42.05)}, "rows do not run along an axis"),
        ({"transform": _transform(0.001, 0, 10, 0, -0.001, 50)}, "outside the region"),
        ({"transform": _transform(0.001, 0, -42.15, 0, -0.001, 147.65)}, "outside the region"),
        ({"transform": _transform(30, 0, 540_000, 0, -30, 5_345_000)}, "outside the region"),
        ({"crs": "+proj=longlat +ellps=bessel +no_defs"}, "ballpark"),
        ({"crs": "EPSG:5711"}, "no degrees and no map plane"),
        ({"crs": 'LOCAL_CS["site grid",UNIT["metre",1]]'}, "no degrees and no map plane"),
        ({"crs": "EPSG:4978"}, "no degrees and no map plane"),
    ],
    ids=[
        "no crs",
        "no place",
        "turned by 90°",
        "turned by 32°",
        "elsewhere",
        "axes swapped",
        "metres as degrees",
        "ballpark",
        "heights",
        "site grid",
        "geocentric",
    ],
)
def test_rasters_that_lie_nowhere(folder: Folder, how: dict[str, Any], words: str) -> None:
    folder.raster("cover", COVER, unit="fraction", **how).refused("cover.tif (cover)", words)


def test_raster_over_part_of_the_region_is_accepted(folder: Folder) -> None:
    folder.raster("cover", COVER, unit="fraction", transform=_transform(1e-5, 0, LON, 0, -1e-5, LAT))
    folder.raster("more", COVER, unit="fraction", transform=_transform(0.1, 0, LON - 5, 0, -0.1, LAT + 5))
    assert folder.region().raster("cover").values.shape == (100, 100)
    assert folder.notes().count("outside") == 0


@pytest.mark.parametrize(
    "spoil", [s for n, s in SPOILT.items() if n != "cut short"], ids=[n for n in SPOILT if n != "cut short"]
)
def test_unreadable_rasters(folder: Folder, spoil: Callable[[Path], object]) -> None:
    spoil(folder.path / "c.tif")
    folder.raster_listed("cover", "c.tif", "fraction").refused("c.tif (cover)")


def test_raster_cut_short(folder: Folder) -> None:
    folder.raster("cover", np.random.default_rng(1).random((400, 400), dtype=np.float32), unit="fraction")
    path = folder.path / "cover.tif"
    path.write_bytes(path.read_bytes()[:300_000])
    folder.refused("cover.tif (cover)", "cannot be read")


def test_band_that_is_not_there(folder: Folder) -> None:
    folder.raster("cover", COVER, unit='fraction"\nband = 5\nlicence = "').refused(
        "cover.tif (cover)", "no band 5", "1 to 1"
    )


def test_features_where_a_raster_is_wanted_and_the_reverse(folder: Folder) -> None:
    folder.features("cover", [SQUARE]).raster("protected", COVER, unit="fraction")
    folder.refused("layer cover is given as features", "layer protected is given as a raster")


def test_users_own_raster_asked_for_as_features(folder: Folder) -> None:
    folder.raster("burnt", COVER, unit="fraction")
    refused(lambda: folder.region().layer("burnt"), "layer burnt is a raster", "[[layers.burnt.sources]]")


# region.toml -----------------------------------------------------------------------------------------

HUGE = "0x" + "f" * 5000


@pytest.mark.parametrize(
    "value", ["0", "-10", "0.5", "201", "nan", "inf", "true", '"10"', "[]", "2026-01-01", HUGE, "9" * 5000]
)
def test_cell_size(folder: Folder, value: str) -> None:
    folder.plane += f"cell_m = {value}\n"
    folder.refused("region.toml", "cell_m" if value != "9" * 5000 else "not TOML")


def test_every_fault_of_region_toml_at_once(tmp_path: Path) -> None:
    (tmp_path / "region.toml").write_text(
        'name = 5\ncountry = "xx"\n[plane]\nlongitude = 999\nlatitude = "a"\ncell_m = -1\n'
        "[layers.habitat]\nbogus = 1\nas_of = 0\nposition_error_m = true\n"
        '[[layers.habitat.sources]]\nfile = ""\n'
    )
    said = refused(lambda: open_region(tmp_path), "9 faults")
    for key in (
        "name",
        "country",
        "longitude",
        "latitude",
        "cell_m",
        "bogus",
        "as_of",
        "position_error_m",
        "file",
    ):
        assert key in said
    assert "^[A-Z]{2}$" in said  # the pattern as it is, not in lower case


def test_faults_of_every_layer_at_once(folder: Folder) -> None:
    folder.features("roads", [], file="r.gpkg").listed("dwellings", "none.gpkg").raster_listed(
        "cover", "none.tif", "fraction"
    )
    folder.refused("3 faults", "r.gpkg (roads)", "none.gpkg (dwellings)", "none.tif (cover)")


@pytest.mark.parametrize("key", ["file", "layer", "class_field", "name_field"])
@pytest.mark.parametrize("value", ["", " ", "a\\u0000b", "a\\nb", "\\u202etfi.a", "a" * 2000])
def test_names_that_no_file_or_field_has(folder: Folder, key: str, value: str) -> None:
    source = f'{key} = "{value}"'
    if key == "file":
        folder.parts.append(f"[layers.roads]\n[[layers.roads.sources]]\n{source}\n")
    else:
        folder.listed("roads", "habitat.gpkg", source)
    folder.refused("region.toml", key)


@pytest.mark.parametrize("key", ["extent", "layers.roads.extent"])
@pytest.mark.parametrize("value", ["", "a\\u0000b", "none.gpkg", "a" * 300])
def test_extents_that_are_not_there(folder: Folder, key: str, value: str) -> None:
    """An empty name must not mean that the box of the data is known to be complete."""
    if key == "extent":
        folder.top = f'extent = "{value}"'
    else:
        folder.features("roads", [LINE])
        folder.parts[-1] = folder.parts[-1].replace("[[", f'extent = "{value}"\n[[')
    folder.refused("extent" if value != "none.gpkg" else "none.gpkg")


@pytest.mark.parametrize(
    ("layer", "said"),
    [
        ("Dwellings", "dwellings"),
        ("peopled places", "peopled_places"),
        ("ROADS", "roads"),
        ("permit-area", "permit_area"),
    ],
)
def test_standard_layer_in_other_spelling(folder: Folder, layer: str, said: str) -> None:
    """It would be a layer of the user's own, and the standard one would be missing."""
    folder.listed(f'"{layer}"', "habitat.gpkg").refused(f"a layer named '{layer}'", f"[layers.{said}]")


@pytest.mark.parametrize(("layer", "to"), [("habitat", "jungle"), ("roads", "residental")])
def test_crosswalk_to_no_class(folder: Folder, layer: str, to: str) -> None:
    folder.listed(layer, "habitat.gpkg", f'class_field = "kind"\n[layers.{layer}.crosswalk]\nforest = "{to}"')
    folder.refused(f"region.toml, layer {layer}", f"'{to}'", "crosswalk")


def test_class_given_twice(folder: Folder) -> None:
    folder.listed("roads", "habitat.gpkg", 'class_field = "kind"\nclass_value = "track"')
    folder.refused("region.toml, layer roads, source 1", "both 'class_field' and 'class_value'")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x00\x01",
        "name = 'é'".encode("latin-1"),
        "name = 'x'".encode("utf-16"),
        b"a=" + b"[" * 100_000,
        b'a = "x"\na = "y"',
    ],
    ids=["empty", "bytes", "latin-1", "utf-16", "deep", "twice"],
)
def test_region_toml_that_is_none(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "region.toml").write_bytes(data)
    refused(lambda: open_region(tmp_path), "region.toml")


def test_region_toml_with_byte_order_mark(folder: Folder) -> None:
    folder.region()
    path = folder.path / "region.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert open_region(folder.path).file.name == "test"


def test_file_named_by_its_whole_path(folder: Folder) -> None:
    """The hash of the record is under the file's name; where it lies is nobody's business."""
    write_features(folder.path / "roads.gpkg", [LINE])
    folder.listed("roads", str(folder.path / "roads.gpkg"))
    elsewhere = folder.path.parent / f"{folder.path.name}-elsewhere"
    elsewhere.mkdir()
    write_features(elsewhere / "water.gpkg", [LINE])
    folder.listed("water", str(elsewhere / "water.gpkg"))
    region = folder.region()
    assert len(region.layer("water").features) == 1
    assert set(region.hashes()) == {"region.toml", "habitat.gpkg", "roads.gpkg", "water.gpkg"}


@pytest.mark.parametrize("name", ["none", "a\0b", "a" * 5000, "region.toml"])
def test_folder_that_is_none(folder: Folder, name: str) -> None:
    folder.region()
    refused(lambda: open_region(folder.path / name), "region.toml")


def test_region_without_features(folder: Folder) -> None:
    folder.parts = ["[layers]\n"]
    text = f'name = "x"\n[plane]\n{folder.plane}[layers.cover]\nraster = "c.tif"\nunit = "fraction"\n'
    (folder.path / "region.toml").write_text(text)
    refused(lambda: open_region(folder.path), "no feature layer", "habitat and dwellings")


def test_plane_far_from_its_region(tmp_path: Path) -> None:
    """Within 200 km, so that the layers are read, but where the plane's scale errs by 0.03 %."""
    folder = Folder(tmp_path, plane=f"longitude = {LON - 2}\nlatitude = {LAT}\n")
    region = folder.region()
    refused(
        lambda: region.check_holds(Position(LON, LAT, 5), where="capture"),
        "165 km",
        "110 km",
        "middle of the region",
    )


def test_capture_outside_names_the_region_and_its_bounds(folder: Folder) -> None:
    region = folder.region()
    region.check_holds(Position(LON, LAT, 5), where="--at")
    for lon, lat in ((LON, -LAT), (-LON, LAT), (LAT, 47.6), (LON + 0.06, LAT), (0.0, LAT)):
        at = Position(lon, lat, 5)
        refused(partial(region.check_holds, at, where="--at"), "--at", "'test'", "swapped")
