"""Data on stdout, talk on stderr."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from tests.cli.running import Runner
from tussock.maps.cautions import CAUTIONS
from tussock.planning.record import Plan

pytestmark = pytest.mark.usefixtures("quick")


def test_the_table_reads_latitude_first_and_counts_clauses(run: Runner, known: dict[str, Plan]) -> None:
    ran = run.plan()
    lines = ran.out.splitlines()
    site = known["plan"].sites[0]
    assert lines[0].split("  ")[0].strip() == "site"
    assert f"{site.latitude:.6f}, {site.longitude:.6f}" in lines[2]
    assert re.search(r"meets \d+ checked, you confirm \d+, \d+ not checked", lines[2])
    assert "The nearest place that meets every clause" in ran.out
    assert "Ruled out of 1 257 ha within 2 000 m (3(a)):" in ran.out  # pi times 2 km squared is 1256.6 ha


def test_cautions_stand_once_on_stderr(run: Runner) -> None:
    ran = run.plan()
    assert all(ran.err.count(c) == 1 for c in CAUTIONS)
    assert not any(c in ran.out for c in CAUTIONS)


def test_shipped_house_rules_are_said_in_a_script(run: Runner) -> None:
    ran = run.plan()
    assert "House rules (shipped, a judgement and not law" in ran.err
    assert "dwellings, dangerous 200 m" in ran.err
    assert "House rules" not in ran.out


def test_json_is_the_record(run: Runner, known: dict[str, Plan]) -> None:
    ran = run.plan(None, "--format", "json")
    record = json.loads(ran.out)
    assert record["capture"]["id"] == "C-061"
    assert len(record["sites"]) == len(known["plan"].sites)


def test_csv_has_a_row_a_site(run: Runner, known: dict[str, Plan]) -> None:
    ran = run.plan(None, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(ran.out)))
    assert [r["rank"] for r in rows] == [str(s.rank) for s in known["plan"].sites]
    first = known["plan"].sites[0]
    assert float(rows[0]["decimalLatitude"]) == first.latitude
    assert float(rows[0]["decimalLongitude"]) == first.longitude
    assert rows[0]["captureID"] == "C-061"
    assert int(rows[0]["clauses_met"]) == first.checked


@pytest.mark.parametrize("output", ["table", "json", "csv"])
def test_share_leaves_out_positions_and_ids(output: str, run: Runner, known: dict[str, Plan]) -> None:
    plain = run.plan(None, "--format", output)
    shared = run.plan(None, "--format", output, "--share")
    site = known["plan"].sites[0]
    secrets = [f"{site.latitude}"[:8], f"{site.longitude}"[:8], *(["C-061"] if output != "table" else [])]
    assert all(secret in plain.out for secret in secrets)
    assert not any(secret in shared.out for secret in (*secrets, "-42.102584", "147.570472", "PDW-0417"))


def test_without_out_nothing_is_written(run: Runner, tmp_path: Path) -> None:
    run.plan()
    assert list(tmp_path.iterdir()) == []


def test_a_name_does_not_steer_the_terminal(run: Runner) -> None:
    ran = run.plan({"--species": "<script>alert(1)</script>"})
    assert ran.code == 0
    assert "\x1b" not in ran.out + ran.err
