"""When calls come, where animals are found, how many are caught: counted by hand."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.hotspots.calls import Call, Incident
from tussock.hotspots.counts import clopper_pearson, garwood
from tussock.hotspots.find_times import NO_ATTEMPT
from tussock.hotspots.when import ALL, busiest, calendars, places_found, season_year, share_captured
from tussock.names import OUTCOMES

ZONE = ZoneInfo("Australia/Hobart")
SOUTHERN = [40, 30, 25, 9, 3, 0, 1, 2, 8, 20, 35, 44]
"""Calls from January on where winter is in July."""


def incident(
    time: datetime, *, species: str = "tiger snake", outcome: str = "captured", found: str = "yard"
) -> Incident:
    call = Call(time.isoformat(), time, 0, 0, 10, species, outcome, found, outcome == "captured")
    return Incident((call,))


def some(times: Iterable[datetime]) -> list[Incident]:
    return [incident(t) for t in times]


def test_the_hour_is_that_of_residents_clocks() -> None:
    """Hobart is 11 h ahead in January and 10 h in July; the month is the local one too."""
    instants = [datetime(2025, 1, 31, 22, 30, tzinfo=UTC), datetime(2025, 7, 1, 4, 0, tzinfo=UTC)]
    found = calendars(some(instants), zone=ZONE)[ALL]
    assert np.argwhere(found.counts).tolist() == [[1, 9], [6, 14]]


def test_species_by_count_then_alphabet_and_the_unnamed_only_among_all() -> None:
    start = datetime(2025, 1, 1, tzinfo=UTC)
    names = ["tiger snake", "copperhead", "tiger snake", "whip snake", ""]
    found = calendars([incident(start, species=n) for n in names], zone=ZONE)
    assert [(name, c.n) for name, c in found.items()] == [
        (ALL, 5),
        ("tiger snake", 2),
        ("copperhead", 1),
        ("whip snake", 1),
    ]


def test_the_uncertainty_is_garwoods() -> None:
    found = calendars(some([datetime(2025, 3, 3, 3, tzinfo=UTC)] * 11), zone=UTC)[ALL]
    low, high = found.month_ends()
    assert (low[2], high[2]) == pytest.approx((5.49116, 19.68204), abs=0.5e-5)
    assert (low[0], high[0]) == (0, garwood(0).high)
    assert found.hour_ends()[1][3] == high[2]
    assert found.ends()[0].shape == (12, 24)


def test_dates_without_a_time_are_counted() -> None:
    midnight = datetime(2025, 3, 3, 0, 0, tzinfo=ZONE)
    found = calendars(some([midnight, midnight + timedelta(seconds=1)]), zone=ZONE)[ALL]
    assert (found.midnight, found.n) == (1, 2)


def test_no_incidents() -> None:
    assert calendars([], zone=ZONE)[ALL].n == 0
    assert places_found([]) == {}
    assert share_captured([])[2].high == 1.0


def test_the_quiet_month_of_the_south_is_july() -> None:
    """June to August hold 3 of 217 calls, May to July 4, July to September 11; June itself has none."""
    found = season_year(SOUTHERN)
    assert (found.month, found.incidents, found.clear) == (7, 3, True)
    assert found.share == clopper_pearson(3, 217)


def test_a_season_runs_over_the_new_year() -> None:
    found = season_year(SOUTHERN)
    days = [datetime(2024, 7, 1), datetime(2024, 12, 31), datetime(2025, 1, 1), datetime(2025, 6, 30, 23)]
    years = [found.of(day.replace(tzinfo=ZONE), zone=ZONE) for day in days]
    assert years == [2024, 2024, 2024, 2024]
    assert found.of(datetime(2025, 6, 30, 15, tzinfo=UTC), zone=ZONE) == 2025  # 01:00 on 1 July there


def test_a_long_quiet_has_its_middle() -> None:
    """None from November to March: January."""
    assert season_year([0, 0, 0, 5, 9, 9, 9, 9, 9, 5, 0, 0]).month == 1


def test_without_calls_the_year_begins_in_january_and_is_not_clear() -> None:
    found = season_year([0] * 12)
    assert (found.month, found.clear) == (1, False)
    assert not season_year([5] * 12).clear


def test_a_year_has_twelve_months() -> None:
    with pytest.raises(InputError, match="11 counts"):
        season_year([1] * 11)


@given(st.lists(st.integers(0, 50), min_size=12, max_size=12), st.integers(0, 11))
def test_moving_the_seasons_moves_the_quiet_month(months: list[int], by: int) -> None:
    one, two = season_year(months), season_year(np.roll(months, by))
    assert one.incidents == two.incidents
    sums = [sum(months[(m + k) % 12] for k in (-1, 0, 1)) for m in range(12)]
    assert one.incidents == min(sums) == sums[one.month - 1]
    if sums.count(min(sums)) == 1:
        assert two.month == (one.month - 1 + by) % 12 + 1


@given(st.lists(st.integers(0, 50), min_size=12, max_size=12), st.integers(2, 9))
def test_more_of_the_same_leaves_the_quiet_month(months: list[int], times: int) -> None:
    assert season_year([m * times for m in months]).month == season_year(months).month


def test_places_are_of_captures_that_say_where() -> None:
    at = datetime(2025, 1, 1, tzinfo=UTC)
    found = places_found(
        [
            *[incident(at, found="yard")] * 3,
            incident(at, found="building"),
            incident(at, found=""),
            incident(at, found="road", outcome="not_found"),
        ]
    )
    assert list(found) == ["yard", "building"]
    assert found["yard"] == clopper_pearson(3, 4)


def test_the_share_captured_and_what_is_no_attempt() -> None:
    """Common practice, no source: 9 of 11 a week, 82 % [48–98 %]."""
    at = datetime(2025, 1, 1, tzinfo=UTC)
    week = [*[incident(at)] * 9, *[incident(at, outcome="not_found")] * 2]
    captured, n, share = share_captured(week)
    assert (captured, n) == (9, 11)
    assert (round(share.value, 2), round(share.low, 2), round(share.high, 2)) == (0.82, 0.48, 0.98)
    advice = [*week, incident(at, outcome="advice_only")]
    assert share_captured(advice)[1] == 12
    assert share_captured(advice, leaving_out=frozenset({"advice_only"}))[1] == 11


def test_an_incident_is_an_attempt_if_any_of_its_calls_was() -> None:
    """Thirteen whose first call was advice and whose second was a search were once left out."""
    at = datetime(2025, 1, 1, tzinfo=UTC)

    def of(*outcomes: str) -> Incident:
        times = (at + timedelta(days=n) for n in range(len(outcomes)))
        return Incident(tuple(incident(t, outcome=o).calls[0] for t, o in zip(times, outcomes, strict=True)))

    told = {
        of("advice_only", "not_found"): "not_found",
        of("not_found", "referred"): "not_found",
        of("not_found", "gone_on_arrival", "advice_only"): "gone_on_arrival",
        of("advice_only", "captured", "left_in_place"): "captured",
        of("advice_only", "dead_on_arrival"): None,
        of("", "referred"): None,
        of("", ""): "",
    }
    assert {i: i.attempted(leaving_out=NO_ATTEMPT) for i in told} == told
    assert share_captured(told, leaving_out=NO_ATTEMPT)[:2] == (1, 5)


def test_no_attempt_is_told_of_every_outcome_a_callout_may_have() -> None:
    """76 calls of no snake, 32 found dead, 23 killed before arrival and 17 referred were once attempts."""
    assert set(OUTCOMES) - NO_ATTEMPT == {"captured", "not_found", "gone_on_arrival"}
    assert set(OUTCOMES) > NO_ATTEMPT


def test_a_month_seen_twice_is_not_the_busiest_for_it() -> None:
    """50 in 62 days of October against 40 in 31 of December: 24 and 39 for 30 days."""
    months = [20, 20, 20, 20, 20, 20, 20, 20, 45, 50, 30, 40]
    days = (31, 28, 31, 30, 31, 30, 31, 31, 60, 62, 46, 31)
    months_, each = busiest(months, days)
    assert months_ == (12,) and 30 * each == pytest.approx(38.7, abs=0.05)


def test_a_tie_is_of_all_that_are_level_and_one_month_is_set_against_none() -> None:
    assert busiest([30, 28, *[0] * 10], (30, 28, *[31] * 10))[0] == (1, 2)
    assert busiest([9, *[0] * 11], (20, *[0] * 11)) == ((), 0.0)
    assert busiest([9, 1, *[0] * 10], (31, 13, *[0] * 10)) == ((), 0.0)  # 13 days tell nothing
    assert busiest([0] * 12, (31,) * 12) == ((), 0.0)


def test_the_quiet_month_goes_by_the_days_observed() -> None:
    """June was seen for half a month and July for three: July is the quieter, whatever the counts."""
    months = [10, 10, 10, 10, 10, 5, 15, 10, 10, 10, 10, 10]
    days = [30] * 12
    days[5], days[6] = 15, 90
    found = season_year(months, days=days)
    assert found.month == 7 and found.of_days == pytest.approx((15 + 90 + 30) / 405)
    assert season_year(months).month == 5


def test_twice_the_days_are_no_quieter_a_share() -> None:
    """11 % of calls in 11 % of the days is as many as elsewhere."""
    days = [31, 28, 31, 30, 31, 30, 31, 31, 60, 62, 46, 31]
    found = season_year([10 * d for d in days], days=days)
    assert not found.clear
    assert found.share.value == pytest.approx(found.of_days)


@pytest.mark.parametrize("unseen", [0, 5, 13])
def test_the_season_year_cannot_be_told_of_fewer_than_twelve_months(unseen: int) -> None:
    """June and July not observed, or hardly: the year begins where observation did, and is not known."""
    days = (31, 28, 31, 30, 31, unseen, 0, 31, 30, 31, 30, 31)
    found = season_year([9, 9, 9, 9, 9, 0, 0, 9, 9, 9, 9, 9], days=days, first=8)
    assert (found.known, found.month, found.clear) == (False, 8, False)


def test_the_uneven_days_must_be_twelve() -> None:
    with pytest.raises(InputError, match="3 days"):
        season_year([1] * 12, days=(1, 2, 3))
