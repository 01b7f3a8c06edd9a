"""The import on scenes drawn here node by node, so that the right answer is known by hand."""

from __future__ import annotations

import json
import struct
import tomllib
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio.raw
import pytest
import shapely

from tussock.errors import InputError, UsageError
from tussock.geodesy import Plane
from tussock.ground.osm import region_from_osm
from tussock.ground.osm_crosswalk import osm_crosswalk, worldcover_crosswalk
from tussock.ground.osm_extent import extent_from_box, widened
from tussock.ground.osm_geometry import read_wkb
from tussock.ground.osm_protobuf import running
from tussock.names import HABITAT_CLASSES, ROAD_CLASSES

BOX = (10.0, 45.0, 10.04, 45.03)
Tags = Mapping[str, str]


@dataclass
class Scene:
    """An OpenStreetMap extract in the making."""

    box: tuple[float, float, float, float] | None = BOX
    replicated: int | None = None
    nodes: list[tuple[int, float, float, Tags]] = field(default_factory=list)
    ways: list[tuple[int, list[int], Tags]] = field(default_factory=list)
    relations: list[tuple[int, list[tuple[int, str]], Tags]] = field(default_factory=list)

    def node(self, number: int, lon: float, lat: float, **tags: str) -> int:
        self.nodes.append((number, lon, lat, tags))
        return number

    def way(self, number: int, points: Iterable[tuple[float, float]], **tags: str) -> None:
        refs = [self.node(number * 100 + n, *xy) for n, xy in enumerate(points)]
        self.ways.append((number, refs, tags))

    def area(self, number: int, lon: float, lat: float, size: float = 0.001, **tags: str) -> None:
        """A square whose south-west corner is given."""
        corners = [(lon, lat), (lon + size, lat), (lon + size, lat + size), (lon, lat + size)]
        self.way(number, corners, **tags)
        self.ways[-1][1].append(self.ways[-1][1][0])

    def write(self, path: Path) -> Path:
        header: list[tuple[int, int | bytes]] = [(1, _header_box(self.box))] if self.box else []
        header += [(4, b"OsmSchema-V0.6"), (4, b"DenseNodes")]
        header += [(32, self.replicated)] if self.replicated is not None else []
        path.write_bytes(_blob(b"OSMHeader", _message(header)) + _blob(b"OSMData", self._block()))
        return path

    def _block(self) -> bytes:
        table = [b""]

        def tag_fields(tags: Tags) -> list[tuple[int, Any]]:
            if not tags:
                return []
            table.extend(t.encode() for pair in tags.items() for t in pair)
            first = len(table) - 2 * len(tags)
            return [
                (2, b"".join(_varint(first + 2 * n) for n in range(len(tags)))),
                (3, b"".join(_varint(first + 2 * n + 1) for n in range(len(tags)))),
            ]

        groups = [
            [
                (
                    1,
                    _message(
                        [(1, _zigzag(i)), *tag_fields(t), (8, _zigzag(_units(y))), (9, _zigzag(_units(x)))]
                    ),
                )
                for i, x, y, t in sorted(self.nodes, key=lambda n: n[0])
            ],
            [(3, _message([(1, i), *tag_fields(t), (8, _steps(refs))])) for i, refs, t in self.ways],
            [
                (
                    4,
                    _message(
                        [
                            (1, i),
                            *tag_fields(t),
                            (8, b"".join(_varint(_role(table, r)) for _, r in members)),
                            (9, _steps([m for m, _ in members])),
                            (10, b"\x01" * len(members)),
                        ]
                    ),
                )
                for i, members, t in self.relations
            ],
        ]
        made = [_message(g) for g in groups if g]
        return _message([(1, _message([(1, t) for t in table])), *((2, g) for g in made)])


def _role(table: list[bytes], role: str) -> int:
    table.append(role.encode())
    return len(table) - 1


