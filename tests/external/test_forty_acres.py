"""Forty contiguous acres, as a rule of Florida asks for of a release site's property.

Source: Fla. Admin. Code R. 68A-9.010 (rule notice, https://www.flrules.org/gateway/notice_Files.asp?ID=8143264):
"40 contiguous acres". The international acre is 4,046.8564224 m² (NIST Handbook 44, appendix C), so 40 acres
are 16.187 ha.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from shapely.geometry import Polygon

from tests.support import cases
from tests.support.regions import HOBART, Ground, Thing, made_region
from tussock.geodesy import Plane
from tussock.interval import Verdict
from tussock.measure.clauses import bind
from tussock.measure.judging import Measures, judge
from tussock.measure.patches import area_ha
from tussock.permit.place_kinds import MinPatchArea

ACRE_M2 = 4046.8564224
FORTY_HA = 16.187


def square(plane: Plane, area_m2: float, x: float = 0.0, y: float = 0.0) -> Polygon:
    """Return a square of that area on the ground, its sides found with geographiclib."""
    lon, lat = (float(v) for v in plane.unproject(x, y))
    side = math.sqrt(area_m2)
    for _ in range(3):
        corners = [(lat, lon)]
        for azimuth in (90.0, 0.0, 270.0):
            there = Geodesic.WGS84.Direct(*corners[-1], azimuth, side)
            corners.append((there["lat2"], there["lon2"]))
        side *= math.sqrt(area_m2 / ground_m2(corners))
    px, py = plane.project(np.array([c[1] for c in corners]), np.array([c[0] for c in corners]))
    return Polygon(np.column_stack([px, py]))


def ground_m2(corners: list[tuple[float, float]]) -> float:
    """Return the area inside geodesics between corners (latitude, longitude), by geographiclib."""
    polygon = Geodesic.WGS84.Polygon()
    for corner in corners:
        polygon.AddPoint(*corner)
    return abs(float(polygon.Compute(False, True)[2]))


@pytest.mark.parametrize("x", [0.0, 75_000.0, -75_000.0])
def test_forty_acres_in_hectares(x: float) -> None:
    # 75 km off the axis the plane's own area would be 0.014 % too large: 23 m²
    area = area_ha(np.array([square(HOBART, 40 * ACRE_M2, x)], dtype=object), HOBART)[0]
    assert area == pytest.approx(FORTY_HA, abs=0.0005)


def test_the_area_is_that_of_geographiclib() -> None:
    drawn = square(HOBART, 40 * ACRE_M2, 60_000.0, -30_000.0)
    lon, lat = HOBART.unproject(*shapely.get_coordinates(drawn)[:-1].T)
    area = ground_m2(list(zip(lat.tolist(), lon.tolist(), strict=True)))
    assert area_ha(np.array([drawn], dtype=object), HOBART)[0] == pytest.approx(area / 1e4, abs=1e-7)


@pytest.mark.parametrize(("acres", "expected"), [(40.001, Verdict.MET), (39.99, Verdict.NOT_MET)])
def test_a_property_of_forty_acres(acres: float, expected: Verdict) -> None:
    drawn = shapely.transform(square(HOBART, acres * ACRE_M2), lambda xy: xy - 200.0)
    region = made_region(Ground({"parcels": [Thing(drawn, id="a")]}))
    scene = cases.scene(region, 0.0, 0.0, consents=(cases.consent("1", parcels="a"),))
    clause = bind([MinPatchArea(id="2", of="property", limit_ha=FORTY_HA)], scene, source="P-1")[0]
    assert judge(clause, Measures(scene, scene.capture), 0).verdict is expected
