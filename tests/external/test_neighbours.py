"""The neighbours of the ring test as spatial weights, against published statistics and libpysal's weights.

No part of the package works out Getis and Ord's or Moran's statistics: on raw rates they alarm far too
often. Here they check the neighbours. Sources: six points with binary weights up to 15, printed in the
documentation of esda's G_Local and G (z with and without the cell itself, general G); Moran's I of the same,
its moments and the 4 × 4 boards worked out apart from this package, and as esda 2.9.0 gives them. Formulas:
Ord & Getis (1995), Geographical Analysis 27: 286–306, and Cliff & Ord (1981), Spatial Processes, from memory.
Polygons: 78 counties round St Louis and 49 quarters of Columbus, built into libpysal, and hexagons; its own
Queen and lattice weights are the referee.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from tests.support.extracts import absent, referee
from tussock.geodesy import Floats, Plane
from tussock.hotspots.cells import CallPlaces, Cells, Ground, HomePlaces, Shapes
from tussock.hotspots.hexagons import hexagon_cells
from tussock.hotspots.supplied import polygon_cells

POINTS = np.array([(10, 10), (20, 10), (40, 10), (15, 20), (30, 20), (30, 30)]) * 100.0
LINKS = ((1, 2), (1, 4), (2, 4), (2, 5), (3, 5), (4, 5), (5, 6))
Y = np.array([2, 3, 3.2, 5, 8, 7])
PLANE = Plane(-90.0, 38.6)


def cells_of(polygons: Shapes) -> Cells:
    """Return polygons as the user's cells, one home in each."""
    at = shapely.point_on_surface(polygons)
    x, y = shapely.get_x(at), shapely.get_y(at)
    one = np.ones(len(x))
    ground = Ground(PLANE, shapely.box(*shapely.total_bounds(polygons)).buffer(10))
    names = [f"{i:04d}" for i in range(len(polygons))]
    return polygon_cells(
        CallPlaces(x, y), HomePlaces(x, y, one, one), ground=ground, polygons=polygons, names=names
    )


def weights(cells: Cells) -> Floats:
    """Return the ring test's neighbours as a binary matrix."""
    found = np.zeros((len(cells.names), len(cells.names)))
    found[np.repeat(np.arange(len(cells.names)), np.diff(cells.starts)), cells.neighbours] = 1
    return found


def stars() -> Shapes:
    """Return one polygon per published point: narrow arms that meet its neighbours' half-way."""
    arms: list[list[BaseGeometry]] = [[] for _ in POINTS]
    for a, b in LINKS:
        middle = (POINTS[a - 1] + POINTS[b - 1]) / 2
        for end in (a - 1, b - 1):
            arms[end].append(shapely.LineString([POINTS[end], middle]).buffer(5, cap_style="flat"))
    made = [
        shapely.union_all([shapely.Point(p).buffer(20), *arm]) for p, arm in zip(POINTS, arms, strict=True)
    ]
    return np.array(made, dtype=object)


@pytest.fixture(scope="module")
def published() -> Floats:
    return weights(cells_of(stars()))


def g_local(y: Floats, w: Floats) -> Floats:
    """Return Ord and Getis's z: of cells with themselves where the diagonal is 1, else without."""
    n = len(y)
    star = w.diagonal().all()
    others = np.ones((n, n)) - (0 if star else np.eye(n))
    m = others.sum(axis=1)
    mean = others @ y / m
    spread = np.sqrt(others @ y**2 / m - mean**2)
    sums = w.sum(axis=1)
    return np.asarray(
        (w @ y - mean * sums) / (spread * np.sqrt((m * (w**2).sum(axis=1) - sums**2) / (m - 1)))
    )


def moran(y: Floats, w: Floats) -> float:
    z = y - y.mean()
    return float(len(y) / w.sum() * (z @ w @ z) / (z @ z))


def test_links_of_the_published_points(published: Floats) -> None:
    """Those no farther apart than 15, the end included: 4 and 5 are just that."""
    away = np.hypot(*(POINTS[:, None] - POINTS).T) / 100
    assert {(int(a) + 1, int(b) + 1) for a, b in zip(*np.nonzero(np.triu(published)), strict=True)} == set(
        LINKS
    )
    np.testing.assert_array_equal(published, (away <= 15) & (away > 0))


def test_getis_and_ord_as_printed(published: Floats) -> None:
    with_itself = [-1.39727626, -0.28917762, 0.65064964, -0.28917762, 1.23452088, 2.02424331]
    assert g_local(Y, published + np.eye(6)) == pytest.approx(with_itself, abs=5e-9)
    without = [-1.0136729, -0.04361589, 1.31558703, -0.31412676, 1.15373986, 1.77833941]
    assert g_local(Y, published) == pytest.approx(without, abs=5e-8)
    assert Y @ published @ Y / (Y.sum() ** 2 - Y @ Y) == pytest.approx(0.55709779, abs=5e-9)
    assert published.sum() / 30 == pytest.approx(0.46666667, abs=5e-9)


