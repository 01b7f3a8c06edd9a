"""A zone's clock and the sun over arrays of instants.

The clock is exact; the sun's altitude is approximate, with a bound on how far off it is.
"""

from __future__ import annotations

import math
from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats

DAY_S = 86_400
SUN_ERROR_DEG = 0.03
"""Bound on the error of :func:`sun_altitude_deg` [°] in 1900–2100: the Astronomical Almanac gives 0.01° for
its formula in 1950–2050; against ephem the tests find 0.02° at most."""
_NOON_2000 = 946_728_000.0
"""J2000.0, 1 January 2000, 12 h [POSIX s]."""


class Wall:
    """A zone's wall clock between two instants.

    Parameters
    ----------
    zone
        Whose.
    first, last
        Earliest and latest instant asked about [POSIX s].
    """

    def __init__(self, zone: ZoneInfo, first: float, last: float) -> None:
        self.zone = zone
        start, end = math.floor(first) - 2 * DAY_S, math.floor(last) + 2 * DAY_S
        looks = [*range(start, end, DAY_S), end]
        changes, offsets = [start], [_offset(zone, start)]
        for before, after in pairwise(looks):
            if _offset(zone, after) != offsets[-1]:
                changes.append(_change(zone, before, after))
                offsets.append(_offset(zone, changes[-1]))
        self.changes = np.array(changes[1:], dtype=np.float64)
        self._offsets = np.array(offsets, dtype=np.float64)

    def local_s(self, t: Floats) -> Floats:
        """Return what the clock shows, as seconds since its 1 January 1970."""
        shown: Floats = t + self._offsets[np.searchsorted(self.changes, t, side="right")]
        return shown

    def day(self, t: Floats) -> npt.NDArray[np.int64]:
        """Return the local dates of instants, as days since 1970-01-01."""
        return np.floor(self.local_s(t) / DAY_S).astype(np.int64)

    def near_change(self, t: Floats, *, within_s: float) -> npt.NDArray[np.bool_]:
        """Return which instants lie so near to a change of the clock [s]."""
        if not len(self.changes):
            return np.zeros(len(t), dtype=bool)
        after = np.searchsorted(self.changes, t)
        ends = np.r_[-np.inf, self.changes, np.inf]
        return np.asarray(np.minimum(t - ends[after], ends[after + 1] - t) <= within_s)


def _offset(zone: ZoneInfo, second: int) -> float:
    offset = datetime.fromtimestamp(second, zone).utcoffset()
    assert offset is not None  # a ZoneInfo always has one
    return offset.total_seconds()


def _change(zone: ZoneInfo, before: int, after: int) -> int:
    """Return the second in (before, after] from which the offset of ``after`` holds."""
    then = _offset(zone, after)
    while after - before > 1:
        middle = (before + after) // 2
        before, after = (before, middle) if _offset(zone, middle) == then else (middle, after)
    return after


def day_number(day: date) -> int:
    """Return a date as days since 1970-01-01."""
    return (day - date(1970, 1, 1)).days


def date_of(number: int) -> date:
    """Return the date so many days after 1970-01-01."""
    return date.fromordinal(date(1970, 1, 1).toordinal() + int(number))


def sun_altitude_deg(lon: Floats, lat: Floats, t: Floats) -> Floats:
    """Return the altitude [°] of the sun's centre, without refraction, good to ``SUN_ERROR_DEG``.

    Source: the low precision formula of the Astronomical Almanac, section C (mean longitude and anomaly, two
    terms of the equation of centre), from memory; held against ephem in the tests.
    """
    n = (t - _NOON_2000) / DAY_S
    anomaly = np.radians((357.528 + 0.985_600_3 * n) % 360)
    centre = 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly)
    ecliptic = np.radians((280.460 + 0.985_647_4 * n + centre) % 360)
    tilt = np.radians(23.439 - 4e-7 * n)
    s = np.sin(ecliptic)
    declination = np.arcsin(np.sin(tilt) * s)
    right_ascension = np.arctan2(np.cos(tilt) * s, np.cos(ecliptic))
    sidereal = np.radians((280.460_618_37 + 360.985_647_366_29 * n) % 360 + lon)
    phi = np.radians(lat)
    height = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(
        sidereal - right_ascension
    )
    altitude: Floats = np.degrees(np.arcsin(np.clip(height, -1.0, 1.0)))
    return altitude
