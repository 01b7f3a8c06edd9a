"""Where the sun stands, and when: altitudes, and the spans of time in which it is high or low enough.

Altitudes are those of the sun's centre as seen from sea level without refraction, so that sunrise and sunset
are at :data:`HORIZON_DEG` and nothing depends on the weather. Local dates never enter: a day in UTC cuts
through an Australian morning, which is how tables of sunsets come to be a day out.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise

from tussock.spans import Part, Spans

HORIZON_DEG = -0.8333
"""Altitude of the sun's centre at sunrise and sunset: refraction 34′ and half a diameter 16′.
Source: U.S. Naval Observatory, definitions of rise, set and twilight (50′)."""
_STEP_S = 1200.0
_FASTEST_DEG_S = 15.1 / 3600
"""No altitude changes faster: the sky turns by 15.041° an hour."""
_STEP_DEG = _FASTEST_DEG_S * _STEP_S
_SHARP_S = 0.01
_ASIDE_S = 0.002
_PEAK_S = 0.5
_GOLDEN = (math.sqrt(5) - 1) / 2
_EPOCH_D = 25_567.5
"""1 January 1970, 0 h UTC, in the days that ephem counts (from noon of 31 December 1899)."""

Altitude = Callable[[float], float]
Knot = Part
"""An instant and the height there."""


def altitude_deg(lon: float, lat: float, t: float) -> float:
    """Return the altitude [°] of the sun's centre, without refraction, at POSIX second ``t``.

    Good to 0.0005° in the years 1900 to 2100 (against the NREL solar position algorithm, in the tests).
    """
    return _altitudes(lon, lat)(t)


def sun_spans(
    lon: float,
    lat: float,
    *,
    at_least_deg: float | None = None,
    at_most_deg: float | None = None,
    within: Part,
) -> Spans:
    """Return the instants of ``within`` at which the sun stands at least, and at most, so high.

    Parameters
    ----------
    at_least_deg, at_most_deg
        Limits of the altitude [°] of the sun's centre; ``None`` is no limit.
    within
        Finite first and last instant [POSIX s].

    Returns
    -------
    Spans
        Every end is an instant at which the limits hold, at most 0.01 s from the crossing. A daylight of
        seconds, at the edge of the polar night, is found.
    """
    found = Spans.of(*within)
    if at_least_deg is not None:
        found &= _above(lon, lat, at_least_deg, 1, within)
    if at_most_deg is not None:
        found &= _above(lon, lat, at_most_deg, -1, within)
    return found


def sun_events(
    lon: float, lat: float, *, after: float, within_h: float = 36.0
) -> tuple[float | None, float | None]:
    """Return the next sunrise and the next sunset after POSIX second ``after``.

    ``None`` for one that does not come within ``within_h`` hours: polar day or night. In spring the sun sets
    later every day, so that 24 h would miss it in the minutes after a sunset.
    """
    until = after + within_h * 3600
    days = sun_spans(lon, lat, at_least_deg=HORIZON_DEG, within=(after, until)).parts
    sunrises = [start for start, _ in days if start > after]
    sunsets = [end for _, end in days if end < until]
    return next(iter(sunrises), None), next(iter(sunsets), None)


@lru_cache(maxsize=1024)
def _above(lon: float, lat: float, limit_deg: float, sign: int, within: Part) -> Spans:
    """Return where in ``within`` sign × (altitude − limit) ≥ 0."""
    altitude = _altitudes(lon, lat)

    def height(t: float) -> float:
        return sign * (altitude(t) - limit_deg)

    knots = _knots(height, *within)
    parts: list[Part] = []
    for before, after in pairwise(knots):
        (a, low), (b, high) = before, after
        if low >= 0 and high >= 0:
            parts.append((a, b))
        elif low >= 0:
            parts.append((a, _crossing(height, before, after)))
        elif high >= 0:
            parts.append((_crossing(height, after, before), b))
    return Spans.joined(parts) & Spans.of(*within)


def _knots(height: Altitude, start: float, end: float) -> list[Knot]:
    """Return instants and heights from before ``start`` to after ``end``, no two crossings between two.

    They are ``_STEP_S`` apart, or farther where the sun is too far from the limit to reach it between them.
    """
    count = math.ceil((end - start) / _STEP_S) + 1
    found: dict[int, Knot] = {}

    def at(i: int) -> Knot:
        if i not in found:
            t = start + i * _STEP_S
            found[i] = t, height(t)
        return found[i]

    # A step beyond each end, for the turn that lies between an end and its neighbour.
    i = -1
    at(i)
    while i < count:
        i = min(i + max(1, int(abs(at(i)[1]) / _STEP_DEG)), count)
        at(i)
    near = [i for i, (_, there) in found.items() if -1 < i < count and abs(there) <= _STEP_DEG]
    turns = (
        _turn(height, at(i - 1)[0], at(i + 1)[0], _side(at(i)[1]))
        for i in near
        if _turns_to_limit(at(i - 1)[1], at(i)[1], at(i + 1)[1])
    )
    added = [(t, height(t)) for t in turns if t is not None]
    return sorted([*found.values(), *added])


def _side(height: float) -> int:
    return 1 if height >= 0 else -1


def _turns_to_limit(before: float, there: float, after: float) -> bool:
    """Return whether three heights on one side of the limit have their nearest to it in the middle."""
    side = _side(there)
    return _side(before) == _side(after) == side and abs(there) <= min(abs(before), abs(after))


def _turn(height: Altitude, a: float, b: float, side: int) -> float | None:
    """Return an instant in (a, b) at which the height is not on ``side`` of 0; ``None`` without one.

    Golden section search for the turn of the height, left as soon as it has crossed.
    """
    while b - a > _PEAK_S:
        c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
        at_c, at_d = height(c), height(d)
        for t, there in ((c, at_c), (d, at_d)):
            if _side(there) != side:
                return t
        a, b = (a, d) if side * at_c <= side * at_d else (c, b)
    return None


def _crossing(height: Altitude, inside: Knot, outside: Knot) -> float:
    """Return the last instant at which the height is not negative, seen from ``inside``, to 0.01 s.

    Found by halving; where the halves lie beyond what a chord has shut in already, nobody need look.
    """
    there, beyond = _shut_in(height, inside, outside)
    a, b = inside[0], outside[0]
    onwards = 1.0 if b > a else -1.0
    while abs(b - a) > _SHARP_S:
        middle = (a + b) / 2
        if (middle - there) * onwards > 0 and (beyond - middle) * onwards > 0:
            if height(middle) >= 0:
                there = middle
            else:
                beyond = middle
        a, b = (middle, b) if (middle - there) * onwards <= 0 else (a, middle)
    return a


def _shut_in(height: Altitude, inside: Knot, outside: Knot) -> Part:
    """Return two instants, mostly milliseconds apart, the crossing between them: not negative, negative."""
    a, b = inside, outside
    onwards = 1.0 if b[0] > a[0] else -1.0
    for aside in (0.0, 0.0, _ASIDE_S, -_ASIDE_S, 4 * _ASIDE_S, -4 * _ASIDE_S):
        if abs(b[0] - a[0]) <= _SHARP_S:
            break
        # the chord's crossing; then a little beside it, so that it is passed on either side
        t = a[0] + (b[0] - a[0]) * a[1] / (a[1] - b[1]) + aside * onwards
        if (t - a[0]) * onwards > 0 and (b[0] - t) * onwards > 0:
            there = height(t)
            a, b = ((t, there), b) if there >= 0 else (a, (t, there))
    return a[0], b[0]


def _altitudes(lon: float, lat: float) -> Altitude:
    """Return the altitude [°] at a place, by POSIX second."""
    import ephem

    here, sun = ephem.Observer(), ephem.Sun()
    here.lon, here.lat, here.elevation, here.pressure = math.radians(lon), math.radians(lat), 0.0, 0.0

    def altitude(t: float) -> float:
        here.date = _EPOCH_D + t / 86_400
        sun.compute(here)
        return math.degrees(sun.alt)

    return altitude
