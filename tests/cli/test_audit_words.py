"""What the audit says on the terminal of a place that no map holds."""

from __future__ import annotations

import csv
from pathlib import Path

from tests.cli.running import DATA, Runner


def _one(folder: Path, name: str, **cells: str) -> str:
    """Write the row of C-001 with some cells changed, and return the file's name."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        (row,) = [r for r in csv.DictReader(file) if r["captureID"] == "C-001"]
    with (folder / name).open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(row))
        writer.writeheader()
        writer.writerow(row | cells)
    return name


def test_a_place_far_beyond_the_region_is_told_in_words(run: Runner, tmp_path: Path) -> None:
    far = {"decimalLatitude": "-42.100000", "decimalLongitude": "148.600000"}
    seen = run(
        "audit", "--captures", _one(tmp_path, "captures.csv", **far), "--releases",
        _one(tmp_path, "releases.csv", **far), "--permit", str(DATA / "permit.toml"), "--region", str(DATA),
        "--now", "2026-11-16T18:00:00+11:00",
    )  # fmt: skip
    assert seen.code == 1, seen.err
    lines = [line for line in seen.out.splitlines() if "beyond the edge of the region" in line]
    assert lines, seen.out
    assert all("uncertain" in line and "against" not in line for line in lines)
    assert "inf" not in seen.out


def test_without_a_register_of_consents_the_clause_lacks_an_answer(run: Runner, tmp_path: Path) -> None:
    """The same record with and without one: what nobody gave finds nothing, an empty register does."""
    typed = (
        "audit", "--captures", _one(tmp_path, "captures.csv"), "--releases", _one(tmp_path, "releases.csv"),
        "--permit", str(DATA / "permit.toml"), "--region", str(DATA), "--now", "2026-11-16T18:00:00+11:00",
    )  # fmt: skip
    (said,) = [line for line in run(*typed).out.splitlines() if " 8(a) " in line]
    assert "missing" in said and "no register of consents is given" in said
    assert " 8(a) " not in run(*typed, "--consents", str(DATA / "consents.csv")).out  # met, so not printed
    register = (DATA / "consents.csv").read_text("utf-8").splitlines()
    for lines in (register[:1], [register[0], register[-1]]):
        (tmp_path / "other.csv").write_text("\n".join(lines) + "\n", "utf-8")
        out = run(*typed, "--consents", "other.csv").out.splitlines()
        (said,) = [line for line in out if " 8(a) " in line]
        assert "not met: on ground without consent" in said
