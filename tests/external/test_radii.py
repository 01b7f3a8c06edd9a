"""Radii of positions.

Sources: circular normal error, R(p)/σ = √(−2 ln(1 − p)) (van Diggelen 1998, GPS World; NRC 1995, App. D);
Darwin Core, coordinateUncertaintyInMeters (30 m, 100 m before 2000-05-01); Chapman 2020, Current Best
Practices for Generalizing Sensitive Species Occurrence Data, doi 10.15468/doc-5jp4-5g10, Table 7.
"""

from __future__ import annotations

import math

import pytest

from tussock.geodesy import (
    ASSUMED_RADIUS_BEFORE_2000_M,
    ASSUMED_RADIUS_M,
    R95_OVER_R68,
    half_diagonal_m,
)


def radius(probability: float) -> float:
    """Return the radius of a circular normal error in σ."""
    return math.sqrt(-2 * math.log(1 - probability))


@pytest.mark.parametrize(
    ("probability", "printed"),
    [(0.50, 1.17741), (0.68, 1.50959), (0.90, 2.14597), (0.95, 2.44775), (0.99, 3.03485)],
)
def test_circular_error_radii(probability: float, printed: float) -> None:
    assert radius(probability) == pytest.approx(printed, abs=5e-6)


def test_from_68_to_95_percent() -> None:
    """Printed 1.62146; the code says 1.62, to the digits that a phone's radius is worth."""
    assert radius(0.95) / radius(0.68) == pytest.approx(1.62146, abs=5e-6)
    assert pytest.approx(radius(0.95) / radius(0.68), abs=0.005) == R95_OVER_R68


@pytest.mark.parametrize(
    ("decimals", "latitude", "printed"),
    [
        (1, 0.0, 7863),
        (2, 0.0, 786),
        (3, 0.0, 79),
        (1, -27.5, 7432),
        (2, -27.5, 743),
        (3, -27.5, 74),
        (1, -37.8, 7086),
        (2, -37.8, 709),
        (3, -37.8, 71),
    ],
)
def test_half_diagonals_of_rounded_coordinates(decimals: int, latitude: float, printed: int) -> None:
    """Printed for a sphere of 6,371 km; ours takes the equator's radius, 0.11 % more: never too small."""
    sphere = half_diagonal_m(decimals, latitude=latitude) * 6_371_008.8 / 6_378_137.0
    assert sphere == pytest.approx(printed, abs=0.5)
    assert half_diagonal_m(decimals, latitude=latitude) >= sphere


def test_positions_without_a_radius() -> None:
    assert (ASSUMED_RADIUS_M, ASSUMED_RADIUS_BEFORE_2000_M) == (30.0, 100.0)
