"""Cells: every call accounted for, homes and calls cut alike, neighbours, and the rule for their size."""

from __future__ import annotations

import importlib
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import InputError, MissingDataError
from tussock.geodesy import Plane
from tussock.hotspots import hexagons
from tussock.hotspots.cells import CallPlaces, Cells, Ground, HomePlaces, Tally, known_share, mean_expected
from tussock.hotspots.hexagons import LEAST_EXPECTED, hexagon_cells, hexagon_steps
from tussock.hotspots.supplied import polygon_cells

PLANE = Plane(147.3, -42.9)
FIELD = shapely.box(-5000, -5000, 5000, 5000)
KNOWN = shapely.box(-5000, -5000, 2000, 5000)
GROUND = Ground(PLANE, KNOWN, FIELD)


def places(n: int, *, seed: int, reach: float = 6000.0) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    rng = np.random.default_rng(seed)
    return rng.uniform(-reach, reach, n), rng.uniform(-reach, reach, n)


def some(calls: int = 300, homes: int = 2000, *, seed: int = 1) -> tuple[CallPlaces, HomePlaces]:
    rng = np.random.default_rng(seed)
    low = rng.integers(0, 2, homes).astype(float)
    stands = rng.random(calls) < 0.8
    return CallPlaces(*places(calls, seed=seed), stands), HomePlaces(
        *places(homes, seed=seed + 1), low, np.ones(homes)
    )


def squares(step: float = 1000.0) -> tuple[np.ndarray[Any, Any], list[str]]:
    """Return a chessboard over the field, 10 × 10."""
    at = np.arange(-5000.0, 5000.0, step)
    shapes = [shapely.box(x, y, x + step, y + step) for y in at for x in at]
    return np.array(shapes, dtype=object), [f"{i:02d}" for i in range(len(shapes))]


def check_tally(cells: Cells, calls: CallPlaces) -> None:
    for tally, flags in (
        (cells.call_tally, np.ones(len(calls.x), bool)),
        (cells.incident_tally, calls.incidents),
    ):
        in_region = (np.abs(calls.x) <= 5000) & (np.abs(calls.y) <= 5000)
        assert tally.read == flags.sum()
        assert tally.outside_region == (flags & ~in_region).sum()
        assert tally.outside_extent == (flags & in_region & (calls.x > 2000)).sum()
        parts = tally.in_cells + tally.without_homes + tally.in_no_cell
        assert parts == (flags & in_region & (calls.x <= 2000)).sum()
    assert cells.calls.sum() == cells.call_tally.in_cells + cells.call_tally.without_homes
    assert cells.calls[cells.homes_high == 0].sum() == cells.call_tally.without_homes
    assert cells.incidents.sum() == cells.incident_tally.in_cells + cells.incident_tally.without_homes


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), calls=st.integers(0, 60), resolution=st.integers(5, 10))
def test_every_call_is_accounted_for(seed: int, calls: int, resolution: int) -> None:
    found, homes = some(calls, 200, seed=seed)
    cells = hexagon_cells(found, homes, ground=GROUND, resolution=resolution)
    check_tally(cells, found)
    inside = (homes.x <= 2000) & (np.abs(homes.x) <= 5000) & (np.abs(homes.y) <= 5000)
    assert cells.homes_low.sum() == homes.low[inside].sum()
    assert cells.homes_high.sum() == homes.high[inside].sum()
    assert cells.homes_outside == (homes.low[~inside].sum(), homes.high[~inside].sum())


def test_what_is_known_beyond_the_region_is_not_counted() -> None:
    """The extent reaches farther than the region: a call and a home at x = 6,000 are neither's."""
    at, there = np.array([0.0, 6000.0]), np.zeros(2)
    wide = Ground(PLANE, shapely.box(-9000, -9000, 9000, 9000), FIELD)
    cells = hexagon_cells(
        CallPlaces(at, there), HomePlaces(at, there, np.ones(2), np.ones(2)), ground=wide, resolution=7
    )
    assert (cells.calls.tolist(), cells.homes_high.tolist(), cells.homes_outside) == ([1], [1.0], (1.0, 1.0))
    assert (cells.call_tally.outside_region, cells.call_tally.outside_extent) == (1, 0)


