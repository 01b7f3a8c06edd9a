"""A 5,000 m limit held against geodesics of exactly that length.

Source: vectors computed on GRS80 with geographiclib, independently of the package (GRS80 and WGS 84
differ by less than 1 µm over 5 km); printed to 8 decimals of a degree, so to 1.1 mm.
"""

from __future__ import annotations

import pytest
from geographiclib.geodesic import Geodesic

from tests.support import cases
from tests.support.regions import Ground, made_region
from tussock.geodesy import Plane, distance_m
from tussock.interval import Verdict
from tussock.measure.clauses import bind
from tussock.measure.judging import Measures, judge
from tussock.measure.scene import Case, Scene, places
from tussock.permit.place_kinds import MaxDistanceFromCapture
from tussock.position import Position

BRISBANE = (-27.4698, 153.0251)
BUNINYONG = (-(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600)
EIGHT_DECIMALS_M = 0.0008
"""Half of the last digit of latitude and longitude, as a distance [m]."""
VECTORS = [  # capture, azimuth, release latitude and longitude as printed
    (BRISBANE, 0, -27.42467796, 153.02510000),
    (BRISBANE, 45, -27.43788934, 153.06086031),
    (BRISBANE, 90, -27.46979081, 153.07568727),
    (BUNINYONG, 0, -37.60777183, 143.92649553),
    (BUNINYONG, 90, -37.65280753, 143.98315601),
]
VERDICTS = [  # metres, release, verdict with radii 5 + 5 m, with 30 + 30 m
    (4939, -27.43827871, 153.06042415, "met", "met"),
    (4980, -27.43801700, 153.06071731, "met", "uncertain"),
    (5000, -27.43788934, 153.06086031, "uncertain", "uncertain"),
    (5020, -27.43776168, 153.06100331, "not_met", "uncertain"),
    (5061, -27.43749997, 153.06129646, "not_met", "not_met"),
]


@pytest.mark.parametrize(("capture", "azimuth", "lat", "lon"), VECTORS)
def test_releases_five_kilometres_away(
    capture: tuple[float, float], azimuth: float, lat: float, lon: float
) -> None:
    assert float(distance_m(capture[1], capture[0], lon, lat)) == pytest.approx(5000.0, abs=EIGHT_DECIMALS_M)
    there = Geodesic.WGS84.Direct(*capture, azimuth, 5000.0)
    assert (there["lat2"], there["lon2"]) == (pytest.approx(lat, abs=6e-9), pytest.approx(lon, abs=6e-9))


@pytest.mark.parametrize("vector", VERDICTS, ids=str)
@pytest.mark.parametrize("radius_m", [5.0, 30.0])
def test_verdicts_by_radii(vector: tuple[float, float, float, str, str], radius_m: float) -> None:
    metres, lat, lon, small, large = vector
    region = made_region(Ground({"habitat": ()}, plane=Plane(153.0, -27.5)))
    where = Position(BRISBANE[1], BRISBANE[0], radius_m)
    scene = Scene(region, Case(where, cases.animal(), cases.RELEASED, cases.DAY))
    clause = bind([MaxDistanceFromCapture(id="5", limit_m=5000.0)], scene, source="P-1")[0]
    at = places(lon, lat, radius_m=radius_m, plane=region.plane)
    found = judge(clause, Measures(scene, at), 0)
    assert found.verdict is Verdict(small if radius_m == 5.0 else large)
    assert found.value is not None
    assert (found.value.low + found.value.high) / 2 == pytest.approx(metres, abs=EIGHT_DECIMALS_M)
    assert found.value.high - found.value.low == pytest.approx(4 * radius_m, abs=1e-6)
