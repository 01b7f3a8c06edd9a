"""Edges and bands: placed by hand, against distances reckoned plainly, and whatever the order or place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.regions import Ground, Thing, made_region
from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.ground.features import Geometries, features
from tussock.hotspots.bands import LIMITS_M, EdgeEffect, edge_effects
from tussock.hotspots.counts import garwood, rate_ratio
from tussock.hotspots.edges import Edge, band_of, edges, edges_of, once

LIMITS = np.array(LIMITS_M)


@dataclass(frozen=True)
class Homes:
    x: Floats
    y: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True)
class Incidents:
    x: Floats
    y: Floats
    radius_m: Floats


def geometries(*given: shapely.Geometry) -> Geometries:
    out = np.empty(len(given), dtype=object)
    out[:] = given
    return out


CREEK = Edge("water", "Creek", geometries(shapely.LineString([(0, -5000), (0, 5000)])))
RESERVE = geometries(shapely.box(-2000, -1000, -1000, 1000), shapely.box(-1000, -1000, 0, 1000))


def homes(*rows: tuple[float, float, float]) -> Homes:
    """x [m], least and most homes; y is 0."""
    x, low, high = (np.array(c, dtype=float) for c in zip(*rows, strict=True))
    return Homes(x, np.zeros(len(x)), low, high)


def calls(*x: float, radius: float = 10) -> Incidents:
    return Incidents(np.array(x), np.zeros(len(x)), np.full(len(x), float(radius)))


def one(mapped: Edge, incidents: Incidents, at: Homes) -> EdgeEffect:
    (found,) = edge_effects([mapped], incidents, at)
    return found


def test_a_band_holds_its_far_end() -> None:
    x = np.array([0.0, 99.9, 100.0, 100.1, 300.0, 300.1, 1000.0, 1000.1, -50.0])
    found = band_of(CREEK.geometries, x, np.zeros(9), limits_m=LIMITS)
    assert found.tolist() == [0, 0, 0, 1, 1, 2, 2, -2, 0]


def test_a_brook_drawn_in_two_layers_is_one_edge() -> None:
    """It was told twice under one name, and Holm counted it as two."""
    line = CREEK.geometries[0]
    again = Edge("protected", "creek", geometries(line.buffer(0.5)))
    elsewhere = Edge("protected", "Creek", geometries(shapely.box(2000, 0, 3000, 1000)))
    (found, other) = once([again, elsewhere, CREEK])
    assert (found.layer, found.name, len(found.geometries)) == ("protected and water", "creek", 2)
    assert other is elsewhere
    near = np.array([99.0, 150.0])
    same = [band_of(e.geometries, near, np.zeros(2), limits_m=LIMITS).tolist() for e in (CREEK, found)]
    assert same[0] == same[1]


def test_ground_drawn_alike_is_one_edge_whatever_its_name() -> None:
    lake = shapely.Point(0, 0).buffer(300)
    moved = shapely.affinity.translate(lake, 0.3, 0)
    drawn = [
        Edge("water", "Lake", geometries(lake)),
        Edge("habitat", "wetland", geometries(moved)),
        Edge("protected", "", geometries(shapely.Point(0, 0).buffer(310))),
        Edge("water", "", geometries(shapely.box(*lake.bounds))),
    ]
    assert [(e.layer, e.name) for e in once(drawn)] == [
        ("water and habitat", "Lake"),
        ("protected", ""),
        ("water", ""),
    ]


def test_unnamed_ground_that_touches_stays_apart() -> None:
    """Without a name nothing says that it is one thing."""
    a = Edge("water", "", geometries(shapely.box(0, 0, 10, 10)))
    b = Edge("protected", "", geometries(shapely.box(10, 0, 20, 10)))
    assert once([a, b]) == [a, b]


def test_well_inside_an_area_is_no_home_at_its_edge() -> None:
    """30 m is the radius that Darwin Core assumes; where two halves of a reserve meet is no edge of it."""
    x = np.array([-29.0, -31.0, -1000.0, 20.0])
    assert band_of(RESERVE, x, np.zeros(4), limits_m=LIMITS).tolist() == [0, -1, -1, 0]


def test_everything_is_accounted_for() -> None:
    places = calls(50, 60, 200, 500, 5000, -500)
    edge = Edge("protected", "Reserve", RESERVE)
    found = one(edge, places, homes((50, 1000, 1000), (200, 1000, 1000), (500, 1000, 1000)))
    assert [b.incidents for b in found.bands] == [2, 1, 1]
    assert (found.within, found.beyond, found.vague) == (1, 1, 0)


def test_what_is_known_to_a_wider_circle_than_the_nearest_band_is_in_none() -> None:
    found = one(CREEK, calls(50, radius=101), homes((50, 10, 10), (500, 10, 10)))
    assert (found.vague, sum(b.incidents for b in found.bands)) == (1, 0)


def test_rates_and_ratio_by_the_published_example() -> None:
    """R: 20 of 1,000 against 30 of 9,000 is 6 [3.229564, 10.920582]."""
    found = one(CREEK, calls(*[50.0] * 20, *[500.0] * 30), homes((50, 1000, 1000), (500, 9000, 9000)))
    assert found.ratio.ratio == pytest.approx((6.0, 6.0))
    assert (found.ratio.low, found.ratio.high) == pytest.approx((3.229564, 10.920582), abs=0.5e-6)
    assert found.bands[0].rate.value == pytest.approx(20.0)
    assert found.bands[0].rate.low == pytest.approx(garwood(20).low)
    assert found.p_adjusted == found.ratio.p


def test_the_hull_is_over_both_ends_of_the_homes() -> None:
    found = one(CREEK, calls(*[50.0] * 20, *[500.0] * 30), homes((50, 1000, 2000), (500, 9000, 9500)))
    lower, higher = rate_ratio(20, 2000, 30, 9000), rate_ratio(20, 1000, 30, 9500)
    assert found.ratio.ratio == (lower.ratio, higher.ratio)
    assert (found.ratio.low, found.ratio.high, found.ratio.p) == (lower.low, higher.high, lower.p)
    assert found.bands[0].rate.low == pytest.approx(garwood(20).low / 2)
    assert found.bands[0].rate.high == pytest.approx(garwood(20).high)


@settings(deadline=None)  # the first case imports what the others find imported
@given(
    st.floats(0, 1), st.floats(0, 1), st.sampled_from([9500.0, 11_000.0, 20_000.0]), st.sampled_from([20, 3])
)
def test_the_hull_holds_any_share_of_the_unknown_buildings_near_and_far(
    share: float, share_far: float, far: float, near: int
) -> None:
    found = one(CREEK, calls(*[50.0] * near, *[500.0] * 30), homes((50, 1000, 2000), (500, 9000, far)))
    some = rate_ratio(near, 1000 + 1000 * share, 30, 9000 + (far - 9000) * share_far)
    assert found.ratio.low * (1 - 1e-9) <= some.low
    assert some.high <= found.ratio.high * (1 + 1e-9)
    assert some.p <= found.ratio.p * (1 + 1e-9)
    assert some.p_more <= found.ratio.p_more * (1 + 1e-9)


def test_an_edge_without_homes_is_not_tested_and_costs_nothing() -> None:
    lonely = Edge("water", "Lonely", geometries(shapely.Point(50_000, 0)))
    at, places = homes((50, 100, 100), (500, 900, 900)), calls(50, 50, 50, 500)
    alone, beside = one(CREEK, places, at), edge_effects([lonely, CREEK], places, at)
    assert not beside[0].tested
    assert math.isnan(beside[0].p_adjusted)
    assert beside[0].ratio.high == math.inf
    assert beside[1].p_adjusted == alone.p_adjusted


def test_an_edge_with_fewer_homes_than_asked_is_not_tested() -> None:
    at, places = homes((50, 100, 100), (500, 900, 900)), calls(50, 50, 50, 500)
    assert edge_effects([CREEK], places, at, least_homes=100)[0].tested
    (few,) = edge_effects([CREEK], places, at, least_homes=101)
    assert (few.tested, math.isnan(few.p_more_adjusted), few.ratio.ratio) == (False, True, (27.0, 27.0))
    with pytest.raises(InputError, match="at least 0 homes"):
        edge_effects([CREEK], places, at, least_homes=0)


def test_holm_counts_the_edges() -> None:
    at, places = homes((50, 100, 100), (500, 900, 900)), calls(50, 50, 50, 500)
    twice = edge_effects([CREEK, CREEK], places, at)
    assert twice[0].p_adjusted == pytest.approx(min(1.0, 2 * twice[0].ratio.p))
    assert twice[0].p_more_adjusted == pytest.approx(min(1.0, 2 * twice[0].ratio.p_more))


def test_a_band_where_all_buildings_may_be_sheds_says_nothing() -> None:
    found = one(CREEK, calls(50, 50, 500), homes((50, 0, 10), (500, 100, 100)))
    assert (found.tested, found.ratio.p, found.ratio.low, found.ratio.high) == (False, 1.0, 0.0, math.inf)
    assert all(math.isnan(r) for r in found.ratio.ratio)
    assert found.bands[0].rate.high == math.inf


def test_edges_go_by_name_and_the_nameless_are_one() -> None:
    layer = {"water": [Thing(shapely.Point(n, 0)) for n in range(3)], "habitat": [], "dwellings": []}
    region = made_region(Ground(layer))
    (nameless,) = edges_of(region, "water", day=date(2025, 1, 1))
    assert (nameless.layer, nameless.name, len(nameless.geometries)) == ("water", "", 3)
    named = features("water", [shapely.Point(n, 0) for n in range(4)])
    named.names[:] = ["Pool", "", "Creek", "Pool"]
    assert [(e.name, len(e.geometries)) for e in edges(named)] == [("Creek", 1), ("Pool", 2), ("", 1)]


def test_of_a_layer_only_the_classes_asked_for() -> None:
    marsh, wood = Thing(shapely.box(0, 0, 10, 10), "wetland"), Thing(shapely.box(10, 0, 20, 10), "forest")
    region = made_region(Ground({"habitat": [marsh, wood]}))
    (edge,) = edges_of(region, "habitat", day=date(2025, 1, 1), classes=["wetland"])
    assert shapely.area(edge.geometries).sum() == pytest.approx(100)
    assert edges_of(region, "habitat", day=date(2025, 1, 1), classes=["rock"]) == []


@pytest.mark.parametrize("limits", [(0, 100), (0, 100, 100), (10, 100, 300), ()])
def test_limits_that_make_no_bands_are_refused(limits: tuple[float, ...]) -> None:
    with pytest.raises(InputError, match="make no bands"):
        edge_effects([CREEK], calls(1), homes((1, 1, 1)), limits_m=limits)


PLACES = st.lists(st.tuples(st.floats(-3000, 3000), st.floats(-3000, 3000)), min_size=1, max_size=30)
DRAWN = (
    shapely.LineString([(-900, -900), (0, 300), (700, -100), (720, 1500), (-200, 900), (9, 9)]),
    shapely.Point(-1500, 1500),
    shapely.box(1000, -2000, 1800, -1200),
    shapely.MultiPolygon([shapely.Point(-1500, -1500).buffer(400), shapely.box(2500, 2500, 2600, 2600)]),
)


@given(PLACES)
def test_bands_are_those_of_plain_distances(places: list[tuple[float, float]]) -> None:
    x, y = (np.array(c) for c in zip(*places, strict=True))
    found = band_of(geometries(*DRAWN), x, y, limits_m=LIMITS)
    for i, point in enumerate(map(shapely.Point, x, y)):
        apart = min(g.boundary.distance(point) if g.area else g.distance(point) for g in DRAWN)
        if any(abs(apart - limit) < 1e-6 for limit in (30, *LIMITS_M[1:])):
            continue
        if apart > 30 and any(g.area and g.covers(point) for g in DRAWN):
            assert found[i] == -1
        else:
            assert found[i] == (0 if apart < 100 else 1 if apart < 300 else 2 if apart < 1000 else -2)


@given(PLACES, st.floats(-1e4, 1e4), st.integers(0, 2**32 - 1))
def test_neither_shift_nor_order_changes_a_band(
    places: list[tuple[float, float]], shift: float, seed: int
) -> None:
    x, y = (np.round(np.array(c), 1) for c in zip(*places, strict=True))
    drawn, shift = geometries(*DRAWN), round(shift)
    limits = LIMITS + np.array([0, 0.033, 0.033, 0.033])  # no place lies on one to the last bit
    order = np.random.default_rng(seed).permutation(len(x))
    moved = np.array(
        [shapely.transform(g, lambda c: c + np.array([shift, -shift])) for g in drawn], dtype=object
    )
    found = band_of(drawn, x, y, limits_m=limits)
    there = band_of(moved, x[order] + shift, y[order] - shift, limits_m=limits)
    assert there.tolist() == found[order].tolist()


def found_along_the_edge(times: float, *, incidents: int, maps: int) -> float:
    """Share of simulated maps whose planned edge is told at 0.05.

    5,000 homes stand for 50,000: 1.4 % within 100 m of a creek, 30 % in the farthest band; those along
    the creek call so many times as often.
    """
    rng = np.random.Generator(np.random.PCG64(20261125))
    at = np.repeat([50.0, 200.0, 600.0, 1500.0], [70, 400, 1500, 3030])
    lived = Homes(at, np.zeros(5000), np.ones(5000), np.ones(5000))
    weight = np.where(at < 100, times, 1.0)
    alarms = 0
    for _ in range(maps):
        called = at[rng.choice(5000, incidents, p=weight / weight.sum())]
        alarms += one(CREEK, calls(*called), lived).p_more_adjusted <= 0.05
    return alarms / maps


@pytest.mark.slow
def test_the_planned_edge_is_found() -> None:
    """Asked for: a strip of relative risk 3 found in at least 85 % (project's reference: .88 of 300 calls,
    all of 1,000); by the two-sided p-value it would be 80 %."""
    assert found_along_the_edge(3.0, incidents=300, maps=1000) >= 0.85
    assert found_along_the_edge(3.0, incidents=1000, maps=200) >= 0.98


@pytest.mark.slow
def test_an_edge_without_effect_is_seldom_told() -> None:
    """400 null maps: at most 36 alarms; of a true 0.05 more come three times in 10,000."""
    assert found_along_the_edge(1.0, incidents=300, maps=400) <= 36 / 400


def test_an_edge_calls_more_often_only_where_its_interval_says_so_too() -> None:
    """One-sided p may be small while the two-sided interval holds 1: then nothing is claimed."""
    found = one(CREEK, calls(*[50.0] * 9, *[500.0] * 120), homes((50, 33, 33), (500, 910, 910)))
    assert found.p_more_adjusted <= 0.05 < found.p_adjusted
    assert found.ratio.low < 1
    assert not found.more(0.05)
    sure = one(CREEK, calls(*[50.0] * 20, *[500.0] * 30), homes((50, 1000, 1000), (500, 9000, 9000)))
    assert sure.more(0.05)
