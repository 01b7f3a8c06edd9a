"""Laws of the scans: the same as plain loops, whatever the order of units, the threads or the batch."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support import scanning
from tussock.errors import InputError, MissingDataError
from tussock.hotspots import compiling
from tussock.hotspots.scan import Scan, made_up, scan
from tussock.hotspots.scan_space_time import permutation_scan
from tussock.hotspots.search import Search
from tussock.hotspots.search_space_time import CylinderSearch
from tussock.hotspots.unevenness import Unevenness, fitted_unevenness
from tussock.hotspots.windows import Whole, Windows, circular_windows, grid_centres

WHOLE = st.integers(0, 6)


@st.composite
def maps(draw: st.DrawFn) -> tuple[list[tuple[int, int]], list[int], list[int], list[int]]:
    """Places on a small grid (many equally far), counts, exposure and expectations of another kind."""
    places = draw(st.lists(st.tuples(WHOLE, WHOLE), min_size=2, max_size=14, unique=True))
    n = len(places)
    counts = draw(st.lists(st.integers(0, 9), min_size=n, max_size=n))
    homes = draw(st.lists(st.integers(1, 50), min_size=n, max_size=n))
    other = draw(st.lists(st.integers(1, 9), min_size=n, max_size=n))
    return places, counts, homes, other


def windows_of(places: list[tuple[int, int]], homes: list[int]) -> Windows:
    x, y = np.array(places, dtype=np.float64).T.copy()
    return circular_windows(x, y, np.array(homes, dtype=np.float64))


@settings(max_examples=60, deadline=None)
@given(maps())
def test_the_fast_scan_is_the_plain_one(
    made: tuple[list[tuple[int, int]], list[int], list[int], list[int]],
) -> None:
    places, counts, homes, other = made
    windows = windows_of(places, homes)
    for weights in (homes, other):
        found = scan(
            np.array(counts), windows, seed=1, replicates=19, expected=np.array(weights, dtype=np.float64)
        )
        taken: frozenset[int] = frozenset()
        for cluster in found.clusters:
            plain = scanning.best_disc(places, counts, homes, weights, taken=taken)
            assert cluster.llr == pytest.approx(plain.ratio, rel=1e-9)
            units = frozenset(cluster.units.tolist())
            assert not units & taken
            taken |= units
        assert scanning.best_disc(places, counts, homes, weights, taken=taken).ratio <= 1e-9


@settings(max_examples=20, deadline=None)
@given(maps(), st.integers(1, 150))
def test_made_up_maps_are_searched_as_plainly(
    made: tuple[list[tuple[int, int]], list[int], list[int], list[int]], total: int
) -> None:
    places, _, homes, _ = made
    chances = np.array(homes) / sum(homes)
    many = made_up(chances, total, 70, seed=total)  # more than one batch
    ratios = Search(windows_of(places, homes), chances * total, total, 2).greatest(many).ratio
    for one in (0, 1, 63, 64, 69):
        plain = scanning.best_disc(places, many[one].tolist(), homes, homes).ratio
        assert ratios[one] == pytest.approx(plain, rel=1e-9, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 4)), min_size=2, max_size=25), st.integers(5, 6))
def test_the_permutation_scan_is_the_plain_one(calls: list[tuple[int, int]], periods: int) -> None:
    places = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (5.0, 2.0), (5.0, 3.0), (2.0, 9.0), (7.0, 7.0)]
    x, y = np.array(places).T.copy()
    unit, period = np.array(calls).T.copy()
    found = permutation_scan(unit, period, x=x, y=y, periods=periods, seed=1, replicates=19)
    plain = scanning.best_cylinder(places, calls, periods)
    assert (found.cylinders[0].llr if found.cylinders else 0.0) == pytest.approx(plain, rel=1e-9, abs=1e-9)
    cells = [(u, t) for c in found.cylinders for u in c.units.tolist() for t in range(c.first, c.last + 1)]
    assert len(cells) == len(set(cells))
    for one in found.cylinders:
        inside = np.isin(unit, one.units) & (period >= one.first) & (period <= one.last)
        assert one.observed == inside.sum()


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 4)), min_size=2, max_size=25), st.integers(1, 9))
def test_maps_with_times_dealt_out_anew_are_searched_as_plainly(
    calls: list[tuple[int, int]], seed: int
) -> None:
    """Referee: numpy's own seeded shuffle of the periods, then plain loops over sets of calls."""
    places = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (5.0, 2.0), (5.0, 3.0), (2.0, 9.0), (7.0, 7.0)]
    x, y = np.array(places).T.copy()
    unit, period = np.array(calls).T.copy()
    found = permutation_scan(unit, period, x=x, y=y, periods=5, seed=seed, replicates=70, threads=2)
    plain = []
    for one in range(70):  # more than one batch
        rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(2, one))))
        dealt = list(zip(unit.tolist(), rng.permutation(period).tolist(), strict=True))
        plain.append(scanning.best_cylinder(places, dealt, 5))
    np.testing.assert_allclose(found.greatest, sorted(plain), rtol=1e-9, atol=1e-9)


