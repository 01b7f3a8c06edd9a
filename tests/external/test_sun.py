"""The sun's altitude, rises and sets, against printed values and two other reckonings.

Sources: I. Reda and A. Andreas, *Solar Position Algorithm for Solar Radiation Applications*,
NREL/TP-560-34302 (revised 2008), its tester's case; the same algorithm as pvlib carries it (``pvlib.spa``);
U.S. Naval Observatory, *Computing Approximate Solar Coordinates*, read at
https://aa.usno.navy.mil/faq/sun_approx , and *Computing Approximate Sidereal Time*,
https://aa.usno.navy.mil/faq/GAST (its formula from memory).
"""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pytest
from pvlib import spa

from tussock.spans import local_day
from tussock.sun import HORIZON_DEG, altitude_deg, sun_events, sun_spans

Array = npt.NDArray[np.float64]
GOLDEN = -105.1786, 39.742476  # the tester's place, Colorado; UTC−7
NORTH = 20.0, 68.0


def spa_altitudes(lon: float, lat: float, times: Array) -> Array:
    """Return the altitude of the sun's centre without refraction [°] by NREL's algorithm."""
    day = datetime.fromtimestamp(float(times[0]), UTC)
    delta_t = float(spa.calculate_deltat(day.year, day.month))
    found = spa.solar_position_numpy(times, lat, lon, 0, 1013.25, 15, delta_t, 0.5667, 1)
    return np.asarray(found[3], dtype=float)


def clock(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


# --- NREL's tester: 2003-10-17 12:30:30, UTC−7, 1830.14 m, 820 mbar, 11 °C, ΔT 67 s


def test_the_tester_s_zenith() -> None:
    zenith = 90 - altitude_deg(*GOLDEN, clock("2003-10-17T12:30:30-07:00"))
    assert zenith == pytest.approx(50.127954, abs=0.0005)  # geometric, computed with pvlib's copy
    # Printed is the zenith with refraction: equation 42 of the report on our altitude gives it.
    e = 90 - zenith
    refraction = 820 / 1010 * 283 / (273 + 11) * 1.02 / (60 * math.tan(math.radians(e + 10.3 / (e + 5.11))))
    assert zenith - refraction == pytest.approx(50.111622, abs=0.0005)


def test_the_tester_s_sunrise_and_the_evening_its_sunset_is_of() -> None:
    # Printed: sunrise 06:12:43, sunset 17:20:19. The latter is of UTC day 17 October: evening of the 16th.
    morning, evening = sun_events(*GOLDEN, after=clock("2003-10-17T00:00-07:00"))
    assert morning == pytest.approx(clock("2003-10-17T06:12:43-07:00"), abs=2)
    assert evening == pytest.approx(clock("2003-10-17T17:18:51-07:00"), abs=2)
    _, before = sun_events(*GOLDEN, after=clock("2003-10-16T12:00-07:00"))
    assert before == pytest.approx(clock("2003-10-16T17:20:19-07:00"), abs=2)


# --- Australian days: root of NREL's altitude at −0.8333°; NOAA's equations agree within 3 s

BRISBANE, MELBOURNE = (153.0251, -27.4698), (144.9631, -37.8136)


@pytest.mark.parametrize(
    ("place", "zone", "day", "sunrise", "sunset"),
    [
        (BRISBANE, "Australia/Brisbane", "2024-06-21", "06:37:36+10:00", "17:01:51+10:00"),
        (BRISBANE, "Australia/Brisbane", "2024-12-21", "04:49:32+10:00", "18:42:26+10:00"),
        (MELBOURNE, "Australia/Melbourne", "2024-06-21", "07:35:44+10:00", "17:08:14+10:00"),
        (MELBOURNE, "Australia/Melbourne", "2024-12-21", "05:54:34+11:00", "20:41:55+11:00"),
    ],
)
def test_a_local_day_has_the_sunrise_and_the_sunset_of_that_day(
    place: tuple[float, float], zone: str, day: str, sunrise: str, sunset: str
) -> None:
    within = local_day(date.fromisoformat(day), ZoneInfo(zone))
    ((first, last),) = sun_spans(*place, at_least_deg=HORIZON_DEG, within=within).parts
    assert first == pytest.approx(clock(f"{day}T{sunrise}"), abs=1)
    assert last == pytest.approx(clock(f"{day}T{sunset}"), abs=1)
    assert sun_events(*place, after=within[0]) == pytest.approx((first, last), abs=0.02)


def test_civil_twilight_ends_half_an_hour_after_sunset() -> None:
    # Brisbane, 21 June 2024, about 17:27:31 by NOAA's equations.
    within = local_day(date(2024, 6, 21), ZoneInfo("Australia/Brisbane"))
    ((_, last),) = sun_spans(*BRISBANE, at_least_deg=-6.0, within=within).parts
    assert last == pytest.approx(clock("2024-06-21T17:27:31+10:00"), abs=10)


# --- any place and day


def places(count: int, *, seed: int) -> list[tuple[float, float, float]]:
    rng = np.random.default_rng(seed)
    start, end = clock("1900-01-01T00:00Z"), clock("2099-12-30T00:00Z")
    lons, times = rng.uniform(-180, 180, count), rng.uniform(start, end, count)
    lats = np.degrees(np.arcsin(rng.uniform(-1, 1, count)))
    return [(float(a), float(b), float(t)) for a, b, t in zip(lons, lats, times, strict=True)]


def test_altitudes_of_any_place_and_day_are_those_of_the_nrel() -> None:
    apart = [
        altitude_deg(lon, lat, t) - float(spa_altitudes(lon, lat, np.array([t]))[0])
        for lon, lat, t in places(1000, seed=1)
    ]
    assert max(map(abs, apart)) < 0.0005
    assert abs(sum(apart)) / len(apart) < 0.0001


def test_rises_and_sets_of_any_place_and_day_are_those_of_the_nrel() -> None:
    seen = 0
    for lon, lat, start in places(300, seed=2):
        times = start + np.arange(0.0, 26 * 3600 + 1, 60.0)
        found = sun_spans(lon, lat, at_least_deg=HORIZON_DEG, within=(start, float(times[-1])))
        events = [end for part in found.parts for end in part if start < end < times[-1]]
        altitudes = spa_altitudes(lon, lat, times)
        expected = crossings(times, altitudes)
        if len(events) != len(expected):  # the day of the change: a turn that only touches the horizon
            turns = altitudes[1:-1][np.diff(np.sign(np.diff(altitudes))) != 0]
            assert np.abs(turns - HORIZON_DEG).min() < 0.0005
            continue
        for event, (other, rate) in zip(events, expected, strict=True):
            # 0.0005° of altitude, at the rate the sun climbs; never a minute.
            assert abs(event - other) < min(0.1 + 0.0005 / rate, 60)
            seen += 1
    assert seen > 500


def crossings(times: Array, altitudes: Array) -> list[tuple[float, float]]:
    """Return the instants at which the sun is on the horizon and how fast it climbs or sinks there [°/s]."""
    above = altitudes >= HORIZON_DEG
    found = []
    for n in np.flatnonzero(above[1:] != above[:-1]):
        rate = (altitudes[n + 1] - altitudes[n]) / (times[n + 1] - times[n])
        found.append((float(times[n] + (HORIZON_DEG - altitudes[n]) / rate), abs(float(rate))))
    return found


def usno_altitude(lon: float, lat: float, t: float) -> float:
    """Return the altitude [°] by the low-precision formulas of the U.S. Naval Observatory."""
    days = t / 86_400 - 10_957.5  # from 1 January 2000, 12 h
    anomaly = math.radians(357.529 + 0.98560028 * days)
    longitude = 280.459 + 0.98564736 * days + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2 * anomaly)
    sun, tilt = math.radians(longitude), math.radians(23.439 - 0.00000036 * days)
    ascension = math.atan2(math.cos(tilt) * math.sin(sun), math.cos(sun))
    declination = math.asin(math.sin(tilt) * math.sin(sun))
    sidereal_h = (18.697374558 + 24.06570982441908 * days) % 24
    angle, phi = math.radians(15 * sidereal_h + lon) - ascension, math.radians(lat)
    rise = math.sin(phi) * math.sin(declination) + math.cos(phi) * math.cos(declination) * math.cos(angle)
    return math.degrees(math.asin(rise))


