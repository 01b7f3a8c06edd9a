"""Overlapping areas flattened, matched and dissolved; the referee is shapely's own union."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import hypothesis.strategies as st
import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import given
from hypothesis.strategies import DrawFn
from shapely.geometry.base import BaseGeometry

from tests.support.profiles import examples
from tests.support.scenes import areas
from tussock.geodesy import Floats
from tussock.ground.areas import CRACK_M, AreaSet, chunks, dissolved, faces, flattened, joined
from tussock.ground.features import Features, Geometries, features

CLEAR_M = 0.001
"""Points nearer to an edge are not asked whose they are: edges move by up to 0.07 mm."""


def array(geometries: Sequence[shapely.Geometry]) -> Geometries:
    out = np.empty(len(geometries), dtype=object)
    out[:] = geometries
    return out


@st.composite
def overlapping(draw: DrawFn) -> Geometries:
    """Return boxes, rings, slivers and stars; on quarters of cells, so that they often touch, or turned."""
    return array(draw(st.lists(areas(cell=10.0, span=20), min_size=1, max_size=7)))


def scattered(seed: int, count: int) -> Geometries:
    """Return random stars, half of them with a hole, over 2 km: nothing lies on anything but by crossing."""
    rng = np.random.default_rng(seed)
    out: list[BaseGeometry] = []
    for k in range(count):
        turns = np.sort(rng.uniform(0, 2 * np.pi, 9))
        ring = rng.uniform(100, 350, 9)[:, None] * np.column_stack([np.cos(turns), np.sin(turns)])
        middle = rng.uniform(-800, 800, 2)
        shape: BaseGeometry = shapely.make_valid(shapely.Polygon(middle + ring))
        hole = shapely.Point(middle + rng.uniform(-60, 60, 2)).buffer(40.0, quad_segs=3)
        out.append(shapely.difference(shape, hole) if k % 2 else shape)
    return array(out)


def filled(union: BaseGeometry) -> BaseGeometry:
    """Return a union without its hairline holes, as CRACK_M documents them: twice area over edge."""
    parts = []
    for part in shapely.get_parts(union):
        holes = [shapely.Polygon(r) for r in part.interiors]
        wide = [h.exterior for h in holes if 2 * h.area >= CRACK_M * h.length]
        parts.append(shapely.Polygon(part.exterior, wide))
    return shapely.union_all(parts)


def allowed(geometries: Geometries) -> float:
    """Return how far areas may differ [m²]: a millimetre along every edge."""
    return float(1e-3 + 1e-3 * shapely.length(geometries).sum())


def total(polygons: Geometries) -> float:
    return float(shapely.area(polygons).sum())


def same_ground(ours: Geometries, theirs: BaseGeometry, *, within: float) -> None:
    """Assert that polygons are disjoint and together the same ground, to so many square metres."""
    assert total(ours) == pytest.approx(theirs.area, abs=within)
    assert shapely.union_all(ours).symmetric_difference(theirs).area <= within


def probes(geometries: Geometries, seed: int) -> Geometries:
    """Return random points round some areas, none of them within CLEAR_M of an edge."""
    w, s, e, n = shapely.total_bounds(geometries)
    rng = np.random.default_rng(seed)
    at = np.asarray(shapely.points(rng.uniform(w - 5, e + 5, 300), rng.uniform(s - 5, n + 5, 300)))
    edges = shapely.union_all(shapely.boundary(geometries))
    clear: Geometries = at[shapely.distance(edges, at) > CLEAR_M]
    return clear


def holders(polygons: Geometries, points: Geometries) -> list[list[int]]:
    """Return per point which polygons hold it."""
    shapely.prepare(polygons)
    return [np.flatnonzero(row).tolist() for row in shapely.intersects(polygons, points[:, None])]


def outside_hairlines(geometries: Geometries, points: Geometries) -> Geometries:
    """Return the points that lie in no hairline between areas: those belong to either neighbour."""
    union = shapely.union_all(geometries)
    kept: Geometries = points[~shapely.intersects(filled(union).difference(union), points)]
    return kept


def ranks(seed: int, count: int) -> npt.NDArray[np.int64]:
    return np.random.default_rng(seed).permutation(count)


def check_faces(geometries: Geometries, rank: npt.NDArray[np.int64]) -> None:
    """Hold the pieces against the areas at random points: one piece each, of the highest rank there."""
    found = faces(geometries, rank=rank)
    assert shapely.coverage_is_valid(found.polygons)
    same_ground(found.polygons, filled(shapely.union_all(geometries)), within=allowed(geometries))
    at = outside_hairlines(geometries, probes(geometries, seed=len(geometries)))
    assert len(at) > 200
    for over, pieces in zip(holders(geometries, at), holders(found.polygons, at), strict=True):
        assert [int(found.owner[k]) for k in pieces] == ([max(over, key=lambda k: rank[k])] if over else [])


@examples(30)
@given(geometries=overlapping(), seed=st.integers(0, 99))
def test_each_place_belongs_to_the_area_of_the_highest_rank(geometries: Geometries, seed: int) -> None:
    check_faces(geometries, ranks(seed, len(geometries)))


@pytest.mark.parametrize("seed", range(4))
def test_so_it_does_among_many_that_cross_at_will(seed: int) -> None:
    geometries = scattered(seed, 25)
    check_faces(geometries, ranks(seed, 25))


@examples(30)
@given(geometries=overlapping())
def test_dissolved_is_the_union(geometries: Geometries) -> None:
    found = dissolved(geometries)
    assert (shapely.get_type_id(found.parts) == shapely.GeometryType.POLYGON).all()
    assert shapely.is_valid(found.parts).all()
    same_ground(found.parts, filled(shapely.union_all(geometries)), within=allowed(geometries))


@pytest.mark.parametrize("seed", range(4))
def test_so_it_is_of_many(seed: int) -> None:
    geometries = scattered(10 + seed, 40)
    found = dissolved(geometries)
    same_ground(found.parts, filled(shapely.union_all(geometries)), within=allowed(geometries))
    assert len(found.parts) == len(shapely.get_parts(shapely.union_all(geometries)))


def test_joined_is_the_union_of_the_pieces_of_some_owners() -> None:
    geometries = scattered(30, 30)
    found = faces(geometries, rank=ranks(3, 30))
    for chosen in (found.owner % 3 == 0, found.owner < 4, found.owner >= 0):
        pieces = found.polygons[chosen]
        parts = joined(pieces).parts
        # matched edges leave no vertex unmatched: nothing moves, and rounding is all that may differ
        assert total(parts) == pytest.approx(total(pieces), rel=1e-12)
        assert shapely.union_all(parts).symmetric_difference(shapely.union_all(pieces)).area < 1e-6
    assert len(joined(found.polygons[:0]).parts) == len(dissolved(geometries[:0]).parts) == 0


def rounded_tiles(seed: int) -> Geometries:
    """Return a square cut into strips and the strips into tiles at places of their own.

    Turned and rounded to the centimetre, as coordinates with 7 decimals are: where a tile's corner lies on
    the side of a strip, the tile on the other side has no vertex there.
    """
    rng = np.random.default_rng(seed)
    rows = np.r_[0, np.sort(rng.uniform(20, 980, 6)), 1000]
    out: list[BaseGeometry] = []
    for low, high in pairwise(rows):
        columns = np.r_[0, np.sort(rng.uniform(20, 980, 5)), 1000]
        out += [shapely.box(w, low, e, high) for w, e in pairwise(columns)]
    a = np.radians(rng.uniform(5, 40))
    matrix = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    return np.asarray(shapely.transform(array(out), lambda xy: np.round(xy @ matrix, 2)))


@pytest.mark.parametrize("seed", range(8))
def test_rounded_neighbours_leave_no_hairline(seed: int) -> None:
    tiles = rounded_tiles(seed)
    # without care they do, or this would check nothing
    assert sum(len(p.interiors) for p in shapely.get_parts(shapely.union_all(tiles))) > 0
    (whole,) = dissolved(tiles).parts
    assert len(whole.interiors) == 0
    assert whole.area == pytest.approx(1_000_000, abs=0.01 * 4000)
    assert shapely.coverage_is_valid(faces(tiles, rank=np.arange(len(tiles))).polygons)


@pytest.mark.parametrize(("gap", "holes"), [(0.002, 0), (0.03, 0), (0.1, 1), (1.0, 1), (40.0, 1)])
def test_a_gap_wider_than_a_crack_stays(gap: float, holes: int) -> None:
    # by hand: a slit of 60 m; twice its area over its edge is gap / (1 + gap / 60), CRACK_M is 0.05
    around = shapely.box(0, 0, 100, 100).difference(shapely.box(20, 50, 80, 50 + gap))
    (whole,) = dissolved(array([around])).parts
    assert len(whole.interiors) == holes
    assert whole.area == pytest.approx(10_000 - holes * 60 * gap, abs=allowed(array([around])))


def layer(geometries: Geometries, seed: int) -> Features:
    """Return a layer whose features say in class and id which they are, with few priorities: many ties."""
    rng = np.random.default_rng(seed)
    named = features("habitat", geometries, classes=[f"class {k}" for k in range(len(geometries))])
    ids = np.array([f"id {k}" for k in range(len(geometries))], dtype=object)
    return replace(named, ids=ids, priority=rng.integers(0, 3, len(geometries)))


def winner(whole: Features, over: list[int]) -> int:
    """Return whose a place is: the higher priority, then the smaller area, then the later row."""
    area = shapely.area(whole.geometries)
    return max(over, key=lambda k: (whole.priority[k], -area[k], k))


def check_flattened(geometries: Geometries, seed: int) -> None:
    whole = layer(geometries, seed)
    flat = flattened(whole)
    assert shapely.coverage_is_valid(flat.geometries)
    same_ground(flat.geometries, filled(shapely.union_all(geometries)), within=allowed(geometries))
    at = outside_hairlines(geometries, probes(geometries, seed))
    assert len(at) > 200
    for over, pieces in zip(holders(geometries, at), holders(flat.geometries, at), strict=True):
        expected = [f"id {winner(whole, over)}"] if over else []
        assert [flat.ids[k] for k in pieces] == expected
    assert [c.removeprefix("class ") for c in flat.classes] == [i.removeprefix("id ") for i in flat.ids]


@examples(30)
@given(geometries=overlapping(), seed=st.integers(0, 99))
def test_flattened_keeps_who_wins(geometries: Geometries, seed: int) -> None:
    check_flattened(geometries, seed)


@pytest.mark.parametrize("seed", range(3))
def test_so_it_does_in_a_crowd(seed: int) -> None:
    check_flattened(scattered(50 + seed, 25), seed)


def test_of_twins_the_later_wins() -> None:
    twins = features("habitat", [shapely.box(0, 0, 10, 10)] * 3, classes=["rock", "bare", "forest"])
    assert flattened(twins).classes.tolist() == ["forest"]


BLOCK = shapely.box(0, 0, 100, 100)


@pytest.mark.parametrize(
    ("cut", "expected"),
    [
        ([(40, -10), (40, 110)], [4000, 6000]),
        ([(40, 0), (40, 100)], [4000, 6000]),
        ([(40, -10), (40, 90)], [10_000]),  # ends inside
        ([(40, 10), (40, 90)], [10_000]),
        ([(200, 0), (200, 100)], [10_000]),
        ([(-10, 30), (110, 30), (110, 70), (-10, 70)], [3000, 3000, 4000]),
    ],
)
def test_lines_cut_areas_from_side_to_side(cut: list[tuple[float, float]], expected: list[float]) -> None:
    found = faces(array([BLOCK]), rank=np.zeros(1, dtype=np.int64), cuts=array([shapely.LineString(cut)]))
    assert sorted(shapely.area(found.polygons)) == pytest.approx(expected, abs=0.5)
    assert not found.owner.any()


@pytest.mark.parametrize("seed", range(3))
def test_a_point_finds_its_part(seed: int) -> None:
    geometries = scattered(70 + seed, 12)
    found: AreaSet = dissolved(geometries)
    union = shapely.union_all(geometries)
    at = probes(geometries, seed)
    part = found.part_of(at)
    assert ((part >= 0) == shapely.intersects(union, at)).all()
    assert shapely.intersects(found.parts[part[part >= 0]], at[part >= 0]).all()


@pytest.mark.parametrize("size", [1, 2, 8, 1000])
def test_pieces_of_an_outline_are_together_the_outline(size: int) -> None:
    rings = np.asarray(shapely.get_rings(scattered(90, 10)))
    pieces = chunks(rings, size=size)
    assert shapely.get_num_points(pieces).max() <= size + 1
    assert (shapely.get_num_points(pieces) >= 2).all()
    assert segments(pieces) == segments(rings)
    assert len(chunks(rings[:0], size=size)) == 0


def segments(lines: Geometries) -> list[tuple[float, ...]]:
    out: list[tuple[float, ...]] = []
    for line in lines:
        xy: Floats = shapely.get_coordinates(line)
        out += [tuple(s) for s in np.hstack([xy[:-1], xy[1:]]).tolist()]
    return out
