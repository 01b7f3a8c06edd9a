"""How fast the scans are, beside a plain loop in Python on a small case, in one run on one machine.

Run it as ``python -m tests.benchmarks.scan_speed``. Seconds differ from machine to machine, and with
what else runs on it; the ratio hardly does. The target is 999 maps on 5,000 cells within 60 s on two
processors, for each kind of map.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from itertools import pairwise

import numpy as np

from tests.support import scanning
from tussock.hotspots.scan import made_up, scan
from tussock.hotspots.scan_space_time import permutation_scan
from tussock.hotspots.search import Search
from tussock.hotspots.search_space_time import CylinderSearch
from tussock.hotspots.windows import Windows, circular_windows, grid_centres


def district(columns: int, rows: int, *, corners: bool = False) -> Windows:
    """Return windows over square cells of 200 m with uneven homes; centres: cells, or corners as well."""
    grid = np.meshgrid(np.arange(columns), np.arange(rows))
    x, y = (v.ravel().astype(np.float64) * 200 for v in grid)
    homes = np.random.default_rng(20261125).gamma(1.0, 10.0, len(x)).round() + 1
    return circular_windows(x, y, homes, centres=grid_centres(x, y, step_m=100.0) if corners else None)


def seconds(work: Callable[[], object]) -> float:
    """Return how long something takes [s]."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def spatial(calls: int) -> None:
    """Print the times of a scan of 5,000 cells."""
    made: list[Windows] = []
    print(f"5,000 cells, {calls:,} calls")
    print(f"  windows                          {seconds(lambda: made.append(district(100, 50))):8.2f} s")
    windows = made[0]
    chances = windows.exposure / windows.exposure.sum()
    search = Search(windows, chances * calls, calls, None)
    for kind, shape in (("chance", float("inf")), ("unevenness", 5.0)):
        took = seconds(
            lambda shape=shape: search.greatest(made_up(chances, calls, 999, seed=1, shape=shape))  # type: ignore[misc]  # a default that binds
        )
        print(f"  999 maps by {kind:<21}{took:8.2f} s")
    counts = made_up(chances, calls, 1, seed=3, shape=5.0)[0]
    print(f"  whole scan, both kinds of map    {seconds(lambda: scan(counts, windows, seed=1)):8.2f} s")


def beside_a_plain_loop() -> None:
    """Print the ratio to a plain loop over windows with running sums, for one map of 400 cells."""
    windows = district(20, 20)
    chances, calls = windows.exposure / windows.exposure.sum(), 500
    maps = made_up(chances, calls, 640, seed=1)
    search = Search(windows, chances * calls, calls, 1)
    fast = seconds(lambda: search.greatest(maps)) / len(maps)
    plain: list[float] = []
    slow = seconds(lambda: plain.append(plainly(windows, maps[0].tolist(), (chances * calls).tolist())))
    same = abs(plain[0] - float(search.greatest(maps[:1]).ratio[0])) < 1e-9
    print(f"400 cells, one map, one thread: plain loop {slow * 1e3:.1f} ms, ours {fast * 1e3:.3f} ms:")
    print(f"  {slow / fast:,.0f} times as fast, {'the same ratio' if same else 'ANOTHER RATIO'}")


def plainly(windows: Windows, counts: list[int], expected: list[float]) -> float:
    """Return a map's greatest ratio: the loop that one would write first."""
    members, closed, starts = windows.members.tolist(), windows.closed.tolist(), windows.starts.tolist()
    total, best = sum(counts), 0.0
    for first, stop in pairwise(starts):
        c, e = 0, 0.0
        for place in range(first, stop):
            c += counts[members[place]]
            e += expected[members[place]]
            if closed[place]:
                best = max(best, scanning.ratio(c, e, total))
    return best


def space_time(calls: int) -> None:
    """Print the time of a permutation scan over 36 months, beside searching its maps one by one."""
    rng = np.random.default_rng(1)
    x, y = rng.uniform(0, 10_000, (2, 600))
    unit, month = rng.integers(0, 600, calls), rng.integers(0, 36, calls)
    took = seconds(lambda: permutation_scan(unit, month, x=x, y=y, periods=36, seed=1))
    print(f"permutation scan, 600 units, 36 months, {calls:,} calls, 999 maps {took:8.2f} s")
    table = np.zeros((600, 36), np.int64)
    np.add.at(table, (unit, month), 1)
    kept = table.sum(axis=1) > 0
    per_unit = table[kept].sum(axis=1).astype(np.float64)
    windows = circular_windows(x[kept], y[kept], per_unit)
    search = CylinderSearch(windows, per_unit, table.sum(axis=0), 18, 1)
    search.greatest(lambda _: table[kept], maps=1)
    ours = seconds(lambda: search.greatest(lambda _: table[kept], maps=64)) / 64
    single = seconds(lambda: search.greatest_of(table[kept]))
    print(f"  one map, one thread: by itself {single * 1e3:.1f} ms, of 64 side by side {ours * 1e3:.1f} ms:")
    print(f"  {single / ours:.1f} times as fast")


def space_time_beside_a_plain_loop() -> None:
    """Print the ratio to plain loops over sets, for one map of 60 calls."""
    rng = np.random.default_rng(2)
    x, y = rng.uniform(0, 10_000, (2, 30))
    unit, month = rng.integers(0, 30, 60), rng.integers(0, 12, 60)
    used, row = np.unique(unit, return_inverse=True)
    per_unit = np.bincount(row).astype(np.float64)
    table = np.zeros((len(used), 12), np.int64)
    np.add.at(table, (row, month), 1)
    windows = circular_windows(x[used], y[used], per_unit)
    search = CylinderSearch(windows, per_unit, table.sum(axis=0), 6, 1)
    fast = seconds(lambda: search.greatest(lambda _: table, maps=640)) / 640
    places, calls = (
        list(zip(x.tolist(), y.tolist(), strict=True)),
        list(zip(unit.tolist(), month.tolist(), strict=True)),
    )
    plain: list[float] = []
    slow = seconds(lambda: plain.append(scanning.best_cylinder(places, calls, 12)))
    same = abs(plain[0] - search.greatest_of(table)) < 1e-9
    print(
        f"60 calls, 30 units, 12 months, one map, one thread: plain loops {slow * 1e3:.0f} ms, ours ", end=""
    )
    print(f"{fast * 1e3:.3f} ms:")
    print(f"  {slow / fast:,.0f} times as fast, {'the same ratio' if same else 'ANOTHER RATIO'}")


if __name__ == "__main__":
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    one = np.arange(9.0)
    scan(np.arange(9), circular_windows(one, one, one + 1), seed=1, replicates=19)  # compiles, uncounted
    permutation_scan(np.arange(9), np.arange(9) % 3, x=one, y=one, periods=3, seed=1, replicates=19)
    for number in (1_000, 10_000):
        spatial(number)
    fine = district(100, 50, corners=True)
    some = made_up(fine.exposure / fine.exposure.sum(), 1_000, 1, seed=3, shape=5.0)[0]
    print(f"whole scan, {len(fine.centre_x):,} centres: cells, corners, edges' middles")
    print(f"  both kinds of map, 1,000 calls   {seconds(lambda: scan(some, fine, seed=1)):8.2f} s")
    del fine
    beside_a_plain_loop()
    for number in (300, 1_000):
        space_time(number)
    space_time_beside_a_plain_loop()
