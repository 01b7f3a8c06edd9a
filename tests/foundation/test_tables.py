"""Tables as people save them."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import given

from tests.support.profiles import examples
from tussock.errors import InputError
from tussock.tables import MAX_CELL, Table, csv_text, inert, read_table


def table(folder: Path, content: bytes | str) -> Table:
    path = folder / "t.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_table(path)


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_however_it_was_saved_it_reads_the_same(
    tmp_path: Path, ends: str, bom: bytes, separator: str
) -> None:
    lines = [["captureID", " notes ", "n"], ["c1", "“söng”, loud", "1"], ["", "", ""], ["c2", "", " 2 "]]
    text = ends.join(separator.join(f'"{c}"' if "," in c else c for c in line) for line in lines) + ends
    found = table(tmp_path, bom + text.encode())
    assert found.columns == ("captureID", "notes", "n")
    assert [dict(r.cells) for r in found.rows] == [
        {"captureID": "c1", "notes": "“söng”, loud", "n": "1"},
        {"captureID": "c2", "notes": "", "n": "2"},
    ]
    # rows keep their number in the file, blank ones counted
    assert [(r.number, r.where) for r in found.rows] == [(2, "t.csv, row 2"), (4, "t.csv, row 4")]


def test_quotes_hold_separators_quotes_and_line_ends(tmp_path: Path) -> None:
    found = table(tmp_path, 'a,b\n"one, ""two""\nthree",4\nx,5\n')
    assert [r.get("a") for r in found.rows] == ['one, "two"\nthree', "x"]
    assert found.rows[1].number == 3


def test_a_row_may_be_shorter_and_a_cell_that_is_not_there_is_empty(tmp_path: Path) -> None:
    found = table(tmp_path, "a,b,c\n1,2\n")
    assert (found.rows[0].get("c"), found.rows[0].get("nowhere")) == ("", "")


def test_empty_columns_at_the_end_are_no_fault(tmp_path: Path) -> None:
    assert table(tmp_path, "a,b,,\n1,2,,\n").rows[0].cells == {"a": "1", "b": "2"}


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "it is empty"),
        (b"\n\n", "it is empty"),
        (b"a,b\n1,\xe9\n", "byte 6 is not UTF-8"),
        (b"a,b\n1,\x00\n", "zero bytes"),
        (b"a,b,a\n1,2,3\n", "column a stands twice"),
        (b"a,b\n1,2,3\n", r"row 2: 3 cells under 2 columns"),
        (b'a,b\n"open,2\n3,4\n', "cannot be read as CSV"),
        (
            b"a,b\n1," + b"x" * (MAX_CELL + 1) + b"\n",
            "row 2, b: a cell of 100001 characters. Allowed: up to 100000",
        ),
        (b"a,,c\n1,2,3\n", "row 2, column 2: '2' stands under no name"),
        (b"a,b,\n1,2,\n1,2,3\n", "row 3, column 3: '3' stands under no name"),
        ("naïve,b\n1,2\n".encode("utf-16"), "is not UTF-8"),
    ],
)
def test_what_is_no_table_is_said(tmp_path: Path, content: bytes, message: str) -> None:
    with pytest.raises(InputError, match=message) as found:
        table(tmp_path, content)
    assert "t.csv" in str(found.value)


def test_every_row_that_does_not_fit_is_told_or_comes_with_its_faults(tmp_path: Path) -> None:
    with pytest.raises(InputError) as told:
        table(tmp_path, "a,\n1,x\n2,\n3,4,5\n")
    assert [p.where for p in told.value.parts] == ["t.csv, row 2, column 2", "t.csv, row 4"]
    found = read_table(tmp_path / "t.csv", row_by_row=True)
    assert [(r.get("a"), len(r.faults)) for r in found.rows] == [("1", 1), ("2", 0), ("3", 1)]


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_table(tmp_path / "none.csv")


def test_missing_columns_are_named_with_those_found(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="missing column eventDate, foundIn; found captureID, n"):
        table(tmp_path, "captureID,n\n1,2\n").require(["captureID", "eventDate", "foundIn"])


@pytest.mark.parametrize("text", ["=1+1", "+SUM(A1)", "@cmd", "-cmd|' /C calc'!A0", "\tx", "\r=x"])
def test_no_cell_runs_as_a_formula(text: str) -> None:
    assert inert(text) == "'" + text


@pytest.mark.parametrize("value", ["-42.1", "+7", 5, -1e-5, -3.25, None, "plain", ""])
def test_numbers_stay_numbers(value: object) -> None:
    assert inert(value) == value


CELLS = st.text(
    st.characters(codec="utf-8", exclude_characters="\x00\r", exclude_categories=["Cs"]), max_size=30
)


@examples(100)
@given(rows=st.lists(st.lists(CELLS, min_size=2, max_size=2), max_size=6))
def test_what_is_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]]
) -> None:
    text = csv_text(["a", "b"], [dict(zip("ab", r, strict=True)) for r in rows])
    assert "\r" not in text
    back = list(csv.reader(io.StringIO(text)))
    assert back[1:] == [[str(inert(c)) for c in r] for r in rows]
    found = table(tmp_path_factory.mktemp("t"), text)
    full = [[str(inert(c)).strip() for c in r] for r in rows if any(str(inert(c)).strip() for c in r)]
    assert [[r.get("a"), r.get("b")] for r in found.rows] == full