def test_a_call_lies_in_the_outline_of_its_cell() -> None:
    """The outline in the plane and the index of a point are found separately."""
    calls, homes = some(500, seed=4)
    cells = hexagon_cells(calls, homes, ground=GROUND, resolution=8)
    for row in np.flatnonzero(cells.calls):
        near = shapely.dwithin(cells.polygons[row], shapely.points(calls.x, calls.y), 1.0)
        inside = (calls.x <= 2000) & (np.abs(calls.y) <= 5000) & (np.abs(calls.x) <= 5000)
        strict = shapely.contains_xy(cells.polygons[row].buffer(-1.0), calls.x, calls.y)
        assert (strict & inside).sum() <= cells.calls[row] <= (near & inside).sum()


def test_neighbours_are_the_cells_that_touch() -> None:
    calls, homes = some(seed=7)
    cells = hexagon_cells(calls, homes, ground=GROUND, resolution=7)
    for row in range(len(cells.names)):
        touching = np.flatnonzero(shapely.dwithin(cells.polygons[row], cells.polygons, 0.5))
        assert cells.neighbours_of(row).tolist() == [i for i in touching if i != row]
    assert max(len(cells.neighbours_of(r)) for r in range(len(cells.names))) == 6


def test_a_square_of_a_chessboard_has_eight_neighbours() -> None:
    calls, homes = some()
    shapes, names = squares()
    cells = polygon_cells(calls, homes, ground=GROUND, polygons=shapes, names=names)
    touching = [len(cells.neighbours_of(r)) for r in range(100)]
    assert sorted(set(touching)) == [3, 5, 8]
    assert [touching.count(n) for n in (3, 5, 8)] == [4, 32, 64]
    assert cells.neighbours_of(11).tolist() == [0, 1, 2, 10, 12, 20, 21, 22]
    check_tally(cells, calls)


def test_squares_count_what_arithmetic_counts() -> None:
    calls, homes = some(seed=9)
    shapes, names = squares()
    cells = polygon_cells(calls, homes, ground=GROUND, polygons=shapes, names=names)
    edges = np.arange(-5000.0, 5001.0, 1000.0)
    known = calls.x <= 2000
    by_hand = np.histogram2d(calls.y[known], calls.x[known], bins=(edges, edges))[0].ravel()
    assert cells.calls.tolist() == by_hand.tolist()


def test_cells_cut_by_the_known_extent_are_not_tested() -> None:
    """The extent ends at x = 2,000: squares that begin 960, 940, 950 m before it are known by as much."""
    homes = HomePlaces(np.array([1900.0]), np.array([10.0]), np.ones(1), np.ones(1))
    for start, share, tested in ((1040.0, 0.96, True), (1060.0, 0.94, False), (1050.0, 0.95, True)):
        shape = np.array([shapely.box(start, 0, start + 1000, 1000)], dtype=object)
        cells = polygon_cells(
            CallPlaces(np.zeros(0), np.zeros(0)), homes, ground=GROUND, polygons=shape, names=["one"]
        )
        assert cells.known == pytest.approx([share])
        assert cells.tested.tolist() == [tested]
    assert known_share(np.array([shapely.box(3000, 0, 4000, 10)], dtype=object), KNOWN).tolist() == [0.0]


def test_homes_of_unknown_use_widen_the_exposure() -> None:
    at = np.array([10.0, 20.0, 30.0])
    homes = HomePlaces(at, at, np.array([4.0, 0.0, 0.0]), np.array([4.0, 1.0, 1.0]))
    cells = hexagon_cells(CallPlaces(at[:1], at[:1]), homes, ground=GROUND, resolution=6)
    assert (cells.homes_low.tolist(), cells.homes_high.tolist(), cells.homes.tolist()) == (
        [4.0],
        [6.0],
        [6.0],
    )


