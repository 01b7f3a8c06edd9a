"""Factors between radii of circular errors as printed, and the default radius of a day.

Sources: F. van Diggelen 1998, *GPS Accuracy: Lies, Damn Lies, and Statistics*, GPS World 9(1) (CEP × 2.1 =
R95, × 2.4 = 2DRMS, × 1.2 = DRMS as printed); FGDC-STD-007.3-1998 (NSSDA), accuracy_r = 1.7308 RMSE_r (from
memory); Darwin Core, coordinateUncertaintyInMeters, https://dwc.tdwg.org/terms/ (examples 30 and 100 m).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from tussock.geodesy import R95_OVER_R68
from tussock.position import position_from_row
from tussock.tables import Row

RADII = {"CEP": 1.17741, "DRMS": 1.41421, "R68": 1.50959, "R95": 2.44775, "2DRMS": 2.82843}
"""Radii for a per-axis sigma of 1; recomputed in test_radii.py."""


def test_the_printed_factors() -> None:
    assert RADII["R95"] / RADII["CEP"] == pytest.approx(2.1, abs=0.05)
    assert RADII["2DRMS"] / RADII["CEP"] == pytest.approx(2.4, abs=0.05)
    assert RADII["DRMS"] / RADII["CEP"] == pytest.approx(1.2, abs=0.05)
    assert RADII["R95"] / RADII["DRMS"] == pytest.approx(1.7308, abs=0.00005)


def test_the_factor_holds_95_of_100_simulated_fixes() -> None:
    fixes = np.hypot(*np.random.default_rng(1).standard_normal((2, 1_000_000)))
    radius = np.quantile(fixes, 0.68) * R95_OVER_R68
    assert (fixes <= radius).mean() == pytest.approx(0.95, abs=0.001)


@pytest.mark.parametrize(
    ("day", "radius"), [(datetime(2000, 5, 1, tzinfo=UTC), 30.0), (datetime(2000, 4, 30, tzinfo=UTC), 100.0)]
)
def test_a_radius_not_recorded_is_that_of_its_day(day: datetime, radius: float) -> None:
    row = Row(2, {"decimalLatitude": "-42.123456", "decimalLongitude": "147.123456"}, "t.csv, row 2")
    found = position_from_row(row, decimals=6, instant=day + timedelta(hours=1))
    assert (found.radius_m, found.assumed, found.reason) == (radius, True, "assumed")
