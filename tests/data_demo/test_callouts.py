"""What is planted in the callouts of the district is found: an edge, a cluster, a home that calls again.

What is planted stands in data-demo/build_callouts.py: how many times as often homes call, and where.
"""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tussock.ground.region import open_region
from tussock.hotspots.finding import find
from tussock.hotspots.found import Asked, Hotspots
from tussock.hotspots.repeats import Asking, repeats
from tussock.records.calls import calls_of
from tussock.records.entries import CALLOUT, CAPTURE, DISPOSAL
from tussock.records.source import open_book
from tussock.sun import altitude_deg

DATA = Path(__file__).parents[2] / "data-demo"
CLUSTER, CLUSTER_M = (-400.0, -1650.0), 280.0
REPEATER = (1100.0, -420.0)
NOW = datetime.fromisoformat("2026-11-16T18:00:00+11:00")


@pytest.fixture(scope="module")
def found() -> Hotspots:
    tables = {CALLOUT: "callouts.csv", CAPTURE: "captures.csv", DISPOSAL: "releases.csv"}
    book = open_book({kind: DATA / name for kind, name in tables.items()})
    region = open_region(DATA)
    calls = calls_of(book.entries, plane=region.plane, inputs={})
    zone = ZoneInfo("Australia/Hobart")
    return find(calls, region, Asked(date(2025, 9, 1), date(2026, 11, 16), zone, NOW, replicates=199))


def test_homes_along_the_brook_call_more_often(found: Hotspots) -> None:
    """Planted 2.9 times within 100 m; beyond 300 m the cluster raises what it is set against."""
    effect = next(e for e in found.edges if e.edge.name == "Mill Brook")
    assert found.edges[0] is effect
    assert effect.ratio.low < 2.9 < effect.ratio.high
    assert effect.tested and effect.p_more_adjusted < 0.001


def test_the_cluster_stands_out_first(found: Hotspots) -> None:
    assert found.clusters is not None
    first = found.clusters.standing_out[0].most
    away = ((first.centre[0] - CLUSTER[0]) ** 2 + (first.centre[1] - CLUSTER[1]) ** 2) ** 0.5
    assert away < CLUSTER_M and first.radius_m < 2 * CLUSTER_M
    assert first.p == max(first.p_chance, first.p_uneven) <= 0.05


def test_calls_of_the_home_that_calls_again_are_more_than_chance_gives(found: Hotspots) -> None:
    assert found.repeats is not None
    again = found.repeats.at_place
    assert again.observed >= 4
    assert again.observed > again.expected


def test_strays_are_counted_apart_and_everything_adds_up(found: Hotspots) -> None:
    c = found.counted
    assert c.read == 945 == c.calls + c.left_out
    assert (c.outside_region, c.outside_extent) == (4, 2)  # as data-demo/README.md has them
    assert c.without_place >= 1
    assert c.future == c.other_times == c.duplicates == 0


def test_the_home_planted_is_among_the_repeats(found: Hotspots) -> None:
    """Five calls 18 to 22 days apart: four follow an earlier one."""
    assert found.when is not None
    asking = Asking(30, 50, found.when.season, ZoneInfo("Australia/Hobart"), seed=1, replicates=19)
    every = found.incidents.items
    others = [i for i in every if (i.place.x - REPEATER[0]) ** 2 + (i.place.y - REPEATER[1]) ** 2 > 40.0**2]
    assert len(every) - len(others) == 5
    assert repeats(every, asking).observed - repeats(others, asking).observed == 4


def test_most_calls_come_from_october_to_february_and_by_daylight(found: Hotspots) -> None:
    planted = [c.time.astimezone(ZoneInfo("Australia/Hobart")) for c in found.calls if c.id[0] == "T"]
    warm = sum(t.month in (10, 11, 12, 1, 2) for t in planted)
    assert 0.75 < warm / len(planted) < 0.95
    assert all(altitude_deg(147.6, -42.1, t.timestamp()) > 0 for t in planted)


def test_the_share_captured_is_of_attempts_alone(found: Hotspots) -> None:
    """Of the 945 rows 63 end with a capture, 206 gone, 120 never found; the others were no attempt."""
    told = found.when
    assert told is not None
    assert 300 < told.attempts <= 63 + 206 + 120
    assert 40 < told.captured <= 63
