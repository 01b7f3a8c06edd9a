"""Sets of instants against membership one by one; local days and wall clocks against counting minutes."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

import hypothesis.strategies as st
import pytest
from hypothesis import given

from tests.support.profiles import examples
from tussock.spans import ALWAYS, NEVER, Spans, clock_spans, day_spans, instant, local_day, posix

# Whole numbers meet each other's ends, halves fall between them.
ENDS = st.one_of(st.integers(-20, 20).map(float), st.sampled_from([-math.inf, math.inf]))
SETS = st.lists(st.tuples(ENDS, ENDS), max_size=6).map(Spans.joined)
INSTANTS = [half / 2 for half in range(-50, 51)]
ZONES = [  # what a clock can do
    "Australia/Lord_Howe",  # changes by half an hour
    "Australia/Hobart",
    "America/Havana",  # 24:00 forward to 01:00: midnight does not exist
    "Asia/Beirut",  # 00:00 forward to 01:00; back from 24:00 to 23:00 of the same day
    "America/St_Johns",  # until 2011 back from 00:01 to 23:01 of the day before
    "Pacific/Apia",  # left out 30 December 2011
    "Pacific/Kwajalein",  # left out 21 August 1993
    "Africa/Casablanca",
    "Asia/Kathmandu",
    "UTC",
]
CHANGES = [
    datetime(2011, 12, 30, tzinfo=UTC),
    datetime(1993, 8, 21, tzinfo=UTC),
    datetime(2006, 4, 2, tzinfo=UTC),
    datetime(2006, 10, 29, tzinfo=UTC),
    datetime(2024, 3, 10, tzinfo=UTC),
    datetime(2024, 3, 31, tzinfo=UTC),
    datetime(2024, 4, 7, tzinfo=UTC),
    datetime(2024, 4, 14, tzinfo=UTC),
    datetime(2024, 10, 6, tzinfo=UTC),
    datetime(2024, 10, 27, tzinfo=UTC),
    datetime(2024, 11, 3, tzinfo=UTC),
    datetime(1985, 12, 31, tzinfo=UTC),
]


def utc(text: str) -> float:
    return datetime.fromisoformat(f"{text}+00:00").timestamp()


@examples(300)
@given(SETS, SETS)
def test_intersection_and_union_hold_what_both_and_either_hold(one: Spans, other: Spans) -> None:
    for t in INSTANTS:
        assert (one & other).holds(t) == (one.holds(t) and other.holds(t))
        assert (one | other).holds(t) == (one.holds(t) or other.holds(t))


@examples(300)
@given(SETS)
def test_the_complement_holds_the_others_and_the_ends(one: Spans) -> None:
    rest = one.complement()
    ends = {end for part in one.parts for end in part}
    for t in INSTANTS:
        assert rest.holds(t) == (not one.holds(t) or t in ends)
    assert one | rest == ALWAYS


@examples(300)
@given(st.lists(st.tuples(ENDS, ENDS), max_size=6), st.randoms(use_true_random=False))
def test_the_order_of_spans_is_of_no_matter(parts: list[tuple[float, float]], random: Random) -> None:
    shuffled = list(parts)
    random.shuffle(shuffled)
    assert Spans.joined(parts) == Spans.joined(shuffled)
    for t in INSTANTS:
        assert Spans.joined(parts).holds(t) == any(a <= t <= b for a, b in parts)


@examples(300)
@given(SETS)
def test_the_depth_is_the_time_to_the_nearest_change(one: Spans) -> None:
    ends = [end for part in one.parts for end in part if math.isfinite(end)]
    for t in INSTANTS:
        nearest = min((abs(t - end) for end in ends), default=math.inf)
        assert one.depth_s(t) == (nearest if one.holds(t) else -nearest)
        assert one.holds(t, slip_s=2.5) == (one.holds(t) or nearest <= 2.5)
        part = one.part_at(t)
        assert (part is not None) == one.holds(t)
        assert part is None or (part in one.parts and part[0] <= t <= part[1])


@examples(300)
@given(SETS, st.integers(-5, 5), st.integers(-5, 5))
def test_shifted_spans_are_the_union_of_each_one_shifted(one: Spans, early: int, late: int) -> None:
    found = one.shifted(float(early), float(late))
    for t in INSTANTS:
        assert found.holds(t) == any(a + early <= t <= b + late for a, b in one.parts)


def test_what_is_empty_and_what_is_everything() -> None:
    assert not Spans.of(2, 1)
    assert Spans.of(2, 1) == NEVER == ALWAYS.complement()
    assert Spans.of(-math.inf, math.inf) == ALWAYS == NEVER.complement()
    assert len(Spans.of(1, 2) | Spans.of(2, 3)) == 1
    assert len(Spans.of(1, 2) | Spans.of(3, 4)) == 2
    assert (Spans.of(1, 2) & Spans.of(2, 3)).parts == ((2, 2),)
    assert ALWAYS.depth_s(0.0) == math.inf
    assert NEVER.depth_s(0.0) == -math.inf
    assert not Spans.of(math.inf, math.inf)


@pytest.mark.parametrize("parts", [((2.0, 1.0),), ((1.0, 2.0), (2.0, 3.0)), ((4.0, 5.0), (1.0, 2.0))])
def test_spans_out_of_order_are_none(parts: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(ValueError, match="not disjoint ascending spans"):
        Spans(parts)


def test_instants_go_to_seconds_and_back() -> None:
    hobart = ZoneInfo("Australia/Hobart")
    twice = datetime(2024, 4, 7, 2, 30, tzinfo=hobart)
    for moment in (twice, twice.replace(fold=1)):
        # As text: Python calls a time that occurs twice unequal to the same instant in another zone.
        assert instant(posix(moment), hobart).isoformat() == moment.isoformat()
    assert posix(twice.replace(fold=1)) - posix(twice) == 3600
    assert instant(1.4, hobart) == datetime(1970, 1, 1, 0, 0, 1, tzinfo=UTC)
    with pytest.raises(ValueError, match="no zone"):
        posix(datetime(2024, 4, 7))
    with pytest.raises(ValueError, match="no instant"):
        instant(math.inf, hobart)


# Hand computed from the rules of the zones (IANA tz database): the offsets and the hour of the change.
@pytest.mark.parametrize(
    ("zone", "day", "first", "after"),
    [
        ("America/Havana", date(2024, 3, 10), "2024-03-10T05:00", "2024-03-11T04:00"),  # from 01:00, UTC−4
        ("America/Havana", date(2024, 11, 3), "2024-11-03T04:00", "2024-11-04T05:00"),  # 00:00–01:00 twice
        ("Asia/Beirut", date(2024, 3, 31), "2024-03-30T22:00", "2024-03-31T21:00"),  # from 01:00, UTC+3
        ("Asia/Beirut", date(2024, 10, 26), "2024-10-25T21:00", "2024-10-26T22:00"),  # 23:00–24:00 twice
        ("Australia/Lord_Howe", date(2024, 4, 7), "2024-04-06T13:00", "2024-04-07T13:30"),  # 24.5 h
        ("Australia/Lord_Howe", date(2024, 10, 6), "2024-10-05T13:30", "2024-10-06T13:00"),  # 23.5 h
        ("Pacific/Apia", date(2011, 12, 30), "2011-12-30T10:00", "2011-12-30T10:00"),  # left out
        # UTC−2.5 to UTC−3.5 at 00:01: the minute past midnight comes twice, the hour before it too.
        ("America/St_Johns", date(2006, 10, 28), "2006-10-28T02:30", "2006-10-29T03:30"),
        ("America/St_Johns", date(2006, 10, 29), "2006-10-29T02:30", "2006-10-30T03:30"),
        ("UTC", date(1970, 1, 1), "1970-01-01T00:00", "1970-01-02T00:00"),
    ],
)
def test_a_local_day(zone: str, day: date, first: str, after: str) -> None:
    assert local_day(day, ZoneInfo(zone)) == (utc(first), utc(after))


@pytest.mark.parametrize("name", ZONES)
@pytest.mark.parametrize("change", CHANGES)
def test_a_local_day_by_counting_minutes(name: str, change: datetime) -> None:
    zone = ZoneInfo(name)
    minutes = [change.timestamp() + 60 * n for n in range(-60 * 60, 60 * 60)]
    dates = {t: datetime.fromtimestamp(t, zone).date() for t in minutes}
    for day in (change.date() + timedelta(days=n) for n in (-1, 0, 1)):
        lived = [t for t in minutes if dates[t] == day]
        found = day_spans(day, zone)
        # Every stretch is closed by the first instant after it, so a minute is held when its middle is.
        assert [t for t in minutes if found.holds(t + 30)] == lived
        first, after = local_day(day, zone)
        if lived:
            assert (first, after) == (lived[0], lived[-1] + 60)
        else:
            assert first == after == next(t for t in minutes if dates[t] > day)


def by_minutes(start: time, end: time) -> Callable[[time], bool]:
    if start <= end:
        return lambda clock: start <= clock <= end
    return lambda clock: clock >= start or clock <= end


CLOCKS = st.builds(time, st.integers(0, 23), st.sampled_from([0, 1, 15, 29, 30, 59]))


@examples(150)
@given(st.sampled_from(ZONES), st.sampled_from(CHANGES), CLOCKS, CLOCKS, st.integers(-40, 0))
def test_the_wall_clock_by_counting_minutes(
    name: str, change: datetime, start: time, end: time, begin_h: int
) -> None:
    zone = ZoneInfo(name)
    within = change.timestamp() + begin_h * 3600 + 1800, change.timestamp() + 40 * 3600
    found = clock_spans(start, end, zone, within=within)
    expected = by_minutes(start, end)
    minutes = [within[0] + 60 * n for n in range(int(within[1] - within[0]) // 60 + 1)]
    walls = [datetime.fromtimestamp(t, zone) for t in minutes]
    held = [found.holds(t) for t in minutes]
    for n, wall in enumerate(walls):
        assert held[n] == expected(wall.time()), wall
    assert all(within[0] <= a and b <= within[1] for a, b in found.parts)


# Hand computed: on 7 April 2024 at 15:00 UTC from UTC+11 to +10.5, on 6 October at 15:30 UTC of the 5th back.
@pytest.mark.parametrize(
    ("start", "end", "day", "expected"),
    [
        (time(1, 30), time(2), date(2024, 4, 7), [("2024-04-06T14:30", "2024-04-06T15:30")]),
        (
            time(1, 40),
            time(1, 50),
            date(2024, 4, 7),
            [("2024-04-06T14:40", "2024-04-06T14:50"), ("2024-04-06T15:10", "2024-04-06T15:20")],
        ),
        (time(2, 5), time(2, 25), date(2024, 10, 6), []),
        (time(2), time(2, 29), date(2024, 10, 6), []),
        (time(1, 50), time(2, 40), date(2024, 10, 6), [("2024-10-05T15:20", "2024-10-05T15:40")]),
        (time(2), time(2, 30), date(2024, 10, 6), [("2024-10-05T15:30", "2024-10-05T15:30")]),
        (
            time(22),
            time(1),
            date(2024, 10, 6),  # the day begins and ends with a part
            [("2024-10-05T13:30", "2024-10-05T14:30"), ("2024-10-06T11:00", "2024-10-06T13:00")],
        ),
    ],
)
def test_the_wall_clock_of_lord_howe(
    start: time, end: time, day: date, expected: list[tuple[str, str]]
) -> None:
    zone = ZoneInfo("Australia/Lord_Howe")
    found = clock_spans(start, end, zone, within=local_day(day, zone))
    assert found.parts == tuple((utc(a), utc(b)) for a, b in expected)


def test_a_window_that_ends_at_its_change_keeps_no_clock_time_of_before() -> None:
    # 02:00 does not occur on 6 October 2024: at that instant the clock shows 02:30.
    zone = ZoneInfo("Australia/Lord_Howe")
    within = utc("2024-10-05T12:00"), utc("2024-10-05T15:30")
    assert not clock_spans(time(2), time(2, 29), zone, within=within)
    assert clock_spans(time(2, 30), time(3), zone, within=within).parts == ((within[1], within[1]),)


def test_seconds_and_parts_of_a_second_are_kept() -> None:
    found = clock_spans(time(7, 0, 30), time(7, 0, 30, 500_000), ZoneInfo("UTC"), within=(0.25, 86_400.0))
    assert found.parts == ((25_230.0, 25_230.5),)
    assert clock_spans(time(23), time(0), ZoneInfo("UTC"), within=(100.25, 90_000.5)).parts == (
        (82_800.0, 86_400.0),
    )


def test_a_year_has_its_days() -> None:
    zone = ZoneInfo("Australia/Hobart")
    year = local_day(date(2024, 1, 1), zone)[0], local_day(date(2024, 12, 31), zone)[1]
    found = clock_spans(time(7), time(19), zone, within=year)
    assert len(found) == 366
    assert {b - a for a, b in found.parts} == {12 * 3600.0}
