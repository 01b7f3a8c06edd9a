"""Burning, winding and distance on cells, held against shapely and scipy."""

from __future__ import annotations

from typing import Any

import hypothesis.strategies as st
import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import given
from hypothesis.strategies import DrawFn
from scipy.ndimage import distance_transform_edt
from shapely.geometry.base import BaseGeometry

from tests.support.profiles import examples
from tests.support.scenes import areas, lines, points
from tussock.ground.features import Geometries
from tussock.ground.lattice import Window, window_around
from tussock.ground.surfaces import (
    SLACK_HIGH,
    SLACK_LOW,
    SPACING,
    TRANSFORM_ERROR,
    burnt,
    distances,
    labels,
    outline,
    sides,
    touched,
    winding,
)

CELL_M = 10.0
WINDOW = window_around(3.0, -4.0, reach_m=160.0, cell_m=CELL_M)


def array(geometries: list[BaseGeometry]) -> Geometries:
    out = np.empty(len(geometries), dtype=object)
    out[:] = geometries
    return out


def centres(window: Window) -> npt.NDArray[np.object_]:
    x, y = np.meshgrid(window.x, window.y)
    return np.asarray(shapely.points(x, y))


def cells(window: Window, *, grown: float = 0.0) -> npt.NDArray[np.object_]:
    half = window.cell_m / 2 + grown
    x, y = np.meshgrid(window.x, window.y)
    return np.asarray(shapely.box(x - half, y - half, x + half, y + half))


@st.composite
def shapes(draw: DrawFn, *, only_areas: bool = False) -> Geometries:
    """Return one to five shapes on quarters of cells, some of them nudged by hairs."""
    size: dict[str, Any] = {"cell": CELL_M, "span": 40}
    kinds = [areas(**size)] if only_areas else [areas(**size), lines(**size), points(**size)]
    return array(draw(st.lists(st.one_of(*kinds), min_size=1, max_size=5)))


def test_distance_is_scipys(window: Window = WINDOW) -> None:
    for seed, share in ((1, 0.3), (2, 0.01), (3, 0.0005)):
        mask = np.random.default_rng(seed).random((700, 900)) < share
        mask[5, 7] = True
        expected = distance_transform_edt(~mask) * CELL_M
        assert np.abs(distances(mask, cell_m=CELL_M) - expected).max() <= TRANSFORM_ERROR * CELL_M


def test_distance_over_a_large_window_keeps_its_error() -> None:
    # one burnt cell in a corner: 4,200 cells away the transform and 32 bits are still good to the bound
    mask = np.zeros((3000, 3000), dtype=bool)
    mask[0, 0] = True
    rows, columns = np.mgrid[0:3000, 0:3000]
    away = distances(mask, cell_m=CELL_M) / CELL_M
    assert np.abs(away - np.hypot(rows, columns)).max() <= TRANSFORM_ERROR


def test_without_a_burnt_cell_nothing_is_near() -> None:
    assert np.isinf(distances(np.zeros((5, 5), dtype=bool), cell_m=CELL_M)).all()


@examples(60)
@given(geometries=shapes())
def test_every_burnt_cell_is_touched_and_every_touched_cell_is_near_a_burnt_one(
    geometries: Geometries,
) -> None:
    mask = burnt(outline(geometries, cell_m=CELL_M), WINDOW)
    whole = shapely.union_all(geometries)
    assert shapely.intersects(whole, cells(WINDOW, grown=1e-9)[mask]).all()
    # in a cell not burnt lies no set point: an outline clips it by less than the points are apart
    drawn = shapely.union_all([g if shapely.get_dimensions(g) < 2 else g.boundary for g in geometries])
    clipped = shapely.get_parts(
        shapely.line_merge(shapely.intersection(drawn, cells(WINDOW, grown=-1e-9)[~mask]))
    )
    assert shapely.length(clipped).max(initial=0.0) < SPACING * CELL_M + 1e-6


