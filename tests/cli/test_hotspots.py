"""``tussock hotspots`` on the invented district, and on calls that cannot be counted."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import DATA, Runner
from tussock.maps.hotspots_files import FILES

FIXED = ["--region", str(DATA), "--timezone", "Australia/Hobart", "--now", "2026-11-16T18:00:00+11:00"]
OBSERVED = ["--observed", "2025-09-01..2026-11-16", "--replicates", "99"]
HEAD = "calloutID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,outcome"
CALL = "2026-01-10T10:00:00+11:00,-42.0990,147.5840,20,not_found"


def _table(folder: Path, *rows: str) -> list[str]:
    (folder / "calls.csv").write_text("\n".join([HEAD, *rows]) + "\n", "utf-8")
    return ["--callouts", "calls.csv"]


def test_the_district_from_tables(run: Runner, tmp_path: Path) -> None:
    tables = ["--callouts", str(DATA / "callouts.csv"), "--captures", str(DATA / "captures.csv")]
    ran = run("hotspots", *tables, *FIXED, *OBSERVED, "--out", "where")
    assert ran.code == 0, ran.err
    assert "times as often" in ran.out and "Calls to this logbook, not snakes." in ran.err
    first = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert set(first) == {f"where{end}" for end in FILES}
    assert run("hotspots", *tables, *FIXED, *OBSERVED, "--out", "where").out == ran.out
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == first
    told = json.loads(run("hotspots", *tables, *FIXED, *OBSERVED, "--format", "json").out)
    with (DATA / "callouts.csv").open(encoding="utf-8", newline="") as file:
        assert told["counted"]["read"] == len(list(csv.DictReader(file)))


def test_what_is_not_counted_is_counted_apart(run: Runner, tmp_path: Path) -> None:
    rows = [f"K-{n},{CALL}" for n in (1, 2)]
    rows += [
        "K-3,2026-01-10T10:00:00+11:00,-41.0000,147.5840,20,not_found",  # outside the region
        "K-4,2027-01-10T10:00:00+11:00,-42.0990,147.5840,20,not_found",  # still to come
        "K-5,2024-01-10T10:00:00+11:00,-42.0990,147.5840,20,not_found",  # before the time observed
        "K-6,2026-01-10T10:00:00+11:00,,,,advice_only",
    ]
    ran = run("hotspots", *_table(tmp_path, *rows), *FIXED, *OBSERVED, "--format", "json")
    assert ran.code == 0, ran.err
    told = json.loads(ran.out)["counted"]
    assert (told["read"], told["calls"], told["incidents"]) == (6, 2, 1)
    assert [told[k] for k in ("outside_region", "future", "other_times", "without_place")] == [1, 1, 1, 1]


def test_a_single_call_claims_nothing(run: Runner, tmp_path: Path) -> None:
    ran = run("hotspots", *_table(tmp_path, f"K-1,{CALL}"), *FIXED, *OBSERVED)
    assert ran.code == 0, ran.err
    assert "times as often" not in ran.out.splitlines()[0]
    assert "Cluster within" not in ran.out


@pytest.mark.parametrize(
    ("more", "code", "words"),
    [
        (["--observed", "2026-01-01"], 2, "two dates"),
        (["--observed", "2026-02-01..2026-01-01"], 2, "swap"),
        (["--observed", "2025-09-01..2026-11-17"], 2, "still to come"),
        (["--base", "far away"], 2, "--base"),
        (["--region", "nowhere"], 3, "nowhere"),
        (["--logbook", "book.db"], 2, "both"),
    ],
)
def test_what_cannot_be_done_is_said(
    run: Runner, tmp_path: Path, more: list[str], code: int, words: str
) -> None:
    ran = run("hotspots", *_table(tmp_path, f"K-1,{CALL}"), *FIXED, *OBSERVED, *more)
    assert (ran.code, words in ran.err) == (code, True), ran.err


@pytest.mark.parametrize("cells", ["10.01.2026 10:00", "2026-01-10T10:00:00"])
def test_a_time_that_is_none_is_refused(run: Runner, tmp_path: Path, cells: str) -> None:
    row = CALL.replace("2026-01-10T10:00:00+11:00", cells)
    ran = run("hotspots", *_table(tmp_path, f"K-1,{row}"), *FIXED, *OBSERVED)
    assert ran.code == 3 and "eventDate" in ran.err and "Traceback" not in ran.err


def test_without_its_packages_it_says_what_to_install(tmp_path: Path) -> None:
    """In a process of its own: what was imported once stays."""
    typed = ["hotspots", *_table(tmp_path, f"K-1,{CALL}"), *FIXED, *OBSERVED]
    code = (
        "import sys; sys.modules['numba'] = sys.modules['h3'] = None; from tussock.cli import main; "
        f"sys.exit(main({typed!r}))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 4 and "tussock[hotspots]" in ran.stderr
