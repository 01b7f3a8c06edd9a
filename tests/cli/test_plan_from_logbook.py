"""``tussock plan --logbook``: the captures still held, with the book's releases and consents."""

from __future__ import annotations

import csv
import json
from collections import Counter
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import AT, CLOCK, DATA, GROUND, RELEASE, Given, Ran, Runner, handed, typed
from tussock.measure.scene import EarlierRelease
from tussock.records.entries import CAPTURE, CONSENT, DISPOSAL, Entry
from tussock.records.logbook import open_logbook
from tussock.records.tabled import read_entries

HERE = ["--region", GROUND["--region"], "--permit", GROUND["--permit"], "--now", CLOCK]
"""No table of consents: the book has them."""
TABLES = {CAPTURE: "captures.csv", DISPOSAL: "releases.csv", CONSENT: "consents.csv"}
SEASON = datetime(2026, 12, 1, tzinfo=UTC)
WHEN = "2026-11-14T{:02d}:00:00+11:00"


@pytest.fixture
def book(run: Runner, tmp_path: Path) -> Path:
    """Give the book that the district's tables make; the working folder is its own."""
    return filled(tmp_path / "book.db", *season())


@pytest.fixture
def small(run: Runner, tmp_path: Path) -> Path:
    """Give a book of one capture of five animals, and two others."""
    captures = [capture("A", hour=8, individualCount="5"), capture("B", hour=9), capture("Z", hour=10)]
    return filled(tmp_path / "small.db", *captures, ended("B", hour=10))


def season() -> list[Entry]:
    """Return the district's captures, how they ended and the consents, with C-061 still in hand."""
    read = {kind: read_entries(DATA / name, kind).entries for kind, name in TABLES.items()}
    captures = [
        Entry(CAPTURE, e.id, {c: v for c, v in e.cells.items() if c != "calloutID"}) for e in read[CAPTURE]
    ]
    there = {e.id for e in captures} - {"C-061"}
    return [*captures, *(e for e in read[DISPOSAL] if e.parent in there), *read[CONSENT]]


def written(path: Path, entries: Iterable[Entry]) -> str:
    """Write entries as a table."""
    rows = [e.cells for e in entries]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(dict.fromkeys(c for row in rows for c in row)))
        writer.writeheader()
        writer.writerows(rows)
    return str(path)


def until_now(entries: Iterable[Entry], kind: str) -> list[Entry]:
    """Return the entries of a kind that are no later than the clock."""
    clock = datetime.fromisoformat(CLOCK)
    return [e for e in entries if e.kind == kind and datetime.fromisoformat(e.get("eventDate")) <= clock]


def filled(path: Path, *entries: Entry) -> Path:
    with open_logbook(path) as logbook:
        logbook.write(entries, by="Ines Tarrowby", at=SEASON)
    return path


def capture(name: str, *, hour: int, **changed: str) -> Entry:
    (known,) = (e for e in season() if (e.kind, e.id) == (CAPTURE, "C-061"))
    cells = {**known.cells, "captureID": name, "eventDate": WHEN.format(hour), **changed}
    return Entry(CAPTURE, name, {c: v for c, v in cells.items() if v})


def ended(name: str, *, hour: int, key: str = "", **changed: str) -> Entry:
    cells = {
        "captureID": name,
        "eventDate": WHEN.format(hour),
        "disposal": "released",
        "decimalLatitude": "-42.1061",
        "decimalLongitude": "147.5652",
        "coordinateUncertaintyInMeters": "10",
        **changed,
    }
    return Entry(DISPOSAL, key or name, {"disposalID": key or name, **cells})


