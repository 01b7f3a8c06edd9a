"""Homes as an interval, cut by what is known: counted by hand in a made region."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import shapely

from tests.support.regions import Ground, MadeRegion, Thing, made_region
from tussock.errors import MissingDataError
from tussock.ground.region import open_region
from tussock.hotspots.exposure import exposure, known_extent

HOUSE = Thing(shapely.box(0, 0, 10, 20), "house")
FLATS = Thing(shapely.Point(100, 0), "flats")
NEW = Thing(shapely.Point(120, 0), "house", valid_from=date(2025, 1, 1))
FAR = Thing(shapely.Point(5000, 0), "house")
SHED = Thing(shapely.box(50, 0, 56, 4))


def region(*, others: bool = True) -> MadeRegion:
    layers = {"dwellings": [HOUSE, FLATS, NEW, FAR]} | ({"other_buildings": [SHED, SHED]} if others else {})
    known = {
        "dwellings": [shapely.box(-500, -500, 500, 500)],
        "other_buildings": [shapely.box(-9, -9, 9e3, 15)],
    }
    return made_region(Ground(layers, known=known))


def with_homes(made: MadeRegion, homes: list[float]) -> MadeRegion:
    """Return the region with a number of homes in each dwelling."""
    layer = made.made["dwellings"]
    features = replace(layer.features, homes=np.array(homes), _kept={})
    return replace(made, made={**made.made, "dwellings": replace(layer, features=features)})


def test_dwellings_surely_others_perhaps() -> None:
    found = exposure(region())
    assert (found.total.low, found.total.high) == (3.0, 5.0)
    assert (found.outside.low, found.outside.high) == (1.0, 1.0)
    assert found.others_given
    assert (found.x[0], found.y[0]) == (5.0, 10.0)


def test_a_dwelling_of_unknown_use_or_a_public_building_is_perhaps_a_home() -> None:
    """What counts as a dwelling for a release, where people are about, need not be a home."""
    kinds = ("house", "unknown", "public", "")
    at = [Thing(shapely.Point(10.0 * n, 0), kind) for n, kind in enumerate(kinds)]
    found = exposure(made_region(Ground({"dwellings": at})))
    assert (found.low.tolist(), found.high.tolist()) == ([1.0, 0.0, 0.0, 1.0], [1.0, 1.0, 1.0, 1.0])


def test_homes_per_building_count_where_a_field_gives_them() -> None:
    found = exposure(with_homes(region(), [1, 12, 1, 1]))
    assert (found.total.low, found.total.high) == (14.0, 16.0)


def test_on_a_day_only_what_stood() -> None:
    assert exposure(region(), day=date(2024, 6, 1)).total.low == exposure(region()).total.low - 1


def test_without_other_buildings_the_width_is_none_and_said() -> None:
    found = exposure(region(others=False))
    assert (found.total.low, found.total.high, found.others_given) == (3.0, 3.0, False)


def test_known_is_what_every_layer_covers() -> None:
    # a millimetre wider: its border is in it
    assert known_extent(region()).bounds == pytest.approx((-9.001, -9.001, 500.001, 15.001), abs=1e-9)


def test_a_call_at_a_corner_of_the_extent_in_its_own_digits_is_on_known_ground() -> None:
    """Calls and homes are cut by the same ground: a home there is counted as well."""
    folder = Path(__file__).parents[2] / "data-demo"
    opened = open_region(folder)
    drawn = json.loads((folder / "known_extent.geojson").read_text())["features"][0]["geometry"]
    corners = np.array(drawn["coordinates"][0])
    x, y = opened.plane.project(corners[:, 0], corners[:, 1])
    assert shapely.intersects_xy(known_extent(opened), x, y).all()
    homes = [Thing(shapely.Point(a, b), "house") for a, b in ((500, 0), (500.0005, 0), (500.01, 0))]
    near = made_region(Ground({"dwellings": homes}, known={"": [shapely.box(-500, -500, 500, 500)]}))
    assert exposure(near).total.high == 2


def test_without_dwellings_it_is_said_what_is_missing() -> None:
    with pytest.raises(MissingDataError, match="no layer of dwellings"):
        exposure(made_region(Ground({"water": [HOUSE]})))
