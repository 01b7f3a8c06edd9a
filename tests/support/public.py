"""A small region for published figures, and calls in it that are told by unit, season and month."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from tussock.geodesy import Plane
from tussock.hotspots.public import PublicCalls
from tussock.hotspots.public_choice import PublicChoice
from tussock.hotspots.public_partition import Partition
from tussock.hotspots.public_units import units_from_homes

PLANE = Plane(147.3, -42.9)
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
ZONE = "Australia/Hobart"
Told = tuple[int, int, int, float, float, float]
"""Unit, season and month counted from 0, then where in them a call lies: three shares from 0 to below 1."""


def region(
    dimension: str = "unit", *, seasons: int = 2, first: int = 2020, start: int = 7, zone: str = ZONE
) -> Partition:
    """Return a region of three units with 600, 700 and 1,100 dwellings."""
    x, y, homes = np.array([0.0, 3000.0, 6000.0]), np.array([0.0, 250.0, 0.0]), [600, 700, 1100]
    choice = PublicChoice(dimension, first_season=first, start_month=start, zone=zone, seasons=seasons)
    units = units_from_homes(x, y, homes=homes, least=500)
    return Partition("Invented district", PLANE, choice, units, 500, "surveyed by hand")


def calls(partition: Partition, told: Sequence[Told]) -> PublicCalls:
    """Return calls, each somewhere in its unit of :func:`region` and in its month of its season."""
    own = region().units
    edges = month_edges(partition.choice)
    x, y, time = [], [], []
    for unit, season, month, across, up, through in told:
        u, begin, end = own[unit], *edges[12 * season + month :][:2]
        x.append(u.west + across * (u.east - u.west))
        y.append(u.south + up * (u.north - u.south))
        time.append(begin + through * (end - begin))
    return PublicCalls(np.array(x, float), np.array(y, float), np.array(time, float))


def month_edges(choice: PublicChoice) -> list[float]:
    """Return the instants [POSIX s] at which the months of nine seasons begin, from the calendar."""
    months = range(choice.start_month - 1, choice.start_month - 1 + 9 * 12)
    return [
        datetime(choice.first_season + n // 12, n % 12 + 1, 1, tzinfo=ZoneInfo(choice.zone)).timestamp()
        for n in months
    ]
