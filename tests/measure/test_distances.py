"""Distances and depths at places, worked out by hand on ground drawn in the plane.

Near the plane's axis a plane metre is a ground metre to 1e-7, so right answers to a millimetre need
no referee but a ruler.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, box

from tests.support import cases
from tests.support.regions import Ground, Thing, made_region
from tussock.interval import Interval
from tussock.measure.exact import habitat_class, measure
from tussock.measure.scene import EarlierRelease, Scene, places
from tussock.permit.demands import (
    At,
    Depth,
    DistanceFromCapture,
    DistanceTo,
    Quantity,
    ReleasesNear,
    SamePolygon,
)

MM = 1e-3
FOREST = box(-4000, -4000, 4000, 4000)
YES = frozenset({"forest"})


def ground(known: shapely.Geometry | None = None, **layers: list[Thing]) -> Ground:
    extents = {"": [known]} if known is not None else {}
    return Ground({"habitat": [Thing(FOREST, "forest")], **layers}, extents)


def at(scene: Scene, quantity: Quantity, x: float, y: float, radius_m: float = 30.0) -> Interval:
    lon, lat = scene.plane.unproject(x, y)
    return measure(quantity, scene, places(lon, lat, radius_m=radius_m, plane=scene.plane)).at(0)


def here(of: Ground, quantity: Quantity, x: float, y: float, radius_m: float = 30.0) -> Interval:
    return at(cases.scene(made_region(of), 0.0, 0.0), quantity, x, y, radius_m)


def is_about(found: Interval, low: float, high: float) -> None:
    assert (found.low, found.high) == pytest.approx((low, high), abs=MM)


def test_radii_of_capture_and_site_add_linearly() -> None:
    found = here(ground(), DistanceFromCapture(), 300, 400, radius_m=30.0)
    is_about(found, 500 - 30 - 5, 500 + 30 + 5)
    assert found.reasons == {"position": 35.0}


def test_a_distance_is_never_negative() -> None:
    is_about(here(ground(), DistanceFromCapture(), 3, 4, radius_m=30.0), 0, 5 + 35)


@pytest.mark.parametrize(
    ("thing", "distance"),
    [
        (Thing(box(100, -50, 200, 50)), 100.0),
        (Thing(LineString([(60, -500), (60, 500)])), 60.0),
        (Thing(Point(30, 40)), 50.0),
        (Thing(box(-10, -10, 10, 10)), 0.0),
        (Thing(box(-500, -500, 500, 500).difference(box(-80, -90, 80, 90))), 80.0),
    ],
    ids=["area", "line", "point", "inside an area", "in a hole"],
)
def test_distance_is_to_the_edge_and_zero_inside(thing: Thing, distance: float) -> None:
    found = here(ground(dwellings=[thing]), DistanceTo("dwellings"), 0, 0, radius_m=20.0)
    is_about(found, max(distance - 20, 0), distance + 20)


def test_the_layers_error_widens_both_ends() -> None:
    found = here(
        ground(dwellings=[Thing(box(100, -50, 200, 50), error_m=7.0)]), DistanceTo("dwellings"), 0, 0
    )
    is_about(found, 100 - 30 - 7, 100 + 30 + 7)
    assert found.reasons == {"position": 30.0, "layer": 7.0}


def test_a_farther_dwelling_of_greater_error_may_be_the_nearer() -> None:
    # a footprint at 100 m (±2), a point dwelling at 106 m (±2 ± 10): low from the one, high from the other
    things = [Thing(box(100, -50, 200, 50), error_m=2.0), Thing(Point(-106, 0), error_m=12.0)]
    found = here(ground(dwellings=things), DistanceTo("dwellings"), 0, 0, radius_m=30.0)
    is_about(found, 106 - 12 - 30, 100 + 2 + 30)


def test_the_edge_of_the_data_cuts_the_low_end_only() -> None:
    # the design's own case: the nearest known at 300 m, the layer ends 80 m away
    of = ground(box(-1000, -1000, 80, 1000), dwellings=[Thing(box(-400, -10, -300, 10))])
    found = here(of, DistanceTo("dwellings"), 0, 0, radius_m=1.0)
    is_about(found, 79, 301)
    assert found.widest_reason == "edge of data"


def test_outside_the_known_extent_the_low_end_is_nothing() -> None:
    of = ground(box(-1000, -1000, 80, 1000), dwellings=[Thing(box(-400, -10, -300, 10))])
    is_about(here(of, DistanceTo("dwellings"), 100, 0, radius_m=1.0), 0, 401)


def test_no_feature_at_all_is_as_far_as_is_known() -> None:
    of = ground(box(-1000, -1000, 80, 1000), dwellings=[])
    found = here(of, DistanceTo("dwellings"), 0, 0, radius_m=1.0)
    is_about(found, 79, np.inf)
    assert found.widest_reason == "edge of data"


def test_classes_pick_features() -> None:
    roads = [
        Thing(LineString([(50, -99), (50, 99)]), "track"),
        Thing(LineString([(90, -99), (90, 99)]), "primary"),
    ]
    of = ground(roads=roads)
    is_about(here(of, DistanceTo("roads", frozenset({"primary"})), 0, 0), 60, 120)
    is_about(here(of, DistanceTo("roads"), 0, 0), 20, 80)


def test_depth_is_positive_inside_and_edges_between_neighbours_do_not_count() -> None:
    # two forests that share an edge at x = 10: from x = 0 the edge of both together is 60 m away
    habitat = [Thing(box(-60, -500, 10, 500), "forest"), Thing(box(10, -500, 500, 500), "forest")]
    of = Ground({"habitat": habitat})
    is_about(here(of, Depth("habitat", YES), 0, 0, radius_m=20.0), 40, 80)


def test_depth_outside_is_the_negative_distance() -> None:
    of = ground(excluded=[Thing(box(100, -500, 200, 500), error_m=4.0)])
    is_about(here(of, Depth("excluded"), 0, 0), -100 - 34, -100 + 34)
    is_about(here(of, Depth("excluded", outside=True), 0, 0), 100 - 34, 100 + 34)


def test_depth_at_the_capture_is_the_same_for_every_place() -> None:
    scene = cases.scene(
        made_region(ground(protected=[Thing(box(-40, -500, 500, 500))])), 0.0, 0.0, radius_m=5.0
    )
    for x in (0.0, 300.0):
        is_about(at(scene, Depth("protected", at=At.CAPTURE), x, 0.0), 35, 45)


def test_a_spared_area_does_not_count() -> None:
    things = [Thing(box(-50, -50, 50, 50), id="a"), Thing(box(200, -50, 300, 50), id="b")]
    spared = Depth("protected", outside=True, spared=frozenset({"a"}))
    is_about(here(ground(protected=things), spared, 0, 0), 200 - 30, 200 + 30)


def test_nothing_in_force_is_far_away() -> None:
    of = ground(box(-900, -900, 900, 900), excluded=[Thing(box(0, 0, 99, 99), valid_to=date(2010, 1, 1))])
    found = here(of, Depth("excluded", outside=True), 0, 0)
    is_about(found, 900 - 30, np.inf)
    assert found.widest_reason == "edge of data"


def test_features_are_in_force_on_their_first_and_last_day() -> None:
    of = made_region(
        ground(dwellings=[Thing(Point(50, 0), valid_from=date(2026, 3, 1), valid_to=date(2026, 3, 31))])
    )
    for day, there in (
        ("2026-02-28", False),
        ("2026-03-01", True),
        ("2026-03-31", True),
        ("2026-04-01", False),
    ):
        scene = cases.scene(of, 0.0, 0.0, day=date.fromisoformat(day))
        assert np.isfinite(at(scene, DistanceTo("dwellings"), 0, 0).high) == there, day


def test_habitat_that_is_no_longer_there_takes_nothing_from_what_is() -> None:
    habitat = [Thing(FOREST, "forest"), Thing(box(0, 0, 100, 100), "built", valid_to=date(2010, 1, 1))]
    scene = cases.scene(made_region(Ground({"habitat": habitat})), 0.0, 0.0)
    lon, lat = scene.plane.unproject(50.0, 50.0)
    assert habitat_class(scene, places(lon, lat, radius_m=30, plane=scene.plane)).tolist() == ["forest"]
    assert at(scene, Depth("habitat", YES), 50, 50).low > 3000


@pytest.mark.parametrize(
    ("things", "winner"),
    [
        ([Thing(FOREST, "forest"), Thing(box(-50, -50, 50, 50), "rock")], "rock"),
        ([Thing(box(-50, -50, 50, 50), "rock"), Thing(FOREST, "forest")], "rock"),
        ([Thing(FOREST, "forest", priority=1), Thing(box(-50, -50, 50, 50), "rock")], "forest"),
        ([Thing(box(-50, -50, 50, 50), "rock"), Thing(box(-50, -50, 50, 50), "bare")], "bare"),
    ],
    ids=["the smaller", "in any order", "the higher priority", "of equals the later"],
)
def test_where_habitats_overlap_one_wins(things: list[Thing], winner: str) -> None:
    scene = cases.scene(made_region(Ground({"habitat": things})), 0.0, 0.0)
    assert habitat_class(scene, scene.capture).tolist() == [winner]


def test_the_polygon_of_the_capture_holds_the_site() -> None:
    of = ground(zones=[Thing(box(-500, -500, 100, 500)), Thing(box(100, -500, 500, 500))])
    is_about(here(of, SamePolygon("zones"), 0, 0), 100 - 30, 100 + 30)
    is_about(here(of, SamePolygon("zones"), 200, 0), -100 - 30, -100 + 30)


def test_a_capture_that_may_lie_in_either_polygon_leaves_the_site_open() -> None:
    of = ground(zones=[Thing(box(-500, -500, 3, 500)), Thing(box(3, -500, 500, 500))])
    for x in (-200.0, 200.0):
        found = here(of, SamePolygon("zones"), x, 0.0)
        assert found.low == -np.inf
        assert found.high > 0


def test_overlapping_polygons_are_each_measured_by_themselves() -> None:
    # the capture lies in both; 200 is 100 deep in the first and 300 deep in the second
    of = ground(zones=[Thing(box(-500, -500, 300, 500)), Thing(box(-100, -500, 700, 500))])
    assert here(of, SamePolygon("zones"), 200, 0, radius_m=1.0).high == pytest.approx(301, abs=MM)


def test_a_capture_beyond_the_known_extent_may_lie_in_any_polygon() -> None:
    zones = {"zones": [box(50, -500, 500, 500)]}
    of = Ground({"habitat": [Thing(FOREST, "forest")], "zones": [Thing(box(50, -500, 500, 500))]}, zones)
    found = here(of, SamePolygon("zones"), -100, 0)
    assert (found.low, found.high) == (-np.inf, np.inf)
    assert found.widest_reason == "edge of data"


# distance east [m], days before, individuals, species; the place has a radius of 10 m, each release of 5 m
RELEASES = [
    (0.0, 1, 1, "Invented species"),
    (84.0, 10, 2, "Invented species"),  # 84 + 15 ≤ 100: surely near
    (90.0, 10, 4, "Other species"),  # 75 … 105: perhaps near
    (114.0, 10, 8, "Invented species"),  # 99 … 129: perhaps near
    (116.0, 10, 16, "Invented species"),  # surely not
    (0.0, 366, 32, "Invented species"),  # too long ago
]


@pytest.mark.parametrize(("same", "low", "high"), [(False, 3, 15), (True, 3, 11)])
def test_releases_are_counted_surely_and_possibly(same: bool, low: int, high: int) -> None:
    region = made_region(ground())
    earlier = []
    for east, days, count, name in RELEASES:
        lon, lat = (float(v) for v in region.plane.unproject(east, 0.0))
        earlier.append(EarlierRelease(lon, lat, 5.0, cases.RELEASED - timedelta(days=days), name, count))
    scene = cases.scene(region, 0.0, 0.0, earlier=earlier)
    is_about(at(scene, ReleasesNear(100.0, 365.0, same_species=same), 0, 0, radius_m=10.0), low, high)
