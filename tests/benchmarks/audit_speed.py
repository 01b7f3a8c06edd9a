"""How fast very many releases are audited, beside other ways to do it, in one run on one machine.

Run it as ``python tests/benchmarks/audit_speed.py [RELEASES]`` (10⁶ when left out): seeded releases in
the demo district under twelve clauses of its permit. Seconds differ from machine to machine, the ratios
hardly do.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from tussock.ground.region import Region, forget, open_region
from tussock.measure.judging import ClauseResult
from tussock.permit.capture_book import BookedCapture
from tussock.permit.permit_file import Permit, read_permit
from tussock.position import Position
from tussock.review.audit import Kept
from tussock.review.auditing import Beside, audit
from tussock.review.bulk import BATCH, BulkVerdicts, judge_bulk
from tussock.review.bulk_columns import Code, Columns
from tussock.review.handling import Handling
from tussock.review.judged import Book, Judged, judge_record
from tussock.species.answers import read_recorded_animal
from tussock.species.profiles import load_profiles

DEMO = Path(__file__).parents[2] / "data-demo"
CLAUSES = ("1(a)", "3(a)", "3(b)", "3(c)", "3(d)", "4(a)", "5(a)", "5(b)", "5(c)", "7(a)", "7(b)", "9(a)")
NOW = datetime(2027, 7, 1, tzinfo=UTC)
FIRST, LAST = datetime(2025, 7, 1, tzinfo=UTC), datetime(2027, 6, 25, tzinfo=UTC)
NAMES = ("Notechis scutatus", "Austrelaps superbus", "Drysdalia coronoides", "Pseudonaja textilis")
JOINED, ROWS, BOOKED = 50_000, 200, 5000
"""Sample sizes of the slower ways."""


def main() -> None:
    """Print the rates and their ratios."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    region, permit = open_region(DEMO), _permit()
    records = synthetic(n, seed=20261125)
    forget()
    start = time.perf_counter()
    found = judge_bulk(records, permit, region, now=NOW, progress=_progress)
    seconds = time.perf_counter() - start
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rate = n / seconds
    print(
        f"{n} releases x {len(CLAUSES)} clauses: {seconds:.2f} s, {rate:,.0f} releases/s, two threads, cold"
    )
    print(f"largest memory: {memory:.0f} MiB; decided by surfaces: {found.screened:.2%} of the measurements")
    print(f"left to the definition: {len(found.left)} (release, clause) pairs")
    print("worst verdicts:", {Code(k).name: c for k, c in sorted(Counter(found.worst.tolist()).items())})
    for clause, by_bounds, by_vectors in zip(found.clauses, found.by_bounds, found.by_vectors, strict=True):
        if by_bounds + by_vectors:
            share = by_bounds / (by_bounds + by_vectors)
            print(f"  {clause.version} {clause.condition.id:5s} {share:7.2%} by surfaces")
    print(f"findings table (Parquet), apart: {_written(found):.2f} s")
    joined = _joined(records, region)
    print(f"geopandas, three sjoin_nearest alone: {joined:,.0f} releases/s; in bulk x {rate / joined:.1f}")
    single, same = _one_by_one(records, permit, region, found)
    print(f"judge_record, row by row: {single:,.1f} releases/s; in bulk x {rate / single:,.0f}")
    print(f"of {ROWS} rows judged both ways {same} have the same verdicts throughout")
    _in_full(records, region)


def _in_full(records: Columns, region: Region) -> None:
    """Print how fast a book is audited with every interval, under the whole permit, beside row by row."""
    permit = read_permit(DEMO / "permit.toml")
    told = [
        replace(_handling(records, i), capture_id=f"S{i}", answers={permit.id: {}})
        for i in range(min(BOOKED, len(records)))
    ]
    booked = tuple(BookedCapture(h.captured, h.animal.scientific_name, 1, h.capture_id) for h in told)
    kept, beside = [Kept(h.capture_id, h) for h in told], Beside(now=NOW, captures=booked)
    audit(kept[:ROWS], permit, region, beside)  # layers and their indexes are made
    start = time.process_time()
    rows = audit(kept, permit, region, beside).rows
    rate = len(told) / (time.process_time() - start)
    some, book = told[:ROWS], Book(NOW, captures=booked)
    start = time.process_time()
    plain = [judge_record(h, permit, region, book) for h in some]
    single = ROWS / (time.process_time() - start)
    unlike = sum(
        row.judged is None or _but_releases(row.judged) != _but_releases(one)
        for row, one in zip(rows, plain, strict=False)
    )
    clauses = max(len(v.conditions) for v in permit.versions)
    print(f"audit() in full, {clauses} clauses, {len(told)} records: {rate:,.0f} records/s of one processor")
    print(f"judge_record, row by row, the same clauses: {single:,.0f}; audit() x {rate / single:.1f}")
    print(f"of {ROWS} rows judged both ways {unlike} differ in anything")


def _but_releases(judged: Judged) -> list[ClauseResult]:
    """Return the results but those that count other releases: one record alone has none beside it."""
    return [r for r in judged.results if r.kind != "max_releases_near"]