def test_the_resolution_is_the_finest_that_expects_five() -> None:
    """By hand: of each resolution Σ homes² / Σ homes × incidents / homes, walked from the coarsest."""
    calls, homes = some(400, 3000, seed=11)
    steps = hexagon_steps(calls, homes, ground=GROUND)
    passing = [
        r
        for r in range(4, 11)
        if hexagon_cells(calls, homes, ground=GROUND, resolution=r).mean_expected >= LEAST_EXPECTED
    ]
    assert steps.choice.resolution == max(passing)
    r = steps.choice.resolution
    assert (steps.coarser.resolution, steps.chosen.resolution, steps.finer.resolution) == (r - 1, r, r + 1)
    assert steps.choice.expected[r] >= LEAST_EXPECTED > steps.choice.expected[r + 1]
    assert f"resolution {r}" in steps.choice.rule


def test_the_resolution_does_not_look_at_where_calls_are() -> None:
    calls, homes = some(400, 3000, seed=12)
    known = (calls.x <= 2000) & (np.abs(calls.x) <= 5000) & (np.abs(calls.y) <= 5000)
    moved = CallPlaces(np.where(known, 5.0, calls.x), np.where(known, 5.0, calls.y), calls.stands)
    one, other = (hexagon_steps(c, homes, ground=GROUND) for c in (calls, moved))
    assert one.choice == other.choice


def test_a_single_call_gives_the_coarsest_cells_and_says_so() -> None:
    _, homes = some()
    steps = hexagon_steps(CallPlaces(np.zeros(1), np.zeros(1)), homes, ground=GROUND)
    assert (steps.choice.resolution, steps.choice.reached) == (4, False)
    assert "say little" in steps.choice.rule


def test_very_many_calls_stop_at_the_finest_cells_and_say_so() -> None:
    at = np.zeros(20_000)
    steps = hexagon_steps(
        CallPlaces(at, at), HomePlaces(at[:9], at[:9], np.ones(9), np.ones(9)), ground=GROUND
    )
    assert (steps.choice.resolution, steps.finer.resolution) == (10, 11)
    assert "finer cells are not used" in steps.choice.rule


def test_nothing_at_all() -> None:
    none = np.zeros(0)
    steps = hexagon_steps(CallPlaces(none, none), HomePlaces(none, none, none, none), ground=GROUND)
    assert (steps.chosen.names, steps.chosen.call_tally.read) == ((), 0)


@pytest.mark.parametrize(
    ("homes", "incidents", "mean"), [([10, 10], 4, 2.0), ([30, 10], 8, 5.0), ([7], 3, 3.0), ([0.0], 3, 0.0)]
)
def test_the_mean_over_homes_by_hand(homes: list[float], incidents: int, mean: float) -> None:
    """30 homes expect 6, 10 homes 2: (30 × 6 + 10 × 2) / 40 = 5."""
    assert mean_expected(np.array(homes, float), incidents=incidents) == pytest.approx(mean)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_the_order_of_rows_does_not_matter(seed: int) -> None:
    calls, homes = some(80, 150, seed=seed)
    rng = np.random.default_rng(seed)
    a, b = rng.permutation(80), rng.permutation(150)
    shuffled = CallPlaces(calls.x[a], calls.y[a], calls.incidents[a])
    others = HomePlaces(homes.x[b], homes.y[b], homes.low[b], homes.high[b])
    one = hexagon_cells(calls, homes, ground=GROUND, resolution=8)
    two = hexagon_cells(shuffled, others, ground=GROUND, resolution=8)
    assert one.names == two.names
    for name in ("calls", "incidents", "homes_low", "homes_high", "known", "starts", "neighbours"):
        assert np.array_equal(getattr(one, name), getattr(two, name)), name


def bad_input() -> Iterator[tuple[CallPlaces, HomePlaces, str]]:
    calls, homes = some(2, 2)
    two, nan = np.zeros(2), np.array([0.0, np.nan])
    yield CallPlaces(nan, two), homes, "no number"
    yield CallPlaces(two, np.zeros(3)), homes, "2 x and 3 y of calls"
    yield calls, HomePlaces(two, two, np.array([2.0, 0.0]), np.ones(2)), "more for certain than at most"
    yield calls, HomePlaces(two, two, -np.ones(2), np.ones(2)), "below 0"


