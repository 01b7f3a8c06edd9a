"""Layers in the national grid: the worked line of the Australian geodetic manuals, read from files.

Source: GDA94 Technical Manual v2.3, p 46 (ICSM); the same figures in GDA2020 Technical Manual v1.8,
Table 5.1 p 56 and Table C-1 p 81 (the same ellipsoid). Numbers as printed, tolerances half their last
digit. The line straddles the 144° zone boundary: Flinders Peak is in zone 55, Buninyong in zone 54. The line
itself, distance and azimuths, is in test_gda_manual.py.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyogrio.raw
import pytest
import shapely
from pyproj import CRS
from pyproj.enums import TransformDirection

from tests.support import cases
from tussock.geodesy import transformer_to_wgs84
from tussock.ground.region import open_region
from tussock.measure.exact import distance_to
from tussock.measure.scene import Case, Scene, places
from tussock.position import Position


def degrees(d: int, m: int, s: float) -> float:
    return d + m / 60 + s / 3600


FLINDERS_PEAK = degrees(144, 25, 29.52440), -degrees(37, 57, 3.72030)
BUNINYONG = degrees(143, 55, 35.38390), -degrees(37, 39, 10.15610)
DISTANCE_M = 54_972.271
GRID = {  # point, EPSG code of its zone: easting, northing [m]
    (FLINDERS_PEAK, 28355): (273_741.297, 5_796_489.777),
    (BUNINYONG, 28355): (228_854.051, 5_828_259.038),
    (BUNINYONG, 28354): (758_173.797, 5_828_674.340),
}


@pytest.mark.parametrize(("point", "code"), GRID)
def test_grid_coordinates_by_the_transformation_that_layers_go_through(
    point: tuple[float, float], code: int
) -> None:
    transformer, accuracy = transformer_to_wgs84(CRS.from_epsg(code), where="test")
    assert transformer is not None
    east, north = transformer.transform(*point, direction=TransformDirection.INVERSE)
    assert (east, north) == (
        pytest.approx(GRID[point, code][0], abs=0.0005),
        pytest.approx(GRID[point, code][1], abs=0.0005),
    )
    # GDA94 is not WGS 84: how well the two are tied is a reason for width
    assert accuracy > 0


@pytest.mark.parametrize("code", [28354, 28355, 7854, 7855])
def test_a_layer_in_either_zone_is_measured_as_printed(tmp_path: Path, code: int) -> None:
    point = np.array([shapely.to_wkb(shapely.Point(*GRID[BUNINYONG, 28300 + code % 100]))], dtype=object)
    pyogrio.raw.write(tmp_path / "mark.gpkg", point, [], [], geometry_type="Point", crs=f"EPSG:{code}")
    (tmp_path / "region.toml").write_text(
        'name = "line"\n[plane]\nlongitude = 144.2\nlatitude = -37.8\n'
        '[layers.water]\n[[layers.water.sources]]\nfile = "mark.gpkg"\n',
        encoding="utf-8",
    )
    region = open_region(tmp_path)
    at = places(*FLINDERS_PEAK, radius_m=30.0, plane=region.plane)
    scene = Scene(region, Case(Position(*FLINDERS_PEAK, 5.0), cases.animal(), cases.RELEASED, cases.DAY))
    # the printed easting and northing are themselves good to half a millimetre each
    assert distance_to(scene, at, "water", None).value[0] == pytest.approx(DISTANCE_M, abs=0.0005 + 0.0007)
