"""The fixed units: from homes alone, side by side, each with enough homes, whatever the order."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.profiles import examples
from tussock.errors import InputError, UsageError
from tussock.hotspots.public_units import Unit, units_from_homes

HOMES = st.lists(
    st.tuples(
        st.integers(-3000, 3000), st.integers(-2000, 2000), st.sampled_from([0, 1, 1, 2, 40, 150, 700])
    ),
    min_size=1,
    max_size=150,
)


def made(homes: list[tuple[int, int, int]], *, least: int = 100) -> tuple[Unit, ...]:
    x, y, count = np.array(homes, dtype=np.float64).T
    return units_from_homes(x, y, homes=count, least=least)


def test_a_street_of_four_halves_is_cut_by_hand() -> None:
    # 60 homes in each of four places 1 km apart, west to east: the first line has 120 on either side; the
    # halves cannot be cut, as 60 < 100. Of the lines between 1,050 m and 2,050 m the first is at 1,100 m.
    homes = [(1000 * n + 50, 20, 60) for n in range(4)]
    assert made(homes) == (
        Unit("unit-0001", -1000, -1000, 1100, 1100, 120),
        Unit("unit-0002", 1100, -1000, 4100, 1100, 120),
    )


@pytest.mark.parametrize(("west", "east", "units"), [(100, 100, 2), (100, 99, 1), (99, 100, 1), (99, 500, 1)])
def test_a_line_leaves_no_side_one_home_short(west: int, east: int, units: int) -> None:
    assert len(made([(0, 0, west), (1000, 0, east)])) == units


def test_lines_the_other_way_are_tried() -> None:
    # Longer from west to east, but every line that way leaves 10 homes on one side.
    homes = [(0, 0, 120), (0, 900, 110), (5000, 0, 10)]
    assert [(u.south, u.north, u.dwellings) for u in made(homes)] == [(-1000, 100, 130), (100, 2000, 110)]


@given(homes=HOMES, least=st.integers(100, 600), order=st.randoms(use_true_random=False))
@examples(80)
def test_units_hold_enough_and_leave_no_gap(
    homes: list[tuple[int, int, int]], least: int, order: Any
) -> None:
    total = sum(count for _, _, count in homes)
    if total < least:
        with pytest.raises(InputError, match="dwellings"):
            made(homes, least=least)
        return
    units = made(homes, least=least)
    assert all(u.dwellings >= least for u in units)
    assert sum(u.dwellings for u in units) == total
    for u in units:
        inside = sum(c for x, y, c in homes if u.west <= x < u.east and u.south <= y < u.north)
        assert u.dwellings == inside
    west, south = min(u.west for u in units), min(u.south for u in units)
    east, north = max(u.east for u in units), max(u.north for u in units)
    assert sum((u.east - u.west) * (u.north - u.south) for u in units) == (east - west) * (north - south)
    shuffled = list(homes)
    order.shuffle(shuffled)
    assert made(shuffled, least=least) == units


@given(homes=HOMES)
@examples(40)
def test_no_unit_can_be_cut_further(homes: list[tuple[int, int, int]]) -> None:
    if sum(count for _, _, count in homes) < 100:
        return
    for u in made(homes):
        held = [(x, y, c) for x, y, c in homes if u.west <= x < u.east and u.south <= y < u.north]
        for axis, low, high in ((0, u.west, u.east), (1, u.south, u.north)):
            for line in range(low + 100, high, 100):
                below = sum(h[2] for h in held if h[axis] < line)
                assert min(below, u.dwellings - below) < 100


def test_units_smaller_than_the_floor_are_refused() -> None:
    with pytest.raises(UsageError, match="units of 99 dwellings"):
        made([(0, 0, 1000)], least=99)


def test_every_home_that_cannot_be_used_is_told() -> None:
    x = np.array([0.0, np.nan, 200_000.0, 0.0, 0.0])
    with pytest.raises(InputError) as caught:
        units_from_homes(x, np.zeros(5), homes=[900, 1, 1, -1, 1.5])
    text = caught.value.text()
    assert all(f"dwelling {row}:" in text for row in (2, 3, 4, 5))
    assert "dwelling 1:" not in text
    with pytest.raises(InputError, match="differ in number"):
        units_from_homes(x, np.zeros(4), homes=np.ones(5))


def test_no_homes_at_all_are_too_few() -> None:
    with pytest.raises(InputError, match="holds 0 dwellings"):
        units_from_homes(np.zeros(0), np.zeros(0), homes=np.zeros(0))