def _units(degrees: float) -> int:
    return round(degrees * 1e7)


def _varint(value: int) -> bytes:
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes([*out, value])


def _zigzag(value: int) -> int:
    return value * 2 if value >= 0 else -value * 2 - 1


def _steps(numbers: list[int]) -> bytes:
    return b"".join(_varint(_zigzag(b - a)) for a, b in zip([0, *numbers], numbers, strict=False))


def _message(fields: Iterable[tuple[int, int | bytes]]) -> bytes:
    out = b""
    for number, value in fields:
        if isinstance(value, int):
            out += _varint(number << 3) + _varint(value)
        else:
            out += _varint(number << 3 | 2) + _varint(len(value)) + value
    return out


def _header_box(box: tuple[float, float, float, float]) -> bytes:
    west, south, east, north = (_zigzag(round(v * 1e9)) for v in box)
    return _message([(1, west), (2, east), (3, north), (4, south)])


def _blob(kind: bytes, data: bytes) -> bytes:
    body = _message([(2, len(data)), (3, zlib.compress(data))])
    head = _message([(1, kind), (3, len(body))])
    return struct.pack(">I", len(head)) + head + body


def town() -> Scene:
    """A hamlet whose every feature has one right class."""
    s = Scene()
    s.area(1, 10.010, 45.010, 0.0002, building="yes", name="<script>alert(1)</script>")
    s.area(2, 10.011, 45.010, 0.0002, building="garage")
    s.area(3, 10.012, 45.010, 0.0002, building="house")
    s.area(4, 10.013, 45.010, 0.0002, building="gazebo")  # a value that nobody has listed
    s.node(1, 10.014, 45.010, building="farm")
    s.node(2, 10.030, 45.025, **{"addr:housenumber": "7"})
    s.node(3, 10.0101, 45.0101, **{"addr:housenumber": "1"})
    s.way(10, [(10.0, 45.001), (10.01, 45.001)], highway="motorway")
    s.way(11, [(10.01, 45.001), (10.02, 45.001)], highway="motorway", bridge="viaduct")
    s.way(12, [(10.02, 45.001), (10.03, 45.001)], highway="motorway", tunnel="yes")
    s.way(13, [(10.0, 45.005), (10.04, 45.005)], highway="residential")
    s.way(14, [(10.0, 45.006), (10.04, 45.006)], highway="proposed")
    s.way(15, [(10.0, 45.007), (10.04, 45.007)], highway="somethingnew")
    s.way(20, [(10.0, 45.02), (10.02, 45.02)], waterway="river")
    s.way(21, [(10.02, 45.02), (10.021, 45.02)], waterway="river", tunnel="culvert")
    s.way(22, [(10.03, 45.0), (10.03, 45.03)], railway="rail")
    s.way(23, [(10.031, 45.0), (10.031, 45.03)], railway="abandoned")
    s.area(30, 10.001, 45.012, natural="wood")
    s.area(31, 10.003, 45.012, landuse="forest")
    s.area(32, 10.005, 45.012, landuse="grass")
    s.area(33, 10.007, 45.012, natural="water")
    s.area(34, 10.001, 45.015, landuse="forest", natural="scrub")  # what grows there, not what it is for
    s.area(35, 10.003, 45.015, leisure="nature_reserve")
    s.area(36, 10.005, 45.015, leisure="pitch")
    s.area(37, 10.007, 45.015, leisure="playground")
    s.area(38, 10.020, 45.012, 0.002, natural="coastline")  # an island's shore: a line, not an area of water
    return s


def rows(region: Path, layer: str) -> dict[str, dict[str, Any]]:
    """Return id → fields and geometry of a layer that was written."""
    meta, _, wkb, columns = pyogrio.raw.read(region / "ground.gpkg", layer=layer)
    fields = dict(zip(meta["fields"], columns, strict=True))
    out = {}
    for n, blob in enumerate(wkb):
        out[fields["osm_id"][n]] = {k: v[n] for k, v in fields.items()} | {"geometry": shapely.from_wkb(blob)}
    return out


