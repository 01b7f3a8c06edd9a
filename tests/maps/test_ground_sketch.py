"""The ground to draw, and its encoding."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from tussock.errors import InputError
from tussock.maps.ground_sketch import encoded, layer_names, sketch


def decoded(data: dict[str, Any]) -> list[list[tuple[float, float]]]:
    """Undo the encoding, as the canvas script does."""
    x, y = data["o"]
    runs, k = [], 0
    for count in data["n"]:
        run = []
        for _ in range(count):
            x, y = x + data["d"][k], y + data["d"][k + 1]
            k += 2
            run.append((x / 1e6, y / 1e6))
        runs.append(run)
    assert k == len(data["d"])
    return runs


def test_areas_come_back_with_holes_and_parts() -> None:
    holed = Polygon([(13, 53), (13.2, 53), (13.2, 53.1)], [[(13.1, 53.01), (13.15, 53.01), (13.15, 53.05)]])
    many = MultiPolygon([box(14, 54, 14.1, 54.1), box(15, 55, 15.1, 55.1)])
    made = encoded([holed, many])["areas"]
    assert made["p"] == [2, 1, 1]
    runs = decoded(made)
    back = [Polygon(runs[0], [runs[1]]), Polygon(runs[2]), Polygon(runs[3])]
    for ours, theirs in zip(back, shapely.get_parts([holed, many]), strict=True):
        assert ours.normalize().equals_exact(theirs.normalize(), 1e-6)


def test_mixed_layers_are_parted_by_dimension() -> None:
    mixed = GeometryCollection(
        [Point(1, 2), LineString([(1, 2), (1.5, 2.5), (1, 3)]), GeometryCollection([box(0, 0, 1, 1)])]
    )
    made = encoded([mixed, Point(-3.1234567, 4)])
    assert list(made) == ["points", "lines", "areas"]
    assert decoded(made["points"]) == [[(1.0, 2.0)], [(-3.123457, 4.0)]]
    assert decoded(made["lines"]) == [[(1.0, 2.0), (1.5, 2.5), (1.0, 3.0)]]
    assert len(decoded(made["areas"])[0]) == 4


def test_nothing_to_draw_is_left_out() -> None:
    assert encoded([]) == {}
    ground = sketch({"roads": [("track", LineString())], "water": [("lake", box(1, 1, 2, 2))]})
    assert layer_names(ground) == ["water"]


def test_layers_are_drawn_from_the_bottom_up() -> None:
    b = [("", box(1, 1, 2, 2))]
    ground = sketch({"zebra": b, "dwellings": b, "habitat": b, "burnt": b, "roads": b})
    assert layer_names(ground) == ["habitat", "roads", "dwellings", "burnt", "zebra"]


def test_bounds_and_attributions() -> None:
    ground = sketch({"habitat": [("", box(1, 2, 3, 4))]}, attributions=["a", "b", "a"])
    assert ground.bounds == (1, 2, 3, 4)
    assert ground.known.equals(box(1, 2, 3, 4))
    assert ground.attributions == ("a", "b")


def test_metres_for_degrees_are_refused() -> None:
    with pytest.raises(InputError, match=r"no longitude and latitude.*EPSG:4326"):
        sketch({"habitat": [("", box(300_000, 5_900_000, 300_100, 5_900_100))]})
    with pytest.raises(InputError, match="no ground and no bounds"):
        sketch({})


def test_input_is_untouched() -> None:
    shape = box(13, 53, 14, 54)
    before = shape.wkb
    encoded([shape])
    assert shape.wkb == before
    assert np.array(shape.bounds).tolist() == [13, 53, 14, 54]
