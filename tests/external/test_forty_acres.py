"""Forty contiguous acres, the least property of one published rule.

Source: Fla. Admin. Code R. 68A-9.010; the acre is 4,046.8564224 m² (international foot, exact), so 40
acres are 16.187 ha.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from tussock.geodesy import Plane
from tussock.measure.patches import area_ha

ACRE_M2 = 4_046.8564224


def test_forty_acres_in_hectares() -> None:
    assert pytest.approx(16.187, abs=0.0005) == 40 * ACRE_M2 / 10_000


@pytest.mark.parametrize(("longitude", "latitude"), [(-81.5, 27.9), (147.6, -42.1), (13.3, 53.5)])
@pytest.mark.parametrize("offset", [0.0, 40_000.0])
def test_a_square_of_forty_acres_is_measured_on_the_ellipsoid(
    longitude: float, latitude: float, offset: float
) -> None:
    """Off the axis the plane stretches by k; a square that is 40 acres on the ground is k² larger there."""
    plane = Plane(longitude, latitude)
    side = math.sqrt(40 * ACRE_M2) * float(plane.scale(offset))
    square = shapely.box(offset - side / 2, -side / 2, offset + side / 2, side / 2)
    measured = float(area_ha(np.array([square], dtype=object), plane)[0])
    assert measured == pytest.approx(40 * ACRE_M2 / 10_000, abs=5e-6)
