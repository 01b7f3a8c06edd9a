"""The sun's crossings are those of plain halving between instants 20 minutes apart, to the last bit.

The referee looks at every one of those instants and halves without any short cut; it takes the altitude
itself from the package, which has outside checks of its own.
"""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from tussock.permit.time_kinds import ReleaseWindow, TimeCondition, TimeFacts
from tussock.sun import HORIZON_DEG, altitude_deg, sun_spans

STEP_S, SHARP_S = 1200.0, 0.01


def halved(lon: float, lat: float, limit: float, start: float, end: float) -> list[float]:
    """Return the crossings in [start, end], each on the side where the sun stands high enough."""
    knots = np.arange(-1, np.ceil((end - start) / STEP_S) + 2) * STEP_S + start
    high = [altitude_deg(lon, lat, float(t)) - limit >= 0 for t in knots]
    found = []
    for k in range(len(knots) - 1):
        if high[k] != high[k + 1]:
            a, b = (float(knots[k + i]) for i in ((0, 1) if high[k] else (1, 0)))
            while abs(b - a) > SHARP_S:
                middle = (a + b) / 2
                a, b = (middle, b) if altitude_deg(lon, lat, middle) - limit >= 0 else (a, middle)
            found.append(a)
    return [t for t in found if start < t < end]


@pytest.mark.parametrize("seed", range(60))
def test_no_short_cut_changes_a_crossing(seed: int) -> None:
    rng = np.random.default_rng(seed)
    lon, lat = float(rng.uniform(-180, 180)), float(rng.uniform(-60, 60))
    limit = HORIZON_DEG if seed % 2 else float(rng.uniform(-20, 20))
    whole = float(rng.integers(1_500_000_000, 2_000_000_000))
    start = whole if seed % 3 == 0 else float(rng.uniform(1.1e9, 2.1e9))
    end = start + 72 * 3600
    parts = sun_spans(lon, lat, at_least_deg=limit, within=(start, end)).parts
    found = [t for part in parts for t in part if start < t < end]
    assert found == halved(lon, lat, limit, start, end)
    assert len(found) >= 4  # two days at least, rise and set


@pytest.mark.parametrize("seed", range(40))
def test_looking_near_first_gives_the_same_depth(seed: int) -> None:
    """Also in the polar day, where no crossing is near."""
    rng = np.random.default_rng(seed)
    lat = 75.0 if seed < 6 else float(rng.uniform(-65, 65))
    at = float(rng.uniform(1.1e9, 2.1e9))
    period = ("diurnal", "nocturnal", "crepuscular")[seed % 3]
    window = ReleaseWindow(id="w", window="active_period")
    facts = TimeFacts(at - 3600, ZoneInfo("UTC"), float(rng.uniform(-180, 180)), lat, (period,))
    assert window.measured(facts, at, at) == TimeCondition.measured(window, facts, at, at)
