"""A book read as a whole: every entry once, animals that add up, and what is to be explained of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.records.book import RecordBook, read_book
from tussock.records.entries import CAPTURE, CHECK, CONTAINER, DISPOSAL, Entry, disposal_id
from tussock.records.typed import parse_temperature
from tussock.species.profiles import load_profiles

SPECIES = load_profiles()
NOW = datetime.fromisoformat("2026-03-20T12:00:00+11:00")
PLACE = {
    "decimalLatitude": "-42.101234",
    "decimalLongitude": "147.601234",
    "coordinateUncertaintyInMeters": "8",
}


def capture(name: str, at: str = "2026-03-01T09:00:00+11:00", **cells: str) -> Entry:
    given = {"captureID": name, "eventDate": at, **PLACE, "individualCount": "1", **cells}
    return Entry(CAPTURE, name, {c: v for c, v in given.items() if v}, f"captures.csv, {name}")


def ended(name: str, at: str = "2026-03-01T11:00:00+11:00", **cells: str) -> Entry:
    given = {"captureID": name, "eventDate": at, **PLACE, "disposal": "released", **cells}
    own = disposal_id(name, cells.get("organismID", ""))
    return Entry(DISPOSAL, own, {c: v for c, v in given.items() if v}, f"releases.csv, {own}")


def book(*entries: Entry) -> RecordBook:
    return read_book(entries, species=SPECIES, now=NOW)


def sorts(found: RecordBook) -> list[tuple[str, str]]:
    return [(r.sort, r.entry) for r in found.remarks if r.attention]


def test_a_clean_book_needs_no_explaining() -> None:
    found = book(capture("C-1"), ended("C-1"), capture("C-2"), ended("C-2"))
    assert sorts(found) == []
    assert [k.capture_id for k in found.kept] == ["C-1", "C-2"]


def test_a_litter_with_different_outcomes_adds_up() -> None:
    found = book(
        capture("C-1", individualCount="14"),
        ended("C-1", organismID="A", individualCount="9"),
        ended(
            "C-1",
            organismID="B",
            individualCount="1",
            disposal="died",
            decimalLatitude="",
            decimalLongitude="",
        ),
        ended("C-1", organismID="C", individualCount="2", disposal="vet_or_carer"),
    )
    made = [(k.handling.disposal, k.handling.animal.individual_count) for k in found.kept if k.handling]
    assert sorted(made) == [("", 2), ("died", 1), ("released", 9), ("vet_or_carer", 2)]
    assert sorts(found) == [("no_disposal", "C-1")]


def test_another_species_at_the_end_of_holding_is_kept_beside_the_captures() -> None:
    tiger, brown = {"scientificName": "Notechis scutatus"}, {"scientificName": "Pseudonaja textilis"}
    found = book(
        capture("C-1", **tiger), ended("C-1", **brown), capture("C-2", **tiger), ended("C-2", **tiger),
        capture("C-3", **tiger), ended("C-3"), capture("C-4"), ended("C-4", **brown), capture("C-5", **tiger),
    )  # fmt: skip
    named = {k.capture_id: k.handling.named_at_end for k in found.kept if k.handling}
    assert {k for k, v in named.items() if v} == {"C-1"}
    assert named["C-1"] == SPECIES.of_species("Pseudonaja textilis")


def test_who_handled_it_is_told_apart_by_capture_and_end_of_holding() -> None:
    found = book(
        capture("C-1", recordedBy="A | B"), ended("C-1"), capture("C-2"), ended("C-2", recordedBy="A"),
        capture("C-3", recordedBy="C"),
    )  # fmt: skip
    said = {k.capture_id: (k.handling.handlers, k.handling.ended_by) for k in found.kept if k.handling}
    assert said == {"C-1": (("A", "B"), ()), "C-2": ((), ("A",)), "C-3": (("C",), None)}


@given(
    st.lists(st.tuples(st.integers(1, 9), st.lists(st.integers(1, 4), max_size=3)), min_size=1, max_size=6)
)
def test_animals_taken_are_animals_accounted_for(litters: list[tuple[int, list[int]]]) -> None:
    entries, short = [], 0
    for n, (taken, lots) in enumerate(litters):
        entries.append(capture(f"C-{n}", individualCount=str(taken)))
        entries += [
            ended(f"C-{n}", organismID=f"L{k}", individualCount=str(count)) for k, count in enumerate(lots)
        ]
        short += max(0, sum(lots) - taken)
    found = book(*entries)
    counted = sum(k.handling.animal.individual_count for k in found.kept if k.handling)
    assert counted == sum(taken for taken, _ in litters) + short
    assert sum(r.sort == "count" for r in found.remarks) == sum(sum(lots) > taken for taken, lots in litters)
    assert sum(bool(k.disposal_id) for k in found.kept) == sum(len(lots) for _, lots in litters)


@pytest.mark.parametrize(
    ("entries", "expected"),
    [
        ([capture("C-1")], ("no_disposal", "C-1")),
        ([ended("C-9")], ("no_capture", "C-9")),
        ([capture("C-1"), ended("C-1", "2026-03-01T08:00:00+11:00")], ("before_capture", "C-1")),
        (
            [
                capture("C-1", scientificName="Notechis scutatus"),
                ended("C-1", scientificName="Pseudonaja textilis"),
            ],
            ("other_species", "C-1"),
        ),
        ([capture("C-1", "2031-03-01T09:00:00+11:00")], ("in_future", "C-1")),
        ([capture("C-1"), ended("C-1", "2031-03-01T08:00:00+11:00")], ("in_future", "C-1")),
        ([capture("C-1"), ended("C-1", decimalLatitude="", decimalLongitude="")], ("no_place", "C-1")),
        ([capture("C-1", coordinateUncertaintyInMeters=""), ended("C-1")], ("assumed", "C-1")),
        ([capture("C-1"), ended("C-1", coordinateUncertaintyInMeters="0")], ("assumed", "C-1")),
        ([capture("C-1", individualCount=""), ended("C-1")], ("assumed_count", "C-1")),
        ([capture("C-1"), ended("C-1", disposal="")], ("assumed_outcome", "C-1")),
        ([capture("C-1"), ended("C-1", recordedDate="2026-03-09T12:00:00+11:00")], ("late_entry", "C-1")),
        ([capture("C-1"), ended("C-1", recordedDate="2026-03-01T10:00:00+11:00")], ("contradiction", "C-1")),
        (
            [e for n in (1, 2, 4, 5) for e in (capture(f"C-00{n}"), ended(f"C-00{n}"))],
            ("numbering_gap", "C-003"),
        ),
    ],
)
def test_what_needs_explaining_is_said(entries: Iterable[Entry], expected: tuple[str, str]) -> None:
    assert sorts(book(*entries)) == [expected]


@pytest.mark.parametrize(
    ("taken", "said"),
    [
        ({"scientificName": "Notechis scutatus"}, {"scientificName": "notechis  scutatus"}),
        ({"scientificName": "Notechis scutatus"}, {"scientificName": "Tiger snake"}),
        ({"scientificName": "tiger snake"}, {"scientificName": "Notechis scutatus"}),
        ({"vernacularName": "tiger snake"}, {"scientificName": "Notechis scutatus"}),
        ({"scientificName": "Notechis scutatus"}, {"vernacularName": "Tiger snake"}),
        ({"scientificName": "Notechis scutatus"}, {}),
    ],
)
def test_another_name_of_the_same_species_is_no_other_species(
    taken: dict[str, str], said: dict[str, str]
) -> None:
    """Notechis scutatus is the tiger snake (species profile, with its source)."""
    assert sorts(book(capture("C-1", **taken), ended("C-1", **said))) == []


def test_numbers_that_are_no_sequence_have_no_gaps() -> None:
    found = book(*(e for n in (1, 20, 300) for e in (capture(f"C-{n}"), ended(f"C-{n}"))))
    assert sorts(found) == []


def test_a_container_is_cleaned_between_animals() -> None:
    taken = [
        capture("C-1", containerID="B-1"),
        ended("C-1"),
        capture("C-2", "2026-03-02T09:00:00+11:00", containerID="B-1"),
        ended("C-2", "2026-03-02T11:00:00+11:00"),
    ]
    assert sorts(book(*taken)) == [("not_cleaned", "C-2")]
    cleaned = Entry(CONTAINER, "B-1", {"containerID": "B-1", "cleanedDate": "2026-03-01T20:00:00+11:00"})
    assert sorts(book(*taken, cleaned)) == []


def test_looks_belong_to_their_capture_and_are_unknown_without_any() -> None:
    look = Entry(CHECK, "K-1", {"captureID": "C-1", "eventDate": "2026-03-01T10:00:00+11:00"})
    found = book(capture("C-1"), ended("C-1"), capture("C-2"), ended("C-2"), look)
    checks = {k.capture_id: k.handling.checks for k in found.kept if k.handling}
    assert checks["C-1"] == (datetime.fromisoformat("2026-03-01T10:00:00+11:00"),)
    assert checks["C-2"] is None


def test_every_cell_that_cannot_be_read_is_told_at_once() -> None:
    wrong = [
        capture("C-1", "01/03/2026 09:00"),
        capture("C-2", "2026-03-01T09:00:00"),
        capture("C-3", decimalLatitude="42°06'S"),
        ended("C-4", disposal="let go"),
        ended("C-5", airTemperature="warm"),
    ]
    with pytest.raises(InputError) as caught:
        book(*wrong)
    text = caught.value.text()
    for name in ("C-1", "C-2", "C-3", "C-4", "C-5"):
        assert name in text


def test_a_column_left_empty_is_not_a_column_that_is_not_there() -> None:
    found = book(capture("C-1", sex="female"), ended("C-1"), capture("C-2"), ended("C-2"))
    columns = {k.capture_id: k.handling.columns for k in found.kept if k.handling}
    assert columns["C-2"]["sex"] == ""
    assert "lifeStage" not in columns["C-2"]


@pytest.mark.parametrize(("text", "found"), [("18", (18.0, 18.0)), ("−2.5 | 3", (-2.5, 3.0))])
def test_temperatures(text: str, found: tuple[float, float]) -> None:
    assert parse_temperature(text, where="") == found


def test_a_release_without_its_capture_still_counts_for_those_after_it() -> None:
    at = {"scientificName": "Notechis scutatus", "individualCount": "3", "consentReference": "CN-1"}
    loose = book(ended("C-9", **at), ended("C-8", disposal="died")).loose
    assert [(r.individual_count, r.scientific_name, r.consent_reference) for r in loose] == [
        (3, "Notechis scutatus", "CN-1")
    ]
