"""Repeats beside chance: enumerated by hand, planted, null, and whatever the order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.hotspots.calls import Call, Incident
from tussock.hotspots.repeats import Asking, Release, after_releases, repeats
from tussock.hotspots.when import season_year

START = datetime(2025, 8, 1, tzinfo=UTC)
SEASON = season_year([9, 9, 9, 9, 1, 1, 0, 1, 1, 9, 9, 9])  # July
ASKING = Asking(within_days=60, within_m=100, season=SEASON, zone=UTC, seed=7)


def incident(
    name: str, *, day: float, x: float = 0, species: str = "tiger snake", mark: str = "", radius: float = 10
) -> Incident:
    time = START + timedelta(days=day)
    return Incident((Call(name, time, x, 0, radius, species, "captured", "yard", True, mark),))


def release(name: str, *, day: float, x: float = 0, species: str = "tiger snake", mark: str = "") -> Release:
    return Release(name, START + timedelta(days=day), x, 0, species, mark)


def test_what_follows_is_counted_once() -> None:
    found = repeats([incident(str(d), day=d) for d in (0, 20, 40, 200)], ASKING)
    assert (found.of, found.observed, found.marked) == (4, 2, 0)


def test_both_limits_and_what_was_one_incident_already() -> None:
    def observed(day: float, x: float) -> int:
        return repeats([incident("a", day=0), incident("b", day=day, x=x)], ASKING).observed

    assert [observed(60, 100), observed(60.01, 100), observed(60, 100.01)] == [1, 0, 0]
    assert [observed(14, 0), observed(14.01, 0)] == [0, 1]


def test_another_species_is_no_repeat() -> None:
    found = repeats([incident("a", day=0), incident("b", day=20, species="copperhead")], ASKING)
    assert (found.observed, found.expected) == (0, 0)


def test_no_species_or_a_wide_circle_is_left_out_and_counted() -> None:
    some = [incident("a", day=0), incident("b", day=20, species=""), incident("c", day=30, radius=101)]
    found = repeats(some, ASKING)
    assert (found.of, found.left_out, found.observed) == (1, 2, 0)


def test_expectation_by_hand() -> None:
    """Four places, two of them near each other; dates 0, 20, 100, 200: the two places get any of the 12
    ordered pairs of dates alike, 2 of which are 15 to 60 days apart: 1/6 expected."""
    days, at = (0, 20, 100, 200), (0, 50, 5000, 9000)
    some = [incident(str(d), day=d, x=x) for d, x in zip(days, at, strict=True)]
    found = repeats(some, replace(ASKING, replicates=20_000))
    assert found.observed == 1
    assert found.expected == pytest.approx(1 / 6, abs=4 * np.sqrt(1 / 6 * 5 / 6 / 20_000))
    assert found.p == pytest.approx(1 / 6, abs=4 * np.sqrt(1 / 6 * 5 / 6 / 20_000))


def test_dates_stay_in_their_season() -> None:
    """Two dates in one season and two in the next: dealt out within each, the near places stay a year
    apart whatever chance does."""
    some = [incident("a", day=0), incident("b", day=30, x=5000)]
    some += [incident("c", day=365, x=50), incident("d", day=395, x=9000)]
    assert repeats(some, ASKING).expected == 0
    assert repeats(some, replace(ASKING, within_days=400)).observed == 1


def test_a_place_that_calls_often_is_not_more_than_chance() -> None:
    """Ten calls of one home spread over the season like those of others: expected about as observed."""
    rng = np.random.Generator(np.random.PCG64(11))
    days = rng.uniform(0, 240, 100)
    some = [incident(str(k), day=float(d), x=0 if k < 10 else 1000.0 * k) for k, d in enumerate(days)]
    found = repeats(some, ASKING)
    assert found.low <= found.observed <= found.high
    assert found.p > 0.05


def test_calls_that_follow_each_other_are_more_than_chance() -> None:
    """Fifteen pairs three weeks apart, each pair at its own home, over a season of 240 days."""
    rng = np.random.Generator(np.random.PCG64(12))
    some = []
    for k, day in enumerate(rng.uniform(0, 220, 15)):
        some += [incident(f"{k}a", day=day, x=1000.0 * k), incident(f"{k}b", day=day + 20, x=1000.0 * k)]
    found = repeats(some, replace(ASKING, within_days=25))
    assert found.observed == 15
    assert found.high < 15
    assert found.p == 0.001


def test_p_is_valid_where_nothing_is_planted() -> None:
    """200 null books: p ≤ 0.05 in at most 21, which a true 0.05 exceeds less than once in 1,000."""
    rng = np.random.Generator(np.random.PCG64(13))
    alarms = 0
    for seed in range(200):
        days, homes = rng.uniform(0, 240, 40), rng.integers(0, 12, 40)
        some = [
            incident(str(k), day=float(d), x=1000.0 * h)
            for k, (d, h) in enumerate(zip(days, homes, strict=True))
        ]
        asked = replace(ASKING, within_days=30, seed=seed, replicates=99)
        alarms += repeats(some, asked, more_than_days=0).p <= 0.05
    assert alarms <= 21


def test_only_a_mark_tells_a_return() -> None:
    some = [incident("a", day=30), incident("b", day=40, x=5000, mark="T7"), incident("c", day=50, x=9000)]
    let_go = [release("r1", day=20), release("r2", day=20, x=5000, mark="T7"), release("r3", day=1, x=2e4)]
    found = after_releases(let_go, some, ASKING)
    assert (found.of, found.observed, found.marked) == (3, 2, 1)
    again = repeats([incident("a", day=0, mark="T7"), incident("b", day=20, mark="T7")], ASKING)
    assert (again.observed, again.marked) == (1, 1)
    assert repeats([incident("a", day=0), incident("b", day=20)], ASKING).marked == 0


def test_only_what_comes_after_a_release_follows_it() -> None:
    some = [incident("a", day=30)]
    for day, observed in ((29.0, 1), (30.0, 0), (31.0, 0), (-29.9, 1), (-30.1, 0)):
        assert after_releases([release("r", day=day)], some, ASKING).observed == observed
    assert after_releases([release("r", day=29, species="")], some, ASKING).left_out == 1
    assert after_releases([release("r", day=29, species="copperhead")], some, ASKING).observed == 0


def test_nothing_to_ask_about() -> None:
    for found in (repeats([], ASKING), after_releases([], [], ASKING)):
        assert (found.of, found.observed, found.expected, found.p) == (0, 0, 0, 1.0)


@pytest.mark.parametrize("bad", [{"within_days": 0}, {"within_m": -1}, {"within_m": float("nan")}])
def test_limits_that_are_none_are_refused(bad: dict[str, float]) -> None:
    with pytest.raises(InputError, match="more than 0 days, and 0 m or more"):
        replace(ASKING, **bad)  # type: ignore[arg-type]  # one field, which no type can say


def test_replicates_there_must_be() -> None:
    with pytest.raises(InputError, match="0 replicates"):
        replace(ASKING, replicates=0)


ROWS = st.lists(
    st.tuples(st.integers(0, 600), st.integers(0, 5), st.sampled_from(["tiger snake", "copperhead"])),
    max_size=20,
)


def built(rows: Sequence[tuple[int, int, str]]) -> list[Incident]:
    return [incident(f"c{k}", day=d, x=60.0 * x, species=s) for k, (d, x, s) in enumerate(rows)]


@settings(max_examples=40)
@given(ROWS, st.integers(0, 2**32 - 1))
def test_the_order_of_the_rows_changes_nothing(rows: list[tuple[int, int, str]], seed: int) -> None:
    asked, some = replace(ASKING, replicates=19), built(rows)
    order = np.random.default_rng(seed).permutation(len(some))
    assert repeats([some[k] for k in order], asked) == repeats(some, asked)


@settings(max_examples=40)
@given(ROWS)
def test_it_is_what_a_plain_reckoning_counts(rows: list[tuple[int, int, str]]) -> None:
    some = built(rows)

    def follows(later: Incident, earlier: Incident) -> bool:
        one, two = earlier.place, later.place
        near = abs(one.x - two.x) <= 100 and one.species == two.species
        return near and timedelta(days=14) < later.time - earlier.time <= timedelta(days=60)

    plain = sum(any(follows(later, earlier) for earlier in some) for later in some)
    found = repeats(some, replace(ASKING, replicates=1))
    assert found.observed == plain
    assert 0 <= found.expected <= found.of
