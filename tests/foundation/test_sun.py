"""The spans of the sun against its altitude, instant by instant: no crossing lost, ends on the good side."""

from __future__ import annotations

import hypothesis.strategies as st
import pytest
from hypothesis import given

from tests.support.profiles import examples
from tussock.spans import Spans
from tussock.sun import HORIZON_DEG, altitude_deg, sun_events, sun_spans

HOUR = 3600.0
YEARS = st.floats(-2.2e9, 4.1e9)  # 1900 to 2099
LONGITUDES, LATITUDES = st.floats(-180, 180), st.floats(-90, 90)


def grid(start: float, end: float, step: float) -> list[float]:
    return [start + n * step for n in range(int((end - start) / step) + 1)]


@examples(60)
@given(LONGITUDES, LATITUDES, YEARS, st.floats(0.1, 48), st.floats(-70, 70))
def test_each_instant_is_held_as_its_altitude_says(
    lon: float, lat: float, start: float, hours: float, limit: float
) -> None:
    within = start, start + hours * HOUR
    high = sun_spans(lon, lat, at_least_deg=limit, within=within)
    low = sun_spans(lon, lat, at_most_deg=limit, within=within)
    ends = [end for part in (*high.parts, *low.parts) for end in part]
    for t in grid(*within, 173.0):
        if all(abs(t - end) > 0.02 for end in ends):
            altitude = altitude_deg(lon, lat, t)
            assert high.holds(t) == (altitude >= limit)
            assert low.holds(t) == (altitude <= limit)
    for a, b in high.parts:
        assert within[0] <= a <= b <= within[1]
        assert min(altitude_deg(lon, lat, a), altitude_deg(lon, lat, b)) >= limit
    # Together they cover the window, but for the 0.01 s of each crossing.
    both = high.shifted(-0.01, 0.01) | low.shifted(-0.01, 0.01)
    assert both & Spans.of(*within) == Spans.of(*within)


# Long before and after the turn, or so near it that the turn has no neighbour in the window.
AROUND_S = st.one_of(st.floats(0, 900), st.floats(0, 86_400))


@examples(120)
@given(
    st.tuples(LONGITUDES, st.floats(-89, 89)),
    YEARS,
    st.tuples(AROUND_S, AROUND_S),
    st.floats(0.5, 600),
    st.sampled_from([1, -1]),
)
def test_a_stretch_of_seconds_is_found_wherever_the_window_begins(
    place: tuple[float, float], t: float, around: tuple[float, float], half_s: float, side: int
) -> None:
    lon, lat = place
    # The day's turn of the altitude, and a limit that leaves half_s seconds on either side of it.
    turn = _turn(lon, lat, t, side)
    inner = [side * altitude_deg(lon, lat, turn + s) for s in (-half_s, half_s)]
    limit = side * min(inner)
    if side * altitude_deg(lon, lat, turn) - min(inner) < 1e-8:
        return  # the altitude's own last digits
    within = turn - around[0], turn + around[1]
    found = (
        sun_spans(lon, lat, at_least_deg=limit, within=within)
        if side > 0
        else sun_spans(lon, lat, at_most_deg=limit, within=within)
    )
    part = found.part_at(turn)
    assert part is not None
    assert part[0] <= max(turn - half_s + 0.02, within[0])
    assert part[1] >= min(turn + half_s - 0.02, within[1])


def test_a_noon_just_inside_either_end_of_the_window_is_found() -> None:
    lon, lat = 20.0, 68.0
    noon = _turn(lon, lat, 1.703e9, 1)  # in the polar night, a limit that the noon passes by 20 s
    limit = altitude_deg(lon, lat, noon + 20)
    for beyond in (0, 30, 200, 500, 900):
        for length in range(1800, 4300, 90):
            early, late = (noon - beyond, noon - beyond + length), (noon + beyond - length, noon + beyond)
            for within in (early, late):
                found = sun_spans(lon, lat, at_least_deg=limit, within=within)
                assert found.holds(noon), (beyond, length)


def _turn(lon: float, lat: float, t: float, side: int) -> float:
    """Return the instant of the highest (side 1) or lowest (-1) altitude of a day, by looking ever closer."""
    step = 600.0
    best = max(grid(t, t + 24 * HOUR, step), key=lambda s: side * altitude_deg(lon, lat, s))
    while step > 0.05:
        step /= 10
        around = grid(best - 10 * step, best + 10 * step, step)
        best = max(around, key=lambda s: side * altitude_deg(lon, lat, s))
    return best


def test_the_same_instant_has_the_same_altitude_whatever_was_asked_before() -> None:
    asked = [(lon, lat, t) for lon in (-180.0, 147.3) for lat in (-42.9, 68.0) for t in (0.0, 1.7e9, -2e9)]
    first = [altitude_deg(*one) for one in asked]
    assert [altitude_deg(*one) for one in reversed(asked)] == first[::-1]


@pytest.mark.parametrize("lat", [-90.0, -42.9, 0.0, 68.0, 90.0])
def test_both_sides_of_the_antimeridian_are_one(lat: float) -> None:
    for start in range(0, 32_000_000, 4_000_000):
        within = float(start), start + 48 * HOUR
        west = sun_spans(-180, lat, at_least_deg=HORIZON_DEG, within=within)
        east = sun_spans(180, lat, at_least_deg=HORIZON_DEG, within=within)
        assert len(west) == len(east)
        for one, other in zip(west.parts, east.parts, strict=True):
            assert one == pytest.approx(other, abs=0.02)


def test_limits_on_both_sides_meet_and_none_is_the_whole_window() -> None:
    within = 1.7e9, 1.7e9 + 24 * HOUR
    assert sun_spans(147, -42, within=within) == Spans.of(*within)
    dusk = sun_spans(147, -42, at_least_deg=-6.0, at_most_deg=HORIZON_DEG, within=within)
    assert len(dusk) == 2
    assert not sun_spans(147, -42, at_least_deg=10, at_most_deg=5, within=within)
    assert not sun_spans(147, -42, at_least_deg=-90, within=(within[1], within[0]))


@examples(40)
@given(LONGITUDES, st.floats(-60, 60), YEARS)
def test_the_next_sunrise_and_sunset_are_ahead_and_none_lies_before_them(
    lon: float, lat: float, t: float
) -> None:
    sunrise, sunset = sun_events(lon, lat, after=t)
    assert sunrise is not None and sunset is not None
    assert altitude_deg(lon, lat, sunrise - 1) < HORIZON_DEG < altitude_deg(lon, lat, sunrise + 1)
    assert altitude_deg(lon, lat, sunset - 1) > HORIZON_DEG > altitude_deg(lon, lat, sunset + 1)
    assert t < min(sunrise, sunset) and max(sunrise, sunset) < t + 24.1 * HOUR
    up = altitude_deg(lon, lat, t) >= HORIZON_DEG
    assert (sunset < sunrise) == up
    for s in grid(t, min(sunrise, sunset) - 1, 600):
        assert (altitude_deg(lon, lat, s) >= HORIZON_DEG) == up


def test_just_after_a_sunset_of_spring_the_next_is_found() -> None:
    t = 1_711_000_000.0  # 21 March 2024, 68° N: the sun sets minutes later every day
    _, sunset = sun_events(20, 68, after=t)
    assert sunset is not None
    _, following = sun_events(20, 68, after=sunset + 1)
    assert following is not None
    assert following - sunset > 24 * HOUR + 120