def test_tables_side_by_side_are_bit_for_bit_as_one_by_one() -> None:
    rng = np.random.default_rng(20261126)
    unit, period = rng.integers(0, 150, 400), rng.integers(0, 24, 400)
    tables = np.zeros((70, 150, 24), np.int64)
    for table in tables:
        np.add.at(table, (unit, rng.permutation(period)), 1)
    calls = tables[0].sum(axis=1).astype(np.float64)
    x, y = rng.integers(0, 12, (2, 150)) * 100.0  # many equally far
    search = CylinderSearch(circular_windows(x, y, calls), calls, tables[0].sum(axis=0), 12, 3)
    found = search.greatest(lambda one: tables[one], maps=70)
    assert found.tolist() == [search.greatest_of(table) for table in tables]
    assert len(set(found.tolist())) > 50


def test_threads_do_not_change_the_permutation_scan() -> None:
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, 9000, (2, 60))
    unit, month = rng.integers(0, 60, 200), rng.integers(0, 12, 200)
    one, three = (
        permutation_scan(unit, month, x=x, y=y, periods=12, seed=3, replicates=199, threads=t) for t in (1, 3)
    )
    assert one.greatest.tolist() == three.greatest.tolist()
    assert [(c.p, c.llr) for c in one.cylinders] == [(c.p, c.llr) for c in three.cylinders]


def district(n: int = 400, calls: int = 500) -> tuple[Whole, Windows]:
    rng = np.random.default_rng(20261125)
    homes = rng.integers(1, 60, n).astype(np.float64)
    windows = circular_windows(rng.uniform(0, 9000, n), rng.uniform(0, 9000, n), homes)
    return made_up(homes / homes.sum(), calls, 1, seed=3, shape=4.0)[0], windows


def told(found: Scan) -> list[object]:
    clusters = [
        (c.units.tolist(), c.centre, c.radius_m, c.observed, c.llr, c.p_chance, c.p_uneven)
        for c in found.clusters
    ]
    return [clusters, found.greatest_by_chance.tolist(), found.greatest_if_uneven.tolist(), found.unevenness]


def test_threads_change_nothing_and_a_seed_does() -> None:
    counts, windows = district()
    one, three = (told(scan(counts, windows, seed=7, replicates=199, threads=t)) for t in (1, 3))
    assert one == three
    assert told(scan(counts, windows, seed=8, replicates=199))[1] != one[1]


def test_input_is_left_as_it_was() -> None:
    counts, windows = district()
    before = counts.copy(), windows.exposure.copy(), windows.members.copy()
    scan(counts, windows, seed=7, replicates=19)
    for now, then in zip((counts, windows.exposure, windows.members), before, strict=True):
        np.testing.assert_array_equal(now, then)


def test_many_calls_are_counted_in_wider_numbers() -> None:
    """Above 32,766 calls; the ratio of the plain formula for a planted unit."""
    homes = np.full(9, 1000.0)
    x, y = (v.ravel().astype(np.float64) for v in np.meshgrid(np.arange(3), np.arange(3)))
    counts = np.full(9, 10_000)
    counts[8] = 13_000
    found = scan(counts, circular_windows(x, y, homes), seed=1, replicates=19).clusters[0]
    assert found.units.tolist() == [8]
    assert found.llr == pytest.approx(scanning.ratio(13_000, 93_000 / 9, 93_000), rel=1e-12)


def test_windows_are_nested_and_hold_at_most_half() -> None:
    _, windows = district(60)
    shares = windows.summed(windows.exposure) / windows.exposure.sum()
    assert shares.max() <= 0.5
    for first, stop in zip(windows.starts[:-1], windows.starts[1:], strict=True):
        assert scanning.ascending(shares[first:stop].tolist())


