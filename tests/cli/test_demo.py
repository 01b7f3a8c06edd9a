"""``tussock demo``: the whole job on the invented district."""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import DATA, Runner
from tussock.demo.cases import TABLES
from tussock.maps import audit_outputs, hotspots_files
from tussock.tables import csv_text

FILES = {
    f"{n}.{s}"
    for n in ("today", "night", "lapsed-consent", "no-site")
    for s in ("html", "geojson", "gpx", "json")
} | {"seasons.csv"}
KEPT = (
    {"logbook.db"}
    | {f"audit{end}" for end in audit_outputs.FILES}
    | {f"return{end}" for end in (".csv", "-lines.csv", ".xlsx", "-filed.txt")}
)
FILES |= KEPT | {f"hotspots{end}" for end in hotspots_files.FILES}
FEW = ("C-009", "C-022", "C-025", "C-044", "C-052", "C-061")


@pytest.fixture
def few(district: Path) -> Path:
    """Give the district with six captures: those that have a page, one injured, and one with sites."""
    for name in TABLES.values():
        with (district / name).open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        kept = [r for r in rows if r.get("captureID", FEW[0]) in ("", *FEW)]
        (district / name).write_text(csv_text(list(rows[0]), kept), "utf-8")
    return district


def _bytes(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def test_the_whole_job(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "data-demo").symlink_to(DATA)
    ran = run("demo")
    assert ran.code == 0, ran.err
    assert set(_bytes(tmp_path / "maps")) == FILES
    for step in (
        "1. The ground",
        "2. The permit",
        "3. Today",
        "4. At night",
        "5. A lapsed consent",
        "6. The seasons",
        "7. The book",
        "8. The audit",
        "9. The return",
        "10. ",
        "11. ",
    ):
        assert step in ran.out
    with (tmp_path / "maps/seasons.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {r["captureID"] for r in rows} == _captures(), "none is left out, refused ones included"
    refused = [r for r in rows if not r["rank"]]
    assert refused and all(r["stop"] for r in refused)
    assert all(
        r["way_on"] for r in refused if r["captureID"] in ("C-017", "C-019", "C-022", "C-033", "C-041")
    )
    assert all(f"{r['captureID']}: " in ran.out for r in refused)
    today = json.loads((tmp_path / "maps/today.json").read_text("utf-8"))
    assert today["capture"]["id"] == "C-061" and today["sites"]
    stopped = json.loads((tmp_path / "maps/no-site.json").read_text("utf-8"))
    assert stopped["sites"] == [] and stopped["obstacles"] and not stopped["needs_consent"]
    _kinds_at_work(ran.out, tmp_path / "maps")
    _book_kept(ran.out, tmp_path / "maps")


def _book_kept(said: str, maps: Path) -> None:
    """Every planted problem is found, none besides; the return balances; a correction shows beside it."""
    assert re.search(r"All \d+ planted problems are found, none besides\.", said)
    filed, now = (
        next(line for line in said.splitlines() if f" {w} C-009," in line) for w in ("filed:", "now:  ")
    )
    assert filed.strip() != now.strip()
    with (maps / "return.csv").open(encoding="utf-8", newline="") as file:
        total = {k: int(v) for k, v in list(csv.DictReader(file))[-1].items() if v.isdigit()}
    entered = total.pop("held at start") + total.pop("captured")
    assert entered == sum(total.values()) > 0
    with (maps / "audit.csv").open(encoding="utf-8", newline="") as file:
        assert {r["captureID"] for r in csv.DictReader(file)} == _captures()


def _captures() -> set[str]:
    with (DATA / "captures.csv").open(encoding="utf-8", newline="") as file:
        return {r["captureID"] for r in csv.DictReader(file)}


def _kinds_at_work(said: str, maps: Path) -> None:
    """Dates of the consents and fires are the district's own; the sun's are tested elsewhere."""
    night = json.loads((maps / "night.json").read_text("utf-8"))
    assert night["sites"] == [] and night["authority_answer"] == {"who": None, "what": None, "when": None}
    assert "All of them can be met between 05:52 on 4 November and 12:04 on 4 November" in said
    lapsed = json.loads((maps / "lapsed-consent.json").read_text("utf-8"))
    assert "Consent CN-009 for P-00157 does not count: it ran out on 2026-06-30" in str(
        lapsed["needs_consent"]
    )
    assert "Burnt ground: clause 5(c) rules out" in said
    assert "burnt: in force from 2026-02-10 to 2027-02-10" in (maps / "today.html").read_text("utf-8").lower()


def _demo(folder: Path, *, data: Path, seed: str) -> str:
    """Run the demo in a folder of its own; return what it said."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONHASHSEED": seed}
    command = [sys.executable, "-m", "tussock.cli", "demo", "--data", str(data), "--out", "maps"]
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_same_bytes_wherever_the_district_lies_and_whatever_the_folder_says(
    few: Path, tmp_path: Path
) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    for folder in (first, second):
        folder.mkdir()
    said = _demo(first, data=few, seed="1")
    (second / "tussock.toml").write_text("[house_rules]\nconditions = []\n", "utf-8")
    again = _demo(second, data=few.rename(tmp_path / "elsewhere"), seed="2")
    made = _bytes(first / "maps")
    assert set(made) == FILES and made == _bytes(second / "maps")
    assert said == again
    _nobody_named(said, made, tmp_path / "elsewhere" / "holders.csv")


def _nobody_named(said: str, made: dict[str, bytes], table: Path) -> None:
    """Who holds ground is said on the terminal, and stands in no file."""
    with table.open(encoding="utf-8", newline="") as file:
        holders = {v for r in csv.DictReader(file) for v in (r["holder"], r["contact"])}
    assert any(h in said for h in holders)
    for name, content in made.items():
        assert not [h for h in holders if h.encode() in content], name


def test_without_the_district(run: Runner, tmp_path: Path) -> None:
    ran = run("demo")
    assert (ran.code, ran.out) == (3, "")
    assert "data-demo: the invented district is not there" in ran.err and "--data" in ran.err
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_the_way_stops_it_before_the_work(run: Runner, few: Path, tmp_path: Path) -> None:
    (tmp_path / "maps").mkdir()
    (tmp_path / "maps/today.html").write_text("mine", "utf-8")
    ran = run("demo", "--data", str(few))
    assert (ran.code, ran.out) == (3, "")
    assert _bytes(tmp_path / "maps") == {"today.html": b"mine"}
    assert run("demo", "--data", str(few), "--force").code == 0
    assert set(_bytes(tmp_path / "maps")) == FILES
