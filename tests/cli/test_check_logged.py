"""``tussock check --logbook``: what the book says counts at the spot, and it takes the check when asked."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import CLOCK, DATA, GROUND, RELEASE, Ran, Runner
from tests.cli.test_check import NOW, RADIUS, YES, site
from tests.cli.test_plan_from_logbook import SEASON, capture, ended, filled, season
from tussock.cli import main
from tussock.records.entries import CHECK, CONSENT, DISPOSAL, Entry
from tussock.records.logbook import open_logbook
from tussock.records.release_entry import release_from_check
from tussock.records.spot_entry import read_check

HERE = ["--region", GROUND["--region"], "--permit", GROUND["--permit"]]
BY = ["--by", "Ines Tarrowby"]
BOOK = ["--logbook", "book.db"]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with a book of the district and a plan of C-061 made from it, planned once."""
    folder = tmp_path_factory.mktemp("logged")
    book = str(filled(folder / "book.db", *season()))
    at = ["--now", CLOCK, "--release-at", RELEASE]
    out = ["--out", str(folder / "today")]
    assert main(["plan", *HERE, "--logbook", book, "--capture", "C-061", *at, *out]) == 0
    return folder


@pytest.fixture
def plan(made: Path, tmp_path: Path) -> Path:
    """Give a copy of both in the working folder."""
    shutil.copy(made / "book.db", tmp_path / "book.db")
    return Path(shutil.copy(made / "today.json", tmp_path / "today.json"))


def check(run: Runner, plan: Path, *more: str) -> Ran:
    where = ["--site", "1", "--at", site(plan), *RADIUS, "--now", NOW]
    return run("check", "--plan", plan.name, *where, *HERE, *YES, *more)


def checks(folder: Path) -> tuple[Entry, ...]:
    with open_logbook(folder / "book.db", create=False) as logbook:
        return logbook.entries(CHECK)


def conditions(folder: Path, name: str = "today-check-1.json") -> dict[str, Any]:
    found = json.loads((folder / name).read_text("utf-8"))
    return {c["id"]: c["verdict"] for c in found["conditions"] if c["source"] != "house rule"}


def test_nothing_is_logged_without_being_asked(run: Runner, plan: Path, tmp_path: Path) -> None:
    seen = check(run, plan, *BOOK)
    assert seen.code == 0, seen.err
    assert seen.out.startswith("Release here: ")
    assert "CHANGED" not in seen.err, "the book is as the plan read it"
    assert "Not logged. To log it: tussock log take today-check-1.json" in seen.err
    assert checks(tmp_path) == ()


def test_with_by_the_check_is_logged_as_log_take_does(run: Runner, plan: Path, tmp_path: Path) -> None:
    seen = check(run, plan, *BOOK, *BY)
    assert seen.code == 0, seen.err
    assert "Logged: check C-061/" in seen.err and "book.db" in seen.err
    (entry,) = checks(tmp_path)
    assert entry.cells == read_check(tmp_path / "today-check-1.json").cells
    assert entry.get("captureID") == "C-061"
    with open_logbook(tmp_path / "book.db", create=False) as logbook:
        assert {r.by for r in logbook.history(CHECK, entry.id)} == {"Ines Tarrowby"}
    assert "Nothing new" in run("log", "take", "today-check-1.json", *BOOK, *BY).err
    assert "CHANGED" not in check(run, plan, *BOOK).err, "a check changes nothing that a plan reads"


def test_a_site_that_is_refused_is_logged_too(run: Runner, plan: Path, tmp_path: Path) -> None:
    where = ["--site", "1", "--at", site(plan), *RADIUS, "--now", NOW]
    no = ["--answer", "quiet=no", "--why", "two dogs loose"]
    seen = run("check", "--plan", plan.name, *where, *HERE, *no, *BOOK, *BY)
    assert seen.code == 1
    (entry,) = checks(tmp_path)
    assert (entry.get("rejected"), entry.get("occurrenceRemarks")) == ("yes", "two dogs loose")


def test_releases_and_consents_of_the_book_count_at_the_spot(run: Runner, plan: Path, tmp_path: Path) -> None:
    assert check(run, plan, *BOOK).code == 0
    before = conditions(tmp_path)
    assert before["6(a)"] == before["8(a)"] == "met"
    lat, lon = site(plan).split(",")
    place = {"decimalLatitude": lat, "decimalLongitude": lon}
    names = ("N-1", "N-2", "N-3")
    filled(
        tmp_path / "book.db",
        *(capture(n, hour=11) for n in names),
        *(ended(n, hour=12, **place) for n in names),
    )
    seen = check(run, plan, *BOOK)
    assert seen.code == 1
    assert "CHANGED: releases/book.db differs from when the plan was made" in seen.err
    assert conditions(tmp_path, "today-check-1-2.json")["6(a)"] == "not_met"


