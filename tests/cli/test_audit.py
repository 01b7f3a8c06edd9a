"""``tussock audit`` on the invented district: what its README says is wrong is found."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import DATA, Runner
from tussock.maps.audit_outputs import FILES, ends

NOW = "2026-11-16T18:00:00+11:00"
LOGGED = ["--now", "2026-12-01T09:00:00+11:00"]
ARGUMENTS = [
    "audit",
    *("--captures", str(DATA / "captures.csv"), "--releases", str(DATA / "releases.csv")),
    *("--consents", str(DATA / "consents.csv"), "--permit", str(DATA / "permit.toml")),
    *("--region", str(DATA), "--now", NOW),
]
PLANTED = [  # data-demo/README.md, below the captures worth a look
    ("C-020", "3(a)"),
    ("C-049", "3(a)"),
    ("C-031", "3(b)"),
    ("C-027", "7(a)"),
    ("C-040", "9(a)"),
]


@pytest.fixture
def found(run: Runner) -> Any:
    done = run(*ARGUMENTS, "--format", "json")
    assert done.code == 1
    return json.loads(done.out)


def test_what_is_planted_is_found(found: Any) -> None:
    verdicts = {(r["captureID"], r["clause"]): r["verdict"] for r in found["clauses"]}
    assert [verdicts[p] for p in PLANTED] == ["not_met"] * len(PLANTED)
    too_far = {c for (c, clause), v in verdicts.items() if clause == "3(a)" and v == "not_met"}
    assert too_far == {"C-020", "C-049"}
    said = {(r["sort"], r["entry"]) for r in found["remarks"]}
    expected = {
        ("assumed", "C-039"),
        ("no_disposal", "C-048"),
        ("no_disposal", "C-053"),
        ("permit_gap", "C-037"),
    }
    assert expected <= said


def test_every_row_stands_once_and_the_totals_add_up(found: Any) -> None:
    captures, ended = (_ids(table) for table in ("captures.csv", "releases.csv"))
    held = [name for name in captures if name not in ended]
    assert sorted(r["captureID"] for r in found["records"]) == sorted([*ended, *held])
    totals = found["totals"]
    assert totals["reconciled"] is True
    assert (totals["captures_read"], totals["rows"]) == (len(captures), len(ended) + len(held))


def _ids(table: str) -> list[str]:
    with (DATA / table).open() as file:
        return [row["captureID"] for row in csv.DictReader(file)]


def test_under_another_version_the_same_releases_stand_otherwise(run: Runner, found: Any) -> None:
    done = run(*ARGUMENTS, "--under", "2026-08-05", "--format", "csv")
    told = csv.DictReader(io.StringIO(done.out))
    stricter = {r["captureID"]: r for r in told if r["disposal"] == "released"}
    # no gap when one version holds on all days
    assert "in force" not in stricter["C-037"]["reason"]
    wide = {
        r["captureID"] for r in found["clauses"] if r["clause"] == "3(a)" and (r["value_low"] or 0) > 2000
    }
    assert wide
    assert all(stricter[name]["verdict"] == "not_met" for name in wide)


def test_it_writes_its_files_and_never_over_others(run: Runner, tmp_path: Path) -> None:
    done = run(*ARGUMENTS, "--out", "book")
    assert done.code == 1
    assert "records need explaining" in done.out
    with (tmp_path / "book.csv").open() as file:
        rows = len(list(csv.DictReader(file)))
    ended = _ids("releases.csv")
    assert rows == len(ended) + len(set(_ids("captures.csv")) - set(ended))
    first = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert sorted(first) == sorted(f"book{end}" for end in FILES)
    run(*ARGUMENTS, "--out", "book")
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == first
    (tmp_path / "other.csv").write_text("mine")
    assert run(*ARGUMENTS, "--out", "other").code == 3
    assert (tmp_path / "other.csv").read_text() == "mine"


@pytest.mark.parametrize(
    ("more", "code", "words"),
    [
        (["--now", "today"], 2, "--now"),
        (["--under", "2020-01-01"], 3, "2026-08-05"),
        (["--releases", "none.csv"], 3, "none.csv"),
    ],
)
def test_what_cannot_be_done_is_said(run: Runner, more: list[str], code: int, words: str) -> None:
    done = run(*ARGUMENTS, *more)
    assert (done.code, words in done.err) == (code, True)


def test_ids_that_stand_twice_are_refused(run: Runner, tmp_path: Path) -> None:
    text = (DATA / "captures.csv").read_text()
    again = "\n".join([text.rstrip("\n"), text.splitlines()[1], ""])
    (tmp_path / "captures.csv").write_text(again)
    done = run(*ARGUMENTS, "--captures", "captures.csv")
    assert done.code == 3
    assert "C-001" in done.err


def test_a_release_whose_capture_is_lost_counts_at_its_place(run: Runner, tmp_path: Path) -> None:
    # C-054, C-055 and C-056 were let go at one place within four days (data-demo/README.md)
    lines = (DATA / "captures.csv").read_text().splitlines()
    kept = [line for line in lines if not line.startswith("C-054")]
    (tmp_path / "captures.csv").write_text("\n".join([*kept, ""]))

    def near(*more: str) -> str:
        found = json.loads(run(*ARGUMENTS, *more, "--format", "json").out)["clauses"]
        return next(str(r["value_high"]) for r in found if (r["captureID"], r["clause"]) == ("C-056", "6(a)"))

    assert near("--captures", "captures.csv") == near()


def test_without_ground_what_asks_for_it_is_missing_and_there_is_no_map(run: Runner, tmp_path: Path) -> None:
    bare = [a for a in ARGUMENTS if a not in ("--region",) and a != str(DATA)]
    done = run(*bare, "--out", "bare", "--format", "json")
    assert done.code == 1
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(f"bare{end}" for end in ends(ground=False))
    verdicts = {(r["captureID"], r["clause"]): r["verdict"] for r in json.loads(done.out)["clauses"]}
    assert verdicts["C-020", "3(a)"] == "not_met", "the distance from the capture needs no ground"
    assert verdicts["C-031", "3(b)"] == "missing"


def test_a_logbook_is_audited_as_its_tables_are(run: Runner, tmp_path: Path) -> None:
    for name in ("callouts", "captures", "releases", "consents"):
        assert run(
            "log", "import", str(DATA / f"{name}.csv"), "--by", "N. O. Body", "--keep-good", *LOGGED
        ).code in (
            0,
            1,
        )
    of_tables = run(*ARGUMENTS, "--format", "csv")
    kept = ARGUMENTS[:1] + ARGUMENTS[ARGUMENTS.index("--permit") :]
    of_book = run(*kept, "--logbook", "logbook.db", "--format", "csv")

    def verdicts(text: str) -> dict[str, tuple[str, str]]:
        return {r["captureID"]: (r["verdict"], r["margin"]) for r in csv.DictReader(io.StringIO(text))}

    told, found = verdicts(of_tables.out), verdicts(of_book.out)
    assert found and {k: told[k] for k in found} == found