def test_moran_worked_out_apart(published: Floats) -> None:
    assert moran(Y, published) == pytest.approx(0.0385266302, abs=5e-11)
    n, s0 = 6, published.sum()
    s1, s2 = (
        ((published + published.T) ** 2).sum() / 2,
        (2 * published.sum(axis=0)) @ (2 * published.sum(axis=0)),
    )
    assert (s0, s1, s2) == (14, 28, 160)
    normal = (n**2 * s1 - n * s2 + 3 * s0**2) / (s0**2 * (n**2 - 1)) - (1 / (n - 1)) ** 2
    assert normal == pytest.approx(0.0527113703, abs=5e-11)
    assert (moran(Y, published) + 1 / (n - 1)) / np.sqrt(normal) == pytest.approx(1.0389262502, abs=5e-11)


def board(cut_m: float) -> Floats:
    """Return the weights of 4 × 4 squares of 100 m, row by row, their corners cut."""
    squares = [
        shapely.box(100 * j, 100 * i, 100 * j + 100, 100 * i + 100) for i in range(4) for j in range(4)
    ]
    corners = shapely.union_all(
        [shapely.Point(100 * i, 100 * j).buffer(cut_m) for i in range(5) for j in range(5)]
    )
    whole = np.array(squares, dtype=object)
    return weights(cells_of(shapely.difference(whole, corners) if cut_m else whole))


def test_moran_of_boards_with_sides_in_common() -> None:
    """Squares whose corners do not meet have their sides' neighbours only, and a chessboard −1."""
    sides = board(5.0)
    row, column = np.divmod(np.arange(16), 4)
    assert moran(((row + column) % 2).astype(float), sides) == pytest.approx(-1, abs=1e-12)
    assert moran((column < 2).astype(float), sides) == pytest.approx(0.6666667, abs=5e-8)
    np.testing.assert_array_equal(sides, libpysal_board(rook=True))


def test_squares_that_meet_in_a_corner_are_neighbours() -> None:
    np.testing.assert_array_equal(board(0.0), libpysal_board(rook=False))


def libpysal_board(*, rook: bool) -> Floats:
    return np.asarray(referee("libpysal.weights").lat2W(4, 4, rook=rook).full()[0], dtype=np.float64)


def queen(polygons: Shapes) -> Floats:
    """Return libpysal's weights of polygons that share a corner or more."""
    import geopandas

    frame = geopandas.GeoDataFrame(geometry=list(polygons))
    found = referee("libpysal.weights").Queen.from_dataframe(frame, use_index=False, silence_warnings=True)
    return np.asarray(found.full()[0], dtype=np.float64)


@pytest.mark.parametrize(("folder", "units"), [("stl", 78), ("columbus", 49)])
def test_drawn_polygons_as_libpysal_has_them(folder: str, units: int) -> None:
    polygons = built_in(folder)
    assert len(polygons) == units
    ours, theirs = weights(cells_of(polygons)), queen(polygons)
    np.testing.assert_array_equal(ours, theirs)


def built_in(folder: str) -> Shapes:
    """Return the polygons of a set in libpysal's wheel, in metres."""
    spec = importlib.util.find_spec("libpysal")
    if spec is None or not spec.submodule_search_locations:
        absent("libpysal is not installed: its wheel carries the polygons (pip install '.[test]')")
    import geopandas

    path = next((Path(next(iter(spec.submodule_search_locations))) / "examples" / folder).glob("*.shp"))
    shapes = np.array(geopandas.read_file(path).geometry, dtype=object)
    if folder == "stl":  # in degrees
        shapes = shapely.transform(shapes, lambda c: np.column_stack(PLANE.project(*c.T)))
        return np.asarray(shapes, dtype=object)
    return np.asarray(shapely.transform(shapes, lambda c: 1000 * c), dtype=object)  # in a unit of its own


def test_hexagons_as_libpysal_has_them() -> None:
    rng = np.random.Generator(np.random.PCG64(20261126))
    x, y = rng.normal(0, 2500, (2, 4000))
    one = np.ones(4000)
    homes = HomePlaces(x, y, one, one)
    ground = Ground(PLANE, shapely.box(-30_000, -30_000, 30_000, 30_000))
    cells = hexagon_cells(CallPlaces(x[:50], y[:50]), homes, ground=ground, resolution=8)
    assert len(cells.names) > 50
    np.testing.assert_array_equal(weights(cells), queen(cells.polygons))
