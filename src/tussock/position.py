"""A position as recorded: a point and the radius of the disc it may lie in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime

from tussock.errors import InputError, UsageError
from tussock.geodesy import ASSUMED_RADIUS_BEFORE_2000_M, ASSUMED_RADIUS_M, half_diagonal_m
from tussock.tables import Row, Table

_NUMBER = re.compile(r"[+-]?[0-9]{1,3}(\.([0-9]*))?")
_METRES = re.compile(r"[+-]?[0-9]{1,12}(\.[0-9]*)?([eE][+-]?[0-9]{1,3})?")
_SELECTIVE_AVAILABILITY_ENDED = datetime(2000, 5, 1, tzinfo=UTC)
LATITUDE, LONGITUDE = "decimalLatitude", "decimalLongitude"
UNCERTAINTY = "coordinateUncertaintyInMeters"
MOST_RADIUS_M = 20_037_508.0
"""Half the way round the Earth [m]: no disc on it is wider."""
WIDE_RADIUS_M = 1000.0
"""From this radius on a warning is printed (choice of this project)."""


@dataclass(frozen=True)
class Position:
    """A point with its containing radius.

    Attributes
    ----------
    longitude, latitude
        WGS 84 degrees.
    radius_m
        Containing radius [m], 95 %: the true point may be anywhere in the disc.
    assumed
        Whether the radius was not recorded and a stated default stands in.
    note
        What was done to the radius, in words; empty when it is as given.
    """

    longitude: float
    latitude: float
    radius_m: float
    assumed: bool = False
    note: str = ""

    @property
    def reason(self) -> str:
        """The reason for width that this radius is booked under."""
        return "assumed" if self.assumed else "position"


def parse_degrees(text: str, *, axis: str, where: str) -> tuple[float, int]:
    """Return degrees and the number of decimals given.

    Raises
    ------
    InputError
        When the text is empty, no plain decimal number, or outside the axis.
    """
    allowed = f"decimal degrees with a point, −{_most(axis):g} to {_most(axis):g}"
    cleaned = text.strip().replace("−", "-")
    if not cleaned:
        raise InputError(f"{axis} is missing", where=where, allowed=allowed, fix="fill it in")
    match = _NUMBER.fullmatch(cleaned)
    if not match:
        hint = "write a decimal point" if "," in cleaned else "convert it to decimal degrees"
        raise InputError(f"{axis} '{text[:40]}' is no decimal number", where=where, allowed=allowed, fix=hint)
    value = float(cleaned)
    if abs(value) > _most(axis):
        fix = "latitude and longitude look swapped" if axis == LATITUDE else "check the number"
        raise InputError(f"{axis} {cleaned} is out of range", where=where, allowed=allowed, fix=fix)
    return value, len(match.group(2) or "")


def _most(axis: str) -> float:
    return 90.0 if axis == LATITUDE else 180.0


def most_decimals(table: Table) -> int:
    """Return the most decimals shown anywhere in the table's coordinate columns."""
    shown = [0]
    for row in table.rows:
        for column in (LATITUDE, LONGITUDE):
            match = _NUMBER.fullmatch(row.get(column).strip().replace("−", "-"))
            shown.append(len(match.group(2) or "") if match else 0)
    return max(shown)


def position_from_row(row: Row, *, decimals: int, instant: datetime | None) -> Position:
    """Return the position of a table row (Darwin Core columns).

    Parameters
    ----------
    row
        Cells as text.
    decimals
        The most decimals shown anywhere in the table's coordinate columns.
    instant
        When it was taken; before 2000-05-01 the default radius is 100 m.

    Raises
    ------
    InputError
        For a missing, unreadable, zero or out-of-range coordinate or an unreadable radius.
    """
    latitude, _ = parse_degrees(row.get(LATITUDE), axis=LATITUDE, where=row.where)
    longitude, _ = parse_degrees(row.get(LONGITUDE), axis=LONGITUDE, where=row.where)
    _refuse_zero(longitude, latitude, where=row.where)
    _check_datum(row.get("geodeticDatum"), where=row.where)
    given = _radius(row.get(UNCERTAINTY), where=row.where)
    assumed = given is None
    radius = _default_radius(instant) if given is None else given
    return floored(Position(longitude, latitude, radius, assumed), decimals=decimals)


def position_from_text(text: str, radius_m: float, *, option: str) -> Position:
    """Return the position of ``LAT,LON`` as typed on the command line.

    Raises
    ------
    UsageError
        When the radius is not a positive number of metres.
    InputError
        When the coordinates cannot be read.
    """
    if not 0 < radius_m <= MOST_RADIUS_M:
        raise UsageError(
            f"a radius of {radius_m:g} m",
            where="--uncertainty",
            allowed=f"metres above 0, up to {MOST_RADIUS_M:.0f}",
            fix="give the radius your device shows",
        )
    parts = text.replace(";", ",").split(",")
    if len(parts) != 2:
        raise InputError(
            f"'{text[:60]}' is not a latitude and a longitude",
            where=option,
            allowed="LAT,LON in decimal degrees, such as -42.12345,147.65432",
            fix="write them with a comma between",
        )
    latitude, lat_decimals = parse_degrees(parts[0], axis=LATITUDE, where=option)
    longitude, lon_decimals = parse_degrees(parts[1], axis=LONGITUDE, where=option)
    _refuse_zero(longitude, latitude, where=option)
    return floored(Position(longitude, latitude, radius_m), decimals=max(lat_decimals, lon_decimals))


def floored(position: Position, *, decimals: int) -> Position:
    """Return the position with a radius no less than the half-diagonal of the decimals given."""
    floor = half_diagonal_m(decimals, latitude=position.latitude)
    if position.radius_m >= floor:
        return position
    note = f"radius raised from {position.radius_m:g} m to {floor:.3g} m: {decimals} decimals give no more"
    return Position(position.longitude, position.latitude, floor, position.assumed, note)


def _refuse_zero(longitude: float, latitude: float, *, where: str) -> None:
    if longitude == 0 and latitude == 0:
        raise InputError(
            "the coordinates are 0, 0", where=where, fix="fill in the position, or leave the row out"
        )


def _check_datum(text: str, *, where: str) -> None:
    accepted = {"", "EPSG:4326", "WGS84", "WGS 84"}
    if text.strip().upper() not in accepted:
        raise InputError(
            f"geodeticDatum '{text[:40]}'",
            where=where,
            allowed="empty, WGS84 or EPSG:4326",
            fix="convert the coordinates to EPSG:4326",
        )


def _radius(text: str, *, where: str) -> float | None:
    """Return the radius [m]; ``None`` where empty, 0 or negative: that is *not recorded*."""
    if not text:
        return None
    allowed = f"metres up to {MOST_RADIUS_M:.0f} as a plain number, or empty"
    cleaned = text.replace("−", "-")
    if not _METRES.fullmatch(cleaned):
        raise InputError(f"{UNCERTAINTY} '{text[:40]}' is no number", where=where, allowed=allowed)
    value = float(cleaned)
    if value > MOST_RADIUS_M:
        raise InputError(
            f"{UNCERTAINTY} {text[:40]} is wider than the Earth",
            where=where,
            allowed=allowed,
            fix="check the number",
        )
    return value if value > 0 else None


def _default_radius(instant: datetime | None) -> float:
    if instant is not None and instant < _SELECTIVE_AVAILABILITY_ENDED:
        return ASSUMED_RADIUS_BEFORE_2000_M
    return ASSUMED_RADIUS_M
