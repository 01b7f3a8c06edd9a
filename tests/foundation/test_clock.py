"""Instants, zones and local dates, as people write them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tussock.clock import local_date, parse_date, parse_instant, parse_zone
from tussock.errors import InputError


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-11-21T16:20+11:00", "2026-11-21 05:20"),
        ("2026-11-21T05:20Z", "2026-11-21 05:20"),
        (" 2026-11-21 16:20:00+1100 ", "2026-11-21 05:20"),
        ("2026-11-21T15:50+1030", "2026-11-21 05:20"),
        ("2026-11-21T15:50+10:30", "2026-11-21 05:20"),
        ("2026-11-20T22:20-07", "2026-11-21 05:20"),
        ("2026-11-21T05:20:30.25Z", "2026-11-21 05:20"),
        ("2024-02-29T00:00Z", "2024-02-29 00:00"),
    ],
)
def test_instants(text: str, utc: str) -> None:
    assert f"{parse_instant(text, where='x').astimezone(UTC):%Y-%m-%d %H:%M}" == utc


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("2026-11-21T16:20", "has no zone"),
        ("2026-11-21 16:20:00", "has no zone"),
        ("2026-11-21", "is not a date and time"),
        ("21/11/2026 16:20+11:00", "is not a date and time"),
        ("2026-11-21T16:20 AEDT", "is not a date and time"),
        ("2026-02-30T16:20Z", "is not a date and time"),
        ("2026-11-21T25:20Z", "is not a date and time"),
        ("2026-11-21T16:20+25:00", "is not a date and time"),
        ("", "is not a date and time"),
        ("0026-11-21T16:20Z", "year 26"),
        ("9999-12-31T23:59-14:00", "year 9999"),
        ("２０２６-11-21T16:20Z", "is not a date and time"),
    ],
)
def test_what_is_no_instant_is_refused_with_its_place(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as found:
        parse_instant(text, where="captures.csv, row 7")
    assert found.value.where == "captures.csv, row 7"
    assert found.value.allowed


def test_local_dates_turn_at_local_midnight_summer_and_winter() -> None:
    hobart = parse_zone("Australia/Hobart", where="permit.toml")
    # summer time, UTC+11; it ends on 2026-04-05 at 16:00 UTC the day before
    assert str(local_date(parse_instant("2026-01-14T12:59Z", where="x"), hobart)) == "2026-01-14"
    assert str(local_date(parse_instant("2026-01-14T13:00Z", where="x"), hobart)) == "2026-01-15"
    assert str(local_date(parse_instant("2026-07-14T13:59Z", where="x"), hobart)) == "2026-07-14"
    assert str(local_date(parse_instant("2026-07-14T14:00Z", where="x"), hobart)) == "2026-07-15"


def test_elapsed_hours_do_not_follow_the_clocks() -> None:
    hobart = parse_zone("Australia/Hobart", where="permit.toml")
    before, after = datetime(2026, 4, 4, 23, 0, tzinfo=hobart), datetime(2026, 4, 5, 5, 0, tzinfo=hobart)
    # seven hours passed between 23:00 and 05:00: the clocks went back at three
    assert after.astimezone(UTC) - before.astimezone(UTC) == timedelta(hours=7)


@pytest.mark.parametrize(
    "name", ["Australia/Hobbart", "", "../etc/passwd", "/etc/passwd", "AEST+10", "\x00", "a" * 300]
)
def test_what_is_no_zone(name: str) -> None:
    with pytest.raises(InputError, match="is not a time zone"):
        parse_zone(name, where="permit.toml")


def test_dates() -> None:
    assert str(parse_date(" 2026-11-21 ", where="x")) == "2026-11-21"


@pytest.mark.parametrize(
    "text", ["20261121", "2026-W47-6", "2026-325", "21-11-2026", "2026-13-01", "", "2026-11-21T00:00"]
)
def test_what_is_no_date(text: str) -> None:
    with pytest.raises(InputError, match="is not a date"):
        parse_date(text, where="consents.csv, row 3")
