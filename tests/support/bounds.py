"""Exact values held against coarse bounds, cell by cell."""

from __future__ import annotations

import numpy as np

from tests.support import cases
from tests.support.regions import Ground, made_region
from tussock.ground.lattice import Window, window_around
from tussock.measure.exact import measure
from tussock.measure.scene import Scene, candidates
from tussock.measure.screened import Screen
from tussock.permit.demands import Quantity

SLIP = 1e-3
"""Bounds are kept in 32 bits; the search allows the same [unit of the quantity]."""


def hold_everywhere(scene: Scene, window: Window, quantity: Quantity, *, radius_m: float) -> None:
    """Assert that at every cell of the window the exact ends lie within their bounds."""
    cells = np.arange(window.rows * window.columns)
    bounds = Screen(scene, window, radius_m=radius_m).bounds(quantity, cells)
    x, y = np.meshgrid(window.x, window.y)
    exact = measure(quantity, scene, candidates(x.ravel(), y.ravel(), radius_m=radius_m, plane=scene.plane))
    assert (exact.low <= exact.high).all()
    assert not np.isnan([*bounds.low, *bounds.high]).any()
    for end, (least, most) in ((exact.low, bounds.low), (exact.high, bounds.high)):
        wrong = (end < least - SLIP) | (end > most + SLIP)
        k = int(np.argmax(wrong))
        assert not wrong.any(), (
            f"{wrong.sum()} of {len(cells)} cells; at {x.ravel()[k]}, {y.ravel()[k]}: "
            f"{end[k]} not in [{least[k]}, {most[k]}]"
        )


def hold_round(
    ground: Ground,
    quantity: Quantity,
    *,
    capture: tuple[float, float] = (3.0, 4.0),
    capture_m: float = 5.0,
    reach_m: float = 500.0,
    site_m: float = 30.0,
) -> None:
    """Assert the same over the window round a capture in the plane [m]."""
    scene = cases.scene(made_region(ground), *capture, radius_m=capture_m)
    window = window_around(*capture, reach_m=reach_m, cell_m=ground.cell_m)
    hold_everywhere(scene, window, quantity, radius_m=site_m)