@pytest.mark.parametrize(("calls", "homes", "words"), list(bad_input()))
def test_input_that_cannot_be_counted_is_refused(calls: CallPlaces, homes: HomePlaces, words: str) -> None:
    with pytest.raises(InputError, match=words):
        hexagon_cells(calls, homes, ground=GROUND, resolution=7)


@pytest.mark.parametrize(
    ("ground", "words"),
    [
        (Ground(PLANE, shapely.Polygon()), "the known extent is no area"),
        (
            Ground(PLANE, KNOWN, shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])),
            "the region is no area .*Self",
        ),
    ],
)
def test_an_extent_that_is_no_area_is_refused(ground: Ground, words: str) -> None:
    calls, homes = some(2, 2)
    with pytest.raises(InputError, match=words):
        hexagon_cells(calls, homes, ground=ground, resolution=7)


def test_all_calls_in_one_cell() -> None:
    _, homes = some()
    at = np.full(40, 10.0)
    cells = hexagon_steps(CallPlaces(at, at), homes, ground=GROUND).chosen
    assert sorted(cells.calls.tolist())[-2:] == [0, 40]
    assert cells.call_tally.in_cells == 40


def test_h3_is_asked_for_only_when_cells_are_laid_out() -> None:
    code = "import sys, tussock.hotspots.hexagons; sys.exit('h3' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_cells_that_overlap_are_named() -> None:
    calls, homes = some()
    shapes = np.array([shapely.box(0, 0, 100, 100), shapely.box(50, 0, 150, 100)], dtype=object)
    with pytest.raises(InputError, match=r"'east' and 'west' overlap by 0\.50 ha"):
        polygon_cells(calls, homes, ground=GROUND, polygons=shapes, names=["west", "east"])


def test_faulty_polygons_are_listed_together() -> None:
    calls, homes = some()
    bow = shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    with pytest.raises(InputError) as caught:
        polygon_cells(
            calls, homes, ground=GROUND, polygons=np.array([bow, bow], dtype=object), names=["a", "a"]
        )
    assert "called 'a'" in str(caught.value)
    assert "Self-intersection" in str(caught.value)


def test_a_resolution_that_is_none() -> None:
    calls, homes = some()
    with pytest.raises(InputError, match="0 \\(coarse\\) to 15"):
        hexagon_cells(calls, homes, ground=GROUND, resolution=16)


def test_a_tally_that_does_not_add_up_is_impossible() -> None:
    with pytest.raises(ValueError, match="do not add up"):
        Tally(read=3, in_cells=1, without_homes=0, in_no_cell=0, outside_extent=0, outside_region=1)


def test_without_h3_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    def absent(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr(hexagons, "_h3", hexagons._h3.__wrapped__)  # not what was imported before
    monkeypatch.setattr(importlib, "import_module", absent)
    calls, homes = some()
    with pytest.raises(MissingDataError, match=r"tussock\[hotspots\]"):
        hexagon_cells(calls, homes, ground=GROUND, resolution=7)


def test_a_place_known_to_a_circle_wider_than_its_cell_is_in_none() -> None:
    """One call "somewhere in the suburb" says nothing of the cell in the suburb's middle."""
    zero, homes = np.zeros(3), HomePlaces(np.zeros(9), np.zeros(9), np.ones(9), np.ones(9))
    calls = CallPlaces(zero, zero, np.array([True, True, False]), np.array([20.0, 300.0, 1500.0]))
    # cells of resolution 9 are of about 0.105 km² (H3's own table of average areas): 325 m across
    widths = {
        resolution: float(
            np.sqrt(hexagon_cells(calls, homes, ground=GROUND, resolution=resolution).polygons[0].area)
        )
        for resolution in (8, 9, 10)
    }
    assert widths[10] < 300 < widths[9] < widths[8] < 1500
    tallies = {r: hexagon_cells(calls, homes, ground=GROUND, resolution=r).call_tally for r in (8, 9, 10)}
    assert {r: (t.in_cells, t.too_vague) for r, t in tallies.items()} == {8: (2, 1), 9: (2, 1), 10: (1, 2)}
    fine = hexagon_cells(calls, homes, ground=GROUND, resolution=10).incident_tally
    assert (fine.read, fine.in_cells, fine.too_vague) == (2, 1, 1)
