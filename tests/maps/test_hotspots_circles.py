"""What is said of circles: cells not discs, both ends of the homes, what is left out and what missed."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest
import shapely

from tests.support.hotspots import made_hotspots
from tussock.hotspots.cells import Ground, Tally
from tussock.hotspots.find_clusters import spot_of
from tussock.hotspots.found import Clusters, ClusterTold, Hotspots
from tussock.maps.hotspots_circles import (
    circle_words,
    counted_in,
    ends_words,
    missed_words,
    often_figure,
    place_words,
    power_sentence,
    sure_words,
    unsure_words,
)
from tussock.maps.hotspots_clusters import clusters, clusters_lead
from tussock.maps.hotspots_places import cluster_outlines, cluster_rows
from tussock.maps.hotspots_rates import rates_lines
from tussock.maps.hotspots_told import cell_told


@pytest.fixture(scope="module")
def found() -> Hotspots:
    return made_hotspots()[0]


@pytest.fixture(scope="module")
def told(found: Hotspots) -> Clusters:
    assert found.clusters is not None
    return found.clusters


@pytest.fixture(scope="module")
def first(told: Clusters) -> ClusterTold:
    return told.told[0]


def plain(text: str) -> str:
    return text.replace("\u202f", " ")


def test_a_circle_is_where_its_cells_are(found: Hotspots, told: Clusters) -> None:
    """The farthest corner by hand: of two hexagons side by side, from the corner that they share."""
    cells = told.units
    rows = np.array([5, int(cells.neighbours_of(5)[0])])
    both = shapely.get_coordinates(cells.polygons[rows])
    one, other = (shapely.get_coordinates(p) for p in cells.polygons[rows])
    shared = next(p for p in one if (np.abs(other - p).max(axis=1) < 1e-6).any())
    spot = spot_of(
        cells, rows, (float(shared[0]), float(shared[1])), ground=Ground(found.plane, found.extent)
    )
    assert spot.cells == 2
    assert spot.reach_m == pytest.approx(np.hypot(*(both - shared).T).max(), abs=0.01)
    # one area without a seam between the cells
    assert isinstance(spot.outline, shapely.Polygon) and not spot.outline.interiors
    assert spot.outline.area == pytest.approx(shapely.area(cells.polygons[rows]).sum(), rel=1e-5)
    lon, lat = found.plane.unproject(*shared)
    assert [spot.longitude, spot.latitude] == pytest.approx([float(lon), float(lat)])


def test_the_place_says_cells_and_a_distance_that_none_is_beyond(first: ClusterTold) -> None:
    """hypot(420, 100) = 431.7 m is within 440 m, not within 430 m; four decimals are ten metres."""
    spot = replace(first.spot, latitude=-42.10764, longitude=147.61238)
    assert plain(place_words(spot)) == "in 3 cells round -42.1076, 147.6124, the farthest corner 440 m away"
    lone = replace(spot, cells=1, reach_m=65.2)
    assert plain(place_words(lone)) == "in one cell round -42.1076, 147.6124, its farthest corner 70 m away"


def test_outlines_and_rows_are_of_the_same_circles(found: Hotspots) -> None:
    rows, shapes = list(cluster_rows(found)), cluster_outlines(found)
    assert len(rows) == len(shapes) == 4
    for row, shape in zip(rows, shapes, strict=True):
        x, y = found.plane.project(float(str(row["longitude"])), float(str(row["latitude"])))
        middle = shapely.Point(shape.centroid)
        away = max(middle.distance(shapely.Point(p)) for p in shapely.get_coordinates(shape))
        assert away == pytest.approx(float(str(row["farthest_corner_m"])), abs=0.1)
        assert np.isfinite([x, y]).all() and row["cells"] == 3


def test_a_circle_without_calls_elsewhere_is_told_in_words(first: ClusterTold) -> None:
    lone = replace(first, most=replace(first.most, observed=3, relative_risk=inf))
    assert circle_words(lone) == (
        "3 incidents where 9.2 were to be expected from 180–204 homes: no incident came from elsewhere"
    )
    assert often_figure(lone.most) == "none elsewhere"
    assert "∞" not in clusters(_with(made_hotspots()[0], lone))


def _with(found: Hotspots, one: ClusterTold) -> Hotspots:
    assert found.clusters is not None
    return replace(found, clusters=replace(found.clusters, told=(one,)))


def test_both_ends_of_the_homes_are_told_and_the_larger_p_counts(first: ClusterTold) -> None:
    assert first.least is not None
    weak = replace(first, least=replace(first.least, observed=20, p_chance=0.2, p_uneven=0.31))
    assert (weak.p_chance, weak.p_uneven, weak.p, weak.stands_out) == (0.2, 0.31, 0.31, False)
    assert sure_words(weak) == (
        "Of homes that are sure alone: 20 incidents where 9.9 were to be expected, 3.0 times as often as "
        "elsewhere, p = 0.31; of all that may be homes p = 0.002."
    )
    none = replace(first, least=replace(first.least, expected=0.0, relative_risk=nan, p_chance=1, p_uneven=1))
    assert sure_words(none).startswith("No building there is a home for certain")
    assert not none.stands_out
    assert sure_words(replace(first, least=None)) == ""


def test_it_is_said_where_the_two_ends_disagree(told: Clusters, first: ClusterTold) -> None:
    assert told.homes_differ and told.scan.standing_out()
    least = replace(told.scan, clusters=())
    weak = replace(told, least=least, told=(replace(first, least=replace(first.most, p_uneven=0.4)),))
    said = "If all buildings of unknown use are homes, 1 circle stands out; if none is, none does:"
    assert ends_words(weak).startswith(said)
    assert clusters_lead(weak).startswith("Nothing stands out") and said in clusters_lead(weak)
    assert ends_words(replace(told, least=told.scan)) == "", "both ends agree"
    assert "nothing stands out" in ends_words(replace(told, least=None)), "no home is sure"


def test_cells_above_at_one_end_alone_are_told_and_not_named(found: Hotspots) -> None:
    rates = found.rates
    assert rates is not None
    sure = int((rates.smoothed.above > 0.95).sum())
    high = np.where(np.arange(len(rates.cells.names)) < sure + 4, 0.99, 0.2)
    said = rates_lines(replace(rates, above_ends=(high, rates.smoothed.above)))
    assert (
        f"If all buildings of unknown use are homes, {sure + 4} cells probably above; if none is, {sure}: "
        "named is only what is above either way."
    ) in said
    assert not any("unknown use" in line for line in rates_lines(rates))
    blank = replace(rates, smoothed=replace(rates.smoothed, above=np.full(len(high), nan)))
    i = int(np.flatnonzero(rates.cells.tested)[0])
    assert any("not known; cells do not differ" in line for line in cell_told(found, blank, 1, i)[1])


def test_incidents_of_scan_and_map_reconcile_with_those_read(told: Clusters) -> None:
    """300 incidents: 4 in cells without a home, 3 too vague, the rest in cells, 2 of them unknown."""
    cells, n = told.units, 293
    incidents = np.zeros(len(cells.names), np.int64)
    tested, unknown = np.flatnonzero(cells.tested), np.flatnonzero(~cells.tested & (cells.homes_high > 0))
    incidents[tested[0]], incidents[unknown[0]] = n - 2, 2
    tally = Tally(300, n, 4, 0, 0, 0, too_vague=3)
    odd = replace(cells, incidents=incidents, incident_tally=tally)
    assert plain(counted_in(odd, what="the scan", unit="fine cell")) == (
        "In the scan are 291 of 300 incidents: not 4 from fine cells without a home, 2 from fine cells known "
        "to less than 95 % and 3 known to a circle wider than a fine cell."
    )
    whole = replace(
        odd, incidents=np.where(cells.tested, incidents, 0), incident_tally=Tally(n, n, 0, 0, 0, 0)
    )
    assert counted_in(whole, what="the scan") == ""
    fewer = replace(told, least=replace(told.scan, calls=told.scan.calls - 5))
    said = "Where only sure homes count, 5 more incidents take no part, from cells without one."
    assert unsure_words(fewer) == said


def test_what_would_be_missed_is_said_in_one_way_of_the_scans_own_number(
    found: Hotspots, told: Clusters
) -> None:
    least = told.power[0]
    assert plain(missed_words(least)) == (
        "a place with 5 % of the calls expected and less than 4 times the usual rate"
    )
    assert plain(missed_words(told.power[1])).endswith(
        "2 % of the calls expected, however often its homes call"
    )
    scan = replace(told.scan, calls=77)
    said = plain(power_sentence(replace(found, clusters=replace(told, scan=scan))))
    assert said == (
        "That there is no other cluster: with 77 incidents this map would have missed a place with 5 % of "
        "the calls expected and less than 4 times the usual rate more than one time in five."
    )
