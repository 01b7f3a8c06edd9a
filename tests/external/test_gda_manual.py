"""Flinders Peak–Buninyong, and the vectors of exactly 5,000 m.

Source: ICSM, GDA94 Technical Manual v2.3, p. 46, and GDA2020 Technical Manual v1.8, Table 5.1 p. 56 and
Table C-1 p. 81 (values as printed there; read in public test files that quote them). The line is often
credited to Vincenty 1975; it is the manual's. Ellipsoid GRS80; WGS 84 differs by less than 1 µm here.
"""

from __future__ import annotations

import math

import pytest
from pyproj import CRS, Transformer

from tussock.geodesy import bearing_deg, distance_m, transformer_to_wgs84
from tussock.interval import Interval, Limit, Verdict

FLINDERS = (144 + 25 / 60 + 29.52440 / 3600, -(37 + 57 / 60 + 3.72030 / 3600))
BUNINYONG = (143 + 55 / 60 + 35.38390 / 3600, -(37 + 39 / 60 + 10.15610 / 3600))
HALF_MM = 0.0005


def degrees(d: int, m: int, s: float) -> float:
    return d + m / 60 + s / 3600


def test_the_distance_as_printed() -> None:
    assert float(distance_m(*FLINDERS, *BUNINYONG)) == pytest.approx(54_972.271, abs=HALF_MM)


@pytest.mark.parametrize(
    ("start", "end", "printed"),
    [(FLINDERS, BUNINYONG, degrees(306, 52, 5.37)), (BUNINYONG, FLINDERS, degrees(127, 10, 25.07))],
)
def test_both_azimuths_as_printed(
    start: tuple[float, float], end: tuple[float, float], printed: float
) -> None:
    assert bearing_deg(*start, *end) == pytest.approx(printed, abs=0.005 / 3600)


@pytest.mark.parametrize(
    ("zone", "point", "east", "north"),
    [
        (55, FLINDERS, 273_741.297, 5_796_489.777),
        (55, BUNINYONG, 228_854.051, 5_828_259.038),
        (54, BUNINYONG, 758_173.797, 5_828_674.340),
    ],
)
def test_a_layer_in_the_national_grid_comes_back_to_its_degrees(
    zone: int, point: tuple[float, float], east: float, north: float
) -> None:
    """EPSG:7855 and 7854 are MGA2020; the datum's own shift to WGS 84 is part of the stated accuracy."""
    grid = Transformer.from_crs(CRS.from_epsg(7844), CRS.from_epsg(7800 + zone), always_xy=True)
    assert grid.transform(*point) == pytest.approx((east, north), abs=HALF_MM)
    transformer, _ = transformer_to_wgs84(CRS.from_epsg(7800 + zone), where="layer")
    assert transformer is not None
    # half a millimetre of grid is 5e-9 degrees
    assert transformer.transform(east, north) == pytest.approx(point, abs=1e-8)


def test_eastings_of_two_zones_are_never_subtracted() -> None:
    """The pair straddles 144° E: across the zones a plane distance is wrong by 485 km."""
    across = math.hypot(273_741.297 - 758_173.797, 5_796_489.777 - 5_828_674.340)
    assert across > 480_000
    assert float(distance_m(*FLINDERS, *BUNINYONG)) < 55_000


BRISBANE = (153.0251, -27.4698)
"""Capture of the limit vectors (computed with GRS80 geodesics, domain facts § 4a)."""


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (BRISBANE, (153.02510000, -27.42467796)),
        (BRISBANE, (153.06086031, -27.43788934)),
        (BRISBANE, (153.07568727, -27.46979081)),
        ((143.926495527778, -37.652821138889), (143.92649553, -37.60777183)),
        ((143.926495527778, -37.652821138889), (143.98315601, -37.65280753)),
    ],
)
def test_five_kilometres_are_five_kilometres(start: tuple[float, float], end: tuple[float, float]) -> None:
    """Eight decimals of a degree are good to 0.8 mm; limits are compared to 1 mm."""
    assert float(distance_m(*start, *end)) == pytest.approx(5000.0, abs=0.001)
    assert Limit(at_most=5000.0).judge(Interval(4999.0, float(distance_m(*start, *end)))) is Verdict.MET


@pytest.mark.parametrize(
    ("metres", "end", "narrow", "wide"),
    [
        (4939, (153.06042415, -27.43827871), Verdict.MET, Verdict.MET),
        (4980, (153.06071731, -27.43801700), Verdict.MET, Verdict.UNCERTAIN),
        (5000, (153.06086031, -27.43788934), Verdict.UNCERTAIN, Verdict.UNCERTAIN),
        (5020, (153.06100331, -27.43776168), Verdict.NOT_MET, Verdict.UNCERTAIN),
        (5061, (153.06129646, -27.43749997), Verdict.NOT_MET, Verdict.NOT_MET),
    ],
)
def test_verdicts_under_a_limit_of_five_kilometres(
    metres: int, end: tuple[float, float], narrow: Verdict, wide: Verdict
) -> None:
    """Summed radii of 10 and 60 m (domain facts § 4a)."""
    d = float(distance_m(*BRISBANE, *end))
    assert d == pytest.approx(metres, abs=0.001)
    for radius, verdict in ((10.0, narrow), (60.0, wide)):
        assert Limit(at_most=5000.0).judge(Interval(d - radius, d + radius)) is verdict
