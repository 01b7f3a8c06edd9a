"""Radii of circular errors, and the default radii of Darwin Core.

Sources: F. van Diggelen 1998, *GPS Accuracy: Lies, Damn Lies, and Statistics*, GPS World 9(1) (CEP × 2.1 =
R95, × 2.4 = 2DRMS, × 1.2 = DRMS as printed); FGDC-STD-007.3-1998 (NSSDA), accuracy_r = 1.7308 RMSE_r (from
memory); Darwin Core, coordinateUncertaintyInMeters, https://dwc.tdwg.org/terms/ (examples 30 and 100 m).
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from tussock.geodesy import ASSUMED_RADIUS_BEFORE_2000_M, ASSUMED_RADIUS_M, R95_OVER_R68
from tussock.position import position_from_row
from tussock.tables import Row

RADII = {  # per-axis sigma 1: name, probability, radius as tabled
    "1 sigma": (0.3935, 1.00000),
    "CEP": (0.50, 1.17741),
    "DRMS": (0.6321, 1.41421),
    "R68": (0.68, 1.50959),
    "R90": (0.90, 2.14597),
    "R95": (0.95, 2.44775),
    "2DRMS": (0.9817, 2.82843),
    "R99": (0.99, 3.03485),
}


def rayleigh(probability: float) -> float:
    """Radius that holds a share of a circular normal error of sigma 1."""
    return math.sqrt(-2 * math.log(1 - probability))


@pytest.mark.parametrize("name", ["CEP", "R68", "R90", "R95", "R99"])
def test_tabled_radii(name: str) -> None:
    probability, radius = RADII[name]
    assert rayleigh(probability) == pytest.approx(radius, abs=0.000005)


def test_the_printed_factors() -> None:
    assert RADII["R95"][1] / RADII["CEP"][1] == pytest.approx(2.1, abs=0.05)
    assert RADII["2DRMS"][1] / RADII["CEP"][1] == pytest.approx(2.4, abs=0.05)
    assert RADII["DRMS"][1] / RADII["CEP"][1] == pytest.approx(1.2, abs=0.05)
    assert RADII["R95"][1] / RADII["DRMS"][1] == pytest.approx(1.7308, abs=0.00005)


def test_sixty_eight_per_cent_is_scaled_to_ninety_five() -> None:
    assert pytest.approx(RADII["R95"][1] / RADII["R68"][1], abs=0.005) == R95_OVER_R68


def test_the_factor_holds_95_of_100_simulated_fixes() -> None:
    fixes = np.hypot(*np.random.default_rng(1).standard_normal((2, 1_000_000)))
    radius = np.quantile(fixes, 0.68) * R95_OVER_R68
    assert (fixes <= radius).mean() == pytest.approx(0.95, abs=0.001)


def test_darwin_core_defaults() -> None:
    assert (ASSUMED_RADIUS_M, ASSUMED_RADIUS_BEFORE_2000_M) == (30.0, 100.0)


@pytest.mark.parametrize(
    ("day", "radius"), [(datetime(2000, 5, 1, tzinfo=UTC), 30.0), (datetime(2000, 4, 30, tzinfo=UTC), 100.0)]
)
def test_a_radius_not_recorded_is_that_of_its_day(day: datetime, radius: float) -> None:
    row = Row(2, {"decimalLatitude": "-42.123456", "decimalLongitude": "147.123456"}, "t.csv, row 2")
    found = position_from_row(row, decimals=6, instant=day + timedelta(hours=1))
    assert (found.radius_m, found.assumed, found.reason) == (radius, True, "assumed")