def test_a_consent_withdrawn_in_the_book_is_not_met(run: Runner, plan: Path, tmp_path: Path) -> None:
    used = {name for name, _ in json.loads(plan.read_text("utf-8"))["sites"][0]["consents"]}
    assert used
    with open_logbook(tmp_path / "book.db", create=False) as logbook:
        for name in used:
            gone = {"withdrawnOn": "2026-11-14"}
            logbook.amend(CONSENT, name, gone, by="Ines Tarrowby", at=SEASON, why="a call this morning")
    seen = check(run, plan, *BOOK)
    assert seen.code == 1
    assert "CHANGED: consents/book.db differs from when the plan was made" in seen.err
    assert conditions(tmp_path)["8(a)"] == "not_met"


def test_a_capture_that_is_not_in_the_book_is_told_before_any_question(
    run: Runner, plan: Path, tmp_path: Path
) -> None:
    filled(tmp_path / "other.db", capture("A", hour=8))
    where = ["--site", "1", "--at", site(plan), *RADIUS, "--now", NOW, "--logbook", "other.db"]
    seen = run("check", "--plan", plan.name, *where, *HERE, *BY)
    assert (seen.code, seen.out) == (3, "")
    assert "capture 'C-061' of the plan is not in other.db" in seen.err
    assert not (tmp_path / "today-check-1.json").exists()
    assert run("check", "--plan", plan.name, *where, *HERE, *YES).code != 3, "it may be read all the same"


def test_an_end_in_the_book_is_loud(run: Runner, plan: Path, tmp_path: Path) -> None:
    filled(tmp_path / "book.db", ended("C-061", hour=12))
    assert "By book.db capture C-061 is no longer held: released at 2026-11-14T12:00" in (
        check(run, plan, *BOOK).err
    )


def test_what_cannot_be_carried_out_is_refused(run: Runner, plan: Path, tmp_path: Path) -> None:
    assert "--by: no logbook is named" in check(run, plan, *BY).err
    both = check(run, plan, *BOOK, "--releases", str(DATA / "releases.csv"), "--by", " ")
    assert both.code == 2
    assert "--releases: a logbook and a table of releases" in both.err
    assert "--by: nobody is named who writes" in both.err
    nowhere = check(run, plan, "--logbook", "nowhere.db", *BY)
    assert (nowhere.code, (tmp_path / "nowhere.db").exists()) == (3, False)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["book.db", "today.json"]


def test_a_book_in_tussock_toml_is_read_and_not_written_in(run: Runner, plan: Path, tmp_path: Path) -> None:
    (tmp_path / "tussock.toml").write_text('[defaults]\nlogbook = "book.db"\nby = "Ines Tarrowby"\n', "utf-8")
    seen = check(run, plan)
    assert seen.code == 0, seen.err
    assert "Note: the releases and consents of book.db count" in seen.err
    assert "CHANGED" not in seen.err, "what the plan read counts here too"
    assert "Not logged" in seen.err
    assert checks(tmp_path) == ()