def test_an_ellipse_and_no_planets_give_the_same_sun() -> None:
    # The NREL's and ours both rest on one theory of the planets; the formulas do not. They are good to about
    # one minute of arc within two centuries of 2000, as stated there; they leave out the parallax, 8.8″.
    for lon, lat, t in places(1000, seed=3):
        assert altitude_deg(lon, lat, t) == pytest.approx(usno_altitude(lon, lat, t), abs=1 / 60 + 8.8 / 3600)


# --- polar night and polar day at 68° N


def noons(first: date, count: int) -> list[tuple[date, float]]:
    days = [first + timedelta(days=n) for n in range(count)]
    return [(day, clock(f"{day}T00:00+01:00")) for day in days]


def test_no_daylight_in_polar_night_and_no_dark_in_polar_day() -> None:
    night, day = clock("2024-12-21T00:00Z"), clock("2024-06-21T00:00Z")
    assert not sun_spans(*NORTH, at_least_deg=HORIZON_DEG, within=(night, night + 86_400))
    assert sun_events(*NORTH, after=night) == (None, None)
    assert sun_spans(*NORTH, at_least_deg=HORIZON_DEG, within=(day, day + 86_400)).parts == (
        (day, day + 86_400),
    )
    assert sun_events(*NORTH, after=day) == (None, None)
    assert sun_events(NORTH[0], -NORTH[1], after=night) == (None, None)


@pytest.mark.parametrize(
    ("first", "count"), [(date(2024, 11, 25), 60), (date(2024, 5, 10), 75)], ids=["night", "day"]
)
def test_the_days_around_the_change_are_those_of_the_nrel(first: date, count: int) -> None:
    kinds = []
    for _, start in noons(first, count):
        times = start + np.arange(0.0, 86_400.5, 30.0)
        altitudes = spa_altitudes(*NORTH, times)
        assert min(abs(altitudes.max() - HORIZON_DEG), abs(altitudes.min() - HORIZON_DEG)) > 0.0005
        found = sun_spans(*NORTH, at_least_deg=HORIZON_DEG, within=(start, start + 86_400))
        lit = sum(b - a for a, b in found.parts)
        assert bool(found) == (altitudes.max() >= HORIZON_DEG)
        assert (lit == 86_400) == (altitudes.min() >= HORIZON_DEG)
        assert lit == pytest.approx(30 * float((altitudes[1:] >= HORIZON_DEG).sum()), abs=61)
        kinds.append((lit > 0) + (lit == 86_400))
    # Once in, once out, and neither at the first or the last day.
    assert [a != b for a, b in pairwise(kinds)].count(True) == 2
    assert kinds[0] == kinds[-1] == 1