def rows_of(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def seen(run: Runner, monkeypatch: pytest.MonkeyPatch, *arguments: str) -> Given:
    """Return what reaches the planner."""
    with handed(monkeypatch) as given:
        ran = run("plan", *arguments)
    assert ran.code == 99, ran.err
    return given


def refused(run: Runner, *arguments: str, code: int = 2) -> str:
    ran = run("plan", *arguments)
    assert (ran.code, ran.out) == (code, "")
    return ran.err


def captured(monkeypatch: pytest.MonkeyPatch, run: Runner, *arguments: str) -> list[tuple[str, int]]:
    """Return id and number of animals of every capture that a run plans for, without planning any."""
    from tussock.cli import batch
    from tussock.planning.inputs import CaptureRow

    found: list[tuple[str, int]] = []

    def noted(rows: tuple[CaptureRow, ...], *_: Any, **__: Any) -> list[Any]:
        found.extend((r.id, r.capture.animal.individual_count if r.capture else 0) for r in rows)
        return []

    with monkeypatch.context() as patch:
        patch.setattr(batch, "plan_batch", noted)
        assert run("plan", *arguments).code == 0
    return found


def without_inputs(path: Path) -> dict[str, Any]:
    found = json.loads(path.read_text("utf-8"))
    assert found.pop("inputs")
    return dict(found)


def test_the_plan_is_that_of_the_tables_byte_for_byte(run: Runner, book: Path, tmp_path: Path) -> None:
    table = written(tmp_path / "one.csv", (e for e in season() if e.id == "C-061"))
    earlier = written(tmp_path / "earlier.csv", until_now(season(), DISPOSAL))
    tables = ["--captures", table, "--releases", earlier, "--consents", GROUND["--consents"]]
    tables += ["--out", "table"]
    when = ["--release-at", RELEASE]
    assert run("plan", *HERE, *tables, *when).code == 0
    ran = run("plan", *HERE, "--logbook", book.name, "--capture", "C-061", *when, "--out", "booked")
    assert ran.code == 0, ran.err
    for suffix in (".geojson", ".gpx"):
        made = (tmp_path / f"booked{suffix}").read_bytes()
        assert made == (tmp_path / f"table-C-061{suffix}").read_bytes()
    record = without_inputs(tmp_path / "booked.json")
    assert record == without_inputs(tmp_path / "table-C-061.json")
    assert len(record["sites"]) >= 3
    inputs = json.loads((tmp_path / "booked.json").read_text("utf-8"))["inputs"]
    read = sorted(n for n in inputs if n.endswith("book.db"))
    assert read == ["captures/book.db", "consents/book.db", "releases/book.db"]
    assert book.read_bytes()[:6] == b"SQLite"


def test_the_captures_still_held_then_are_planned_for_in_order_of_time(
    run: Runner, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone: Counter[str] = Counter()
    for e in until_now(season(), DISPOSAL):  # without a number the whole capture
        gone[e.parent] += int(e.get("individualCount") or ("1" if e.get("organismID") else "999999"))
    then = sorted(until_now(season(), CAPTURE), key=lambda e: datetime.fromisoformat(e.get("eventDate")))
    expected = [e.id for e in then if gone[e.id] < int(e.get("individualCount") or 1)]
    found = captured(monkeypatch, run, *HERE, "--logbook", str(book))
    assert [name for name, _ in found] == expected
    assert "C-061" in expected


def test_of_several_animals_those_left_are_planned_for_and_the_others_were_earlier(
    run: Runner, small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(small, ended("A", hour=9, key="A/1", individualCount="2"))
    filled(small, ended("A", hour=10, key="A/2", individualCount="1", disposal="vet_or_carer"))
    arguments = [*HERE, "--logbook", small.name]
    assert captured(monkeypatch, run, *arguments) == [("A", 2), ("Z", 1)]
    given = seen(run, monkeypatch, *arguments, "--capture", "A")
    assert given.captures[0].animal.individual_count == 2
    assert [e.individual_count for e in given.settings[0].counted] == [2, 1], "its own two, and B"
    filled(small, ended("A", hour=10, key="A/3", individualCount="2"))
    assert captured(monkeypatch, run, *arguments) == [("Z", 1)]


def test_the_book_is_read_as_it_stood_at_the_clock(
    run: Runner, small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def at(clock: str) -> list[tuple[str, int]]:
        return captured(monkeypatch, run, *HERE[:4], "--now", clock, "--logbook", small.name)

    assert at(WHEN.format(9)) == [("A", 5), ("B", 1)], "B was let go at ten, Z caught at ten"
    assert at(WHEN.format(10)) == [("A", 5), ("Z", 1)]
    assert at(WHEN.format(7)) == []
    again = run("plan", *HERE[:4], "--now", WHEN.format(7), "--logbook", small.name, "--format", "json")
    assert (again.code, json.loads(again.out)) == (0, [])
    assert "No capture of small.db is held: nothing to plan." in again.err


def test_with_a_place_the_releases_and_consents_of_the_book_count(
    run: Runner, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = typed({"--consents": None})
    without = seen(run, monkeypatch, *alone).settings[0]
    assert (without.earlier, without.consents) == (None, ())
    given = seen(run, monkeypatch, *alone, "--logbook", str(book)).settings[0]
    earlier = written(tmp_path / "earlier.csv", until_now(season(), DISPOSAL))
    expected = seen(run, monkeypatch, *typed({"--releases": earlier})).settings[0]
    assert sorted(map(_when, given.counted)) == sorted(map(_when, expected.counted))
    assert {c.id: c.valid_to for c in given.consents} == {c.id: c.valid_to for c in expected.consents}
    assert len(given.counted) > 20 and len(given.consents) > 10


def _when(release: EarlierRelease) -> tuple[datetime, float, int]:
    return release.instant, release.latitude, release.individual_count


@pytest.mark.parametrize("named", ["in tussock.toml", "by its default name"])
def test_a_logbook_that_is_there_counts_though_it_is_not_named(
    named: str, run: Runner, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan without the book would overlook releases that it knows of."""
    alone = typed({"--consents": None})
    if named == "in tussock.toml":
        (tmp_path / "tussock.toml").write_text('[defaults]\nlogbook = "book.db"\n', "utf-8")
    else:
        book = book.rename(tmp_path / "logbook.db")
    given = seen(run, monkeypatch, *alone).settings[0]
    assert f"Note: the releases and consents of {book.name} count" in run("plan", *alone, "--top", "1").err
    expected = seen(run, monkeypatch, *alone, "--logbook", book.name).settings[0]
    assert (given.earlier, given.consents) == (expected.earlier, expected.consents)
    assert given.earlier is not None
    assert len(given.earlier) > 20 and len(given.consents) > 10
    table = ["--releases", str(DATA / "releases.csv")]
    assert not any(book.name in n for n in seen(run, monkeypatch, *alone, *table).settings[0].inputs)
    assert "no place of capture" in refused(run, *HERE), "what is held is planned for only when asked"
    # --capture speaks of a logbook, and so finds the one that is there
    assert seen(run, monkeypatch, *HERE, "--capture", "C-061").captures[0].id == "C-061"


def test_a_logbook_that_is_not_there_yet_or_cannot_be_read_keeps_nobody_from_a_plan(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "tussock.toml").write_text('[defaults]\nlogbook = "book.db"\n', "utf-8")
    assert seen(run, monkeypatch, *typed()).settings[0].earlier is None
    assert not (tmp_path / "book.db").exists()
    (tmp_path / "book.db").write_text("no logbook", "utf-8")
    given = seen(run, monkeypatch, *typed()).settings[0]
    assert given.earlier is None and len(given.consents) > 10, "as without a book"
    assert "Note: the logbook book.db does not count, as it cannot be read" in run("plan", *typed()).err
    assert (tmp_path / "book.db").read_text("utf-8") == "no logbook"


def test_a_register_in_tussock_toml_counts_where_the_book_has_no_consents(
    run: Runner, small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "own.csv").write_text("consentID,parcelID,validFrom\nCN-X,P-00024,2026-01-01\n", "utf-8")
    (tmp_path / "tussock.toml").write_text('[defaults]\nconsents = "own.csv"\n', "utf-8")
    arguments = [*HERE, "--logbook", small.name, "--capture", "Z"]
    assert [c.id for c in seen(run, monkeypatch, *arguments).settings[0].consents] == ["CN-X"]
    assert "the consents of own.csv count, not those of small.db" in run("plan", *arguments).err
    cells = {"consentID": "CN-Y", "parcelID": "P-00025", "validFrom": "2026-01-01"}
    filled(small, Entry(CONSENT, "CN-Y", cells))
    assert [c.id for c in seen(run, monkeypatch, *arguments).settings[0].consents] == ["CN-Y"]
    given = seen(run, monkeypatch, *arguments, "--consents", "own.csv")
    assert [c.id for c in given.settings[0].consents] == ["CN-X"], "as typed"
    assert not any("small.db" in n for n in given.settings[0].inputs if n.startswith("consents/"))


def test_a_consent_is_used_up_by_releases_of_the_book(run: Runner, small: Path, tmp_path: Path) -> None:
    """The ground of site 1 is under a consent for one animal; B took that place, and Z finds it gone."""
    named = ["--logbook", small.name, "--capture", "Z", "--release-at", RELEASE, "--out", "today"]
    consents = [r for r in rows_of("consents.csv") if r["withdrawnOn"] == ""]
    filled(small, *(Entry(CONSENT, r["consentID"], {**r, "number": "1"}) for r in consents))
    assert run("plan", *HERE, *named).code == 0
    first = json.loads((tmp_path / "today.json").read_text("utf-8"))["sites"][0]
    ((used, _), *_) = first["consents"]
    with open_logbook(small) as logbook:
        changed = {"consentReference": used}
        logbook.amend(DISPOSAL, "B", changed, by="Ines Tarrowby", at=SEASON, why="it was left out")
    run("plan", *HERE, *named)
    sites = json.loads((tmp_path / "today.json").read_text("utf-8"))["sites"]
    assert used not in {name for site in sites for name, _ in site["consents"]}


def test_wrong_ids_are_named_with_what_is_held(run: Runner, small: Path) -> None:
    names = [w for n in ("B", "Z", "nobody", "late") for w in ("--capture", n)]
    filled(small, capture("late", hour=18))
    told = refused(run, *HERE, "--logbook", small.name, *names)
    assert "3 faults" in told
    assert "--capture B: capture 'B' is no longer held: released at 2026-11-14T10:00:00+11:00" in told
    assert "--capture nobody: there is no capture 'nobody' in small.db" in told
    assert "--capture late: capture 'late' is made later than the clock says" in told
    assert told.count("those held then: A, Z") == 3
    assert "--capture Z:" not in told


def test_a_logbook_that_is_not_there_is_not_made(run: Runner, tmp_path: Path) -> None:
    told = refused(run, *HERE, "--logbook", "nowhere.db", code=3)
    assert "nowhere.db" in told
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "notes.db").write_text("no logbook", "utf-8")
    refused(run, *HERE, "--logbook", "notes.db", code=3)
    assert (tmp_path / "notes.db").read_text("utf-8") == "no logbook"


def test_what_contradicts_itself_is_refused(run: Runner, small: Path) -> None:
    book = ["--logbook", small.name]
    told = refused(run, *HERE, *book, "--species", "tiger snake", "--capture-id", "Z")
    assert "--species, --capture-id" in told or "--capture-id, --species" in told
    assert "--capture together with --at" in refused(run, *typed(), *book, "--capture", "Z")
    told = refused(run, *typed(), *book, "--releases", str(DATA / "releases.csv"))
    assert "--releases: a logbook and a table of releases" in told


def test_an_open_question_is_answered_in_the_book(run: Runner, small: Path) -> None:
    filled(small, capture("Q", hour=10, gravid="", lifeStage=""))
    told = refused(run, *HERE, "--logbook", small.name, "--capture", "Q")
    assert "small.db, capture Q: not answered: lifeStage, gravid" in told
    assert "tussock log amend capture Q --set lifeStage=… --set gravid=…" in told
    ran: Ran = run("plan", *HERE, "--logbook", small.name, "--capture", "Q", "--capture", "Z")
    assert ran.code == 1
    assert "Q: not planned. small.db, capture Q: fill in lifeStage, gravid." in ran.err


def test_a_release_without_a_place_is_told(run: Runner, small: Path) -> None:
    bare = {"captureID": "Z", "eventDate": WHEN.format(10), "disposal": "released"}
    filled(small, Entry(DISPOSAL, "Z", bare))
    assert "no place of release is recorded for Z" in run("plan", *HERE, "--logbook", small.name).err


def test_what_was_held_long_is_asked_about(run: Runner, small: Path, tmp_path: Path) -> None:
    arguments = [*HERE[:4], "--logbook", small.name, "--now", "2026-11-17T09:00:00+11:00"]
    ran = run("plan", *arguments)
    assert ran.code == 1
    assert "held for more than 24 hours by the book: A, Z" in ran.err
    assert "can be reached after 2026-11-17T09:00:00+11:00" in ran.err


def test_a_capture_beyond_the_region_is_refused_with_its_id(run: Runner, small: Path) -> None:
    filled(small, capture("far", hour=10, decimalLongitude="150.2"))
    told = refused(run, *HERE, "--logbook", small.name, code=3)
    assert "small.db, capture far" in told
    assert AT.split(",")[0] not in told
