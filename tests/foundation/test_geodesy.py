"""Distances, the plane, its scale; the referee is geographiclib."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pyproj import CRS

from tussock.errors import InputError
from tussock.geodesy import Plane, bearing_deg, distance_m, half_diagonal_m, transformer_to_wgs84

PLANES = [Plane(147.6, -42.1), Plane(13.3, 53.5), Plane(-150.0, 68.0), Plane(30.0, 0.0), Plane(179.9, -17.0)]


def test_distances_broadcast_and_agree_with_geographiclib() -> None:
    rng = np.random.default_rng(2)
    lon, lat = rng.uniform(-180, 180, 300), rng.uniform(-85, 85, 300)
    found = distance_m(20.0, -35.0, lon, lat)
    for k in range(300):
        assert found[k] == pytest.approx(Geodesic.WGS84.Inverse(-35.0, 20.0, lat[k], lon[k])["s12"], abs=1e-6)
    assert float(distance_m(20.0, -35.0, 20.0, -35.0)) == 0


@pytest.mark.parametrize(
    ("there", "bearing"), [((0.0, 1.0), 0.0), ((1.0, 0.0), 90.0), ((0.0, -1.0), 180.0), ((-1.0, 0.0), 270.0)]
)
def test_bearings_turn_clockwise_from_north(there: tuple[float, float], bearing: float) -> None:
    assert bearing_deg(0.0, 0.0, *there) == pytest.approx(bearing, abs=1e-9)


@pytest.mark.parametrize("plane", PLANES, ids=str)
def test_a_plane_is_left_as_it_was_entered(plane: Plane) -> None:
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-75_000, 75_000, 2000), rng.uniform(-75_000, 75_000, 2000)
    back = plane.project(*plane.unproject(x, y))
    assert np.abs(back[0] - x).max() < 1e-6
    assert np.abs(back[1] - y).max() < 1e-6
    assert [float(v) for v in plane.project(plane.longitude, plane.latitude)] == pytest.approx(
        [0, 0], abs=1e-9
    )


@pytest.mark.parametrize("plane", PLANES, ids=str)
def test_ground_distances_are_good_to_a_millimetre_over_ten_kilometres(plane: Plane) -> None:
    rng = np.random.default_rng(4)
    n = 4000
    x, y = rng.uniform(-75_000, 75_000, n), rng.uniform(-75_000, 75_000, n)
    turn, length = rng.uniform(0, 2 * np.pi, n), rng.uniform(0, 10_000, n)
    to_x, to_y = x + length * np.cos(turn), y + length * np.sin(turn)
    inside = np.abs(to_x) <= 75_000
    exact = distance_m(*plane.unproject(x, y), *plane.unproject(to_x, to_y))
    ours = np.array([float(plane.ground_m(*v)) for v in zip(x, y, to_x, to_y, strict=True)])
    assert np.abs(ours - exact)[inside].max() <= 1e-3


@pytest.mark.parametrize("plane", PLANES, ids=str)
def test_scale_is_that_of_the_projection(plane: Plane) -> None:
    # by geographiclib: a metre of the plane against a metre of ground, at and off the axis
    for x in (-75_000.0, 0.0, 40_000.0):
        lon, lat = plane.unproject(np.array([x, x]), np.array([-50.0, 50.0]))
        ground = Geodesic.WGS84.Inverse(lat[0], lon[0], lat[1], lon[1])["s12"]
        assert float(plane.scale(x)) == pytest.approx(100.0 / ground, abs=2e-8)


def test_more_decimals_stand_for_less() -> None:
    sizes = [half_diagonal_m(d) for d in range(8)]
    assert all(a == pytest.approx(10 * b) for a, b in pairwise(sizes))
    assert half_diagonal_m(3, latitude=60) == pytest.approx(111.3195 / 2 * math.hypot(1, 0.5), abs=1e-3)


@pytest.mark.parametrize("text", ["EPSG:4326", "OGC:CRS84"])
def test_degrees_of_wgs84_need_no_transformation(text: str) -> None:
    transformer, accuracy = transformer_to_wgs84(CRS.from_user_input(text), where="layer")
    assert accuracy == 0
    if transformer is not None:
        assert transformer.transform(147.0, -42.0) == pytest.approx((147.0, -42.0))


@pytest.mark.parametrize(
    ("code", "least", "most"), [(32755, 0.0, 0.0), (3857, 0.0, 0.0), (28355, 0.5, 5.0), (7855, 0.5, 5.0)]
)
def test_the_same_datum_is_exact_and_another_is_not(code: int, least: float, most: float) -> None:
    transformer, accuracy = transformer_to_wgs84(CRS.from_epsg(code), where="layer")
    assert transformer is not None
    assert least <= accuracy <= most


def test_a_plane_of_ones_own_on_wgs84_is_exact() -> None:
    plane = PLANES[0]
    own = CRS.from_proj4(
        "+proj=tmerc +lat_0=-42.1 +lon_0=147.6 +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"
    )
    transformer, accuracy = transformer_to_wgs84(own, where="layer")
    assert accuracy == 0
    assert transformer is not None
    assert transformer.transform(1000.0, 2000.0) == pytest.approx(
        [float(v) for v in plane.unproject(1000.0, 2000.0)]
    )


def test_a_datum_that_is_not_named_is_refused() -> None:
    # "+ellps" names an ellipsoid, not where it lies
    with pytest.raises(InputError, match="only a ballpark one"):
        transformer_to_wgs84(CRS.from_proj4("+proj=utm +zone=33 +ellps=bessel"), where="layer")


def test_a_system_without_a_tie_to_the_earth_is_refused() -> None:
    local = CRS.from_wkt('LOCAL_CS["site grid",UNIT["metre",1],AXIS["x",EAST],AXIS["y",NORTH]]')
    with pytest.raises(InputError, match=r"ground\.gpkg.*has no tie to the Earth.*EPSG:4326"):
        transformer_to_wgs84(local, where="ground.gpkg")
