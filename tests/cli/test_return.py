"""``tussock return`` on the invented district, held against a plain count of its tables."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest

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
    ended = {r["captureID"]: r for r in rows(DATA / "releases.csv")}
    for capture in rows(DATA / "captures.csv"):
        if "2025-07-01" <= capture["eventDate"][:10] <= "2026-06-30":  # local dates, as the offsets are
            number = int(capture["individualCount"])
            expected["captured"] += number
            expected[ended[capture["captureID"]]["disposal"]] += number
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


def test_a_nil_return(run: Runner) -> None:
    done = run(*ARGUMENTS, "--period-end", "2025-06-30")
    assert (done.code, "Nil return" in done.out) == (0, True)
