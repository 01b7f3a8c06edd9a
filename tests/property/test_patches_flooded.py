"""Patches held against a flood: cells of a metre, filled until habitat ends or a barrier is met.

The flood knows nothing of polygons, only scipy's labels. It is good to a metre along every edge; scenes
where a neck of a few metres decides are left out.
"""

from __future__ import annotations

import hypothesis.strategies as st
import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import assume, given
from hypothesis.strategies import DrawFn
from scipy.ndimage import label

from tests.support import cases
from tests.support.profiles import examples
from tests.support.regions import Ground, Thing, made_region
from tussock.measure.patches import patch_area
from tussock.measure.scene import places
from tussock.permit.demands import PatchArea

HALF = 150
STEP = 10


@st.composite
def scenes(draw: DrawFn) -> tuple[list[Thing], list[Thing]]:
    """Return habitat boxes and barriers with corners on tens of metres, within 140 m of the origin."""

    def corner() -> int:
        return draw(st.integers(-14, 14)) * STEP

    habitat = []
    for _ in range(draw(st.integers(1, 5))):
        x, y = corner(), corner()
        w, h = draw(st.integers(3, 20)) * STEP, draw(st.integers(3, 20)) * STEP
        habitat.append(
            Thing(
                shapely.box(x, y, min(x + w, 140), min(y + h, 140)), draw(st.sampled_from(("forest", "rock")))
            )
        )
    barriers = []
    for _ in range(draw(st.integers(0, 4))):
        if draw(st.integers(0, 4)) == 0:
            x, y = corner(), corner()
            barriers.append(Thing(shapely.box(x, y, x + 2 * STEP, y + 5 * STEP)))
        else:
            ends = [(corner(), corner()) for _ in range(draw(st.integers(2, 4)))]
            if len(set(ends)) > 1:
                barriers.append(Thing(shapely.LineString(ends)))
    return [t for t in habitat if t.geometry.area > 0], barriers  # type: ignore[attr-defined]  # shapely types leave the geometry open


def flooded(habitat: list[Thing], barriers: list[Thing], *, thick: float) -> npt.NDArray[np.float64]:
    """Return for each cell of one metre the area [m²] of the flood that reaches it; 0 off habitat."""
    x, y = np.meshgrid(np.arange(-HALF, HALF) + 0.5, np.arange(-HALF, HALF) + 0.5)
    whole = shapely.union_all([t.geometry for t in habitat])
    solid = shapely.union_all([shapely.buffer(t.geometry, thick) for t in barriers])
    shapely.prepare(whole)
    shapely.prepare(solid)
    dry = shapely.contains_xy(whole, x, y) & ~shapely.contains_xy(solid, x, y)
    pools, _ = label(dry)
    sizes = np.bincount(pools.ravel()).astype(float)
    sizes[0] = 0
    return np.asarray(sizes[pools])


def agree(habitat: list[Thing], barriers: list[Thing], seed: int) -> None:
    """Assert that patches and floods are of the same size, but for a strip along their edges."""
    thin, thick = flooded(habitat, barriers, thick=0.8), flooded(habitat, barriers, thick=2.5)
    ground = Ground({"habitat": habitat, "barriers": barriers})
    scene = cases.scene(made_region(ground), 0.0, 0.0)
    rng = np.random.default_rng(seed)
    spots = rng.integers(4, 2 * HALF - 4, (40, 2))
    lon, lat = scene.plane.unproject(*(spots[:, ::-1] - HALF + 0.5).T.astype(np.float64))
    found = patch_area(scene, places(lon, lat, radius_m=0.01, plane=scene.plane), PatchArea()).value * 1e4
    assume(no_necks(habitat, barriers))
    checked = 0
    for (row, column), area in zip(spots, found, strict=True):
        near = thin[row - 4 : row + 5, column - 4 : column + 5]
        small, large = thick[row, column], thin[row, column]
        # by an edge, or where a neck of a few metres decides: the flood cannot tell
        if near.min() != near.max() or not large - small <= 2 * 1.7 * length(barriers) + 1:
            continue
        checked += 1
        strip = 2 * 0.8 * length(barriers) * 1.15 + 30
        assert -1 <= area - large <= strip, f"{area} m² at {row}, {column}: flood {large} m²"
    assume(checked > 0)


def no_necks(habitat: list[Thing], barriers: list[Thing]) -> bool:
    """Return whether every corner of one thing lies on, or four metres off, the edges of all others."""
    edges = [shapely.boundary(shapely.union_all([t.geometry for t in habitat]))]
    edges += [
        t.geometry if shapely.get_dimensions(t.geometry) == 1 else shapely.boundary(t.geometry)
        for t in barriers
    ]
    corners = shapely.points(np.concatenate([shapely.get_coordinates(e) for e in edges]))
    gaps = np.concatenate([shapely.distance(corners, e) for e in edges])
    return bool(((gaps < 1e-6) | (gaps > 4)).all())


def length(barriers: list[Thing]) -> float:
    return float(sum(shapely.length(t.geometry) for t in barriers))


@examples(40)
@given(scene=scenes(), seed=st.integers(0, 999))
def test_patches_are_what_a_flood_fills(scene: tuple[list[Thing], list[Thing]], seed: int) -> None:
    agree(*scene, seed)


@pytest.mark.slow
@examples(1500)
@given(scene=scenes(), seed=st.integers(0, 999))
def test_patches_are_what_a_flood_fills_in_full(scene: tuple[list[Thing], list[Thing]], seed: int) -> None:
    agree(*scene, seed)
