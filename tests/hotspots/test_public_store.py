"""The stored partition: written once, read back the same, a change is seen."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import Polygon, box

from tests.support.public import PLANE, region
from tussock.errors import InputError
from tussock.geodesy import Plane
from tussock.hotspots.public_choice import PublicChoice
from tussock.hotspots.public_store import (
    PARTITION_FILE,
    partition_text,
    store_partition,
    stored_partition,
)


@pytest.mark.parametrize("dimension", ["unit", "season"])
def test_it_comes_back_as_it_was(tmp_path: Path, dimension: str) -> None:
    target = store_partition(tmp_path, region(dimension))
    assert target == tmp_path / PARTITION_FILE
    assert stored_partition(tmp_path, plane=PLANE) == region(dimension)


def test_a_second_one_is_refused_and_the_first_stays(tmp_path: Path) -> None:
    before = store_partition(tmp_path, region()).read_bytes()
    for second in (region("season"), region(seasons=4), region()):
        with pytest.raises(InputError, match="has its units"):
            store_partition(tmp_path, second)
    assert (tmp_path / PARTITION_FILE).read_bytes() == before


def _paths(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path] * (not isinstance(value, dict | list)) + [
        p for k, v in inner for p in _paths(v, (*path, k))
    ]


LEAVES = _paths(json.loads(partition_text(region())))


@pytest.mark.parametrize("path", LEAVES, ids=str)
def test_every_value_that_is_changed_is_seen(tmp_path: Path, path: tuple[Any, ...]) -> None:
    target = store_partition(tmp_path, region())
    document = json.loads(target.read_text(encoding="utf-8"))
    holder = document
    for key in path[:-1]:
        holder = holder[key]
    old = holder[path[-1]]
    holder[path[-1]] = old + 1 if isinstance(old, int | float) else old + "x"
    target.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(InputError, match="changed: its checksum"):
        stored_partition(tmp_path, plane=PLANE)


def test_only_spaces_that_are_changed_do_not_matter(tmp_path: Path) -> None:
    target = store_partition(tmp_path, region())
    target.write_text(json.dumps(json.loads(target.read_text(encoding="utf-8"))), encoding="utf-8")
    assert stored_partition(tmp_path, plane=PLANE) == region()


@pytest.mark.parametrize(
    "text", [b"", b"{}", b"[]", b"null", b"{", b"\xff\xfe", b"[" * 100_000, b'{"checksum": 3}']
)
def test_what_is_no_file_of_units_is_told(tmp_path: Path, text: bytes) -> None:
    (tmp_path / PARTITION_FILE).write_bytes(text)
    with pytest.raises(InputError, match=r"public-units\.geojson"):
        stored_partition(tmp_path, plane=PLANE)


def test_a_truncated_file_is_told(tmp_path: Path) -> None:
    target = store_partition(tmp_path, region())
    target.write_bytes(target.read_bytes()[:-40])
    with pytest.raises(InputError, match="cannot be read"):
        stored_partition(tmp_path, plane=PLANE)


def test_one_of_another_plane_is_refused(tmp_path: Path) -> None:
    store_partition(tmp_path, region())
    with pytest.raises(InputError, match="another plane"):
        stored_partition(tmp_path, plane=Plane(147.4, -42.9))


def test_units_too_small_cannot_come_in_by_hand() -> None:
    few = replace(region().units[0], dwellings=99)
    with pytest.raises(InputError, match="too few"):
        replace(region(), units=(few,), least=99)
    with pytest.raises(InputError, match="too few"):
        replace(region(), units=(few, *region().units[1:]))
    with pytest.raises(InputError, match="overlap"):
        replace(region(), units=(region().units[0], *region().units))
    with pytest.raises(InputError, match="no rectangles"):
        replace(region(), units=(replace(region().units[0], west=13),))


@pytest.mark.parametrize("changed", [
    {"dimension": "species"}, {"dimension": "unit", "seasons": 1}, {"dimension": "month"},
    {"seasons": 0}, {"seasons": 2.0}, {"seasons": True}, {"start_month": 0}, {"start_month": 13},
    {"first_season": 20}, {"zone": "Nowhere/None"},
])  # fmt: skip
def test_choices_that_cannot_be_made_are_refused(changed: dict[str, Any]) -> None:
    choice = PublicChoice("season", first_season=2020, start_month=7, zone="UTC", seasons=2)
    with pytest.raises(InputError):
        replace(choice, **changed)
    assert replace(choice, seasons=1).seasons == 1


def test_outlines_are_the_rectangles_of_the_plane() -> None:
    document = json.loads(partition_text(region()))
    for feature, unit in zip(document["features"], region().units, strict=True):
        (ring,) = feature["geometry"]["coordinates"]
        assert (feature["id"], ring[0]) == (unit.id, ring[-1])
        flat = Polygon(np.stack(PLANE.project(*np.array(ring).T), axis=1))
        assert flat.exterior.is_ccw
        # 7 decimals of a degree are 11 mm at most
        assert flat.hausdorff_distance(box(unit.west, unit.south, unit.east, unit.north)) < 0.02
