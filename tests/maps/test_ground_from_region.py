"""The ground beneath a map: what is in force on the day, cut to the window, where it lies."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from tests.support.regions import Ground, MadeRegion, Thing, made_region
from tussock.geodesy import Plane
from tussock.ground.region import open_region
from tussock.maps.ground_from_region import SIMPLIFIED_M, ground_sketch

DAY = date(2026, 11, 14)
WINDOW = (-1000.0, -800.0, 1000.0, 800.0)
DATA = Path(__file__).resolve().parents[2] / "data-demo"


def _back(geometry: BaseGeometry, plane: Plane) -> BaseGeometry:
    made: BaseGeometry = shapely.transform(
        geometry, lambda xy: np.column_stack(plane.project(xy[:, 0], xy[:, 1]))
    )
    return made


@pytest.fixture
def region() -> MadeRegion:
    circle = Point(500, 0).buffer(100, quad_segs=256)
    return made_region(
        Ground(
            layers={
                "habitat": [
                    Thing(box(-5000, -5000, 0, 5000), "forest"),
                    Thing(circle, "grassland"),
                ],
                "dwellings": [
                    Thing(box(10, 10, 20, 20), "house"),
                    Thing(box(3000, 10, 3020, 30), "house"),
                    Thing(box(40, 40, 50, 50), "house", valid_from=date(2027, 1, 1)),
                    Thing(Point(60, 60), "unknown"),
                ],
                "roads": [Thing(LineString([(-3000, 0), (3000, 0)]), "track")],
            },
            known={"": [box(-5000, -5000, 700, 5000)]},
        )
    )


def test_classes_are_kept_apart_and_the_day_counts(region: MadeRegion) -> None:
    drawn = ground_sketch(region, box=WINDOW, day=DAY).layers
    assert {n: [c for c, _ in pairs] for n, pairs in drawn.items()} == {
        "habitat": ["forest", "grassland"],
        "dwellings": ["house", "unknown"],
        "roads": ["track"],
    }
    houses = dict(drawn["dwellings"])["house"]
    assert len(shapely.get_parts(houses)) == 1  # one lies outside the window, one is not built yet
    later = dict(ground_sketch(region, box=WINDOW, day=date(2027, 6, 1)).layers["dwellings"])["house"]
    assert len(shapely.get_parts(later)) == 2


def test_everything_is_cut_to_the_window(region: MadeRegion) -> None:
    ground = ground_sketch(region, box=WINDOW, day=DAY)
    for pairs in ground.layers.values():
        for _, geometry in pairs:
            back = _back(geometry, region.plane)
            west, south, east, north = back.bounds
            assert west >= -1000.001 and south >= -800.001 and east <= 1000.001 and north <= 800.001
    forest = _back(dict(ground.layers["habitat"])["forest"], region.plane)
    assert forest.area == pytest.approx(1000 * 1600, rel=1e-6)
    road = _back(dict(ground.layers["roads"])["track"], region.plane)
    assert road.length == pytest.approx(2000, rel=1e-6)


def test_the_known_extent_is_cut_too(region: MadeRegion) -> None:
    known = _back(ground_sketch(region, box=WINDOW, day=DAY).known, region.plane)
    assert known.area == pytest.approx(1700 * 1600, rel=1e-6)


def test_simplified_outlines_stay_within_half_a_metre(region: MadeRegion) -> None:
    drawn = dict(ground_sketch(region, box=WINDOW, day=DAY).layers["habitat"])["grassland"]
    back = _back(drawn, region.plane)
    exact = Point(500, 0).buffer(100, quad_segs=256)
    assert shapely.get_num_coordinates(back) < shapely.get_num_coordinates(exact) / 5
    assert shapely.hausdorff_distance(back, exact) <= SIMPLIFIED_M + 0.01


def test_no_feature_of_the_demo_vanishes_or_breaks() -> None:
    region = open_region(DATA)
    window = (-4000.0, -4000.0, 4000.0, 4000.0)
    drawn = ground_sketch(region, box=window, day=DAY).layers
    corner = shapely.box(*window)
    for name in ("dwellings", "habitat", "parcels", "roads"):
        features = region.layer(name).on(DAY)
        expected = int(np.count_nonzero(shapely.intersects(features.geometries, corner)))
        parts = sum(shapely.get_num_geometries(g) for _, g in drawn[name])
        assert parts == expected, name
        assert all(shapely.is_valid(shapely.get_parts(g)).all() for _, g in drawn[name] if name != "roads")