def classes(region: Path, layer: str) -> dict[str, str]:
    return {i: row["class"] for i, row in rows(region, layer).items()}


@pytest.fixture
def region(tmp_path: Path) -> Path:
    region_from_osm(town().write(tmp_path / "town.osm.pbf"), out=tmp_path / "town", as_of=date(2026, 3, 1))
    return tmp_path / "town"


def test_every_building_is_a_dwelling_unless_listed(region: Path) -> None:
    found = classes(region, "dwellings")
    assert found == {
        "node/1": "house",
        "way/1": "unknown",
        "way/3": "house",
        "way/4": "unknown",
    }
    spot = rows(region, "dwellings")["node/1"]["geometry"]
    assert (spot.x, spot.y) == pytest.approx((10.014, 45.010), abs=1e-9)


def test_roads_by_class_and_those_not_built_left_out(region: Path) -> None:
    assert classes(region, "roads") == {
        "way/10": "motorway",
        "way/11": "motorway",
        "way/12": "motorway",
        "way/13": "residential",
        "way/15": "path",
    }
    assert rows(region, "roads")["way/11"]["bridge"] == "viaduct"


def test_bridges_tunnels_and_culverts_do_not_block(region: Path) -> None:
    assert classes(region, "barriers") == {"way/10": "motorway", "way/20": "river", "way/22": "rail"}
    assert classes(region, "railways") == {"way/22": "rail"}
    assert "way/21" not in classes(region, "water")


def test_habitat_and_what_lies_above_it(region: Path) -> None:
    found = rows(region, "habitat")
    assert {i: r["class"] for i, r in found.items()} == {
        "way/30": "forest",
        "way/31": "forest",
        "way/32": "garden",
        "way/33": "water",
        "way/34": "shrubland",
        "way/36": "garden",
        "way/37": "garden",
    }
    assert found["way/33"]["priority"] > found["way/31"]["priority"] == found["way/32"]["priority"]
    assert classes(region, "protected") == {"way/35": "nature_reserve"}
    assert classes(region, "excluded") == {"way/36": "sports_ground"}
    assert classes(region, "peopled_places") == {"way/37": "playground"}


def test_a_closed_coastline_is_a_shore_and_no_area_of_water(region: Path) -> None:
    shore = rows(region, "water")["way/38"]
    assert (shore["class"], shore["geometry"].geom_type) == ("coast", "LineString")


def test_region_file_and_report(tmp_path: Path) -> None:
    path = town().write(tmp_path / "town.osm.pbf")
    report = region_from_osm(path, out=tmp_path / "r", as_of=date(2026, 3, 1), country="it")
    told = tomllib.loads((tmp_path / "r" / "region.toml").read_text())
    assert told["plane"] == {"longitude": 10.0, "latitude": 45.0, "cell_m": 10.0}
    assert told["country"] == "IT"
    assert told["layers"]["dwellings"]["as_of"] == date(2026, 3, 1)
    for layer in told["layers"].values():
        assert layer["attribution"] == "© OpenStreetMap contributors, ODbL 1.0"
        assert layer["complete"] == "not checked"
    assert report.counts["dwellings"] == 4
    assert report.buildings == 5
    assert report.loose_addresses == 1  # number 7; number 1 stands at its house
    text = "\n".join(report.lines())
    assert "not checked" in text
    assert "House numbers further than 25 m from any building: 1" in text


def test_the_replication_date_is_the_as_of_date_when_none_is_given(tmp_path: Path) -> None:
    s = town()
    s.replicated = int(datetime(2025, 12, 24, 20, tzinfo=UTC).timestamp())
    report = region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    assert (report.as_of, report.as_of_from) == (date(2025, 12, 24), "the file's replication date")


