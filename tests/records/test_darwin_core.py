"""The archive: same bytes, one row a capture, ids for all time, nothing that breaks a table or a page."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from tests.records.test_book import book, capture
from tussock.errors import InputError
from tussock.position import Position
from tussock.records.darwin_core import Dataset, archive, occurrence_id, write_archive
from tussock.records.entries import Entry
from tussock.records.generalised import generalise
from tussock.records.sensitivity import Sensitivity, read_sensitivity

DATASET = Dataset("book", "Title", "Holder", date(2026, 11, 20))
RULES = Sensitivity({"Notechis": 4, "Notechis scutatus": 2, "Pseudonaja textilis": 1}, 3, unidentified=2)


def made(*entries: Entry, dataset: Dataset = DATASET) -> bytes:
    return archive(book(*entries).captures, dataset=dataset, sensitivity=RULES)


def table(content: bytes) -> list[dict[str, str]]:
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        head, *lines = parts.read("occurrence.txt").decode().removesuffix("\n").split("\n")
    return [dict(zip(head.split("\t"), line.split("\t"), strict=True)) for line in lines]


def test_the_same_book_gives_the_same_bytes_in_whatever_order() -> None:
    first, second = capture("C-1"), capture("C-2", "2026-03-02T09:00:00+11:00")
    assert made(first, second) == made(second, first)


def test_an_id_stays_when_other_captures_come_and_differs_between_books() -> None:
    one, two = capture("C-1"), capture("C-2", "2026-02-02T09:00:00+11:00")
    ids = [[r["occurrenceID"] for r in table(made(*e))] for e in ((one,), (one, two))]
    assert ids[0][0] in ids[1]
    # as it was when first written: it must never change
    assert ids[0] == ["urn:uuid:3f78f306-fb93-5843-87a3-583eee994b2e"]
    other = replace(DATASET, id="another book")
    assert occurrence_id(other, "C-1") != occurrence_id(DATASET, "C-1")
    assert occurrence_id(replace(DATASET, id="a"), "bc") != occurrence_id(replace(DATASET, id="ab"), "c")


def test_what_is_not_known_is_empty() -> None:
    given = {"individualCount": "", "sex": "unknown", "vernacularName": "snake"}
    (row,) = table(made(capture("C-1", **given)))
    assert (row["individualCount"], row["sex"], row["lifeStage"], row["reproductiveCondition"]) == ("",) * 4
    assert (row["scientificName"], row["taxonRank"]) == ("Reptilia", "class")
    assert row["identificationRemarks"] == "not identified to a species"


@pytest.mark.parametrize(
    ("names", "category"),
    [
        (["Notechis scutatus"], 2),
        (["Notechis ater"], 4),
        (["Notechis"], 2),  # it may be scutatus
        (["Drysdalia coronoides"], 3),
        (["Drysdalia coronoides", "Pseudonaja textilis"], 1),  # the strictest of those it may be
        (["Pseudonaja textilus"], 1),  # a slip of the pen does not open a place
        (["brown snake"], 2),
        ([], 2),
    ],
)
def test_the_category_of_an_animal(names: list[str], category: int) -> None:
    assert RULES.category(names) == category


def test_a_probable_animal_takes_the_strictest_of_those_it_may_be() -> None:
    cells = {"scientificName": "Drysdalia coronoides", "identification": "probable"}
    (row,) = table(made(capture("C-1", **cells, orScientificName="Pseudonaja textilis")))
    assert row["decimalLatitude"] == row["coordinateUncertaintyInMeters"] == row["geodeticDatum"] == ""
    assert "category 1" in row["informationWithheld"]
    assert row["identificationRemarks"] == "identification probable; may be Pseudonaja textilis"


def test_places_are_on_the_grid_and_zero_has_no_sign() -> None:
    given = generalise(Position(-0.004, 0.049999, 5.0), 2, held=6)
    assert (given.latitude, given.longitude) == ("0.0", "0.0")
    given = generalise(Position(179.9996, -89.9996, 5.0), 4, held=4)
    assert (given.latitude, given.longitude) == ("-90.000", "180.000")
    assert "0.001 degrees (held to 4 decimals)" in given.generalizations


def test_words_break_neither_columns_nor_rows_nor_xml() -> None:
    odd = '=1+1\tx\ny\x1b<&"'
    title = Dataset("book", odd, odd, date(2026, 11, 20), odd)
    content = made(capture("C-1", recordedBy=odd, vernacularName="tiger snake"), dataset=title)
    (row,) = table(content)
    assert row["recordedBy"] == "'=1+1 x y <&\""
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        eml = ET.fromstring(parts.read("eml.xml").decode())
    assert eml.findtext("dataset/title") == '=1+1xy<&"'


def test_a_book_without_captures_is_an_archive_without_rows() -> None:
    content = archive((), dataset=DATASET, sensitivity=RULES)
    assert table(content) == []


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        write_archive((), tmp_path / "no" / "a.zip", dataset=DATASET, sensitivity=RULES)
    write_archive((), tmp_path / "a.zip", dataset=DATASET, sensitivity=RULES)
    assert zipfile.is_zipfile(tmp_path / "a.zip")


def test_everything_wrong_with_a_file_of_categories_is_named(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text('default = 5\nwho = 1\n[species]\n"a snake" = 2\n"Notechis scutatus" = true\n')
    with pytest.raises(InputError) as told:
        read_sensitivity(path)
    for part in ("default", "unidentified", "'who'", "a snake", "Notechis scutatus"):
        assert part in str(told.value)
