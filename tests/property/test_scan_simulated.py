"""How often the scans alarm on maps where nothing is, and how often they find what was planted.

Source of the expected shares: a simulation of 2,000 runs apart from this package, on 200 cells with 50,000
dwellings (windows up to half): alarms 0.05; relative risk 3 in 7 cells with 13 expected calls of 300 0.95
(0.93 with half of the planted dwellings inside), with 25 of 1,000 1 (1); with uneven cells (coefficient of
variation 0.3) p by chance is at most 0.05 on 0.17 and 0.56 of maps, with the unevenness 0.07 and 0.10;
the permutation scan under seasons 0.05. A plain run does a tenth, with bounds a true share leaves once in
10,000 runs.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.stats import binom

from tussock.geodesy import Floats
from tussock.hotspots.power import RISKS, Planted, least_ratio, least_seen
from tussock.hotspots.scan import made_up, scan
from tussock.hotspots.scan_space_time import permutation_scan
from tussock.hotspots.windows import Whole, Windows, circular_windows

FULL = pytest.param(400, marks=pytest.mark.slow)
TENTH = 40


@cache
def town() -> tuple[Windows, Floats]:
    """200 cells of a triangular lattice, about 50,000 dwellings, densest off the middle; their shares."""
    column, row = np.meshgrid(np.arange(20), np.arange(10))
    x, y = ((column + 0.5 * (row % 2)) * 500.0).ravel(), (row * 500.0 * np.sqrt(0.75)).ravel()
    density = np.exp(-((x - 4750) ** 2 + (y - 1950) ** 2) / 6000**2)
    homes = np.round(50_000 * density / density.sum())
    return circular_windows(x, y, homes), homes / homes.sum()


def nearest_cells(x: float, y: float, number: int) -> Whole:
    windows, _ = town()
    return np.argsort(np.hypot(windows.x - x, windows.y - y), kind="stable")[:number].astype(np.int64)


def bounds(maps: int, share: float) -> tuple[int, int]:
    """Return counts outside which a true share falls once in 10,000 runs."""
    low, high = binom.ppf([0.00005, 0.99995], maps, share)
    return int(low), int(high)


@pytest.mark.parametrize("maps", [TENTH, FULL])
@pytest.mark.parametrize("calls", [300, 1000])
def test_alarms_on_maps_of_chance(maps: int, calls: int) -> None:
    windows, chances = town()
    counts = made_up(chances, calls, maps, seed=101)
    found = [scan(c, windows, seed=one, replicates=199, most=1) for one, c in enumerate(counts)]
    by_chance = sum(f.clusters[0].p_chance <= 0.05 for f in found)
    alarms = sum(bool(f.standing_out()) for f in found)
    low, high = (7, 36) if maps == 400 else bounds(maps, 0.05)
    assert low <= by_chance <= high
    assert alarms <= by_chance


@pytest.mark.slow
@pytest.mark.parametrize(("calls", "share"), [(300, 0.07), (1000, 0.10)])
def test_alarms_on_uneven_maps(calls: int, share: float) -> None:
    """Cells' rates vary by 0.3: chance alone alarms far too often, the larger p at most as published."""
    windows, chances = town()
    counts = made_up(chances, calls, 400, seed=102, shape=1 / 0.3**2)
    found = [scan(c, windows, seed=k, replicates=199, most=1) for k, c in enumerate(counts)]
    assert sum(bool(f.standing_out()) for f in found) <= bounds(400, share)[1]
    assert sum(f.clusters[0].p_chance <= 0.05 for f in found) > bounds(400, 0.05)[1]


def planted(cells: Whole, calls: int, maps: int) -> Whole:
    """Return maps on which the homes of these cells call three times as often; other calls are `calls`."""
    _, chances = town()
    rates = chances * calls
    rates[cells] *= 3
    return np.random.Generator(np.random.PCG64(103)).poisson(rates, (maps, len(rates)))


