"""A logbook as a plan takes it, from a file and from a server: who is held, and what went before."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.support.logged import AT, BY
from tussock.errors import InputError
from tussock.records.entries import CAPTURE, CONSENT, DISPOSAL, ID_COLUMN, Entry
from tussock.records.held import HeldBook, held, listed, logged
from tussock.records.logbook import open_logbook
from tussock.species.profiles import load_profiles

SPECIES = load_profiles()
PLACE = {
    "decimalLatitude": "-42.10258",
    "decimalLongitude": "147.57047",
    "coordinateUncertaintyInMeters": "5",
}
NOW = datetime(2026, 1, 3, tzinfo=UTC)


def entry(kind: str, name: str, day: int, **cells: str) -> Entry:
    when = {} if kind == CONSENT else {"eventDate": f"2026-01-{day:02d}T02:00Z"}
    return Entry(kind, name, {ID_COLUMN[kind]: name, **when, **cells}, "table")


BOOK = (
    entry(CAPTURE, "one", 1, **PLACE, vernacularName="tiger snake", individualCount="1"),
    entry(CAPTURE, "litter", 1, **PLACE, scientificName="Notechis scutatus", individualCount="9"),
    entry(CAPTURE, "gone", 2, **PLACE, scientificName="Notechis scutatus", individualCount="4"),
    entry(CAPTURE, "tomorrow", 4, **PLACE, scientificName="Notechis scutatus", individualCount="1"),
    entry(DISPOSAL, "litter/1", 2, **PLACE, captureID="litter", disposal="released", individualCount="4",
          consentReference="CN-1"),
    entry(DISPOSAL, "litter/2", 2, captureID="litter", disposal="died", individualCount="2"),
    entry(DISPOSAL, "gone", 2, **PLACE, captureID="gone", disposal="released"),
    entry(DISPOSAL, "one", 4, **PLACE, captureID="one", disposal="released"),
    entry(DISPOSAL, "tomorrow", 5, **PLACE, captureID="tomorrow", disposal="released"),
    entry(CONSENT, "CN-1", 0, parcelID="P-1", validFrom="2026-01-01", number="5"),
)  # fmt: skip


def as_of(now: datetime, *entries: Entry) -> HeldBook:
    return held("book.db", entries or BOOK, species=SPECIES, now=now)


def test_a_book_of_either_kind_is_read_as_it_stood(address: str) -> None:
    with open_logbook(address) as logbook:
        logbook.write(BOOK, by=BY, at=AT)
    name, entries = logged(address)
    assert name == address.partition("?")[0].rpartition("/")[2]
    assert {e.where for e in entries if e.kind == CONSENT} == {f"{name}, consent CN-1"}
    book = held(name, entries, species=SPECIES, now=NOW)
    assert dict(book.left) == {"one": 1, "litter": 3}, "9 - 4 - 2 are left of the litter"
    assert book.ahead == ("tomorrow",)
    assert dict(book.ends) == {"gone": "released at 2026-01-02T02:00:00+00:00"}
    assert {(b.capture_id, b.release.individual_count) for b in book.booked} == {("", 4), ("gone", 4)}
    assert [c.id for c in book.consents] == ["CN-1"]
    assert book.notes == ("2 outcomes are dated after 2026-01-03T00:00:00+00:00, and left out",)


def test_a_day_later_other_animals_are_held() -> None:
    assert dict(as_of(datetime(2026, 1, 4, 12, tzinfo=UTC)).left) == {"litter": 3, "tomorrow": 1}
    assert dict(as_of(datetime(2026, 1, 9, tzinfo=UTC)).left) == {"litter": 3}
    assert dict(as_of(datetime(2025, 12, 31, tzinfo=UTC)).left) == {}
    at_the_instant = datetime(2026, 1, 2, 2, tzinfo=UTC)
    assert "gone" not in as_of(at_the_instant).left, "what ends now has ended"


def test_rows_are_those_of_a_table_with_what_is_left() -> None:
    rows = {r.id: r for r in as_of(NOW).rows(("one", "litter"), species=SPECIES)}
    assert rows["litter"].where == "table"
    assert rows["one"].capture is None
    assert set(rows["one"].unanswered) > {"origin", "gravid"} and "individualCount" not in (
        rows["one"].unanswered
    )
    answers = {
        "identification": "certain", "origin": "wild_local", "animalCondition": "fit",
        "lifeStage": "neonate", "gravid": "no", "foundIn": "yard",
    }  # fmt: skip
    full = (
        *(e for e in BOOK if e.id != "litter"),
        entry(CAPTURE, "litter", 1, **{**BOOK[1].cells, **answers}),
    )
    (row,) = as_of(NOW, *full).rows(["litter"], species=SPECIES)
    assert row.capture is not None
    assert row.capture.animal.individual_count == 3
    assert row.capture.position.radius_m == 5


def test_hashes_tell_what_a_plan_reads_apart() -> None:
    before, again = as_of(NOW), as_of(NOW, *reversed(BOOK))
    assert before.inputs == again.inputs
    with_one = as_of(NOW, *BOOK, entry(CAPTURE, "new", 2, **PLACE, scientificName="Notechis scutatus"))
    assert with_one.inputs == before.inputs, "a further capture is no release"
    placed = {**PLACE, "decimalLatitude": "-42.10260"}
    moved = as_of(NOW, *(e for e in BOOK if e.id != "gone"), BOOK[2],
                  entry(DISPOSAL, "gone", 2, **placed, captureID="gone", disposal="released"))  # fmt: skip
    changed = {n for n, h in moved.inputs.items() if before.inputs[n] != h}
    assert changed == {"releases/book.db"}
    assert before.hash_of(["one"]) != before.hash_of(["litter"])


def test_every_cell_that_cannot_be_read_is_told_with_its_entry() -> None:
    bad = entry(CAPTURE, "bad", 2, **{**PLACE, "eventDate": "yesterday"}, scientificName="Notechis scutatus")
    worse = entry(DISPOSAL, "one", 2, captureID="one", disposal="lost")
    with pytest.raises(InputError) as told:
        as_of(NOW, BOOK[0], bad, worse)
    assert "yesterday" in str(told.value) and "lost" in str(told.value)


def test_no_logbook_is_made(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        logged(str(tmp_path / "none.db"))
    assert list(tmp_path.iterdir()) == []


def test_many_names_are_cut_short() -> None:
    assert listed(["b", "a"]) == "a, b"
    assert listed(f"C-{n:03}" for n in range(40)).endswith("C-019 …")
