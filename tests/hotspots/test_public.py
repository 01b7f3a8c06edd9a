"""Published figures: what is in the file, what leaves it as it was, what is refused."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.profiles import examples
from tests.support.public import NOW, PLANE, ZONE, Told, calls, region
from tussock.errors import InputError, UsageError
from tussock.hotspots.public import PublicCalls, PublicFigures, public_figures, release_figures
from tussock.hotspots.public_partition import Partition
from tussock.hotspots.public_store import store_partition

DIMENSIONS = ("unit", "season")
SHARE = st.floats(0, 0.999999)
CALL = st.tuples(st.integers(0, 2), st.integers(0, 5), st.integers(0, 11), SHARE, SHARE, SHARE)
MOVE = st.tuples(st.integers(0, 11), SHARE, SHARE, SHARE)
WHERE = (0.5, 0.5, 0.5)


def published(partition: Partition, told: list[Told], *, first: int = 2020) -> PublicFigures:
    dimension = partition.choice.dimension
    return public_figures(partition, calls(partition, told), dimension=dimension, first_season=first, now=NOW)


def texts(partition: Partition, told: list[Told]) -> list[str]:
    return [published(partition, told, first=first).text() for first in (2020, 2022, 2024)]


@pytest.mark.parametrize("dimension", DIMENSIONS)
@given(told=st.lists(CALL, min_size=1, max_size=120), moves=st.data())
@examples(60)
def test_a_call_moved_within_its_unit_and_season_leaves_the_file(
    dimension: str, told: list[Told], moves: st.DataObject
) -> None:
    """All calls move at once, and in the order too."""
    partition = region(dimension)
    moved = []
    for unit, season, *_ in told:
        moved.append((unit, season, *moves.draw(MOVE)))
    assert texts(partition, moved[::-1]) == texts(partition, told)


@pytest.mark.parametrize("dimension", DIMENSIONS)
@given(told=st.lists(CALL, max_size=60), more=st.lists(CALL, min_size=1, max_size=8))
@examples(60)
def test_calls_added_within_a_band_leave_the_file(dimension: str, told: list[Told], more: list[Told]) -> None:
    def cell(call: Told) -> tuple[int, int]:
        unit, season, *_ = call
        return season // 2, {"unit": unit, "season": season}[dimension]

    def band(count: int) -> int:
        return sum(count >= least for least in (5, 10, 20, 50))

    before, after = ([cell(c) for c in some] for some in (told, told + more))
    stays = all(band(before.count(c)) == band(after.count(c)) for c in set(after))
    same = texts(region(dimension), told) == texts(region(dimension), told + more)
    assert same == stays


@pytest.mark.parametrize("dimension", DIMENSIONS)
@given(told=st.lists(CALL, max_size=80))
@examples(30)
def test_only_keys_of_the_list_occur(dimension: str, told: list[Told]) -> None:
    document = json.loads(published(region(dimension), told).text())
    assert set(document) == {"what", "region", "by", "seasons", "figures", "dwellings_from"}
    assert document["seasons"] == ["2020-21", "2021-22"]
    for figure in document["figures"]:
        assert set(figure) == {dimension, "dwellings", "perhaps_dwellings", "calls", "rate_low", "rate_high"}
        assert figure["calls"] in ("0–4", "5–9", "10–19", "20–49", "50+")
        assert figure["dwellings"] in (600, 700, 1100, 2400)
    assert len(document["figures"]) == {"unit": 3, "season": 2}[dimension]


def test_bands_and_rates_by_hand() -> None:
    # 600 + 700 + 1100 dwellings over 2 seasons: 1,200, 1,400 and 2,200 dwelling seasons. 7 calls are in 5–9:
    # 5/1.2 = 4.1666 and 9/1.2 = 7.5 per 1,000; 50 calls are 50+: 50/1.4 = 35.714285 and no highest; none is
    # in 0–4: 0 and 4/2.2 = 1.81818. The low end is rounded down, the high end up.
    told: list[Told] = [(0, 0, 3, *WHERE)] * 4 + [(0, 1, 3, *WHERE)] * 3 + [(1, 1, 0, *WHERE)] * 50
    figures = published(region(), told)
    lines = [(f.of, f.band, f.rate_low, f.rate_high) for f in figures.figures]
    assert lines == [
        ("unit-0001", "5–9", 4.1, 7.5),
        ("unit-0002", "50+", 35.7, None),
        ("unit-0003", "0–4", 0.0, 1.9),
    ]
    assert (figures.counted, figures.beyond_units, figures.other_seasons) == (57, 0, 0)


@pytest.mark.parametrize(("count", "band"), [
    (0, "0–4"), (4, "0–4"), (5, "5–9"), (9, "5–9"), (10, "10–19"), (19, "10–19"),
    (20, "20–49"), (49, "20–49"), (50, "50+"), (700, "50+"),
])  # fmt: skip
def test_each_end_of_each_band(count: int, band: str) -> None:
    assert published(region(), [(2, 0, 0, *WHERE)] * count).figures[2].band == band


def test_by_season_the_rate_is_of_one_season() -> None:
    figure = published(region("season"), [(0, 1, 3, *WHERE)] * 12).figures[1]
    # 10 to 19 calls of 2,400 dwellings in one season: 4.1666 to 7.91666 per 1,000
    assert (figure.of, figure.dwellings, figure.band) == ("2021-22", 2400, "10–19")
    assert (figure.rate_low, figure.rate_high) == (4.1, 8.0)


def test_a_season_begins_at_local_midnight() -> None:
    # Tasmania is ten hours ahead of UTC in July: its 1 July 2020 begins at 14:00 UTC on 30 June.
    edge = datetime(2020, 6, 30, 14, tzinfo=UTC).timestamp()
    unit = region("season").units[0]
    place = (np.full(2, unit.west + 1.0), np.full(2, unit.south + 1.0))
    some = PublicCalls(*place, np.array([edge - 0.001, edge]))
    figures = public_figures(region("season"), some, dimension="season", first_season=2020, now=NOW)
    assert (figures.counted, figures.other_seasons) == (1, 1)


def test_buildings_that_may_be_homes_lower_the_low_end_of_a_rate_alone() -> None:
    """By hand: 600 dwellings and 200 perhaps, 5 to 9 calls in 2 seasons: 5 / 1.6 and 9 / 1.2 per 1,000."""
    plain = region()
    at = np.array([0.0, 10.0, 3000.0, 1e6]), np.array([0.0, 10.0, 250.0, 0.0])
    partition = plain.with_perhaps(*at, homes=np.array([150, 50, 7, 9]))
    assert [u.perhaps for u in partition.units] == [200, 7, 0]
    told = calls(plain, [(0, 0, 0, *WHERE)] * 6)
    first, *_ = public_figures(partition, told, dimension="unit", first_season=2020, now=NOW).figures
    assert (first.dwellings, first.perhaps, first.band) == (600, 200, "5–9")
    assert (first.rate_low, first.rate_high) == (3.1, 7.5)


def test_calls_that_are_not_counted_are_told_to_the_maker_alone() -> None:
    partition = region()
    inside = calls(partition, [(0, 0, 0, *WHERE), (0, 2, 0, *WHERE)])
    some = PublicCalls(np.append(inside.x, [1e300, -9000.0]), np.append(inside.y, [0.0, 0.0]),
                       np.append(inside.time, inside.time))  # fmt: skip
    figures = public_figures(partition, some, dimension="unit", first_season=2020, now=NOW)
    assert (figures.counted, figures.beyond_units, figures.other_seasons) == (1, 2, 1)
    assert figures.text() == published(partition, [(1, 1, 0, *WHERE)]).text()


def test_an_unfinished_season_is_refused() -> None:
    partition = region()
    ends = datetime(2022, 7, 1, tzinfo=ZoneInfo(ZONE))
    with pytest.raises(UsageError, match=r"season 2021-22 has not ended.*wait until 2022-07-01"):
        public_figures(partition, calls(partition, []), dimension="unit", first_season=2020,
                       now=ends - timedelta(seconds=1))  # fmt: skip
    assert public_figures(partition, calls(partition, []), dimension="unit", first_season=2020, now=ends)
    with pytest.raises(UsageError, match="no zone"):
        public_figures(partition, calls(partition, []), dimension="unit", first_season=2020,
                       now=datetime(2026, 1, 1))  # fmt: skip


@pytest.mark.parametrize("other", ["season", "month", "species", "unit and month", ""])
def test_a_second_dimension_is_refused_with_the_reason(other: str) -> None:
    with pytest.raises(UsageError, match="one narrows the bands of the other"):
        public_figures(region(), calls(region(), []), dimension=other, first_season=2020, now=NOW)


@pytest.mark.parametrize("first", [2019, 2021, 2023, 1, -5, 10**9])
def test_seasons_across_blocks_are_refused(first: int) -> None:
    with pytest.raises(UsageError, match="begin with 2020-21, 2022-23"):
        public_figures(region(), calls(region(), []), dimension="unit", first_season=first, now=NOW)


def test_calls_without_a_place_or_time_are_told() -> None:
    with pytest.raises(InputError, match="call 2: it has no place"):
        PublicCalls(np.array([0.0, np.nan]), np.zeros(2), np.zeros(2))
    with pytest.raises(InputError, match="differ in number"):
        PublicCalls(np.zeros(2), np.zeros(2), np.zeros(3))


def test_a_release_stands(tmp_path: Path) -> None:
    partition = region()
    store_partition(tmp_path, partition)

    def release(told: list[Told]) -> Path:
        return release_figures(tmp_path, calls(partition, told), plane=PLANE, dimension="unit",
                               first_season=2020, now=NOW).path  # fmt: skip

    target = release([(0, 0, 0, *WHERE)])
    assert target == tmp_path / "published" / "calls-by-unit-2020-21-to-2021-22.json"
    before = target.read_bytes()
    assert before.decode() == published(partition, []).text()
    assert release([(1, 1, 1, *WHERE)] * 4) == target
    with pytest.raises(InputError, match="released before"):
        release([(0, 0, 0, *WHERE)] * 5)
    assert target.read_bytes() == before


def test_units_that_are_gone_cannot_be_made_anew_once_figures_are_out(tmp_path: Path) -> None:
    partition = region()
    stored = store_partition(tmp_path, partition)
    released = release_figures(
        tmp_path, calls(partition, []), plane=PLANE, dimension="unit", first_season=2020, now=NOW
    )
    stored.unlink()
    with pytest.raises(InputError, match="released"):
        store_partition(tmp_path, region("season"))
    assert {p.name for p in tmp_path.iterdir()} == {released.path.parent.name}


def test_a_file_in_the_way_of_the_folder_is_told(tmp_path: Path) -> None:
    store_partition(tmp_path, region())
    (tmp_path / "published").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="published"):
        release_figures(
            tmp_path, calls(region(), []), plane=PLANE, dimension="unit", first_season=2020, now=NOW
        )
    assert (tmp_path / "published").read_text(encoding="utf-8") == "mine"


def test_without_stored_units_nothing_is_released(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        release_figures(
            tmp_path, calls(region(), []), plane=PLANE, dimension="unit", first_season=2020, now=NOW
        )
    assert list(tmp_path.iterdir()) == []


def test_a_count_never_shows_in_another_block() -> None:
    partition = region()
    later = [(0, 2, 0, *WHERE)] * 60
    assert published(partition, later).text() == published(partition, []).text()
    assert published(partition, later, first=2022).figures[0].band == "50+"
