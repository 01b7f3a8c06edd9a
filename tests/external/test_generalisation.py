"""Decimals of a degree → half the diagonal of the cell they stand for.

Source: Chapman 2020, *Current Best Practices for Generalizing Sensitive Species Occurrence Data*,
GBIF, doi 10.15468/doc-5jp4-5g10, Table 7 (categories of rounding); the metres at 0°, 27.5° and 37.8° on a
sphere, as tabled: whole metres, so to half a metre.
"""

from __future__ import annotations

import math

import pytest
from geographiclib.geodesic import Geodesic

from tussock.geodesy import half_diagonal_m
from tussock.position import Position, floored

TABLE = {3: (79, 74, 71), 2: (786, 743, 709), 1: (7863, 7432, 7086)}
LATITUDES = (0.0, -27.5, -37.8)
SPHERE = 6_371_008.8 / 6_378_137.0
"""The table's sphere has the mean radius; the package takes the equatorial one, the larger."""


@pytest.mark.parametrize("decimals", TABLE)
def test_tabled_half_diagonals(decimals: int) -> None:
    for latitude, printed in zip(LATITUDES, TABLE[decimals], strict=True):
        assert half_diagonal_m(decimals, latitude=latitude) * SPHERE == pytest.approx(printed, abs=0.5)


@pytest.mark.parametrize("latitude", [0.0, -27.5, -37.8, 53.5, 68.0])
def test_the_floor_holds_the_whole_cell(latitude: float) -> None:
    # the corners of the cell of 3 decimals, by geographiclib; a degree of latitude is up to 0.34 % longer than
    # one of the equator (111.694 km at the pole, 111.320 km), which the package leaves out: 0.2 m of 60 m
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
