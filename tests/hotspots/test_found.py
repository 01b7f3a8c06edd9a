"""The whole job on a made district: what is counted reconciles, and bad input comes out as a result."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

import numpy as np
import pytest
import shapely

from tests.support.regions import Ground, MadeRegion, Thing, made_region
from tussock.errors import InputError, MissingDataError
from tussock.hotspots.calls import Call
from tussock.hotspots.cells import CallPlaces, HomePlaces
from tussock.hotspots.cells import Ground as CellGround
from tussock.hotspots.exposure import exposure, known_extent
from tussock.hotspots.find_clusters import Scanned, cluster_reruns, found_clusters
from tussock.hotspots.finding import find
from tussock.hotspots.found import Asked, Clusters, GivenCalls, Hotspots, Units
from tussock.hotspots.repeats import Release

START = datetime(2025, 7, 1, 8, tzinfo=UTC)
ASKED = Asked(
    date(2025, 7, 1), date(2026, 6, 30), UTC, datetime(2026, 10, 1, tzinfo=UTC), seed=7, replicates=99
)
CREEK_X = 0.0


@cache
def district(*, creek: bool = True) -> MadeRegion:
    """1,200 homes, 40 m apart, east of a creek; known to 1,000 m north, mapped to 2,000 m."""
    homes = [
        Thing(shapely.Point(20 + 40 * i, 20 + 40 * j), "house", id=f"{i}-{j}")
        for i in range(40)
        for j in range(30)
    ]
    wide = shapely.box(-2000, -2000, 3000, 3000)
    line = Thing(shapely.LineString([(CREEK_X, -100), (CREEK_X, 1300)]), "stream")
    layers = {"dwellings": homes} | ({"water": [line]} if creek else {})
    known = {"dwellings": [shapely.box(-100, -100, 1700, 1000)], "water": [wide]}
    return made_region(Ground(layers, known=known))


def call(n: int, x: float, y: float, *, days: float = 0.0, species: str = "") -> Call:
    time = START + timedelta(days=days, seconds=n)
    return Call(f"K-{n:03d}", time, x, y, 10.0, species, "not_found", "", captured=False)


def given(*calls: Call, without: int = 0) -> GivenCalls:
    return GivenCalls(len(calls) + without, calls, tuple(f"N-{n}" for n in range(without)))


@cache
def along_the_creek() -> tuple[Call, ...]:
    """Ninety calls from homes, three in four from within 100 m of the creek; 4 days apart."""
    rng = np.random.default_rng(11)
    near = rng.random(90) < 0.75
    x = np.where(near, 20 + 40 * rng.integers(0, 2, 90), 20 + 40 * rng.integers(2, 40, 90))
    y = 20 + 40 * rng.integers(0, 24, 90)
    return tuple(call(n, float(x[n]), float(y[n]), days=4.0 * n, species="Aus bus") for n in range(90))


@cache
def found() -> Hotspots:
    return find(given(*along_the_creek()), district(), ASKED)


def test_the_planted_edge_is_the_headline_by_the_one_sided_p() -> None:
    head = found().headline
    assert head is not None and head.edge.layer == "water"
    assert head.p_more_adjusted <= 0.05 and head.ratio.low > 1
    # by hand: three columns of homes (20, 60 and 100 m, the band holds its far end), 25 rows known (20–980 m)
    near = sum(i.place.x <= 100 for i in found().incidents.items)
    assert (head.bands[0].homes.low, head.bands[0].incidents) == (75.0, near)
    assert [r.stands for r in found().reruns if r.what == "edges"] == [True, True]


def test_every_call_is_somewhere() -> None:
    base = along_the_creek()
    calls = [
        *base,
        base[0],  # the same row twice
        call(901, 500, 1500),  # in the region, where homes are not known
        call(902, 9000, 9000),  # outside the region
        call(903, 500, 500, days=500),  # of the future
        call(904, 500, 500, days=380),  # after the time observed
        call(905, 500, 500, days=-1),  # before it
    ]
    told = find(given(*calls, without=3), district(), ASKED).counted
    assert told.read == len(calls) + 3
    assert (told.calls, told.duplicates, told.outside_extent, told.outside_region) == (90, 1, 1, 1)
    assert (told.future, told.other_times, told.without_place) == (1, 2, 3)
    assert told.calls + told.left_out == told.read
    with pytest.raises(ValueError, match="add up"):
        replace(told, calls=told.calls + 1)


def test_incidents_of_the_cells_reconcile() -> None:
    rates = found().rates
    assert rates is not None
    told, cells = found().counted, rates.cells
    assert told.tested == cells.incidents[cells.tested].sum()
    assert told.tested + told.untested + told.without_homes + told.in_no_unit == told.incidents
    assert sum(found().by_species.values()) == told.incidents


def test_calls_known_to_a_suburb_are_incidents_but_in_no_cell() -> None:
    """Thirty of ninety at 2 km: each an incident of its own, in no cell, and in no band of the creek."""
    rough = [replace(c, radius_m=2000.0) if n % 3 == 0 else c for n, c in enumerate(along_the_creek())]
    told = find(given(*rough), district(), ASKED)
    c, rates, clusters = told.counted, told.rates, told.clusters
    assert rates is not None and clusters is not None
    assert (told.incidents.rough, c.too_vague) == (30, 30)
    assert c.incidents >= found().counted.incidents
    assert c.tested == rates.cells.incidents[rates.cells.tested].sum()
    assert c.tested + c.untested + c.without_homes + c.in_no_unit + c.too_vague == c.incidents
    assert clusters.scan.calls <= c.incidents - 30
    for one in clusters.told:
        assert sum(one.species.values()) == one.most.observed
    assert all(e.vague == 30 for e in told.edges)
    assert any("30 incidents known to a circle wider than a cell" in note for note in told.notes)


def test_calls_all_known_to_five_kilometres_say_nothing_of_places() -> None:
    """938 calls were 3 incidents; at none of 4 edges was it shown, and no place and months stood out."""
    told = find(given(*(replace(c, radius_m=5000.0) for c in along_the_creek())), district(), ASKED)
    assert told.counted.incidents == 90
    assert told.headline is None and told.clusters is None and told.space_time is None
    assert {"clusters", "space_time"} <= set(told.missing)
    assert [(r.found, r.stands) for r in told.reruns if r.what == "edges"] == [
        ("most places are known too roughly for such bands", None)
    ] * 2


def test_where_most_are_known_to_five_kilometres_the_others_are_scanned_alone() -> None:
    rough = [replace(c, radius_m=5000.0) if n % 5 < 3 else c for n, c in enumerate(along_the_creek())]
    clusters, before = find(given(*rough), district(), ASKED).clusters, found().clusters
    assert clusters is not None and before is not None
    assert clusters.units.resolution == before.units.resolution
    assert 0 < clusters.scan.calls <= 36


def test_places_as_wide_as_most_cells_are_scanned_in_wider_ones() -> None:
    """All at 200 m: cells of resolution 10 are 123 m across (H3's average of 0.015 km²), of 9 325 m."""
    told = find(given(*(replace(c, radius_m=200.0) for c in along_the_creek())), district(), ASKED)
    before = found().clusters
    assert told.clusters is not None and before is not None
    assert (before.units.resolution, told.clusters.units.resolution) == (10, 9)
    assert told.clusters.units.incident_tally.too_vague == 0 and told.clusters.scan.calls > 0


def test_the_order_of_calls_changes_nothing() -> None:
    again = find(given(*reversed(along_the_creek())), district(), ASKED)
    assert again.counted == found().counted and again.calls == found().calls
    a, b = again.clusters, found().clusters
    assert a is not None and b is not None
    assert [(c.most.p, c.most.centre) for c in a.told] == [(c.most.p, c.most.centre) for c in b.told]
    assert again.reruns == found().reruns
    one, other = again.repeats, found().repeats
    assert one is not None and other is not None and one.at_place == other.at_place


def test_no_call_is_a_result_with_odds_of_none() -> None:
    none = find(given(), district(), ASKED)
    assert none.headline is None and none.clusters is None and none.when is None
    assert {"clusters", "when", "repeats", "space_time"} <= set(none.missing)
    assert none.district_odds is not None and none.district_odds.one_in is None


def test_a_single_call_claims_nothing() -> None:
    one = find(given(call(1, 300, 300)), district(), ASKED)
    assert one.headline is None and one.clusters is None and one.counted.incidents == 1
    assert "takes 3" in one.missing["clusters"]


def test_all_calls_in_one_place_are_one_cluster_without_calls_outside() -> None:
    calls = [call(n, 820 + (n % 2), 500, days=20.0 * n) for n in range(18)]
    told = find(given(*calls), district(), ASKED)
    assert told.counted.incidents == 18
    assert told.clusters is not None and told.clusters.standing_out
    first = told.clusters.standing_out[0].most
    assert first.observed == 18 and first.relative_risk == np.inf


def test_homes_in_a_single_cell_are_set_against_nothing() -> None:
    homes = [Thing(shapely.Point(500 + i, 500), "house", id=str(i)) for i in range(5)]
    lone = made_region(
        Ground({"dwellings": homes}, known={"dwellings": [shapely.box(-2000, -2000, 3000, 3000)]})
    )
    told = find(given(*[call(n, 500 + n % 5, 500, days=20.0 * n) for n in range(15)]), lone, ASKED)
    assert told.clusters is None and "one cell" in told.missing["clusters"]
    assert told.space_time is None and "fewer than two cells" in told.missing["space_time"]


def test_cells_that_are_not_tested_lend_a_cluster_nothing() -> None:
    """A cell in the middle of the cluster is known to half: its homes and calls are not the cluster's."""
    before = found().clusters
    assert before is not None
    units = before.units
    cluster = before.told[0].most
    x, y = units.centres
    middle = np.argmin(np.hypot(x - cluster.centre[0], y - cluster.centre[1]))
    assert units.incidents[middle] and units.homes[middle] and middle in cluster.units
    known = units.known.copy()
    known[middle] = 0.5
    told = found_clusters(replace(units, known=known), found().incidents, _places(), asked=ASKED)
    assert any(middle in t.most.units for t in told.told)
    for one in told.told:
        assert sum(one.species.values()) == one.most.observed
        assert one.homes[1] == pytest.approx(one.most.expected / told.scan.calls * told_homes(told), rel=1e-9)


def told_homes(told: Clusters) -> float:
    return float(told.units.homes[told.units.tested].sum())


def test_calls_where_no_home_is_are_told_apart_and_not_scanned() -> None:
    """Two polygons: the western one holds calls and no home."""
    shapes = np.array([shapely.box(-90, 0, -5, 900), shapely.box(0, 0, 1600, 950)], dtype=object)
    asked = replace(ASKED, units=Units(shapes, ("west", "east")))
    calls = [*along_the_creek(), call(801, -50, 400), call(802, -50, 600), call(803, 800, 980)]
    told = find(given(*calls), district(), asked).counted
    assert told.without_homes == 2
    assert told.in_no_unit == 1 + sum(c.y > 950 for c in along_the_creek())


def test_a_base_gives_clusters_with_and_without_it() -> None:
    lon, lat = (float(v) for v in district().plane.unproject(1600.0, 500.0))
    told = find(given(*along_the_creek()), district(), replace(ASKED, base=(lon, lat))).clusters
    assert told is not None and told.base is not None and told.with_base is not None
    assert told.base.per_km.value > 1, "the creek is far from this base"
    assert told.scan.calls == told.with_base.calls


def test_what_cannot_be_asked_is_refused() -> None:
    bare = made_region(Ground({"water": [Thing(shapely.Point(0, 0))]}))
    with pytest.raises(MissingDataError, match="dwellings"):
        find(given(call(1, 0, 0)), bare, ASKED)
    far = {"dwellings": [Thing(shapely.Point(9000, 9000))]}
    beyond = made_region(Ground(far, known={"": [shapely.box(-10, -10, 10, 10)]}))
    with pytest.raises(MissingDataError, match="no home"):
        find(given(call(1, 0, 0)), beyond, ASKED)
    with pytest.raises(InputError, match="K-001"):
        find(given(call(1, 0, 0), call(1, 50, 50)), district(), ASKED)
    assert "edges" in find(given(), district(creek=False), ASKED).missing


def test_a_step_that_cannot_be_rerun_says_why() -> None:
    """The district is 1.8 × 1.1 km: coarser hexagons, 1.4 km and more from side to side, are not known."""
    told = find(given(*along_the_creek()), district(), ASKED)
    assert told.clusters is not None and told.rates is not None
    wide = replace(told.clusters, units=replace(told.clusters.units, resolution=8))
    finer, coarser = cluster_reruns(wide, _places(), asked=ASKED)
    assert (finer.step, finer.stands is not None) == ("finer", True)
    assert (coarser.step, coarser.size, coarser.stands) == ("coarser", "H3 resolution 7", None)
    assert coarser.found.startswith("not scanned: no cell with homes lies in the known extent")
    assert [(r.what, r.step) for r in told.reruns] == [
        (what, step) for what in ("edges", "clusters", "cells") for step in ("finer", "coarser")
    ]


def _places() -> Scanned:
    x, y = np.array([(c.x, c.y) for c in along_the_creek()]).T.copy()
    homes = exposure(district(), day=START.date())
    cells = CellGround(district().plane, known_extent(district()), shapely.box(-2000, -2000, 3000, 3000))
    return Scanned(CallPlaces(x, y), HomePlaces(homes.x, homes.y, homes.low, homes.high), cells)


def test_a_release_after_the_time_observed_is_noted_and_asked_nothing() -> None:
    calls = tuple(call(n, 500, 500, days=20.0 * n) for n in range(12))
    late = Release("R-1", START + timedelta(days=500), 500, 500, "Aus bus")
    early = Release("R-2", START + timedelta(days=30), 500, 500, "Aus bus")
    told = find(GivenCalls(12, calls, releases=(late, early)), district(), ASKED)
    assert any(note.startswith("1 release") and "time observed" in note for note in told.notes)
    assert told.repeats is not None and told.repeats.after_release is not None


def test_a_cluster_elsewhere_is_not_the_headline_once_more() -> None:
    """The rerun's cluster lies along the creek; a headline just beside it, circles touching, is another."""
    clusters = found().clusters
    assert clusters is not None
    first = clusters.told[0]
    radius, (x, y) = first.most.radius_m, first.most.centre
    for away, stands in ((0.5 * radius, True), (2.5 * radius + 200, False)):
        moved = replace(first, most=replace(first.most, centre=(x + away, y)))
        finer, _ = cluster_reruns(replace(clusters, told=(moved,)), _places(), asked=ASKED)
        assert (finer.step, finer.stands) == ("finer", stands)


def test_a_long_silence_makes_one_ask_whether_the_book_was_kept() -> None:
    """Calls of the first 76 days of 365, so 288 without one; ninety calls four days apart ask nothing."""
    calls = tuple(call(n, 820, 500, days=19.0 * n) for n in range(5))
    asks = find(given(*calls), district(), ASKED).counted.warning
    assert "from 2025-09-15 to 2026-06-30, 288 of the days observed: was the book kept?" in asks
    assert found().counted.warning == ""
