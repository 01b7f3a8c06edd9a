"""``tussock return`` on the invented district, held against a plain count of its tables."""

from __future__ import annotations

import csv
import json
from collections import Counter
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.cli.running import DATA, Runner

ARGUMENTS = [
    "return",
    *("--captures", str(DATA / "captures.csv"), "--releases", str(DATA / "releases.csv")),
    *("--permit", str(DATA / "permit.toml"), "--now", "2026-11-20T12:00:00+11:00"),
]


def rows(path: Path) -> list[dict[str, str]]:
    with path.open() as file:
        return list(csv.DictReader(file))


def test_a_season_counts_its_animals(run: Runner, tmp_path: Path) -> None:
    done = run(*ARGUMENTS, "--period-end", "2026-06-30", "--out", "return")
    assert done.code == 0, done.err
    expected: Counter[str] = Counter()
    season: Counter[str] = Counter()
    for capture in rows(DATA / "captures.csv"):
        if "2025-07-01" <= capture["eventDate"][:10] <= "2026-06-30":  # local dates, as the offsets are
            expected["captured"] += int(capture["individualCount"])
            season[capture["captureID"]] = int(capture["individualCount"])
    for row in rows(DATA / "releases.csv"):
        if row["captureID"] in season:
            expected[row["disposal"]] += int(row["individualCount"])
            season[row["captureID"]] -= int(row["individualCount"])
    assert not any(season.values()), "none was held over the end of the period"
    found = next(r for r in rows(tmp_path / "return.csv") if r["species"] == "all")
    assert {c: int(n) for c, n in found.items() if c != "species" and n != "0"} == dict(expected)
    lines = rows(tmp_path / "return-lines.csv")
    assert sum(int(line["animals"]) for line in lines) == expected["captured"]


def test_a_period_with_gaps_is_refused_or_marked(run: Runner, tmp_path: Path) -> None:
    refused = run(*ARGUMENTS, "--period-end", "2027-06-30", "--out", "return")
    assert refused.code == 3
    assert "C-048" in refused.err
    assert "not over" in refused.err
    assert not list(tmp_path.iterdir())
    marked = run(*ARGUMENTS, "--period-end", "2027-06-30", "--incomplete", "--out", "return")
    assert marked.code == 1
    assert marked.out.startswith("INCOMPLETE")
    assert any("C-048" in r["INCOMPLETE"] for r in rows(tmp_path / "return-incomplete.csv"))


def test_columns_of_ones_own(run: Runner, tmp_path: Path) -> None:
    form = "".join(
        f'[[columns]]\nheader = "{header}"\nholds = "{holds}"\n'
        for header, holds in (("Taxon", "species"), ("Sex", "column:sex"))
    )
    (tmp_path / "form.toml").write_text(form)
    done = run(*ARGUMENTS, "--period-end", "2026-06-30", "--columns", "form.toml", "--out", "return")
    assert done.code == 0
    assert set(rows(tmp_path / "return-lines.csv")[0]) == {"Taxon", "Sex"}
    (tmp_path / "form.toml").write_text(form.replace('"species"', '"weight"'))
    wrong = run(*ARGUMENTS, "--period-end", "2026-06-30", "--columns", "form.toml")
    assert (wrong.code, "weight" in wrong.err) == (3, True)


@pytest.mark.parametrize("date", ["2026-12-31", "31/06/2026"])
def test_dates_that_are_no_end_of_a_period(run: Runner, date: str) -> None:
    assert run(*ARGUMENTS, "--period-end", date).code == 3


def test_without_a_date_the_period_that_ended_last_is_reported(run: Runner) -> None:
    done = run(*ARGUMENTS)  # on 20 November 2026
    assert "2025-07-01 to 2026-06-30, due 2026-07-31" in done.out.splitlines()


def test_every_output_says_the_same(run: Runner, tmp_path: Path) -> None:
    arguments = (*ARGUMENTS, "--period-end", "2026-06-30", "--out", "return")
    whole = json.loads(run(*arguments, "--format", "json").out)
    table = run(*arguments, "--format", "csv")
    assert table.out == (tmp_path / "return.csv").read_text()
    first = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert set(first) == {"return.csv", "return-lines.csv", "return.xlsx"}
    counted = {r.pop("species"): {c: int(n) for c, n in r.items()} for r in rows(tmp_path / "return.csv")}
    assert counted == {**whole["counts"], "all": whole["total"]}
    sheet = load_workbook(tmp_path / "return.xlsx")["counts"]
    head, *below = sheet.iter_rows(values_only=True)
    assert {str(r[0]): dict(zip(head[1:], r[1:], strict=True)) for r in below} == counted
    run(*arguments)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == first


def test_a_file_of_ones_own_is_not_written_over(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "return.xlsx").write_bytes(b"PK mine")
    arguments = (*ARGUMENTS, "--period-end", "2026-06-30", "--out", "return")
    refused = run(*arguments)
    assert (refused.code, "return.xlsx" in refused.err, len(list(tmp_path.iterdir()))) == (3, True, 1)
    assert run(*arguments, "--force").code == 0


def test_what_the_permit_says_of_its_return_is_done(run: Runner, tmp_path: Path) -> None:
    text = (DATA / "permit.toml").read_text()
    asked = (
        'nil_return = false\nrecipients = ["Desk", "Ranger"]\nassigned_by = "capture"\nnil_species = true\n'
    )
    (tmp_path / "own.toml").write_text(
        text.replace("nil_return = true\n", asked)
        .replace('"Drysdalia coronoides"]', '"Drysdalia coronoides", "Acanthophis antarcticus"]')
        .replace("valid_from = 2025-07-01", "valid_from = 2024-07-01")
    )
    words = [w if w != str(DATA / "permit.toml") else "own.toml" for w in ARGUMENTS]
    done = run(*words, "--period-end", "2026-06-30")
    assert done.code == 0
    assert "to Desk, Ranger" in done.out
    assert "animals by the day of their capture" in done.out
    # one animal of the season is recorded as "snake": it may be of any species
    assert "  note: No nil line for Acanthophis antarcticus: an animal may be of it." in done.out.splitlines()
    none = run(*words, "--period-end", "2025-06-30")
    assert "asks for none" in none.out
    assert "Acanthophis antarcticus: nil." in none.out.splitlines()


def test_a_nil_return(run: Runner) -> None:
    done = run(*ARGUMENTS, "--period-end", "2025-06-30")
    assert (done.code, "Nil return" in done.out) == (0, True)
