"""Calls at an equal rate for every home give no cluster, whatever the buildings of unknown use are."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pytest
import shapely

from tussock.geodesy import Plane
from tussock.hotspots.both_ends import End, least_end, scan_ends
from tussock.hotspots.calls import Call, Incidents, incidents
from tussock.hotspots.cells import CallPlaces, Cells, Ground, HomePlaces
from tussock.hotspots.counts import Estimate
from tussock.hotspots.find_clusters import Scanned, cluster_reruns, found_clusters, hull_of, units_at
from tussock.hotspots.find_rates import found_rates
from tussock.hotspots.found import Asked, BaseEffect, Clusters, Rates

START = datetime(2025, 7, 1, 8, tzinfo=UTC)
ASKED = Asked(
    date(2025, 7, 1), date(2026, 6, 30), UTC, datetime(2026, 10, 1, tzinfo=UTC), seed=7, replicates=199
)
GROUND = Ground(Plane(147.6, -42.1), shapely.box(-200, -200, 3000, 2200))
Floats = npt.NDArray[np.float64]


def homes_at() -> tuple[Floats, Floats]:
    """2,800 homes, 40 m apart."""
    x, y = np.meshgrid(20 + 40 * np.arange(70.0), 20 + 40 * np.arange(40.0))
    return x.ravel(), y.ravel()


def linked(weights: Floats, *, number: int = 600, seed: int = 3) -> Incidents:
    """Calls from homes drawn by weight, none within 14 days of another at one home."""
    x, y = homes_at()
    at = np.random.default_rng(seed).choice(len(x), number, p=weights / weights.sum())
    return incidents(
        [
            Call(f"K-{k}", START + timedelta(hours=14 * k), x[i], y[i], 5.0, "", "not_found", "", False)
            for k, i in enumerate(at.tolist())
        ]
    )


def places(low: Floats, high: Floats, calls: Incidents) -> Scanned:
    x, y = homes_at()
    return Scanned(CallPlaces(calls.x, calls.y), HomePlaces(x, y, low, high), GROUND)


def both(low: Floats, high: Floats, calls: Incidents, *, asked: Asked = ASKED) -> tuple[Clusters, Rates]:
    given = places(low, high, calls)
    rates, _ = found_rates(given.calls, given.homes, ground=GROUND, asked=asked, incidents=calls)
    return found_clusters(units_at(given, 9), calls, given, asked=asked), rates


def even() -> Floats:
    return np.ones(len(homes_at()[0]))


def west() -> npt.NDArray[np.bool_]:
    return np.asarray(homes_at()[0] < 1000)


def test_two_sheds_beside_each_home_of_a_quarter_make_no_cluster_elsewhere() -> None:
    """Every home calls alike; counted as homes, the sheds make the east seem to call 3 times as often."""
    told, rates = both(even(), np.where(west(), 3.0, 1.0), linked(even()))
    assert told.scan.standing_out(), "over the most homes alone there is a false cluster"
    assert told.least is not None and not told.least.standing_out()
    assert not told.standing_out
    assert rates.above_ends is not None and (rates.above_ends[0] > 0.95).any()
    assert not (rates.smoothed.above > 0.95).any()


def test_a_quarter_that_nobody_has_tagged_makes_no_cluster_there() -> None:
    """Every home calls alike; two in three homes of the west are buildings of unknown use."""
    tagged = np.where(west() & (np.arange(len(even())) % 3 > 0), 0.0, 1.0)
    told, rates = both(tagged, even(), linked(even()))
    assert not told.scan.standing_out()
    assert told.least is not None and told.least.standing_out(), "over the least homes alone there is one"
    assert not told.standing_out
    assert rates.above_ends is not None and (rates.above_ends[1] > 0.95).any()
    assert not (rates.smoothed.above > 0.95).any()


def test_a_true_cluster_stands_out_at_both_ends_and_its_figures_are_those_of_the_counts() -> None:
    x, y = homes_at()
    warm = np.hypot(x - 2000, y - 800) < 400
    low, high = even(), np.where(west(), 2.0, 1.0)
    told, rates = both(low, high, linked(np.where(warm, 5.0, 1.0)))
    first = told.standing_out[0]
    assert first.least is not None and (rates.smoothed.above > 0.95).any()
    units = first.most.units[told.units.tested[first.most.units]]
    for one, homes, scan in (
        (first.most, told.units.homes_high, told.scan),
        (first.least, told.units.homes_low, told.least),
    ):
        assert scan is not None
        share = homes[units].sum() / homes[told.units.tested].sum()
        n, calls = told.units.incidents[units].sum(), told.units.incidents[told.units.tested].sum()
        assert one.observed == n
        assert one.expected == pytest.approx(calls * share)
        # Kulldorff's ratio by hand
        ratio = n * np.log(n / one.expected) + (calls - n) * np.log((calls - n) / (calls - one.expected))
        assert one.llr == pytest.approx(ratio)
        rank = (1 + (scan.greatest_by_chance >= one.llr * (1 - 1e-9)).sum()) / 200
        assert one.p_chance == pytest.approx(rank)
    assert first.p == max(first.most.p, first.least.p)


def test_homes_that_are_sure_are_scanned_once() -> None:
    told, rates = both(even(), even(), linked(even()))
    assert told.least is None and rates.above_ends is None and not told.homes_differ
    assert all(t.least is None for t in told.told)


def test_where_no_home_is_sure_nothing_can_stand_out() -> None:
    warm = np.where(np.hypot(homes_at()[0] - 2000, homes_at()[1] - 800) < 400, 9.0, 1.0)
    asked = replace(ASKED, base=(147.6, -42.1))
    told, rates = both(np.zeros(len(even())), even(), linked(warm), asked=asked)
    assert told.scan.standing_out() and not told.standing_out and told.least is None
    assert told.homes_differ and all(p.relative_risk is None for p in told.power)
    assert not (rates.smoothed.above > 0.95).any()
    assert told.with_base is not None and not any(t.stands_out for t in told.told_with_base)


def test_calls_from_cells_without_a_sure_home_are_left_out_of_that_end_alone() -> None:
    low = np.where(west(), 0.0, 1.0)
    calls = linked(even())
    units = units_at(places(low, even(), calls), 9)
    most, least = End.of(units, units.homes_high), least_end(units)
    assert least is not None and 0 < least.counts.sum() < most.counts.sum() <= len(calls)
    assert not least.counts[units.homes_low == 0].any()


def test_cells_of_another_size_are_judged_by_both_ends_too() -> None:
    calls, high = linked(even()), np.where(west(), 3.0, 1.0)
    given = places(even(), high, calls)
    told = found_clusters(units_at(given, 9), calls, given, asked=ASKED)
    assert [r.stands for r in cluster_reruns(told, given, asked=ASKED)] == [True, True]
    assert all(r.found == "nothing stands out" for r in cluster_reruns(told, given, asked=ASKED))


def test_the_effect_of_the_distance_is_the_hull_of_both_ends() -> None:
    one, other = (BaseEffect(Estimate(v, v / 1.1, v * 1.2)) for v in (0.5, 0.8))
    hull = hull_of([one, other]).per_km
    assert hull.value == pytest.approx(0.4**0.5)
    assert hull.low == pytest.approx(0.5 / 1.1)
    assert hull.high == pytest.approx(0.96)
    assert hull_of([one]) == one


def test_no_two_circles_share_a_cell_whichever_end_found_them() -> None:
    calls = linked(even())
    cells: Cells = units_at(places(even(), np.where(west(), 3.0, 1.0), calls), 9)
    from tussock.hotspots.windows import circular_windows

    windows = circular_windows(*cells.centres, np.where(cells.tested, cells.homes_high, 0.0))
    told = scan_ends(End.of(cells, cells.homes_high), least_end(cells), windows, seed=1, replicates=19)
    every = np.concatenate([c.most.units for c in told.circles])
    assert len(every) == len(set(every.tolist())) and len(told.circles) <= 10
    assert [c.p for c in told.circles] == sorted(c.p for c in told.circles)