def test_equally_far_units_enter_together() -> None:
    x, y = np.array([0.0, 1.0, -1.0, 0.0, 0.0, 9.0, 9.0, 9.0]), np.array([0.0, 0, 0, 1.0, -1.0, 7, 8, 9])
    windows = circular_windows(x, y, np.ones(8))
    assert windows.starts[1] == 1  # the four neighbours and itself would be 5 of 8: more than half
    windows = circular_windows(x, y, np.array([1.0, 1, 1, 1, 1, 2, 2, 2]), centres=(x[:1], y[:1]))
    assert windows.closed.tolist() == [True, False, False, False, True]


def test_a_grid_of_centres_stays_near_the_units() -> None:
    x, y = np.array([0.0, 1000.0]), np.array([0.0, 1000.0])
    at_x, at_y = grid_centres(x, y, step_m=100.0)
    assert {(0.0, 0.0), (1000.0, 1000.0)} <= set(zip(at_x.tolist(), at_y.tolist(), strict=True))
    assert len(at_x) == 6  # each unit and its two neighbours within the box


def test_nothing_is_a_result() -> None:
    homes = np.full(9, 10.0)
    x, y = (v.ravel().astype(np.float64) for v in np.meshgrid(np.arange(3), np.arange(3)))
    windows = circular_windows(x, y, homes)
    assert scan(np.zeros(9, np.int64), windows, seed=1, replicates=19).clusters == ()
    assert scan(np.full(9, 4), windows, seed=1, replicates=19).clusters == ()
    single = np.zeros(9, np.int64)
    single[4] = 1
    assert scan(single, windows, seed=1, replicates=99).standing_out() == ()
    none = np.empty(0, np.int64)
    assert permutation_scan(none, none, x=x, y=y, periods=12, seed=1).cylinders == ()


def test_calls_without_homes_are_refused() -> None:
    x, y = np.array([0.0, 1.0, 2.0]), np.zeros(3)
    windows = circular_windows(x, y, np.array([0.0, 5.0, 5.0]))
    with pytest.raises(InputError, match=r"2 calls in 1 units without homes \(the first is unit 0\)"):
        scan(np.array([2, 0, 1]), windows, seed=1)


def test_without_numba_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    def absent(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr("importlib.import_module", absent)
    with pytest.raises(MissingDataError, match=r"pip install 'tussock\[hotspots\]'"):
        compiling.compiled(lambda: None)


def test_even_counts_show_no_unevenness_and_uneven_ones_theirs() -> None:
    homes = np.full(2000, 10.0)
    assert fitted_unevenness(np.full(2000, 4), homes) == Unevenness(np.inf, 0.4, 2000)
    assert fitted_unevenness(np.full(2000, 4), homes).variation == 0
    assert fitted_unevenness(np.zeros(2000, np.int64), homes).shape == np.inf
    rng = np.random.default_rng(20261125)
    fitted = fitted_unevenness(rng.poisson(rng.gamma(4.0, 0.25, 2000) * homes), homes)
    # of 60 such maps the shapes spread by 0.19 and the levels by 0.012: three to five times that
    assert fitted.shape == pytest.approx(4.0, abs=0.6)
    assert fitted.level == pytest.approx(1.0, abs=0.06)


def test_all_calls_in_one_unit() -> None:
    counts, homes = np.zeros(9, np.int64), np.full(9, 10.0)
    counts[3] = 12
    x, y = (v.ravel().astype(np.float64) for v in np.meshgrid(np.arange(3), np.arange(3)))
    found = scan(counts, circular_windows(x, y, homes), seed=1, replicates=99)
    (one,) = found.clusters
    assert (one.units.tolist(), one.observed, one.relative_risk) == ([3], 12, np.inf)
    assert one.llr == pytest.approx(12 * np.log(9))
    assert one.p == 0.01


def test_no_run_is_longer_than_asked_for() -> None:
    """One place has all calls of eight months of 24: told as runs of at most three."""
    x, y = np.arange(6.0), np.zeros(6)
    unit = np.concatenate([np.repeat(0, 40), np.repeat(np.arange(1, 6), 16)])
    month = np.concatenate([np.tile(np.arange(8, 16), 5), np.tile(np.r_[0:8, 16:24], 5)])
    long, short = (
        permutation_scan(unit, month, x=x, y=y, periods=24, seed=1, replicates=19, most_periods=most)
        for most in (None, 3)
    )
    assert [(c.first, c.last, c.observed) for c in long.cylinders[:1]] == [(8, 15, 40)]
    assert max(c.last - c.first + 1 for c in short.cylinders) == 3
    assert short.cylinders[0].observed == 15