def found_by(counts: Whole, windows: Windows, cells: Whole) -> tuple[int, int]:
    """Return on how many maps half of the planted homes are found: by chance, and by the larger p."""
    homes = windows.exposure
    found = [scan(c, windows, seed=k, replicates=199, most=1).clusters[0] for k, c in enumerate(counts)]
    half = [homes[np.intersect1d(cells, f.units)].sum() >= homes[cells].sum() / 2 for f in found]
    by_chance = sum(bool(h) and f.p_chance <= 0.05 for h, f in zip(half, found, strict=True))
    return by_chance, sum(bool(h) and f.p <= 0.05 for h, f in zip(half, found, strict=True))


@pytest.mark.parametrize("maps", [TENTH, FULL])
@pytest.mark.parametrize(
    ("calls", "at", "published"),
    [(300, (5000.0, 866.0), 0.93), (1000, (0.0, 0.0), 0.995)],
    ids=["300", "1000"],
)
def test_planted_clusters_are_found(maps: int, calls: int, at: tuple[float, float], published: float) -> None:
    """Relative risk 3 in seven cells: 13 calls expected of 300 in the town, 25 of 1,000 at its corner.

    The seven of 300 are a cell and its six neighbours, as in the source, chosen for their 13.0 calls. Asked
    for: 90 %, here by the larger p, the one the page speaks of. The unevenness costs about 0.01: on half of
    such maps chance alone makes the cells outside look uneven. Of 1,000 maps 0.943 by chance and 0.937 by
    the larger p were found. The same number of cells in two rows, which no circle round a cell holds
    alone, are found more seldom: 0.91 and 0.89 of 1,000 maps; 0.87 and 0.84 where 300 is the number of all
    calls, the planted ones among them.
    """
    windows, chances = town()
    cells = nearest_cells(*at, 7)
    assert chances[cells].sum() * calls == pytest.approx({300: 13, 1000: 25}[calls], abs=0.5)
    by_chance, by_larger = found_by(planted(cells, calls, maps), windows, cells)
    least = 0.9 * maps if maps == 400 else bounds(maps, 0.9)[0]
    assert by_chance >= max(bounds(maps, published)[0], least)
    assert by_chance >= by_larger >= least


@pytest.mark.slow
@pytest.mark.parametrize("at", [(5000.0, 866.0), (4750.0, 1950.0)], ids=["round a cell", "in two rows"])
def test_planted_clusters_are_found_with_circles_round_corners_too(at: tuple[float, float]) -> None:
    """The page's circles: any of the planted cells is in the cluster that is spoken of, on 90 % of maps."""
    windows, chances = town()
    cells = nearest_cells(*at, 7)
    assert chances[cells].sum() * 300 == pytest.approx(13, abs=0.5)
    more = circular_windows(windows.x, windows.y, windows.exposure, centres=cells_and_corners())
    found = [scan(c, more, seed=k, replicates=199, most=1) for k, c in enumerate(planted(cells, 300, 400))]
    struck = [f.standing_out() and np.isin(cells, f.clusters[0].units).any() for f in found]
    assert sum(bool(s) for s in struck) >= 0.9 * 400


def cells_and_corners() -> tuple[Floats, Floats]:
    """Return the middles of the hexagons and their corners, each once."""
    windows, _ = town()
    turns = np.pi / 6 + np.arange(6) * np.pi / 3
    away = 500 / np.sqrt(3)
    x = np.concatenate([windows.x, *(windows.x + away * np.cos(t) for t in turns)])
    y = np.concatenate([windows.y, *(windows.y + away * np.sin(t) for t in turns)])
    _, first = np.unique(np.round(np.column_stack([x, y])), axis=0, return_index=True)
    return x[first], y[first]


@pytest.mark.parametrize("maps", [TENTH, FULL])
def test_alarms_of_the_permutation_scan_under_seasons(maps: int) -> None:
    """Summer has ten times the calls of winter, homes lie unevenly: no place has months of its own."""
    windows, chances = town()
    season = 1 + 0.82 * np.cos(2 * np.pi * np.arange(24) / 12)
    rng = np.random.Generator(np.random.PCG64(104))
    alarms = 0
    for one in range(maps):
        unit = rng.choice(len(chances), 150, p=chances)
        month = rng.choice(24, 150, p=season / season.sum())
        found = permutation_scan(
            unit, month, x=windows.x, y=windows.y, periods=24, seed=one, replicates=99, most=1
        )
        alarms += bool(found.standing_out())
    low, high = bounds(maps, 0.05)
    assert low <= alarms <= high


