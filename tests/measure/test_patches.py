"""Patches: contiguous habitat cut by barriers, property under one consent, what may go on unseen."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import LineString, box

from tests.support import cases
from tests.support.regions import Ground, Thing, made_region
from tussock.interval import Interval
from tussock.measure.patches import patch_area
from tussock.measure.scene import places
from tussock.permit.consents import Consent
from tussock.permit.demands import PatchArea

SQUARE = box(-300, -300, 300, 300)  # 36 ha


def patch(
    ground: Ground,
    x: float,
    y: float,
    *,
    asked: PatchArea | None = None,
    radius_m: float = 30.0,
    consents: tuple[Consent, ...] = (),
) -> Interval:
    scene = cases.scene(made_region(ground), 0.0, 0.0, consents=consents)
    lon, lat = scene.plane.unproject(x, y)
    return patch_area(scene, places(lon, lat, radius_m=radius_m, plane=scene.plane), asked or PatchArea()).at(
        0
    )


def is_about(found: Interval, low: float, high: float) -> None:
    # to a square metre: overlays move edges by up to 0.07 mm
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-4)


def forest(*barriers: shapely.Geometry) -> Ground:
    return Ground({"habitat": [Thing(SQUARE, "forest")], "barriers": [Thing(b) for b in barriers]})


def test_a_square_is_its_area() -> None:
    is_about(patch(forest(), 0, 0), 36, 36)


def test_neighbours_of_natural_classes_are_one_patch_and_others_are_not() -> None:
    habitat = [
        Thing(box(-300, -300, 0, 300), "forest"),
        Thing(box(0, -300, 300, 300), "rock"),
        Thing(box(300, -300, 600, 300), "garden"),
    ]
    is_about(patch(Ground({"habitat": habitat}), 0, 0), 36, 36)
    forests = PatchArea(classes=frozenset({"forest"}))
    is_about(patch(Ground({"habitat": habitat}), -100, 0, asked=forests), 18, 18)


def test_areas_that_meet_in_a_corner_are_two_patches() -> None:
    habitat = [Thing(box(-300, -300, 0, 0), "forest"), Thing(box(0, 0, 100, 100), "forest")]
    is_about(patch(Ground({"habitat": habitat}), 50, 50), 1, 1)


@pytest.mark.parametrize(
    ("barrier", "area"),
    [
        (LineString([(0, -400), (0, 400)]), 18.0),
        (LineString([(0, -400), (0, 0)]), 36.0),
        (LineString([(-400, 0), (0, 0), (0, 400)]), 27.0),
        (box(-1, -400, 1, 400), (600 * 600 - 2 * 600) / 2 / 1e4),
        (shapely.Point(0, 0), 36.0),
    ],
    ids=["a line through", "a line that ends inside", "a bent line", "an area through", "a point"],
)
def test_barriers_cut_a_patch(barrier: shapely.Geometry, area: float) -> None:
    is_about(patch(forest(barrier), 100, -100), area, area)


@pytest.mark.parametrize("turn", [0, 33, 71])
@pytest.mark.parametrize("reach", [300.0, 300.00003, 300.00007, 299.99996])
def test_a_barrier_that_ends_on_the_edge_cuts(reach: float, turn: float) -> None:
    # habitat and river clipped by one box: the river ends on the edge, wherever the overlay's grid puts that
    habitat = affinity.rotate(box(-reach, -reach, reach, reach), turn, origin=(0, 0))
    river = affinity.rotate(LineString([(0, -reach), (0, reach)]), turn, origin=(0, 0))
    ground = Ground({"habitat": [Thing(habitat, "forest")], "barriers": [Thing(river)]})
    is_about(patch(ground, 100, 100), 18, 18)


def test_two_lines_that_meet_cut_together() -> None:
    is_about(patch(forest(LineString([(-300, 0), (0, 0)]), LineString([(0, 0), (0, 300)])), -100, 100), 9, 9)


def test_a_disc_over_a_barrier_line_lies_in_either_part() -> None:
    is_about(patch(forest(LineString([(200, -400), (200, 400)])), 190, 0), 6, 30)


def test_a_disc_that_reaches_into_a_barrier_area_reaches_ground_in_no_patch() -> None:
    ground = forest(box(-50, -50, 50, 50))
    is_about(patch(ground, 0, 0), 0, 0)
    is_about(patch(ground, 70, 0), 0, 35)
    is_about(patch(ground, 90, 0), 35, 35)


def test_a_disc_that_reaches_out_of_the_patch_may_be_in_none() -> None:
    is_about(patch(forest(), 290, 0), 0, 36)
    is_about(patch(forest(), 320, 0), 0, 36)
    is_about(patch(forest(), 340, 0), 0, 0)


def test_the_layers_error_reaches_as_far_as_the_radius() -> None:
    ground = Ground({"habitat": [Thing(SQUARE, "forest", error_m=20.0)]})
    is_about(patch(ground, 340, 0), 0, 36)


def test_a_patch_that_reaches_the_edge_of_the_data_may_go_on() -> None:
    for known in (box(-900, -900, 300, 900), box(-900, -900, 100, 900), box(500, 500, 900, 900)):
        found = patch(Ground({"habitat": [Thing(SQUARE, "forest")]}, {"": [known]}), 0, 0)
        assert (found.low, found.high) == pytest.approx((36, np.inf), abs=1e-4)
        assert found.widest_reason == "edge of data"
    is_about(
        patch(Ground({"habitat": [Thing(SQUARE, "forest")]}, {"": [box(-900, -900, 301, 900)]}), 0, 0), 36, 36
    )


PARCELS = [
    Thing(box(-400, -400, 0, 400), id="a"),
    Thing(box(0, -400, 400, 400), id="b"),
    Thing(box(400, -400, 900, 400), id="c"),
]
PROPERTY = PatchArea("property")


def test_parcels_under_one_consent_are_one_property() -> None:
    ground = Ground({"parcels": PARCELS})
    is_about(patch(ground, -200, 0, asked=PROPERTY, consents=(cases.consent("1", parcels="a|b"),)), 64, 64)
    # two consents are two properties
    both = (cases.consent("1", parcels="a"), cases.consent("2", parcels="b"))
    is_about(patch(ground, -200, 0, asked=PROPERTY, consents=both), 32, 32)


def test_parcels_that_do_not_adjoin_are_not_contiguous() -> None:
    ground = Ground({"parcels": PARCELS})
    is_about(patch(ground, -200, 0, asked=PROPERTY, consents=(cases.consent("1", parcels="a|c"),)), 32, 32)


def test_of_several_consents_the_best_counts() -> None:
    ground = Ground({"parcels": PARCELS})
    both = (cases.consent("1", parcels="a|b"), cases.consent("2", parcels="a"))
    for consents in (both, both[::-1]):
        is_about(patch(ground, -200, 0, asked=PROPERTY, consents=consents), 64, 64)


def test_without_a_consent_the_next_parcel_may_be_the_same_property() -> None:
    found = patch(Ground({"parcels": PARCELS}), -200, 0, asked=PROPERTY)
    assert (found.low, found.high) == pytest.approx((32, np.inf), abs=1e-4)