def test_without_any_date_the_as_of_is_unknown_and_said(tmp_path: Path) -> None:
    report = region_from_osm(town().write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    assert report.as_of is None
    assert "as_of" not in (tmp_path / "r" / "region.toml").read_text()
    assert any("give --as-of" in line for line in report.lines())


def test_unmapped_ground_is_the_extent_less_the_habitat(tmp_path: Path) -> None:
    s = Scene(box=(10.0, 45.0, 10.02, 45.01))
    s.way(1, [(10.0, 45.0), (10.02, 45.01)], highway="residential")
    s.way(2, [(10.0, 45.01), (10.02, 45.0)], highway="residential")
    s.way(3, [(10.0, 45.005), (10.02, 45.005)], highway="track")
    s.area(4, 10.0, 45.0, 0.005, natural="wood")
    s.area(5, 10.0, 45.0, 0.004, natural="scrub")  # inside the wood: counted once
    report = region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    assert report.extent_cut_km2 == 0
    whole, wood = (_geodesic_ha(b) for b in ((10.0, 45.0, 10.02, 45.01), (10.0, 45.0, 10.005, 45.005)))
    assert report.extent_km2 * 100 == pytest.approx(whole, rel=1e-4)  # the plane's scale
    assert report.unmapped_ha == pytest.approx(whole - wood, rel=1e-4)


def _geodesic_ha(box: tuple[float, float, float, float]) -> float:
    """Area on the ellipsoid by another road than the plane."""
    from geographiclib.geodesic import Geodesic

    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in shapely.get_coordinates(shapely.segmentize(shapely.box(*box), 0.001))[:-1]:
        polygon.AddPoint(lat, lon)
    return abs(float(polygon.Compute()[2])) / 1e4


def test_a_building_that_outlines_a_relation_is_not_lost(tmp_path: Path) -> None:
    """GDAL gives the school and swallows its two blocks, whose own tags say that they are buildings."""
    s = town()
    s.area(50, 10.015, 45.013, 0.0003, building="yes")
    s.area(51, 10.016, 45.013, 0.0003, building="yes")
    s.relations.append((7, [(50, "outer"), (51, "outer")], {"type": "multipolygon", "amenity": "school"}))
    region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    assert {"way/50", "way/51"} <= set(classes(tmp_path / "r", "dwellings"))
    assert classes(tmp_path / "r", "peopled_places")["relation/7"] == "school"


def test_areas_that_lack_a_way_are_named(tmp_path: Path) -> None:
    s = town()
    s.way(60, [(10.0, 45.0), (10.04, 45.03)])
    members = [(60, "outer"), (999, "outer")]
    tags = {"type": "boundary", "boundary": "protected_area", "name": "Otter Fen"}
    s.relations.append((8, members, tags))
    report = region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    assert [(m.osm_id, m.layer, m.what) for m in report.cut] == [
        ("relation/8", "protected", "protected_area Otter Fen")
    ]
    assert any("relation/8 (protected" in line for line in report.lines())


def test_natural_ground_that_lacks_a_corner_is_left_unmapped(tmp_path: Path) -> None:
    """A straight line across the missing corner may take in other ground; what is not natural stays."""
    s = town()
    s.area(70, 10.027, 45.016, natural="wood")
    s.area(71, 10.0275, 45.016, landuse="residential")
    for _, refs, _ in s.ways[-2:]:
        s.nodes = [n for n in s.nodes if n[0] != refs[2]]
    report = region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    assert [(m.osm_id, m.what) for m in report.cut] == [("way/70", "forest")]
    assert classes(tmp_path / "r", "habitat")["way/71"] == "built"


def test_a_house_cut_down_to_one_corner_stays_as_a_point(tmp_path: Path) -> None:
    s = town()
    s.area(80, 10.018, 45.018, 0.0002, building="house")
    s.area(81, 10.019, 45.018, 0.0002, natural="wood")
    corners = {r for _, refs, _ in s.ways[-2:] for r in refs[1:4]}
    s.nodes = [n for n in s.nodes if n[0] not in corners]
    report = region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    left = rows(tmp_path / "r", "dwellings")["way/80"]["geometry"]
    assert left.geom_type == "Point"
    assert (left.x, left.y) == pytest.approx((10.018, 45.018), abs=1e-9)
    assert [(m.osm_id, m.layer) for m in report.repaired] == [("way/80", "dwellings")]
    assert "way/81" not in classes(tmp_path / "r", "habitat")


def test_crossed_outlines_are_made_valid_and_named(tmp_path: Path) -> None:
    s = town()
    bow = [(10.02, 45.02), (10.021, 45.021), (10.021, 45.02), (10.02, 45.021)]
    s.way(90, bow, natural="wetland")
    s.ways[-1][1].append(s.ways[-1][1][0])
    report = region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    made = rows(tmp_path / "r", "habitat")["way/90"]["geometry"]
    assert made.is_valid
    assert made.area == pytest.approx(2 * 0.001 * 0.0005 / 2, rel=1e-6)  # two triangles
    assert [(m.osm_id, m.what) for m in report.repaired] == [("way/90", "self-intersection")]


def test_what_lies_wholly_more_than_a_kilometre_outside_is_left_out(tmp_path: Path) -> None:
    s = town()
    metre = 1 / 111_320  # degrees of latitude, about
    s.area(95, 10.01, 45.03 + 900 * metre, 0.0002, building="house")
    s.area(96, 10.01, 45.03 + 1100 * metre, 0.0002, building="house")
    s.way(97, [(10.02, 45.02), (10.3, 45.4)], highway="track")  # starts inside: whole, not clipped
    report = region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    found = classes(tmp_path / "r", "dwellings")
    assert "way/95" in found
    assert "way/96" not in found
    assert report.outside == 1
    assert rows(tmp_path / "r", "roads")["way/97"]["geometry"].bounds[3] == pytest.approx(45.4)


def test_widened_reaches_at_least_so_far() -> None:
    from geographiclib.geodesic import Geodesic

    for box in ((13.1, 53.4, 13.4, 53.6), (147.0, -43.6, 148.0, -42.0), (-0.5, -0.5, 0.5, 0.5)):
        west, south, east, north = widened(box, by_m=1000)
        for lat in (box[1], box[3]):
            assert Geodesic.WGS84.Inverse(lat, box[0], lat, west)["s12"] >= 1000
            assert Geodesic.WGS84.Inverse(lat, box[2], lat, east)["s12"] >= 1000
        assert Geodesic.WGS84.Inverse(box[1], box[0], south, box[0])["s12"] >= 1000
        assert Geodesic.WGS84.Inverse(box[3], box[0], north, box[0])["s12"] >= 1000


# --- known extent ------------------------------------------------------------


def test_empty_squares_are_cut_only_where_they_join_the_edge() -> None:
    """A 5 km square about the origin; columns and rows −3…2, those at the rim half squares or quarters."""
    plane = Plane(10.0, 0.0)
    (west, east), (south, north) = plane.unproject(np.array([-2500.0, 2500.0]), np.array([-2500.0, 2500.0]))
    empty = {
        (2, 0),  # at the edge, half a square: cut
        (1, 0),  # joins it: cut
        (-1, -1),  # inside, alone: stays
        (0, 1),  # touches (1, 0) at a corner only: stays
    }
    cells = [(i, j) for i in range(-3, 3) for j in range(-3, 3) if (i, j) not in empty]
    centres = (
        np.array([[min(max(i + 0.5, -2.4), 2.4), min(max(j + 0.5, -2.4), 2.4)] for i, j in cells]) * 1000
    )
    box = (float(west), float(south), float(east), float(north))
    known = extent_from_box(box, np.array([shapely.Point(c) for c in centres], dtype=object), plane=plane)
    assert known.cut_m2 == pytest.approx(1.5e6, rel=1e-6)
    assert known.area_m2 == pytest.approx(25e6 - 1.5e6, rel=1e-6)
    for cell, inside in (((2, 0), False), ((1, 0), False), ((-1, -1), True), ((0, 1), True)):
        spot = shapely.Point((min(cell[0] + 0.5, 2.4)) * 1000, (cell[1] + 0.5) * 1000)
        assert known.geometry.contains(spot) is inside


def test_a_given_extent_is_cut_to_the_box_and_kept_otherwise(tmp_path: Path) -> None:
    path = town().write(tmp_path / "town.osm.pbf")
    outline = _geojson(tmp_path, shapely.box(10.01, 45.0, 10.06, 45.02))
    report = region_from_osm(path, out=tmp_path / "r", extent=outline)
    written = shapely.from_geojson(json.dumps(json.loads((tmp_path / "r/known_extent.geojson").read_text())))
    assert written.bounds == pytest.approx((10.01, 45.0, 10.04, 45.02), abs=1e-8)
    assert report.extent_cut_km2 == pytest.approx(_geodesic_ha((10.04, 45.0, 10.06, 45.02)) / 100, rel=1e-3)


def test_a_file_without_box_asks_for_an_extent_and_works_with_one(tmp_path: Path) -> None:
    s = town()
    s.box = None
    path = s.write(tmp_path / "town.osm.pbf")
    with pytest.raises(InputError, match=r"header has no box.*--extent FILE"):
        region_from_osm(path, out=tmp_path / "r")
    report = region_from_osm(path, out=tmp_path / "r", extent=_geojson(tmp_path, shapely.box(*BOX)))
    assert report.counts["dwellings"] == 4
    assert report.plane == (10.0, 45.0)


@pytest.mark.parametrize(
    ("geometry", "crs", "message"),
    [
        (shapely.Point(10.01, 45.01), "EPSG:4326", "1 of 1 features are not polygons"),
        (shapely.box(45.0, 10.0, 45.03, 10.04), "EPSG:4326", "no ground in common"),
        (shapely.box(10.0, 145.0, 10.1, 145.1), "EPSG:4326", "no longitude and latitude"),
    ],
)
def test_an_extent_that_cannot_be_used(tmp_path: Path, geometry: Any, crs: str, message: str) -> None:
    path = town().write(tmp_path / "town.osm.pbf")
    with pytest.raises(InputError, match=message):
        region_from_osm(path, out=tmp_path / "r", extent=_geojson(tmp_path, geometry))
    assert not (tmp_path / "r").exists()


def test_an_extent_in_a_national_grid_is_transformed(tmp_path: Path) -> None:
    from pyproj import Transformer

    there = Transformer.from_crs(4326, 32632, always_xy=True)
    corners = [there.transform(x, y) for x, y in ((10.0, 45.0), (10.02, 45.0), (10.02, 45.02), (10.0, 45.02))]
    target = tmp_path / "outline.gpkg"
    pyogrio.raw.write(
        str(target),
        shapely.to_wkb(np.array([shapely.Polygon(corners)], dtype=object)),
        [],
        [],
        layer="o",
        driver="GPKG",
        crs="EPSG:32632",
        geometry_type="Polygon",
    )
    region_from_osm(town().write(tmp_path / "t.osm.pbf"), out=tmp_path / "r", extent=target)
    written = shapely.from_geojson((tmp_path / "r/known_extent.geojson").read_text())
    assert written.bounds == pytest.approx((10.0, 45.0, 10.02, 45.02), abs=1e-6)


def test_an_extent_file_that_is_none(tmp_path: Path) -> None:
    path = town().write(tmp_path / "town.osm.pbf")
    (tmp_path / "x.geojson").write_text("no json")
    with pytest.raises(InputError, match="cannot be read"):
        region_from_osm(path, out=tmp_path / "r", extent=tmp_path / "x.geojson")
    with pytest.raises(InputError, match="no such file"):
        region_from_osm(path, out=tmp_path / "r", extent=tmp_path / "y.geojson")


def _geojson(folder: Path, geometry: Any) -> Path:
    path = folder / "outline.geojson"
    feature = {"type": "Feature", "properties": {}, "geometry": json.loads(shapely.to_geojson(geometry))}
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    return path


# --- the folder ------------------------------------------------------------


def test_same_file_same_bytes_and_a_second_run_replaces_the_first(tmp_path: Path) -> None:
    path = town().write(tmp_path / "town.osm.pbf")
    contents = []
    for out in (tmp_path / "one" / "r", tmp_path / "two" / "r", tmp_path / "one" / "r"):
        region_from_osm(path, out=out)
        contents.append({p.name: p.read_bytes() for p in sorted(out.iterdir())})
    assert sorted(contents[0]) == ["ground.gpkg", "known_extent.geojson", "region.toml"]
    assert contents[0] == contents[1] == contents[2]


def test_a_region_keeps_its_plane(tmp_path: Path) -> None:
    s = town()
    region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    s.box = (10.0, 45.0, 10.2, 45.2)  # the next extract is larger, its centre elsewhere
    report = region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    assert report.plane == (10.0, 45.0)


def test_a_region_of_another_district_is_not_overwritten(tmp_path: Path) -> None:
    region_from_osm(town().write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")
    far = Scene(box=(20.0, 45.0, 20.04, 45.03))
    far.way(1, [(20.0, 45.0), (20.04, 45.03)], highway="track")
    with pytest.raises(InputError, match=r"centred 78\d km from this extract"):
        region_from_osm(far.write(tmp_path / "b.osm.pbf"), out=tmp_path / "r")


def test_foreign_and_edited_folders_are_refused_without_force(tmp_path: Path) -> None:
    path = town().write(tmp_path / "town.osm.pbf")
    out = tmp_path / "r"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    with pytest.raises(InputError, match="did not write"):
        region_from_osm(path, out=out)
    assert [p.name for p in out.iterdir()] == ["notes.txt"]
    region_from_osm(path, out=out, force=True)
    assert (out / "notes.txt").read_text() == "mine"
    region_from_osm(path, out=out)  # it is a region of ours now
    with (out / "region.toml").open("a") as f:
        f.write("\n[layers.parcels]\n")
    with pytest.raises(InputError, match="changed since"):
        region_from_osm(path, out=out)
    region_from_osm(path, out=out, force=True)
    assert "parcels" not in (out / "region.toml").read_text()


def test_nothing_is_left_behind_when_it_fails(tmp_path: Path) -> None:
    s = Scene()
    s.node(1, 10.01, 45.01, natural="tree")
    path = s.write(tmp_path / "a.osm.pbf")
    with pytest.raises(InputError, match="nothing in it is of use"):
        region_from_osm(path, out=tmp_path / "r")
    assert [p.name for p in tmp_path.iterdir()] == ["a.osm.pbf"]


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    path = town().write(tmp_path / "town.osm.pbf")
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="it is a file"):
        region_from_osm(path, out=tmp_path / "file")
    with pytest.raises(InputError, match="cannot be written"):
        region_from_osm(path, out=tmp_path / "file" / "below")


# --- bad files ------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "the file is empty"),
        (b"PK\x03\x04 this is something else entirely", "not an OpenStreetMap PBF"),
        (b"<?xml version='1.0'?><osm></osm>", "not an OpenStreetMap PBF"),
    ],
)
def test_not_a_pbf(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "a.osm.pbf"
    path.write_bytes(content)
    with pytest.raises(InputError, match=message):
        region_from_osm(path, out=tmp_path / "r")


def test_a_file_cut_short_anywhere_is_refused(tmp_path: Path) -> None:
    whole = town().write(tmp_path / "town.osm.pbf").read_bytes()
    path = tmp_path / "a.osm.pbf"
    for length in [*range(1, len(whole), 97), len(whole) - 1]:
        path.write_bytes(whole[:length])
        with pytest.raises(InputError, match=r"cut short or damaged|not an OpenStreetMap PBF|nothing in it"):
            region_from_osm(path, out=tmp_path / "r")


def test_other_names_and_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        region_from_osm(tmp_path / "none.osm.pbf", out=tmp_path / "r")
    path = town().write(tmp_path / "town.osm.zip")
    with pytest.raises(InputError, match=r"its name ends in '\.zip'"):
        region_from_osm(path, out=tmp_path / "r")


@pytest.mark.parametrize(
    ("box", "message"),
    [
        ((10.04, 45.0, 10.0, 45.03), "is not one"),
        ((10.0, 45.0, 13.0, 45.03), r"237 km wide\. Allowed: 150 km"),  # N cos 45° · 3° = 236.55
        ((10.5, 45.5, 10.6, 45.6), "no road or building"),
    ],
)
def test_boxes_that_cannot_be(tmp_path: Path, box: tuple[float, float, float, float], message: str) -> None:
    s = town()
    s.box = box
    s.way(99, [(10.5, 45.595), (10.51, 45.6)], waterway="stream")
    with pytest.raises(InputError, match=message):
        region_from_osm(s.write(tmp_path / "a.osm.pbf"), out=tmp_path / "r")


def test_a_country_is_two_letters(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="'Italy' is no country code"):
        region_from_osm(tmp_path / "a.osm.pbf", out=tmp_path / "r", country="Italy")


# --- small parts ------------------------------------------------------------


def test_a_bad_hole_costs_the_hole_and_not_the_lake() -> None:
    shell = [(0, 0), (4, 0), (4, 4), (0, 4), (0, 0)]
    lake = shapely.to_wkb(shapely.MultiPolygon([shapely.Polygon(shell)]))
    ring = struct.pack("<I4d", 2, 1.0, 1.0, 1.0, 1.0)
    blob = lake[:14] + struct.pack("<I", 2) + lake[18:] + ring  # one ring more
    geometry, note = read_wkb(np.array([blob, lake, None], dtype=object))
    assert geometry[0].area == geometry[1].area == 16
    assert list(note) == ["a ring of fewer than four points left out", "", "no geometry"]
    assert geometry[2] is None


def test_packed_differences_start_anew_with_each_list() -> None:
    lists = [[5, 3, 900], [], [-7], [2**40, 2**40 + 1]]
    numbers, which = running([_steps(n) for n in lists])
    assert numbers.tolist() == [n for part in lists for n in part]
    assert which.tolist() == [0, 0, 0, 2, 3, 3]


def test_crosswalk_classes_are_all_known() -> None:
    crosswalk = osm_crosswalk()
    assert crosswalk.layer("habitat").classes() <= set(HABITAT_CLASSES)
    assert crosswalk.layer("roads").classes() == set(ROAD_CLASSES)
    assert crosswalk.layer("barriers").classes() == {"motorway", "trunk", "rail", "river", "canal"}
    assert set(worldcover_crosswalk().values()) <= set(HABITAT_CLASSES)
    listed = osm_crosswalk().layer("dwellings")
    named = set().union(*(r.tags.values["building"] for r in listed.rules))
    assert not named & listed.left_out.values["building"]


def test_worldcover_codes_are_those_published() -> None:
    """ESA WorldCover Product User Manual (v2.0), land cover classes; 0 is no data and not among them."""
    assert sorted(worldcover_crosswalk()) == [10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100]
    natural = {10: "forest", 20: "shrubland", 30: "grassland", 40: "cropland", 50: "built", 80: "water"}
    assert {k: worldcover_crosswalk()[k] for k in natural} == natural
