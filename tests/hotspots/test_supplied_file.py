"""Areas as the user drew them, in the formats they come in; what cannot be one is named with the option.

The files are written by geopandas and GDAL, which know nothing of this project; coordinates go there and
back through pyproj's own transformers.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import geopandas
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from tests.support.regions import HOBART
from tussock.errors import InputError
from tussock.hotspots.supplied_file import Supplied, UnitsFile, read_units

KNOWN = shapely.box(0, 0, 2000, 1000)
WEST, EAST = shapely.box(0, 0, 1000, 1000), shapely.box(1000, 0, 2000, 1000)
APART_M = 0.03
"""Of outlines that went there and back [m]: an edge of L = 1,000 m that is straight in degrees bends by
L² tan φ / 8R = 1.8 cm at 42°, and GeoJSON has 7 decimals, 1.1 cm."""


def _frame(*shapes: BaseGeometry, **columns: list[object]) -> geopandas.GeoDataFrame:
    """Return outlines of the plane [m] in degrees."""
    given = columns or {"name": [f"Ward {chr(65 + i)}" for i in range(len(shapes))]}
    return geopandas.GeoDataFrame(given, geometry=list(shapes), crs=HOBART.crs).to_crs(4326)


def _written(folder: Path, *shapes: BaseGeometry, to: str = "wards.gpkg", **columns: list[object]) -> Path:
    path = folder / to
    _frame(*shapes, **columns).to_file(path)
    return path


def _read(path: Path | str, *, field: str | None = None) -> Supplied:
    file = UnitsFile.named(str(path), name_field=field)
    return read_units(file, plane=HOBART, known=KNOWN, region="Nowhere")


@pytest.mark.parametrize("name", ["wards.gpkg", "wards.geojson", "wards.shp", "wards.fgb"])
@pytest.mark.parametrize("epsg", [4326, 28355])
def test_every_format_gives_the_same_areas(name: str, epsg: int, tmp_path: Path) -> None:
    _frame(WEST, EAST).to_crs(epsg).to_file(tmp_path / name)
    found = _read(tmp_path / name)
    order = sorted(range(2), key=found.units.names.__getitem__)  # FlatGeobuf keeps an order of its own
    assert [found.units.names[i] for i in order] == ["Ward A", "Ward B"] and found.notes == ()
    for drawn, i in zip((WEST, EAST), order, strict=True):
        away = shapely.hausdorff_distance(drawn, found.units.polygons[i])
        # EPSG:28355 is on GDA94, which PROJ sets equal to WGS 84 (operation EPSG:1150, all zero)
        assert away < APART_M


def test_a_layer_is_named_after_a_colon_and_a_name_with_a_colon_is_a_name(tmp_path: Path) -> None:
    path = _written(tmp_path, WEST)
    _frame(EAST, ward=["East"]).to_file(path, layer="second")
    assert _read(f"{path}:second", field="ward").units.names == ("East",)
    odd = tmp_path / "a:b.geojson"
    _frame(WEST).to_file(odd)
    assert _read(odd).units.names == ("Ward A",)


def test_the_field_called_name_in_capitals_or_not_else_numbers(tmp_path: Path) -> None:
    assert _read(_written(tmp_path, WEST, to="a.geojson", NAME=["Hill"])).units.names == ("Hill",)
    found = _read(_written(tmp_path, WEST, EAST, to="b.geojson", code=["x", "y"]))
    assert found.units.names == ("1", "2") and "--units-name" in found.notes[0]


def test_several_parts_are_one_area_and_a_broken_outline_is_mended_and_said(tmp_path: Path) -> None:
    parts = shapely.MultiPolygon([shapely.box(0, 0, 100, 100), shapely.box(200, 0, 300, 100)])
    bow = shapely.Polygon([(1000, 0), (2000, 1000), (2000, 0), (1000, 1000)])
    found = _read(_written(tmp_path, parts, bow))
    assert found.units.polygons[0].area == pytest.approx(20_000, rel=1e-4)  # two of 100 m by 100 m
    # both triangles of the bow: 1,000 m wide and 500 m high each
    assert found.units.polygons[1].area == pytest.approx(500_000, rel=1e-4)
    assert found.notes == ("wards.gpkg: 1 invalid geometries repaired (feature 2)",)


def test_areas_where_no_home_is_known_are_left_out_and_named(tmp_path: Path) -> None:
    found = _read(_written(tmp_path, WEST, shapely.box(5000, 0, 6000, 1000)))
    assert found.units.names == ("Ward A",)
    assert "1 area ('Ward B') of wards.gpkg touch" in found.notes[0]


@pytest.mark.parametrize(
    ("shapes", "columns", "words"),
    [
        ([WEST.centroid, EAST], {}, "1 features are not polygons (feature 1)"),
        ([WEST, EAST.boundary], {}, "1 features are not polygons (feature 2)"),
        ([WEST, EAST], {"name": ["a", "a"]}, "2 areas are called 'a' (area 1, 2)"),
        ([WEST, EAST], {"name": ["a", " "]}, "1 of 2 areas have no name (area 2)"),
        ([shapely.box(5000, 0, 6000, 1000)], {}, "none of its 1 areas touches ground of 'Nowhere'"),
        ([shapely.box(300_000, 0, 301_000, 1000)], {}, "km from the region's centre"),
    ],
)
def test_what_is_no_area_of_the_district_is_refused(
    shapes: list[BaseGeometry], columns: dict[str, list[object]], words: str, tmp_path: Path
) -> None:
    with pytest.raises(InputError) as caught:
        _read(_written(tmp_path, *shapes, to="wards.geojson", **columns))
    text = str(caught.value)
    assert words in text and "wards.geojson" in text and " Do: " in text
    assert "region.toml" not in text and "permit_area" not in text


def test_a_file_that_says_too_little_is_refused(tmp_path: Path) -> None:
    path = _written(tmp_path, WEST)
    _frame(EAST).to_file(path, layer="second")
    with pytest.raises(InputError, match=r"2 layers.*--units FILE:LAYER"):
        _read(path)
    with pytest.raises(InputError, match=r"no such layer\. Allowed: wards, second"):
        _read(f"{path}:third")
    with pytest.raises(InputError, match=r"no field ward\. Allowed: name\. Do: .*--units-name"):
        _read(f"{path}:second", field="ward")
    with pytest.raises(InputError, match="it is a folder"):
        _read(tmp_path)
    with pytest.raises(InputError, match="no such file"):
        _read(tmp_path / "nothing.gpkg")
    (tmp_path / "text.geojson").write_text("no map\n", "utf-8")
    with pytest.raises(InputError, match=r"text\.geojson: it cannot be read"):
        _read(tmp_path / "text.geojson")


def test_a_file_without_a_coordinate_system_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "wards.shp"
    _frame(WEST).to_file(path)
    path.with_suffix(".prj").unlink()
    with pytest.raises(InputError, match="no coordinate system"):
        _read(path)


def test_the_hash_is_of_every_part_of_a_shapefile_and_of_nothing_beside_it(tmp_path: Path) -> None:
    path = _written(tmp_path, WEST, to="wards.shp")
    (tmp_path / "wards.gpkg").write_bytes(b"a result of before")
    hashes = UnitsFile.named(str(path)).hashes()
    assert set(hashes) == {f"units: wards{end}" for end in (".cpg", ".dbf", ".prj", ".shp", ".shx")}
    assert hashes["units: wards.shp"] == hashlib.sha256(path.read_bytes()).hexdigest()
