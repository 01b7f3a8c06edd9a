"""Decimals of a degree → half the diagonal of the cell they stand for, against geographiclib.

Source: Chapman 2020, *Current Best Practices for Generalizing Sensitive Species Occurrence Data*,
GBIF, doi 10.15468/doc-5jp4-5g10: a radius must hold the whole cell that rounding makes. Its Table 7 is in
test_radii.py.
"""

from __future__ import annotations

import math

import pytest
from geographiclib.geodesic import Geodesic

from tussock.geodesy import half_diagonal_m
from tussock.position import Position, floored


@pytest.mark.parametrize("latitude", [0.0, -27.5, -37.8, 53.5, 68.0])
def test_the_floor_holds_the_whole_cell(latitude: float) -> None:
    # the corners of the cell of 3 decimals, by geographiclib; a degree of latitude is up to 0.34 % longer
    # than one of the equator (111.694 km at the pole, 111.320 km), left out here: 0.2 m of 60 m
    for dlat in (-0.0005, 0.0005):
        corner = Geodesic.WGS84.Inverse(latitude, 20.0, latitude + dlat, 20.0005)["s12"]
        assert corner <= half_diagonal_m(3, latitude=latitude) * 111.694 / 111.320


def test_three_decimals_at_the_equator_are_78_m() -> None:
    # the design's own number
    assert math.floor(half_diagonal_m(3)) == 78


def test_a_radius_is_never_less_than_the_decimals_give() -> None:
    there = Position(147.123, -42.123, 5.0)
    assert floored(there, decimals=3).radius_m == pytest.approx(half_diagonal_m(3, latitude=-42.123))
    assert "3 decimals" in floored(there, decimals=3).note
    assert floored(there, decimals=6) == there