def test_the_check_is_kept_where_the_book_cannot_take_it(
    run: Runner, plan: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tussock.cli import log_take
    from tussock.errors import InputError

    def busy(*_: Any, **__: Any) -> int:
        raise InputError("another writes", where="book.db")

    monkeypatch.setattr(log_take, "run_take", busy)
    seen = check(run, plan, *BOOK, *BY)
    assert seen.code == 3
    assert "Not logged; the check is kept in its file. To log it: tussock log take" in seen.err
    assert read_check(tmp_path / "today-check-1.json").parent == "C-061"


def test_a_release_made_of_the_check_ends_the_holding_and_stands_in_the_audit(
    run: Runner, plan: Path, tmp_path: Path
) -> None:
    """From the plan to the book and back: what was met at the spot is met in the audit of that release."""
    assert check(run, plan, *BOOK, *BY).code == 0
    entry = release_from_check(tmp_path / "today-check-1.json")
    planned = json.loads(plan.read_text("utf-8"))["sites"][0]
    used = {ground: name for name, ground in reversed(planned["consents"])}
    assert set(entry.get("consentReference").split(" | ")) == set(used.values())
    at = "2026-11-14T13:00:00+11:00"
    made = run("log", "add", "disposal", "--from", "today-check-1.json", *BOOK, *BY, "--now", at)
    assert (made.code, "Logged: disposal C-061" in made.err, "which was met" in made.err) == (0, True, True)
    with open_logbook(tmp_path / "book.db", create=False) as logbook:
        logged = logbook.entry(DISPOSAL, entry.id)
        filled_in = {"recordedDate": at, "recordedBy": "Ines Tarrowby"}
        assert logged is not None and logged.cells == {**entry.cells, **filled_in}
    assert run("log", "add", "capture", "--from", "today-check-1.json", *BOOK, *BY).code == 2
    later = ["--now", "2026-11-14T14:00:00+11:00"]
    ran = run("plan", *HERE, *BOOK, "--capture", "C-061", *later)
    assert (ran.code, "no longer held: released at 2026-11-14T12:30" in ran.err) == (2, True)
    assert run("audit", *HERE, *BOOK, *later, "--out", "audit").code in (0, 1)
    with (tmp_path / "audit-clauses.csv").open(encoding="utf-8", newline="") as file:
        found = {r["clause"]: r["verdict"] for r in csv.DictReader(file) if r["captureID"] == "C-061"}
    met = {name for name, verdict in conditions(tmp_path).items() if verdict == "met"}
    assert {name: found[name] for name in met} == dict.fromkeys(met, "met")
    assert len(met) >= 10
    # who logs it and when are known, so that clauses about them have what they ask for
    assert (found["1(c)"], found["9(a)"]) == ("met", "met")


def test_who_and_when_of_a_release_are_filled_in_once_and_said(
    run: Runner, plan: Path, tmp_path: Path
) -> None:
    assert check(run, plan, *BOOK, *BY).code == 0
    log = ["log", "add", "disposal", "--from", "today-check-1.json", *BOOK, *BY]
    said = ["--set", "recordedBy=Jory Quill", "--set", "recordedDate=2026-11-14T12:40:00+11:00"]
    made = run(*log, *said, "--now", "2026-11-14T13:00:00+11:00")
    assert (made.code, "recordedBy is" in made.err, "recordedDate is" in made.err) == (0, False, False)
    again = run(*log, *said, "--now", "2026-11-15T09:00:00+11:00")
    assert (again.code, "Nothing new" in again.err) == (0, True)
    assert "Nothing new" in run(*log, "--now", "2026-11-15T09:00:00+11:00").err, "as it stands in the book"


@pytest.mark.parametrize("name", ["recordedBy", "recordedDate"])
def test_who_or_when_is_left_empty_where_that_is_said(
    name: str, run: Runner, plan: Path, tmp_path: Path
) -> None:
    assert check(run, plan, *BOOK, *BY).code == 0
    log = ["log", "add", "disposal", "--from", "today-check-1.json", *BOOK, *BY]
    made = run(*log, "--set", f"{name}=", "--now", "2026-11-14T13:00:00+11:00")
    assert (made.code, f"{name} is" in made.err) == (0, False), made.err
    (other,) = {"recordedBy", "recordedDate"} - {name}
    assert f"{other} is " in made.err
    with open_logbook(tmp_path / "book.db", create=False) as logbook:
        logged = logbook.entry(DISPOSAL, "C-061")
        assert logged is not None and (logged.get(name), bool(logged.get(other))) == ("", True)


def test_the_nearest_suitable_place_is_known_in_the_audit_of_a_release_that_followed_its_plan(
    run: Runner, made: Path, tmp_path: Path
) -> None:
    """What is judged when the plan is made is stored with it, checked at the spot, and so in the book."""
    shutil.copy(made / "book.db", tmp_path / "book.db")
    lines = (
        'id = "3(z)"',
        'kind = "nearest_suitable"',
        "tolerance_m = 3000",
        'text = "No farther than needs."',
    )
    clause = "\n".join(lines)
    text = (DATA / "permit.toml").read_text("utf-8")
    (tmp_path / "permit.toml").write_text(f"{text}\n[[versions.conditions]]\n{clause}\n", "utf-8")
    here = ["--region", GROUND["--region"], "--permit", "permit.toml", *BOOK]
    at = ["--now", CLOCK, "--release-at", RELEASE]
    assert run("plan", *here, "--capture", "C-061", *at, "--out", "today").code == 0
    where = ["--site", "1", "--at", site(tmp_path / "today.json"), *RADIUS, "--now", NOW]
    assert run("check", "--plan", "today.json", *where, *here, *YES, *BY).code == 0
    later = ["--now", "2026-11-14T13:00:00+11:00"]
    assert run("log", "add", "disposal", "--from", "today-check-1.json", *BOOK, *BY, *later).code == 0
    assert run("audit", *here, *later, "--out", "audit").code in (0, 1)
    with (tmp_path / "audit-clauses.csv").open(encoding="utf-8", newline="") as file:
        rows = [r for r in csv.DictReader(file) if r["clause"] == "3(z)"]
    found = {r["captureID"]: (r["verdict"], r["reason"]) for r in rows}
    assert found.pop("C-061") == ("met", "as judged when the plan was made")
    assert ("missing", "no plan that judged it is named") in found.values(), "of those that name none"