def test_a_place_with_a_month_of_its_own_is_found() -> None:
    windows, chances = town()
    rng = np.random.Generator(np.random.PCG64(105))
    near = nearest_cells(4750.0, 1950.0, 7)
    unit = np.concatenate([rng.choice(len(chances), 150, p=chances), rng.choice(near, 12)])
    month = np.concatenate([rng.integers(0, 24, 150), np.full(12, 17)])
    first = permutation_scan(unit, month, x=windows.x, y=windows.y, periods=24, seed=1).cylinders[0]
    assert first.p <= 0.01
    assert (first.first, first.last) == (17, 17)
    assert np.isin(near, first.units).sum() >= 4


def test_what_could_have_been_seen() -> None:
    """Beside the shares of the source: 0.93 at 4.3 % of 300 calls and risk 3, 0.24 at 3.5 % and risk 2."""
    windows, chances = town()
    even = scan(made_up(chances, 300, 1, seed=106)[0], windows, seed=1)
    seen = least_seen(even, windows, share=0.043, seed=2)
    assert seen.relative_risk is not None
    # circles grow by whole cells, of a quarter to two thirds of a per cent: off by half of one, or less
    assert seen.share == pytest.approx(0.043, abs=0.0035)
    assert seen.expected == pytest.approx(300 * seen.share)
    assert 2 < seen.relative_risk <= 3
    assert seen.found >= 0.8
    smaller = least_seen(even, windows, share=0.005, seed=2, risks=(1.5, 2.0, 3.0))
    assert smaller.relative_risk is None
    assert smaller.found < 0.3  # 0.07 at relative risk 3 in one cell
    assert seen == least_seen(even, windows, share=0.043, seed=2, threads=1)


def test_what_would_be_missed_is_what_other_maps_miss() -> None:
    """On 1,000 maps of another seed: found in 80 % at the rate that is said, in fewer a step below it."""
    windows, chances = town()
    even = scan(made_up(chances, 300, 1, seed=106)[0], windows, seed=1)
    seen = least_seen(even, windows, share=0.1, seed=2)
    assert seen.relative_risk is not None
    below = RISKS[RISKS.index(seen.relative_risk) - 1]
    other = Planted(even, windows, share=0.1, seed=108, expected=None, maps=1000)
    error = 3 * (0.8 * 0.2 * (1 / 1000 + 1 / 512)) ** 0.5  # three standard errors of a difference
    assert other.found(seen.relative_risk, p=0.05) >= 0.8 - error
    assert other.found(below, p=0.05) < 0.8 + error
    assert other.found(seen.relative_risk, p=0.05) == pytest.approx(seen.found, abs=error)


def test_a_search_of_maps_that_is_settled_stops_early_on_the_right_side() -> None:
    windows, chances = town()
    even = scan(made_up(chances, 300, 1, seed=106)[0], windows, seed=1)
    planted = Planted(even, windows, share=0.1, seed=2, expected=None, maps=512)
    for risk in (1.3, 1.6, 3.0, 5.0):
        every, early = (planted.found(risk, p=0.05, often=often) for often in (None, 0.8))
        assert (every >= 0.8) == (early >= 0.8)
        assert early == pytest.approx(every, abs=0.1)


def test_few_units_hold_more_than_was_asked_for_and_that_is_said() -> None:
    """Ten cells of a tenth each: nothing smaller can be planted, so what is seen is said of a tenth."""
    windows = circular_windows(np.arange(10.0), np.zeros(10), np.ones(10))
    even = scan(made_up(np.full(10, 0.1), 60, 1, seed=107)[0], windows, seed=1)
    assert least_seen(even, windows, share=0.02, seed=2).share == pytest.approx(0.1)


def test_the_ratio_to_reach_is_the_one_whose_p_is_small_enough() -> None:
    windows, chances = town()
    found = scan(made_up(chances, 300, 1, seed=106)[0], windows, seed=1, replicates=99)
    least = least_ratio(found, p=0.05)
    assert (1 + np.sum(found.greatest_by_chance >= least)) / 100 > 0.05
    assert (1 + np.sum(found.greatest_by_chance >= least * (1 + 1e-9))) / 100 <= 0.05
