"""Calls become incidents: by hand, against a plain reckoning, and whatever the order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.hotspots.calls import Call, incidents

START = datetime(2025, 10, 1, 9, tzinfo=UTC)


def call(name: str, *, day: float = 0, x: float = 0, y: float = 0, radius: float = 10) -> Call:
    time = START + timedelta(days=day)
    return Call(name, time, x, y, radius, "tiger snake", "captured", "yard", True)


def groups(calls: Sequence[Call]) -> set[frozenset[str]]:
    return {frozenset(c.id for c in i.calls) for i in incidents(calls).items}


def test_both_limits_are_inclusive() -> None:
    assert len(incidents([call("a"), call("b", day=14, x=30, y=40)])) == 1
    assert len(incidents([call("a"), call("b", day=14.001, x=30, y=40)])) == 2
    assert len(incidents([call("a"), call("b", day=14, x=30, y=40.01)])) == 2


def test_a_chain_is_one_incident_and_its_length_is_told() -> None:
    found = incidents([call("a"), call("b", day=10, x=40), call("c", day=20, x=80)])
    assert len(found) == 1
    assert found.longest == timedelta(days=20)
    assert found.items[0].time == START


def test_both_counts_and_duplicates() -> None:
    calls = [call("a"), call("a"), call("b", day=3), call("c", day=300), call("c", day=300)]
    found = incidents(calls)
    assert (len(found), found.calls, found.duplicates) == (2, 3, 2)


def test_the_same_instant_in_another_offset_is_the_same_call() -> None:
    there = replace(call("a"), time=START.astimezone(timezone(timedelta(hours=11))))
    assert incidents([call("a"), there]).duplicates == 1


def test_a_vague_call_joins_the_nearest_and_links_no_two() -> None:
    calls = [call("a"), call("b", x=160), call("vague", x=70, radius=100)]
    assert groups(calls) == {frozenset({"a", "vague"}), frozenset({"b"})}
    assert (incidents(calls).by_radius, incidents(calls).rough) == (1, 0)


def test_a_vague_call_reaches_as_far_as_its_radius() -> None:
    assert len(incidents([call("a"), call("v", x=80, radius=80)])) == 1
    assert len(incidents([call("a"), call("v", x=81, radius=80)])) == 2


def test_what_is_near_enough_is_not_joined_by_its_radius() -> None:
    assert incidents([call("a"), call("v", x=50, radius=80)]).by_radius == 0
    assert incidents([call("a"), call("v", x=51, radius=80)]).by_radius == 1


def test_a_call_known_to_a_suburb_is_an_incident_of_its_own() -> None:
    """Such a call would join any call of a fortnight, and calls would vanish in a busy suburb."""
    calls = [
        call("a"),
        call("b", x=60, radius=100),
        call("v", x=0, radius=101),
        call("w", day=1, radius=1500),
    ]
    found = incidents(calls)
    assert groups(calls) == {frozenset({"a", "b"}), frozenset({"v"}), frozenset({"w"})}
    assert (found.by_radius, found.rough) == (1, 2)


def test_rough_places_never_make_incidents_fewer() -> None:
    """938 calls at 5 km were 3 incidents: chains of circles over circles."""
    exact = [call(f"c{n}", day=n, x=120.0 * n) for n in range(40)]
    for radius in (60.0, 100.0, 150.0, 1500.0, 5000.0):
        assert len(incidents([replace(c, radius_m=radius) for c in exact])) == 40
        every_third = [replace(c, radius_m=radius) if n % 3 == 0 else c for n, c in enumerate(exact)]
        assert len(incidents(every_third)) == 40


def test_one_rough_call_under_two_ids_is_one() -> None:
    assert len(incidents([call("a", radius=1500), call("b", radius=1500)])) == 1
    assert len(incidents([call("a", radius=1500), call("b", day=0.01, radius=1500)])) == 2


def test_calls_of_one_garden_known_to_80_metres_are_one() -> None:
    assert len(incidents([call("a", radius=80), call("b", day=3, x=20, radius=90)])) == 1


def test_the_place_is_the_best_known_and_the_tale_is_the_captures() -> None:
    heard = Call("h", START, 0, 0, 60, "", "gone_on_arrival", "", False)
    taken = Call("t", START + timedelta(days=2), 30, 0, 5, "copperhead", "captured", "building", True)
    (one,) = incidents([taken, heard]).items
    assert (one.place.id, one.told.id, one.time, one.captured) == ("t", "t", START, True)


def test_every_fault_is_told_at_once() -> None:
    bad = [
        replace(call("a"), time=datetime(2025, 10, 1, 9)),
        replace(call("b"), x=math.nan),
        replace(call("c"), radius_m=-1.0),
    ]
    with pytest.raises(InputError, match="3 faults") as caught:
        incidents(bad)
    text = str(caught.value)
    assert "call a: its time has no offset" in text
    assert "call b: it has no place" in text
    assert "call c: its radius is -1.0 m" in text


def test_two_calls_under_one_id_are_refused() -> None:
    with pytest.raises(InputError, match="call a: two calls bear this id and differ in time, x"):
        incidents([call("a"), call("a", day=2, x=7)])


def test_no_calls_no_incidents() -> None:
    found = incidents([])
    assert (len(found), found.calls, found.longest) == (0, 0, timedelta(0))
    assert found.x.shape == (0,)


STEPS = st.tuples(
    st.integers(0, 60), st.integers(0, 12), st.integers(0, 12), st.sampled_from([10, 30, 50, 80, 200])
)
MANY = st.lists(STEPS, max_size=25)


def built(steps: list[tuple[int, int, int, int]]) -> list[Call]:
    return [call(f"c{n}", day=d, x=25.0 * x, y=25.0 * y, radius=r) for n, (d, x, y, r) in enumerate(steps)]


def plain(calls: list[Call]) -> set[frozenset[str]]:
    """Single linkage, reckoned by spreading out from each call."""
    left, out = list(calls), set()
    while left:
        group, queue = [], [left.pop()]
        while queue:
            one = queue.pop()
            group.append(one.id)
            for other in list(left):
                far = math.hypot(one.x - other.x, one.y - other.y) > 50
                if not far and abs(one.time - other.time) <= timedelta(days=14):
                    left.remove(other)
                    queue.append(other)
        out.add(frozenset(group))
    return out


@given(MANY)
def test_well_placed_calls_are_linked_as_a_plain_reckoning_has_it(
    steps: list[tuple[int, int, int, int]],
) -> None:
    calls = [c for c in built(steps) if c.radius_m <= 50]
    assert groups(calls) == plain(calls)


@given(MANY, st.integers(0, 2**32 - 1))
def test_the_order_of_the_rows_changes_nothing(steps: list[tuple[int, int, int, int]], seed: int) -> None:
    calls = built(steps)
    order = np.random.default_rng(seed).permutation(len(calls))
    assert incidents([calls[i] for i in order]) == incidents(calls)


@given(MANY)
def test_vague_calls_never_join_what_was_apart(steps: list[tuple[int, int, int, int]]) -> None:
    calls = built(steps)
    located = {c.id for c in calls if c.radius_m <= 50}
    cut = {g & located for g in groups(calls)} - {frozenset()}
    assert cut == plain([c for c in calls if c.id in located])


@given(MANY)
def test_every_call_is_in_one_incident_and_more_time_never_makes_more(
    steps: list[tuple[int, int, int, int]],
) -> None:
    calls = [c for c in built(steps) if c.radius_m <= 50]
    found = incidents(calls)
    assert sorted(c.id for i in found.items for c in i.calls) == sorted(c.id for c in calls)
    assert len(incidents(calls, within_days=28)) <= len(found)
    assert len(incidents(calls, within_m=100)) <= len(found)