def _progress(done: int, of: int) -> None:
    print(f"\r{done}/{of}", end="\n" if done == of else "", file=sys.stderr, flush=True)


def _permit() -> Permit:
    permit = read_permit(DEMO / "permit.toml")
    kept = [replace(v, conditions=tuple(c for c in v.conditions if c.id in CLAUSES)) for v in permit.versions]
    return replace(permit, versions=tuple(kept))


def synthetic(n: int, *, seed: int) -> Columns:
    """Return seeded releases all over the district, by day and night, 3–100 m uncertain."""
    rng = np.random.default_rng(seed)
    animals = tuple(
        read_recorded_animal(
            {"scientificName": name, "identification": "certain", "individualCount": "1"},
            book=load_profiles(),
        )
        for name in NAMES
    )
    lon, lat = 147.6 + rng.uniform(-0.054, 0.041, n), -42.1 + rng.uniform(-0.040, 0.040, n)
    captured = np.floor(rng.uniform(FIRST.timestamp(), LAST.timestamp(), n))
    disposed = captured + np.floor(rng.exponential(5 * 3600, n))
    radii = np.exp(rng.uniform(np.log(3), np.log(100), (2, n)))
    return Columns(
        capture_lon=lon,
        capture_lat=lat,
        capture_radius_m=radii[0],
        release_lon=lon + rng.normal(0, 0.012, n),
        release_lat=lat + rng.normal(0, 0.009, n),
        release_radius_m=radii[1],
        captured=captured,
        disposed=disposed,
        trap_checked=np.full(n, np.nan),
        recorded=disposed + np.floor(rng.exponential(24 * 3600, n)),
        animal=rng.choice(len(animals), n, p=[0.6, 0.25, 0.1, 0.05]),
        disposal=np.zeros(n, dtype=np.int64),
        handler=np.zeros(n, dtype=np.int64),
        animals=animals,
        disposals=("released",),
    )


def _written(found: BulkVerdicts) -> float:
    """Write every finding as (release, clause, verdict) and return the seconds."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    start = time.perf_counter()
    names = [f"{c.version} {c.condition.id}" for c in found.clauses]
    words = [code.name.lower() for code in Code]
    with tempfile.TemporaryDirectory() as folder:
        columns = {
            name: pa.DictionaryArray.from_arrays(pa.array(found.codes[:, k].astype(np.int8)), words)
            for k, name in enumerate(names)
        }
        pq.write_table(pa.table(columns), Path(folder) / "findings.parquet")
    return time.perf_counter() - start


def _joined(records: Columns, region: Region) -> float:
    """Return releases/s of geopandas' nearest joins in the plane, for the three distances alone."""
    import geopandas

    some = records.taken(slice(0, JOINED))
    x, y = region.plane.project(some.release_lon, some.release_lat)
    points = geopandas.GeoDataFrame(geometry=geopandas.points_from_xy(x, y))
    layers = [region.layer(name).features for name in ("dwellings", "roads", "peopled_places")]
    others = [geopandas.GeoDataFrame(geometry=one.geometries) for one in layers]
    start = time.perf_counter()
    for other in others:
        points.sjoin_nearest(other, distance_col="away")
    return JOINED / (time.perf_counter() - start)


def _one_by_one(records: Columns, permit: Permit, region: Region, found: BulkVerdicts) -> tuple[float, int]:
    """Return releases/s of the definition on a sample, and how many rows have the same verdicts."""
    rows = np.random.default_rng(7).choice(len(records), ROWS, replace=False)
    judge_record(_handling(records, int(rows[0])), permit, region, Book(NOW))
    start = time.perf_counter()
    judged = [judge_record(_handling(records, int(i)), permit, region, Book(NOW)) for i in rows]
    rate = ROWS / (time.perf_counter() - start)
    same = 0
    for i, one in zip(rows, judged, strict=True):
        asked = [Code(c) for c in found.codes[i] if c != Code.NOT_ASKED]
        verdicts = sorted(str(r.verdict) for r in one.results)
        same += sorted(c.name.lower() for c in asked) == verdicts and len(asked) == len(verdicts)
    return rate, same


def _handling(records: Columns, i: int) -> Handling:
    one = records.taken(slice(i, i + 1))
    moments = [datetime.fromtimestamp(float(t[0]), UTC) for t in (one.captured, one.disposed, one.recorded)]
    return Handling(
        capture_id=f"S{i}",
        taken_at=Position(
            float(one.capture_lon[0]), float(one.capture_lat[0]), float(one.capture_radius_m[0])
        ),
        let_go_at=Position(
            float(one.release_lon[0]), float(one.release_lat[0]), float(one.release_radius_m[0])
        ),
        captured=moments[0],
        disposed=moments[1],
        recorded=moments[2],
        disposal="released",
        animal=one.animals[int(one.animal[0])],
    )


if __name__ == "__main__":
    print(f"batches of {BATCH}")
    main()
