"""An audit of the invented records finds what planted.toml says is wrong, each of it, and nothing besides.

planted.toml is written by hand from what was changed in the records; the counts below are plain counts of
the tables.
"""

from __future__ import annotations

import csv
import tomllib
from collections import Counter, defaultdict
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from tussock.interval import Verdict
from tussock.names import DISPOSALS, OUTCOMES
from tussock.planning.opened import Files, Opened, open_files
from tussock.records.book import read_book
from tussock.records.entries import (
    CALLOUT,
    CAPTURE,
    CHECK,
    CONSENT,
    CONTAINER,
    DISPOSAL,
    INCIDENT,
)
from tussock.records.importing import import_sheet, read_entries
from tussock.records.logbook import open_logbook
from tussock.records.source import open_book
from tussock.review.audit import Audit
from tussock.review.auditing import Beside, audit

DEMO = Path(__file__).parents[2] / "data-demo"
NOW = datetime(2026, 11, 16, 7, tzinfo=UTC)  # 18:00 in Pellerwick
TABLES = {
    CALLOUT: "callouts.csv",
    CAPTURE: "captures.csv",
    DISPOSAL: "releases.csv",
    CHECK: "checks.csv",
    CONSENT: "consents.csv",
    INCIDENT: "incidents.csv",
    CONTAINER: "containers.csv",
}
Problem = tuple[str, str, str]


@cache
def opened() -> Opened:
    return open_files(Files(DEMO, (DEMO / "permit.toml",)))


def planted() -> list[Problem]:
    raw = tomllib.loads((DEMO / "planted.toml").read_text("utf-8"))["problems"]
    assert all(p["why"].endswith(".") and ("clause" in p) != ("remark" in p) for p in raw)
    return [(p["entry"], p.get("clause", "remark"), p.get("verdict") or p["remark"]) for p in raw]


def audited(folder: Path) -> Audit:
    book = open_book({kind: folder / name for kind, name in TABLES.items()})
    read = read_book(book.entries, species=opened().book, now=NOW, keeps=book.keeps)
    beside = Beside(
        now=NOW,
        consents=read.consents,
        captures=read.booked,
        loose=read.loose,
        remarks=read.remarks,
        captures_read=len(read.captures),
        disposals_read=len(read.disposals),
    )
    return audit(read.kept, opened().permits[0], opened().region, beside)


def problems(found: Audit) -> set[Problem]:
    assert all(row.judged is not None for row in found.rows)
    clauses = {
        (row.kept.capture_id, r.id, r.verdict.value)
        for row in found.rows
        if row.judged is not None
        for r in row.judged.results
        if r.mandatory and r.verdict is not None and r.verdict is not Verdict.MET
    }
    return clauses | {(r.entry, "remark", r.sort) for r in found.remarks if r.attention}


@cache
def whole() -> Audit:
    return audited(DEMO)