@examples(60)
@given(geometries=shapes())
def test_the_transform_bounds_the_true_distance(geometries: Geometries) -> None:
    mask = burnt(outline(geometries, cell_m=CELL_M), WINDOW)
    transform = distances(mask, cell_m=CELL_M)
    true = shapely.distance(shapely.union_all(geometries), centres(WINDOW))
    # what lies outside the window was not burnt: beyond the rim nothing is said
    rows, columns = WINDOW.shape
    row, column = np.mgrid[0:rows, 0:columns]
    rim = (np.minimum.reduce([row, column, rows - 1 - row, columns - 1 - column]) + 0.5) * CELL_M
    assert (np.minimum(transform - SLACK_LOW * CELL_M, rim) <= true + 1e-6).all()
    assert (true <= transform + SLACK_HIGH * CELL_M + 1e-6).all()


@examples(60)
@given(geometries=shapes(only_areas=True))
def test_winding_counts_the_polygons_that_hold_a_centre(geometries: Geometries) -> None:
    found = winding(sides(geometries), WINDOW)
    at = centres(WINDOW)
    inside = sum(shapely.contains_properly(g, at).astype(int) for g in geometries)
    at_most = sum(shapely.intersects(g, at).astype(int) for g in geometries)
    # a centre on an edge may count as either; all others are exact
    assert (inside <= found).all()
    assert (found <= at_most).all()


def tiles(step: float, turn: float) -> Geometries:
    """Return squares that cover the window without a gap, turned about the origin."""
    k = np.arange(-300, 300, step)
    x, y = (v.ravel() for v in np.meshgrid(k, k))
    squares = shapely.box(x, y, x + step, y + step)
    a = np.radians(turn)
    matrix = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    # neighbours share their corners to the last bit, as in files
    return np.asarray(shapely.transform(squares, lambda xy: np.round(xy @ matrix, 6)))


@pytest.mark.parametrize("step", [10.0, 15.0, 35.0])
@pytest.mark.parametrize("turn", [0.0, 45.0, 33.0])
def test_a_centre_on_a_shared_edge_belongs_to_one_polygon(step: float, turn: float) -> None:
    squares = tiles(step, turn)
    shifted = np.asarray(shapely.transform(squares, lambda xy: xy + 5.0))  # edges through centres
    for tiling in (squares, shifted):
        assert (winding(sides(tiling), WINDOW) == 1).all()


def test_labels_name_the_polygon_that_holds_a_centre() -> None:
    squares = tiles(35.0, 33.0)
    found = labels(squares, WINDOW)
    assert shapely.intersects(squares[found], centres(WINDOW)).all()
    assert (labels(squares[:0], WINDOW) == -1).all()
    few = labels(squares[::7], WINDOW)
    held = shapely.intersects(shapely.union_all(squares[::7]), centres(WINDOW))
    assert ((few >= 0) == held).all()


def test_a_hole_is_no_part_and_an_island_in_it_is() -> None:
    ring = shapely.box(-95, -95, 95, 95).difference(shapely.box(-65, -65, 65, 65))
    found = winding(sides(array([ring, shapely.box(-35, -35, 35, 35)])), WINDOW)
    at = dict(
        zip(
            zip(*(v.ravel().tolist() for v in np.meshgrid(WINDOW.x, WINDOW.y)), strict=True),
            found.ravel(),
            strict=True,
        )
    )
    assert [at[x, 5.0] for x in (85.0, 55.0, 25.0, -25.0, -55.0, -85.0, -105.0)] == [1, 0, 1, 1, 0, 1, 0]


@pytest.mark.parametrize("clockwise", [True, False])
def test_the_way_round_a_ring_is_drawn_does_not_matter(clockwise: bool) -> None:
    square = shapely.Polygon([(-50, -50), (-50, 50), (50, 50), (50, -50)])
    turned = square if clockwise else shapely.reverse(square)
    assert winding(sides(array([turned])), WINDOW).sum() == 100


def test_features_outside_the_window_burn_nothing_in_it() -> None:
    far = array([shapely.box(900, 900, 950, 950), shapely.LineString([(-900, 500), (900, 500)])])
    assert not burnt(outline(far, cell_m=CELL_M), WINDOW).any()
    # but one that holds the whole window burns all of it
    assert burnt(outline(array([shapely.box(-900, -900, 900, 900)]), cell_m=CELL_M), WINDOW).all()
    assert not touched(outline(array([shapely.box(-900, -900, 900, 900)]), cell_m=CELL_M), WINDOW).any()
