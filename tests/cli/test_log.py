"""``tussock log``: a season's book kept from the command line."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import openpyxl
import pyogrio
import pytest

from tests.cli.running import DATA, Ran, Runner, handed
from tussock.records.logbook import open_logbook

BY = ["--by", "Ines Tarrowby", "--now", "2026-12-01T09:00:00+11:00"]
CAPTURE = {
    "captureID": "C-1",
    "eventDate": "2026-11-21T16:20:00+11:00",
    "decimalLatitude": "-42.071391",
    "decimalLongitude": "147.613950",
    "scientificName": "Notechis scutatus",
    "individualCount": "1",
}


def cells(given: dict[str, str]) -> list[str]:
    return [word for c, v in given.items() for word in ("--set", f"{c}={v}")]


def add(run: Runner, kind: str = "capture", **changed: str) -> Ran:
    base = CAPTURE if kind == "capture" else {}
    return run("log", "add", kind, *cells({**base, **changed}), *BY)


def write(path: Path, *rows: dict[str, str]) -> str:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path.name


def test_add_show_amend_history(run: Runner, tmp_path: Path) -> None:
    added = add(run)
    assert (added.code, added.out) == (0, "")
    assert "Logged: capture C-1, in logbook.db" in added.err
    assert "Nothing new" in add(run).err
    changes = cells({"individualCount": "2", "sex": "female"})
    amended = run("log", "amend", "capture", "C-1", *changes, "--why", "recounted", *BY)
    assert (amended.code, "state 2" in amended.err) == (0, True)
    emptied = run("log", "amend", "capture", "C-1", "--set", "sex=", "--why", "not looked at", *BY)
    assert emptied.code == 0
    shown = run("log", "show", "capture", "C-1").out
    assert "state 3" in shown
    assert "individualCount: 2" in shown
    assert "sex" not in shown
    history = run("log", "history", "capture", "C-1").out
    assert "individualCount: '1' → '2'" in history
    assert "sex: 'female' → (empty)" in history
    assert history.count("by Ines Tarrowby") == 3
    assert "2. 2026-11-30T22:00:00+00:00 by Ines Tarrowby: recounted" in history
    assert "C-1: 2026-11-21T16:20:00+11:00, Notechis scutatus, 2" in run("log", "show", "captures").out
    assert "1 capture\n" in run("log", "show").out
    assert (tmp_path / "logbook.db").exists()


def test_an_entry_typed_in_is_recorded_then_and_by_nobody_unsaid(run: Runner) -> None:
    """The clock knows when; who handled the animal need not be who types the book in."""
    made = add(run)
    assert "recordedDate is 2026-12-01T09:00:00+11:00, now" in made.err
    shown = run("log", "show", "capture", "C-1").out
    assert "recordedDate: 2026-12-01T09:00:00+11:00" in shown
    assert "recordedBy" not in shown
    later = ["--by", "Jory Quill", "--now", "2026-12-03T09:00:00+11:00"]
    assert "Nothing new" in run("log", "add", "capture", *cells(CAPTURE), *later).err
    run("log", "amend", "capture", "C-1", "--set", "sex=male", "--why", "x", *later)
    again = run("log", "add", "capture", *cells(CAPTURE), *later)
    assert "as logged; amended since" in again.err
    other = run("log", "add", "capture", *cells({**CAPTURE, "sex": "female"}), *later)
    assert (other.code, "with other sex: " in other.err) == (3, True), other.err
    run("log", "add", "callout", "--set", "calloutID=O-1", "--set", "eventDate=2026-11-21T15:00Z", *BY)
    assert "recordedDate" not in run("log", "show", "callout", "O-1").out


def test_nothing_is_filled_in_where_a_table_is_imported(run: Runner, tmp_path: Path) -> None:
    assert run("log", "import", write(tmp_path / "captures.csv", CAPTURE), *BY).code == 0
    assert "recorded" not in run("log", "show", "capture", "C-1").out


def test_what_is_still_to_come_is_not_logged(run: Runner, tmp_path: Path) -> None:
    ahead = add(run, eventDate="2026-12-11T08:00:00+11:00")
    assert (ahead.code, "--set, eventDate: 2026-12-11T08:00:00+11:00 is still to come" in ahead.err) == (
        3,
        True,
    )
    swapped = add(run, eventDate="2026-12-11T08:00:00+11:00")
    assert "(2026-11-12 has been: day and month swapped?)" in swapped.err
    assert add(run, eventDate="2026-12-01T09:05:00+11:00").code == 0, "two clocks need not agree"
    amended = run("log", "amend", "capture", "C-1", "--set", "eventDate=2027-01-01T08:00Z", "--why", "x", *BY)
    assert (amended.code, "still to come" in amended.err) == (3, True)
    other = run("log", "amend", "capture", "C-1", "--set", "sex=male", "--why", "x", "--by", "I",
                "--now", "2026-11-01T09:00:00+11:00")  # fmt: skip
    assert other.code == 0, "what is there already can be corrected bit by bit"
    rows = [
        {**CAPTURE, "captureID": "C-2"},
        {**CAPTURE, "captureID": "C-3", "eventDate": "2027-01-01T08:00Z"},
    ]
    name = write(tmp_path / "captures.csv", *rows)
    refused = run("log", "import", name, *BY)
    assert (refused.code, "captures.csv, row 3, eventDate: 2027-01-01T08:00" in refused.err) == (3, True)
    assert run("log", "import", name, "--keep-good", *BY).code == 1
    assert "still to come" in (tmp_path / "captures-refused.csv").read_text("utf-8")


def test_times_that_contradict_each_other_are_told_at_entry_and_taken(run: Runner, tmp_path: Path) -> None:
    """Old notes may hold either wrong time; the audit asks for an explanation, the book takes them."""
    add(run)
    ended = {"captureID": "C-1", "eventDate": "2026-11-21T15:00:00+11:00", "disposal": "vet_or_carer"}
    words = (
        "Note: the end of holding C-1 at 2026-11-21T15:00:00+11:00 is before "
        "the capture C-1 at 2026-11-21T16:20:00+11:00."
    )
    told = run("log", "import", write(tmp_path / "releases.csv", ended), *BY)
    assert (told.code, words in told.err) == (0, True), told.err
    later = ["--set", "eventDate=2026-11-21T17:00:00+11:00", "--why", "misread", *BY]
    assert "Note" not in run("log", "amend", "disposal", "C-1", *later).err
    assert (
        words.replace("15:00", "17:00").replace("16:20", "18:00")
        in run(
            "log",
            "amend",
            "capture",
            "C-1",
            "--set",
            "eventDate=2026-11-21T18:00:00+11:00",
            "--why",
            "x",
            *BY,
        ).err
    )


def test_a_column_that_is_nearly_a_known_one_is_told(run: Runner, tmp_path: Path) -> None:
    row = {"individualCuont" if c == "individualCount" else c: v for c, v in CAPTURE.items()}
    name = write(tmp_path / "captures.csv", row)
    refused = run("log", "import", name, *BY)
    words = "column 'individualCuont' is not known (did you mean individualCount?)"
    assert (refused.code, words in refused.err) == (3, True), refused.err
    assert not (tmp_path / "logbook.db").exists(), "many rows would have to be amended one by one"
    kept = run("log", "import", name, "--own-columns", *BY)
    assert (kept.code, f"Note: {words}: it is kept as your own." in kept.err) == (0, True), kept.err
    assert "individualCuont: 1" in run("log", "show", "capture", "C-1").out
    amended = run("log", "amend", "capture", "C-1", "--set", "recordedDte=x", "--why", "y", *BY)
    assert (amended.code, "did you mean recordedDate?): it is kept" in amended.err) == (0, True)
    emptied = run("log", "amend", "capture", "C-1", "--set", "recordedDte=", "--why", "a slip", *BY)
    assert (emptied.code, "did you mean" in emptied.err) == (0, False), emptied.err
    added = add(run, captureID="C-2", gravdi="no")
    assert (added.code, "did you mean gravid?" in added.err) == (0, True)
    private = run("log", "add", "callout", "--set", "residnetName=x", *BY)
    assert (private.code, "did you mean residentName" in private.err) == (3, True)


@pytest.mark.parametrize("command", ["audit", "return"])
def test_tables_with_a_column_that_is_nearly_a_known_one(command: str, run: Runner, tmp_path: Path) -> None:
    captures = write(tmp_path / "captures.csv", {**CAPTURE, "trapCheckDte": ""})
    released = {"captureID": "C-1", "eventDate": "2026-11-21T18:00:00+11:00", "disposal": "vet_or_carer"}
    releases = write(tmp_path / "releases.csv", released)
    tables = ["--captures", captures, "--releases", releases, "--permit", str(DATA / "permit.toml")]
    ran = run(command, *tables, "--now", "2027-07-01T09:00:00+10:00")
    assert ran.code in (0, 1), ran.err
    words = "captures.csv: column 'trapCheckDte' is not known (did you mean trapCheckDate?)"
    assert f"Note: {words}: it is not read." in ran.err


@pytest.mark.parametrize(
    ("command", "code", "words"),
    [
        (["add", "snake", "--set", "a=b", *BY], 2, "callout, capture, disposal"),
        (["add", "capture", *BY], 2, "--set: nothing is said"),
        (["add", "capture", "--set", "eventDate", *BY], 2, "COLUMN=VALUE"),
        (["add", "capture", "--set", "a=1", "--set", "a=2", *BY], 2, "a is set twice"),
        (["add", "capture", "--set", "a=1"], 2, "nobody is named who writes"),
        (["add", "capture", *cells(CAPTURE), "--by", "I", "--now", "noon"], 2, "--now"),
        (["add", "capture", *cells({**CAPTURE, "eventDate": "03/04/2026"}), *BY], 3, "3 April or 4 March"),
        (["add", "capture", *cells({**CAPTURE, "phone": "1"}), *BY], 3, "a resident's details"),
        (["add", "disposal", "--set", "captureID=C-9", "--set", "eventDate=2026-11-21T18:00Z",
          "--set", "disposal=died", *BY], 3, "C-9"),
        (["amend", "capture", "C-1", "--set", "sex=male", *BY], 2, "--why"),
        (["amend", "capture", "C-1", "--set", "sex=male", "--why", "x", *BY], 3, "logbook.db"),
        (["show"], 3, "logbook.db"),
        (["history", "capture", "C-1"], 3, "logbook.db"),
        (["export", "--kind", "capture"], 3, "logbook.db"),
        (["export", "--kind", "capture", "--format", "xlsx"], 2, "captures.xlsx"),
        (["import", "nowhere.csv", *BY], 3, "no such file"),
        (["take", "nowhere.json", *BY], 3, "no such file"),
    ],
)  # fmt: skip
def test_what_cannot_be_carried_out(command: list[str], code: int, words: str, run: Runner) -> None:
    ran = run("log", *command)
    assert ran.code == code
    assert words in ran.err
    assert "Traceback" not in ran.err


def test_nothing_wrong_is_amended_into_the_book(run: Runner) -> None:
    add(run)
    for changes, words in (
        ({"eventDate": "2026-11-21T16:20"}, "has no zone"),
        ({"decimalLatitude": ""}, "stands alone"),
        ({"captureID": "C-2"}, "captureID"),
        ({"residentName": "x"}, "a resident's details"),
        ({"individualCount": "1"}, "changes nothing"),
    ):
        ran = run("log", "amend", "capture", "C-1", *cells(changes), "--why", "x", *BY)
        assert (ran.code, words in ran.err) == (3, True), ran.err
    assert run("log", "amend", "capture", "C-9", *cells({"sex": "male"}), "--why", "x", *BY).code == 3
    assert run("log", "history", "capture", "C-1").out.count("by Ines") == 1


def test_a_local_time_and_its_zone(run: Runner) -> None:
    assert add(run, eventDate="2026-11-21T16:20", timeZone="Australia/Hobart").code == 0
    assert "eventDate: 2026-11-21T16:20+11:00" in run("log", "show", "capture", "C-1").out
    gone = add(run, captureID="C-2", eventDate="2026-10-04T02:30", timeZone="Australia/Hobart")
    assert (gone.code, "did not happen" in gone.err) == (3, True)


def test_import_twice_and_export_again(run: Runner, tmp_path: Path) -> None:
    assert run("log", "import", str(DATA / "callouts.csv"), *BY).code == 0  # which the captures name
    assert run("log", "import", str(DATA / "callouts.csv"), *BY).code == 0
    ran = run("log", "import", str(DATA / "captures.csv"), *BY)
    assert ran.code == 0
    with (DATA / "captures.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert f"{len(rows)} added, 0 there already, 0 refused" in ran.err
    assert f"0 added, {len(rows)} there already," in run("log", "import", str(DATA / "captures.csv"), *BY).err
    changed = ("--set", "individualCount=7", "--why", "recounted")
    assert run("log", "amend", "capture", "C-001", *changed, *BY).code == 0
    since = run("log", "import", str(DATA / "captures.csv"), *BY)
    assert (since.code, f"{len(rows)} there already (1 as logged, amended since), 0" in since.err) == (
        0,
        True,
    )
    back = ("--set", "individualCount=1", "--why", "wrong one")
    assert run("log", "amend", "capture", "C-001", *back, *BY).code == 0
    text = run("log", "export", "--kind", "capture").out
    assert [{c: v for c, v in r.items() if v} for r in csv.DictReader(text.splitlines())] == [
        {c: v for c, v in r.items() if v} for r in rows
    ]
    for form in ("xlsx", "gpkg", "geojson"):
        out = ["--format", form, "--out", f"book.{form}"]
        for _ in range(2):  # our own is replaced
            assert run("log", "export", "--kind", "capture", *out).code == 0
    assert openpyxl.load_workbook(tmp_path / "book.xlsx")["capture"].max_row == len(rows) + 1
    assert len(pyogrio.read_dataframe(tmp_path / "book.gpkg")) == len(rows)
    assert len(json.loads((tmp_path / "book.geojson").read_text("utf-8"))["features"]) == len(rows)
    (tmp_path / "notes.csv").write_text("mine", "utf-8")
    refused = run("log", "export", "--kind", "capture", "--out", "notes.csv")
    assert (refused.code, "--force" in refused.err) == (3, True)
    assert run("log", "export", "--kind", "capture", "--out", "notes.csv", "--force").code == 0
    over = run("log", "export", "--kind", "capture", "--out", "logbook.db", "--force")
    assert (over.code, "one of the inputs" in over.err) == (3, True)


def test_import_takes_all_or_nothing(run: Runner, tmp_path: Path) -> None:
    bad = {**CAPTURE, "captureID": "C-2", "eventDate": "03/04/2026"}
    name = write(tmp_path / "book.csv", CAPTURE, bad)
    ran = run("log", "import", name, *BY)
    assert ran.code == 3
    assert "book.csv, row 3, eventDate: '03/04/2026' may be 3 April or 4 March" in ran.err
    assert sum(int(line.split()[0]) for line in run("log", "show").out.splitlines()) == 0
    assert not (tmp_path / "book-refused.csv").exists()


def test_keep_good_leaves_the_others_beside(run: Runner, tmp_path: Path) -> None:
    bad = {**CAPTURE, "captureID": "C-2", "eventDate": "03/04/2026"}
    name = write(tmp_path / "book.csv", CAPTURE, bad)
    ran = run("log", "import", name, "--keep-good", *BY)
    assert ran.code == 1
    assert "2 rows of captures read: 1 added, 0 there already, 1 refused" in ran.err
    assert "Written: book-refused.csv" in ran.err
    assert run("log", "import", name, "--keep-good", *BY).code == 1  # the same file beside is ours
    beside = tmp_path / "book-refused.csv"
    beside.write_text(beside.read_text("utf-8").replace("03/04/2026", "2026-04-03T10:00+10:00"), "utf-8")
    write(tmp_path / "book.csv", {**CAPTURE, "captureID": "C-3"}, bad)
    over = run("log", "import", name, "--keep-good", *BY)  # a corrected file is not written over,
    assert (over.code, "--force" in over.err) == (3, True)
    assert "C-3" not in run("log", "show", "capture").out  # and then nothing is taken
    assert run("log", "import", "book-refused.csv", *BY).code == 0
    assert run("log", "show", "capture").out.count("C-") == 2


def test_rows_that_do_not_fit_their_table_are_refused_row_by_row(run: Runner, tmp_path: Path) -> None:
    rows = [{**CAPTURE, "captureID": f"C-{n}", "occurrenceRemarks": "x"} for n in range(1, 5)]
    rows[1]["occurrenceRemarks"] = "y" * 100_001
    name = write(tmp_path / "book.csv", *rows)
    lines = (tmp_path / name).read_text("utf-8").splitlines()
    lines[3] += ",one,too many"
    (tmp_path / name).write_text("\n".join([*lines, ""]), "utf-8")
    whole = run("log", "import", name, *BY)
    assert whole.code == 3
    for words in ("row 3, occurrenceRemarks: a cell of 100001", "row 4: 9 cells under 7 columns"):
        assert words in whole.err
    ran = run("log", "import", name, "--keep-good", *BY)
    assert (ran.code, "4 rows of captures read: 2 added, 0 there already, 2 refused" in ran.err) == (1, True)
    csv.field_size_limit(200_000)
    with (tmp_path / "book-refused.csv").open(encoding="utf-8", newline="") as file:
        refused = list(csv.DictReader(file))
    assert [r["captureID"] for r in refused] == ["C-2", "C-3"]
    assert refused[0]["occurrenceRemarks"] == "y" * 100_001, "what was there is not lost"
    assert "'too many'" in refused[1]["why"]


def test_a_check_at_the_spot_is_taken_once(run: Runner, tmp_path: Path) -> None:
    record = {
        "format": "tussock check 1",
        "capture": {"id": "C-1", "time": CAPTURE["eventDate"]},
        "site": {"number": 2},
        "now": "2026-11-21T17:30:00+11:00",
        "fix": {"latitude": -42.1006704, "longitude": 147.5666949, "radius_m": 8.0, "assumed": False},
        "verdict": "not_met",
        "rejected": True,
        "plan": {"file": "today.json", "sha256": "da62"},
        "answers": [{"key": "refuge", "answer": "no"}, {"key": "8(b)", "answer": None}],
        "conditions": [{"id": "3(a)", "source": "PDW-0417", "verdict": "met"},
                       {"id": "9(a)", "source": "PDW-0417", "verdict": None}],
        "temperature_c": 17.5,
        "photo": {"path": "/home/me/spot.jpg", "sha256": "ab12"},
        "why": "=a dog",
    }  # fmt: skip
    file = tmp_path / "today-check-1.json"
    file.write_text(json.dumps(record), "utf-8")
    early = run("log", "take", file.name, *BY)
    assert (early.code, "C-1" in early.err) == (3, True)  # its capture is not in the book
    add(run)
    assert run("log", "take", file.name, *BY).code == 0
    assert "Nothing new" in run("log", "take", file.name, *BY).err
    with open_logbook(tmp_path / "logbook.db") as logbook:
        (entry,) = logbook.entries("check")
    assert entry.parent == "C-1"
    expected = {
        "eventDate": record["now"], "kind": "spot", "rejected": "yes", "siteNumber": "2",
        "decimalLatitude": "-42.1006704", "coordinateUncertaintyInMeters": "8", "answer:refuge": "no",
        "verdict:PDW-0417 3(a)": "met", "airTemperature": "17.5", "associatedMedia": "spot.jpg",
        "occurrenceRemarks": "=a dog",
    }  # fmt: skip
    assert expected.items() <= entry.cells.items()
    assert "answer:8(b)" not in entry.cells
    other = run("log", "take", file.name, "--capture", "C-9", *BY)
    assert (other.code, "not 'C-9'" in other.err) == (3, True)
    for text in ("[]", "{", '{"format": "other"}', json.dumps({**record, "site": None})):
        file.write_text(text, "utf-8")
        wrong = run("log", "take", file.name, *BY)
        assert (wrong.code, "no check at the spot" in wrong.err) == (3, True)


def test_residents_are_deleted_after_their_day(run: Runner, tmp_path: Path) -> None:
    resident = {"residentName": "Orla Finchmere", "residentKeepUntil": "2026-12-31"}
    callout = {"calloutID": "K-1", "eventDate": CAPTURE["eventDate"], **resident}
    assert run("log", "add", "callout", *cells(callout), *BY).code == 0
    assert "Orla" not in run("log", "show", "callout", "K-1").out
    assert "Orla" not in run("log", "export", "--kind", "callout").out
    assert b"Orla" in b"".join(p.read_bytes() for p in tmp_path.glob("logbook.db*"))
    later = run("log", "add", "callout", "--set", "calloutID=K-2", "--set", "eventDate=2027-01-01T08:00Z",
                "--by", "I", "--now", "2027-01-01T20:00:00+11:00")  # fmt: skip
    assert "Deleted: the details of 1 resident," in later.err
    assert b"Orla" not in b"".join(p.read_bytes() for p in tmp_path.glob("logbook.db*"))


def test_settings_name_the_logbook_and_who_writes(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = f'[defaults]\nlogbook = "season/book.db"\nby = "Ines Tarrowby"\nregion = "{DATA}"\n'
    (tmp_path / "tussock.toml").write_text(text, "utf-8")
    (tmp_path / "season").mkdir()
    assert run("log", "add", "capture", *cells(CAPTURE)).code == 0
    assert "by Ines Tarrowby" in run("log", "history", "capture", "C-1").out
    assert (tmp_path / "season" / "book.db").exists()
    assert not (tmp_path / "logbook.db").exists()
    with handed(monkeypatch) as given:  # a plan takes its own defaults beside
        run.plan({"--region": None})
    assert len(given.settings) == 1


def test_two_options_name_two_books(run: Runner, tmp_path: Path) -> None:
    for name in ("a.db", "b.db"):
        assert add_to(run, name).code == 0
        assert (tmp_path / name).exists()


def add_to(run: Runner, name: str) -> Ran:
    return run("log", "add", "capture", *cells(CAPTURE), *BY, "--logbook", name)