def rows(name: str) -> list[dict[str, str]]:
    with (DEMO / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def without(folder: Path, entry: str) -> Path:
    """Copy the tables, leaving out every row that names a capture."""
    for name in TABLES.values():
        lines = (DEMO / name).read_text("utf-8").splitlines(keepends=True)
        (folder / name).write_text("".join(t for t in lines if f"{entry}," not in t), "utf-8")
    return folder


def test_what_is_planted_is_found_and_nothing_else() -> None:
    listed = planted()
    assert len(listed) == len(set(listed))
    assert problems(whole()) == set(listed)


def test_no_row_needs_explaining_but_those_of_planted_entries() -> None:
    entries = {entry for entry, _, _ in planted()}
    assert {r.kept.capture_id for r in whole().rows if r.needs_explaining} <= entries


@pytest.mark.parametrize(
    "entry",
    # with its capture its verdicts go, and a number is left out: of each sort one
    ["C-004", "C-018", "C-020", "C-021", "C-023", "C-027", "C-031", "C-032", "C-040", "C-048"],
)
def test_a_planted_problem_taken_out_is_missed(tmp_path: Path, entry: str) -> None:
    folder = without(tmp_path, entry)
    here = problems(audited(folder))
    gone = {p for p in planted() if p[0] == entry}
    assert gone
    assert not here & gone
    assert (entry, "remark", "numbering_gap") in here


def test_a_planted_problem_mended_is_missed(tmp_path: Path) -> None:
    """Each by the cell that makes it: answer, name, day of record."""
    for name in TABLES.values():
        (tmp_path / name).write_bytes((DEMO / name).read_bytes())
    text = (tmp_path / "releases.csv").read_text("utf-8")
    mended = text.replace(" | Tobin Ashgrove", "").replace("CN-001,,2025-12-26", "CN-001,yes,2025-12-26")
    assert mended.count("Tobin") == 0
    assert mended.count(",yes,") == text.count(",yes,") + 1
    (tmp_path / "releases.csv").write_text(mended, "utf-8")
    gone = {("C-021", "8(b)", "missing"), ("C-023", "1(c)", "not_met")}
    assert problems(audited(tmp_path)) == set(planted()) - gone


def test_the_totals_are_those_of_the_tables() -> None:
    totals, captures, ended = whole().totals, rows("captures.csv"), rows("releases.csv")
    assert totals.reconciled
    assert (totals.captures_read, totals.disposals_read) == (len(captures), len(ended))
    assert totals.released == sum(r["disposal"] == "released" for r in ended)
    assert totals.held == len({r["captureID"] for r in captures} - {r["captureID"] for r in ended}) == 2


def test_the_tables_are_logged_without_a_refusal_and_a_second_time_change_nothing(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "book.db") as logbook:
        for again in (False, True):
            for kind, name in TABLES.items():
                sheet = read_entries(DEMO / name, kind, species=opened().book)
                done = import_sheet(logbook, sheet, by="test", at=NOW)
                assert not done.refused
                there = done.unchanged if again else done.added
                assert len(there) == done.read == len(rows(name))


def test_ids_are_unique_and_refer() -> None:
    ids = {name: [r[column] for r in rows(name)] for name, column in (
        ("callouts.csv", "calloutID"), ("captures.csv", "captureID"), ("checks.csv", "checkID"),
        ("consents.csv", "consentID"), ("incidents.csv", "incidentID"), ("containers.csv", "containerID"),
    )}  # fmt: skip
    assert all(len(set(listed)) == len(listed) for listed in ids.values())
    captures, ended = rows("captures.csv"), rows("releases.csv")
    assert {r["calloutID"] for r in captures} <= set(ids["callouts.csv"])
    assert {r["containerID"] for r in captures} <= set(ids["containers.csv"])
    for table in ("releases.csv", "checks.csv", "incidents.csv"):
        assert {r["captureID"] for r in rows(table)} <= set(ids["captures.csv"])
    assert {r["consentReference"] for r in ended if r["consentReference"]} <= set(ids["consents.csv"])
    assert all(r["consentReference"] for r in ended if r["disposal"] == "released")


def test_callouts_of_both_seasons_and_most_kinds() -> None:
    calls, captures = rows("callouts.csv"), rows("captures.csv")
    assert 110 <= sum(c["calloutID"].startswith("K-") for c in calls) <= 130
    outcomes = Counter(r["outcome"] for r in calls)
    assert set(outcomes) == set(OUTCOMES)
    taken = {r["calloutID"]: r for r in captures}
    assert {r["calloutID"] for r in calls if r["outcome"] == "captured"} == set(taken)
    for call in calls:
        if call["calloutID"] in taken:
            capture = taken[call["calloutID"]]
            before = datetime.fromisoformat(capture["eventDate"]) - datetime.fromisoformat(call["eventDate"])
            assert timedelta(0) < before < timedelta(hours=2)
            assert call["foundIn"] == capture["foundIn"]


def test_animals_of_one_capture_with_outcomes_of_their_own() -> None:
    by_capture: dict[str, list[dict[str, str]]] = defaultdict(list)
    for row in rows("releases.csv"):
        by_capture[row["captureID"]].append(row)
    number = {r["captureID"]: int(r["individualCount"]) for r in rows("captures.csv")}
    several = {
        name: sorted((r["disposal"], int(r["individualCount"])) for r in ended)
        for name, ended in by_capture.items()
        if len(ended) > 1
    }
    assert several == {
        "C-028": [("died", 1), ("released", 13)],
        "C-029": [("released", 1), ("vet_or_carer", 1)],
        "C-057": [("released", 1), ("vet_or_carer", 1)],  # planted: one too many
    }
    assert (number["C-028"], number["C-029"], number["C-057"]) == (14, 2, 1)
    assert {r["disposal"] for r in rows("releases.csv")} == set(DISPOSALS) - {"euthanased"}


def test_a_marked_animal_is_taken_again_and_young_name_their_mother() -> None:
    marked: dict[str, list[str]] = defaultdict(list)
    for row in rows("captures.csv"):
        if row["organismID"]:
            marked[row["organismID"]].append(row["captureID"])
    assert marked == {"PT-0031": ["C-013", "C-042"], "PT-0034": ["C-024"]}
    kin = {r["captureID"]: r["associatedOrganisms"] for r in rows("captures.csv") if r["associatedOrganisms"]}
    assert set(kin) == {"C-019", "C-028"}
    assert kin["C-028"] == "mother: PT-0034"


def test_a_bite_an_escape_and_a_death_reported_the_same_day() -> None:
    found = rows("incidents.csv")
    assert sorted(r["incident"] for r in found) == ["bite", "death", "escape"]
    for row in found:
        happened, reported = (datetime.fromisoformat(row[c]) for c in ("eventDate", "reportedDate"))
        assert timedelta(0) < reported - happened < timedelta(hours=12)
