"""How long cells, rates and the ring test take: ``python tests/benchmarks/hotspot_speed.py [CALLS [HOMES]]``.

To hold: 1,000,000 calls and 500,000 homes in 30 s and 3 GB. Prints the parts apart, and the load of the
machine: on a shared one the processor's own time is the fairer figure.
"""

from __future__ import annotations

import os
import resource
import sys
import time

import numpy as np
import shapely

from tussock.geodesy import Plane
from tussock.hotspots.cells import CallPlaces, Ground, HomePlaces
from tussock.hotspots.hexagons import hexagon_steps
from tussock.hotspots.ring import ring_test
from tussock.hotspots.smoothing import gamma_poisson

CALLS, HOMES, MOST_S, MOST_GB, SEED = 1_000_000, 500_000, 30.0, 3.0, 5


def district(calls: int, homes: int) -> tuple[CallPlaces, HomePlaces, Ground]:
    """Return twelve towns: a tenth of the buildings of unknown use, the east calls twice as often."""
    rng = np.random.Generator(np.random.PCG64(SEED))
    towns = rng.uniform(-40_000, 40_000, (12, 2))
    of = rng.choice(12, homes, p=rng.dirichlet(np.full(12, 2.0)))
    x, y = (towns[of] + rng.normal(0, 2500, (homes, 2))).T
    low = (rng.random(homes) < 0.9).astype(np.float64)
    weight = np.where(x > 0, 2.0, 1.0)
    caller = rng.choice(homes, calls, p=weight / weight.sum())
    there = CallPlaces(x[caller] + rng.normal(0, 20, calls), y[caller] + rng.normal(0, 20, calls))
    extent = shapely.Point(0, 0).buffer(48_000, quad_segs=500)
    region = shapely.box(-50_000, -50_000, 50_000, 50_000)
    return there, HomePlaces(x, y, low, np.ones(homes)), Ground(Plane(147.3, -42.9), extent, region)


def main(calls: int, homes: int) -> int:
    """Count, smooth and test; return 1 where it took too long or too much."""
    places, homes_at, ground = district(calls, homes)
    start, used = time.perf_counter(), time.process_time()
    steps = hexagon_steps(places, homes_at, ground=ground)
    counted = time.perf_counter()
    cells = steps.chosen
    smoothed = gamma_poisson(cells.incidents[cells.tested], cells.homes[cells.tested])
    rated = time.perf_counter()
    ring = ring_test(
        cells.incidents,
        homes_low=cells.homes_low,
        homes_high=cells.homes_high,
        starts=cells.starts,
        neighbours=cells.neighbours,
        tested=cells.tested,
    )
    ended = time.perf_counter()
    took, own = ended - start, time.process_time() - used
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    assert cells.call_tally.read == calls
    print(f"{calls:,} calls, {homes:,} homes: {steps.choice.rule}; {cells.call_tally}")
    print(
        f"cells at three resolutions ({len(steps.coarser.names):,}, {len(cells.names):,}, "
        f"{len(steps.finer.names):,}) {counted - start:.1f} s; rates {rated - counted:.1f} s, unevenness "
        f"{smoothed.model.variation:.2f}; ring test {ended - rated:.1f} s, {int(ring.flagged.sum())} flagged"
    )
    load = " ".join(f"{v:.1f}" for v in os.getloadavg())
    print(
        f"together {took:.1f} s (≤ {MOST_S:.0f} s), {own:.1f} s of the processor, peak {peak:.2f} GB (≤ "
        f"{MOST_GB:.0f} GB); load {load} on {os.cpu_count()} processors"
    )
    return int(took > MOST_S * calls / CALLS or peak > MOST_GB)


if __name__ == "__main__":
    given = [int(v) for v in sys.argv[1:3]]
    raise SystemExit(main(*given, *(CALLS, HOMES)[len(given) :]))
