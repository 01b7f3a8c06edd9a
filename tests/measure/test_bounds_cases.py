"""Scenes on which coarse bounds once failed, or nearly did; random ones: tests/property/test_bounds.py."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, box

from tests.support import cases
from tests.support.bounds import hold_round
from tests.support.regions import HOBART, Grid, Ground, Thing, made_region
from tussock.geodesy import Plane
from tussock.measure.scene import candidates
from tussock.permit.condition import Condition
from tussock.permit.demands import At, BarriersBetween, Depth, DistanceTo, PatchArea, SamePolygon
from tussock.permit.place_kinds import MaxDistanceFromCapture, MinPatchArea, NotWithin, SamePolygonAsCapture
from tussock.planning.criteria import read_weights
from tussock.planning.plan import plan
from tussock.planning.record import Plan
from tussock.species.traits import Profile

FOREST = Thing(box(-2000, -2000, 2000, 2000), "forest")


def home(**layers: list[Thing]) -> Ground:
    return Ground({"habitat": [FOREST], **layers})


def planned(
    ground: Ground,
    *clauses: Condition,
    at: tuple[float, float] = (3.0, 4.0),
    limit_m: float = 500.0,
    of: Profile | None = None,
    **more: Any,
) -> Plan:
    region = made_region(ground)
    setting = cases.setting(region, MaxDistanceFromCapture(id="limit", limit_m=limit_m), *clauses, **more)
    return plan(cases.capture(cases.position(region, *at), of), setting)


@pytest.mark.parametrize(
    "line",
    [
        [(200, -100_000), (200, 100), (3000, 40_000), (90_000, 90_000)],
        [(200, -1000), (200, 100), (90_000, 90_000)],
        [(200, 100), (3000, 40_000), (90_000, 90_000)],
    ],
)
def test_a_barrier_that_goes_on_far_beyond_the_window(line: list[tuple[float, float]]) -> None:
    hold_round(home(barriers=[Thing(LineString(line))]), BarriersBetween("barriers"))


@pytest.mark.parametrize("off_deg", [0.0, 5.0, 11.25, -11.25])
@pytest.mark.parametrize(("capture_m", "end_m"), [(1000.0, 996.0), (400.0, 405.0), (10_000.0, 10_010.0)])
def test_a_barrier_that_ends_just_within_reach_of_a_wide_disc(
    off_deg: float, capture_m: float, end_m: float
) -> None:
    a = math.radians(off_deg)
    ends = [(3 + end_m, 4.0), (3 + end_m + 3000 * math.cos(a), 4 + 3000 * math.sin(a))]
    hold_round(
        home(barriers=[Thing(LineString(ends))]),
        BarriersBetween("barriers"),
        capture_m=capture_m,
        reach_m=300.0,
    )


@pytest.mark.parametrize("capture_m", [0.5, 120.0])
def test_knowledge_that_ends_just_beyond_the_window(capture_m: float) -> None:
    ground = Ground({"habitat": [FOREST], "barriers": []}, {"barriers": [box(-150, -150, 195, 150)]})
    hold_round(ground, BarriersBetween("barriers"), capture=(0.0, 0.0), capture_m=capture_m, reach_m=140.0)


def test_a_feature_flush_with_the_windows_edge() -> None:
    hold_round(
        home(dwellings=[Thing(box(0, 140, 5, 142.5))]),
        DistanceTo("dwellings"),
        capture=(0.0, -0.83),
        reach_m=130.0,
    )


@pytest.mark.parametrize("outside", [True, False])
def test_the_capture_tens_of_kilometres_from_an_edge(outside: bool) -> None:
    ground = home(protected=[Thing(box(60_000.3, -500, 60_500.3, 500))])
    hold_round(ground, Depth("protected", outside=outside, at=At.CAPTURE), reach_m=100.0)
    assert planned(ground, NotWithin(id="n", layer="protected", of="both")).sites


def test_zones_that_overlap() -> None:
    ground = home(zones=[Thing(box(-1000, -1000, 300, 1000)), Thing(box(-100, -1000, 1000, 1000))])
    hold_round(ground, SamePolygon("zones"), capture=(103.0, 4.0))
    assert not planned(ground, SamePolygonAsCapture(id="z", layer="zones"), at=(103, 4)).sites


def test_two_consents_on_one_parcel() -> None:
    parcels = [
        Thing(box(-400, -400, 0, 400), id="a"),
        Thing(box(0, -400, 400, 400), id="b"),
        Thing(box(400, -400, 900, 400), id="c"),
    ]
    consents = (cases.consent("1", parcels="a|b"), cases.consent("2", parcels="a"))
    found = planned(
        home(parcels=parcels), MinPatchArea(id="p", of="property", limit_ha=40.0), consents=consents
    )
    assert found.sites
    assert all(s.longitude < HOBART.unproject(400.0, 0.0)[0] for s in found.sites)


def test_a_river_drawn_as_an_area() -> None:
    habitat = [Thing(shapely.Polygon([(185, 2.5), (112.5, 41.471), (66.25, -116.578)]), "forest")]
    river = Thing(shapely.Polygon([(142.5, 0), (128.3, 2.4), (125.5, 1.5), (125.5, -1.5), (136, -2.4)]))
    hold_round(
        Ground({"habitat": habitat, "barriers": [river]}), PatchArea(), capture=(0.0, 0.0), reach_m=140.0
    )


def test_a_strip_of_better_habitat_between_the_centres() -> None:
    # the candidate of centre x is written up to 8 mm beside it, where a strip that holds no centre begins
    x = (np.arange(-30.0, 30.0) + 0.5) * 10
    off = candidates(x, np.full(60, 5.0), radius_m=30, plane=HOBART).x - x
    k = int(np.argmax(np.abs(off)))
    near, far = x[k] + off[k] / 2, x[k] + off[k] / 2 + math.copysign(4, off[k])
    strip = Thing(box(min(near, far), -300, max(near, far), 300), "woodland")
    ground = Ground({"habitat": [Thing(FOREST.geometry, "rock"), strip]})
    first = planned(ground, at=(float(x[k]), 4.0)).sites[0]
    assert first.habitat == "woodland"
    assert first.score == pytest.approx(1.0)


@pytest.mark.parametrize("weight", [1.9, 3.2])
def test_a_liking_that_32_bits_round_down(weight: float) -> None:
    # 0.9 in 32 bits is 0.89999998: with these weights the score's seventh decimal straddles a half
    weights = read_weights()
    weights = weights.model_copy(update={"habitat": weights.habitat.model_copy(update={"weight": weight})})
    of = cases.profile(habitat={**cases.LIKING, "forest": 0.9}, home_range_ha=5.0)
    assert planned(home(), weights=weights, of=of, limit_m=900.0).sites


@pytest.mark.parametrize("cell_m", [10.0, 50.0])
@pytest.mark.parametrize("pixel_m", [0.1, 0.5, 2.0])
def test_a_cover_raster_of_fine_pixels(pixel_m: float, cell_m: float) -> None:
    # far north, in degrees: where rows of a raster and rows of cells bend apart most
    plane = Plane(20.0, 68.0)
    n = 1200
    values = np.random.default_rng(1).random((n, n)).astype(np.float32)
    size = pixel_m / 111_320.0
    width = size / math.cos(math.radians(68.0))
    grid = Grid(values, 20.0 - n / 2 * width, 68.0 + n / 2 * size, width, size, epsg=4326)
    ground = replace(home(), plane=plane, cell_m=cell_m, grids={"cover": grid})
    assert planned(ground, limit_m=30 * cell_m).sites
