"""``tussock return`` from a logbook: filed once, frozen, and later amendments shown beside it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.running import DATA, Runner
from tussock.records.logbook import open_logbook

NOW = ("--now", "2026-11-20T12:00:00+11:00")
BY = ("--by", "Ines Tarrowby")
PERMIT = ("--permit", str(DATA / "permit.toml"))
RETURN = ("return", *PERMIT, "--period-end", "2026-06-30", *NOW)


@pytest.fixture
def log(run: Runner, tmp_path: Path) -> Path:
    """Return a logbook that holds the tables of the invented district."""
    for table in ("callouts", "captures", "releases"):
        assert run("log", "import", str(DATA / f"{table}.csv"), *BY, *NOW).code == 0
    return tmp_path / "logbook.db"


def amend(run: Runner) -> None:
    """Write down that it was another species after all."""
    cells = ("scientificName=Austrelaps superbus", "vernacularName=lowland copperhead")
    changes = [word for cell in cells for word in ("--set", cell)]
    for kind, some in (("capture", changes), ("disposal", changes[:2])):
        assert run("log", "amend", kind, "C-001", *some, "--why", "the photo", *BY, *NOW).code == 0


def test_the_logbook_and_its_tables_give_the_same_return(run: Runner, log: Path) -> None:
    tables = ("--captures", str(DATA / "captures.csv"), "--releases", str(DATA / "releases.csv"))
    assert run(*RETURN).out == run(*RETURN, *tables).out == run(*RETURN, "--logbook", str(log)).out


def test_what_was_filed_is_frozen_and_changes_are_shown(run: Runner, log: Path, tmp_path: Path) -> None:
    filed = run(*RETURN, "--file", *BY, "--out", "first")
    assert (filed.code, "Filed: PDW-0417" in filed.err) == (0, True)
    assert "nothing has changed since." in filed.out
    text = (tmp_path / "first-filed.txt").read_text()
    amend(run)
    later = run(*RETURN, "--out", "later")
    assert later.code == 1
    assert "Filed on 2026-11-20 by Ines Tarrowby, changed since filing:" in later.out.splitlines()
    changed = [line for line in later.out.splitlines() if "C-001" in line]
    assert len(changed) == 2
    assert changed[0].startswith("  filed: C-001,2025-09-12,Notechis scutatus,1,")
    assert changed[1].startswith("  now:   C-001,2025-09-12,Austrelaps superbus,1,")
    assert (tmp_path / "later-filed.txt").read_text() == text
    whole = json.loads(run(*RETURN, "--format", "json").out)
    assert whole["filed"]["changed_since"] == [
        line.strip() for line in later.out.splitlines() if line.startswith("  ")
    ]


def test_filed_again_only_as_a_correction(run: Runner, log: Path) -> None:
    run(*RETURN, "--file", *BY)
    again = run(*RETURN, "--file", *BY)
    assert (again.code, "nothing has changed since" in again.err) == (3, True)
    amend(run)
    assert "correction 1" in run(*RETURN, "--file", *BY).err
    with open_logbook(log) as logbook:
        first, second = logbook.filings()
    assert "\nC-001,2025-09-12,Notechis scutatus,1," in first.text
    assert "\nC-001,2025-09-12,Austrelaps superbus,1," in second.text
    assert run(*RETURN).code == 0


def test_filed_returns_are_shown_as_they_were_filed(run: Runner, log: Path) -> None:
    assert run("log", "show", "return").out == "No entry.\n"
    run(*RETURN, "--file", *BY)
    (line,) = run("log", "show", "returns").out.splitlines()
    name, _, rest = line.partition(": ")
    assert rest == "filed 2026-11-20T01:00:00+00:00 by Ines Tarrowby"
    shown = run("log", "show", "return", name)
    with open_logbook(log) as logbook:
        (filing,) = logbook.filings()
    assert shown.out.splitlines()[1:] == filing.text.splitlines()
    none = run("log", "show", "return", "RL-9")
    assert (none.code, none.out, name in none.err) == (3, "", True)


def test_a_species_corrected_in_one_of_two_entries_is_a_gap(run: Runner, log: Path) -> None:
    changes = ("--set", "scientificName=Austrelaps superbus", "--why", "the photo")
    assert run("log", "amend", "disposal", "C-001", *changes, *BY, *NOW).code == 0
    told = run(*RETURN)
    assert (told.code, told.out) == (3, "")
    words = "C-001: The capture is of Notechis scutatus, the end of holding of Austrelaps superbus"
    assert f"{words}: it is counted as Notechis scutatus." in told.err
    vernacular = ("--set", "vernacularName=lowland copperhead")
    assert run("log", "amend", "capture", "C-001", *changes, *vernacular, *BY, *NOW).code == 0
    assert run(*RETURN).code == 0


def test_nothing_is_filed_where_a_file_is_in_the_way_or_there_are_gaps(
    run: Runner, log: Path, tmp_path: Path
) -> None:
    (tmp_path / "return.csv").write_text("mine")
    assert run(*RETURN, "--file", *BY, "--out", "return").code == 3
    open_one = ("return", *PERMIT, "--period-end", "2027-06-30", *NOW, "--file", *BY)
    assert run(*open_one).code == 3
    with open_logbook(log) as logbook:
        assert logbook.filings() == ()
    marked = run(*open_one, "--incomplete")
    assert (marked.code, "by Ines Tarrowby, INCOMPLETE" in marked.out) == (1, True)


def test_options_that_contradict_each_other(run: Runner, tmp_path: Path) -> None:
    one = ("--captures", str(DATA / "captures.csv"))
    both = (*one, "--releases", str(DATA / "releases.csv"))
    for more in ((*both, "--logbook", "logbook.db"), one, (*both, "--file", *BY)):
        done = run(*RETURN, *more)
        assert (done.code, done.out) == (2, ""), more
    assert run(*RETURN).code == 3, "there is no logbook"
    assert not list(tmp_path.iterdir())


def test_who_files_is_named(run: Runner, log: Path) -> None:
    done = run(*RETURN, "--file")
    assert (done.code, "--by" in done.err) == (2, True)
