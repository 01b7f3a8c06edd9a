"""Positions as recorded: what is read, what is refused, and the radius that stands in the end."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tussock.errors import InputError, UsageError
from tussock.geodesy import half_diagonal_m
from tussock.position import most_decimals, parse_degrees, position_from_row, position_from_text
from tussock.tables import Row, Table

LAT, LON, UNCERTAINTY = "decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters"
NOW = datetime(2026, 11, 21, tzinfo=UTC)


def row(lat: str = "-42.123456", lon: str = "147.654321", **more: str) -> Row:
    return Row(5, {LAT: lat, LON: lon, **more}, "captures.csv, row 5")


@pytest.mark.parametrize(
    ("text", "value", "decimals"),
    [
        ("-42.10", -42.1, 2),
        ("+42", 42, 0),
        ("42.", 42, 0),
        ("−42.125", -42.125, 3),
        (" 7.0000000 ", 7, 7),
        ("90", 90, 0),
    ],
)
def test_degrees(text: str, value: float, decimals: int) -> None:
    assert parse_degrees(text, axis=LAT, where="x") == (value, decimals)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "is missing"),
        ("42°06'S", "decimal degrees"),
        ("42 06.5", "decimal degrees"),
        ("-42,123", "decimal point"),
        ("4.2e1", "no decimal number"),
        ("nan", "no decimal number"),
        ("inf", "no decimal number"),
        ("147.3", "swapped"),
        ("-90.0001", "out of range"),
        ("1234.5", "no decimal number"),
        ("٤٢.١", "no decimal number"),
        ("S42.1", "no decimal number"),
    ],
)
def test_what_is_no_latitude(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        parse_degrees(text, axis=LAT, where="captures.csv, row 5")


def test_longitudes_reach_to_180() -> None:
    assert parse_degrees("-180", axis=LON, where="x")[0] == -180
    with pytest.raises(InputError, match="out of range"):
        parse_degrees("180.5", axis=LON, where="x")


@pytest.mark.parametrize(
    ("text", "radius", "assumed"),
    [
        ("25", 25, False),
        ("", 30, True),
        ("0", 30, True),
        ("-5", 30, True),
        ("−5", 30, True),
        ("50000", 50000, False),
    ],
)
def test_a_radius_of_nothing_is_not_recorded(text: str, radius: float, assumed: bool) -> None:
    found = position_from_row(row(**{UNCERTAINTY: text}), decimals=6, instant=NOW)
    assert (found.radius_m, found.assumed) == (radius, assumed)
    assert found.reason == ("assumed" if assumed else "position")


@pytest.mark.parametrize("text", ["ten", "nan", "inf", "-inf", "5m", "1,5"])
def test_what_is_no_radius(text: str) -> None:
    with pytest.raises(InputError, match=f"{UNCERTAINTY} '.*' is no number"):
        position_from_row(row(**{UNCERTAINTY: text}), decimals=6, instant=NOW)


@pytest.mark.parametrize("text", ["1e400", "99999999"])
def test_no_radius_is_wider_than_the_earth(text: str) -> None:
    with pytest.raises(InputError, match="wider than the Earth"):
        position_from_row(row(**{UNCERTAINTY: text}), decimals=6, instant=NOW)


def test_zeros_are_a_place_nobody_was_at() -> None:
    with pytest.raises(InputError, match="the coordinates are 0, 0"):
        position_from_row(row("0.000", "0"), decimals=3, instant=NOW)
    # but the equator and the prime meridian are places
    assert position_from_row(row("0.0", "37.123456"), decimals=6, instant=NOW).latitude == 0


@pytest.mark.parametrize("datum", ["", "EPSG:4326", "wgs84", "WGS 84"])
def test_wgs84_by_any_name(datum: str) -> None:
    assert position_from_row(row(geodeticDatum=datum), decimals=6, instant=NOW).latitude == -42.123456


@pytest.mark.parametrize("datum", ["EPSG:7844", "AGD66", "EPSG:4283"])
def test_another_datum_is_refused(datum: str) -> None:
    with pytest.raises(InputError, match="geodeticDatum"):
        position_from_row(row(geodeticDatum=datum), decimals=6, instant=NOW)


def test_few_decimals_raise_the_radius_and_say_so() -> None:
    found = position_from_row(row("-42.12", "147.65", **{UNCERTAINTY: "5"}), decimals=2, instant=NOW)
    assert found.radius_m == pytest.approx(half_diagonal_m(2, latitude=-42.12))
    assert "2 decimals give no more" in found.note
    assert not found.assumed


def test_the_decimals_are_the_most_shown_anywhere() -> None:
    rows = (row("-42.1", "147.65"), row("-42.1234", "147.6"), row("rubbish", "147.123456789 E"))
    table = Table(Path("captures.csv"), (LAT, LON), rows)
    assert most_decimals(table) == 4


def test_a_position_typed() -> None:
    found = position_from_text("-42.12345, 147.65432", 12.0, option="--at")
    assert (found.latitude, found.longitude, found.radius_m) == (-42.12345, 147.65432, 12.0)
    # the axis with more decimals counts, as in a table
    assert position_from_text("-42.1,147.65432", 12.0, option="--at").radius_m == 12.0
    assert position_from_text("-42.12;147.65", 12.0, option="--at").radius_m > 600


@pytest.mark.parametrize("radius", [0.0, -1.0, float("nan"), float("inf")])
def test_a_radius_typed_must_be_above_nothing(radius: float) -> None:
    with pytest.raises(UsageError, match="--uncertainty"):
        position_from_text("-42.12345,147.65432", radius, option="--at")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("-42.1", "not a latitude and a longitude"),
        ("-42,1,147,6", "not a latitude"),
        ("147.65,-42.12", "swapped"),
        ("0,0", "0, 0"),
    ],
)
def test_what_is_no_position(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        position_from_text(text, 5.0, option="--at")
