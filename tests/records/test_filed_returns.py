"""A filed return is frozen, and what the book says since stands beside it, line by line."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from datetime import UTC, date, datetime

import pytest
from openpyxl import load_workbook

from tests.records.test_book import capture, ended
from tests.records.test_returns import PERMIT, TODAY, book
from tussock.errors import InputError
from tussock.records.entries import Entry
from tussock.records.filed_returns import changed_since, file_it, filed_text, filing_name, since_filing
from tussock.records.return_periods import period_ending
from tussock.records.return_tables import Column, read_columns, workbook
from tussock.records.returns import Return, return_for

AT = datetime(2026, 4, 10, tzinfo=UTC)
PERIOD = period_ending(PERMIT, date(2026, 3, 31))
COLUMNS = read_columns()


@dataclass(frozen=True)
class Kept:
    """A filing."""

    name: str
    text: str
    at: datetime
    by: str


@dataclass
class Shelf:
    """What a logbook does with returns, without one."""

    kept: dict[str, Kept] = field(default_factory=dict)

    def file_return(self, name: str, text: str, *, at: datetime, by: str) -> Kept:
        assert name not in self.kept, "never replaced"
        return self.kept.setdefault(name, Kept(name, text, at, by))

    def filed(self, name: str) -> Kept | None:
        return self.kept.get(name)


def made(*entries: Entry) -> Return:
    found = book(list(entries))
    return return_for(found.kept, PERMIT, PERIOD, today=TODAY, remarks=found.remarks)


def pair(name: str, **cells: str) -> tuple[Entry, Entry]:
    day = "2025-06-0"
    return (
        capture(name, f"{day}1T09:00:00+10:00", scientificName="Notechis scutatus", **cells),
        ended(name, f"{day}1T11:00:00+10:00"),
    )


def test_nothing_has_changed_since_filing_where_nothing_has() -> None:
    shelf, found = Shelf(), made(*pair("C-1"), *pair("C-2"))
    assert since_filing(shelf, found) is None
    filing = file_it(shelf, found, COLUMNS, at=AT, by="N. O. Body")
    assert filing.text == filed_text(found, COLUMNS)
    since = since_filing(shelf, found)
    assert since is not None and since.filing == filing
    assert (since.changes, since.incomplete) == ((), False)


def test_later_amendments_are_shown_line_by_line() -> None:
    shelf = Shelf()
    file_it(shelf, made(*pair("C-1"), *pair("C-2")), COLUMNS, at=AT, by="N. O. Body")
    since = since_filing(shelf, made(*pair("C-1"), *pair("C-2", individualCount="3")))
    assert since is not None
    row = "C-2,2025-06-01,Notechis scutatus,{},released,2025-06-01,-42.101234,147.601234"
    assert [line for line in since.changes if "C-" in line] == [
        f"filed: {row.format(1)}",
        f"now:   {row.format(3)}",
    ]
    assert "filed: all,0,2,2,0,0,0,0,0,0,0" in since.changes
    assert "now:   all,0,4,4,0,0,0,0,0,0,0" in since.changes


def test_what_was_filed_stays_and_a_correction_stands_beside_it() -> None:
    shelf, before = Shelf(), made(*pair("C-1"))
    file_it(shelf, before, COLUMNS, at=AT, by="N. O. Body")
    with pytest.raises(InputError, match="nothing has changed"):
        file_it(shelf, before, COLUMNS, at=AT, by="N. O. Body")
    after = made(*pair("C-1"), *pair("C-2"))
    file_it(shelf, after, COLUMNS, at=AT, by="N. O. Body")
    assert list(shelf.kept) == [filing_name(before), filing_name(before, 2)]
    assert shelf.kept[filing_name(before)].text == filed_text(before, COLUMNS)
    since = since_filing(shelf, after)
    assert since is not None and since.changes == () and since.filing.name.endswith("correction 1")


def test_it_is_compared_in_the_columns_it_was_filed_in() -> None:
    own = (Column("Taxon", "species"), Column("Sex", "column:sex"))
    text = filed_text(made(*pair("C-1", sex="female")), own)
    assert "Notechis scutatus,female" in text
    assert changed_since(text, made(*pair("C-1", sex="female"))) == ()
    assert changed_since(text, made(*pair("C-1", sex="male"))) == (
        "filed: Notechis scutatus,female",
        "now:   Notechis scutatus,male",
    )


def test_one_filed_with_gaps_says_so_and_is_corrected_once_it_has_none() -> None:
    shelf = Shelf()
    gap = made(*pair("C-1"), ended("C-9", "2025-07-01T11:00:00+10:00"))
    file_it(shelf, gap, COLUMNS, at=AT, by="N. O. Body")
    since = since_filing(shelf, gap)
    assert since is not None and since.incomplete
    file_it(shelf, made(*pair("C-1")), COLUMNS, at=AT, by="N. O. Body")
    assert len(shelf.kept) == 2


def test_words_that_look_like_the_filing_own_do_not_mislead_it() -> None:
    odd = 'columns: ["x"]\nINCOMPLETE: no'
    own = (*COLUMNS, Column(odd, "column:sex"))
    text = filed_text(made(*pair("C-1", sex=odd)), own)
    assert changed_since(text, made(*pair("C-1", sex=odd))) == ()
    shelf = Shelf({filing_name(made()): Kept("n", text, AT, "x")})
    since = since_filing(shelf, made())
    assert since is not None and not since.incomplete


def test_a_workbook_has_dates_and_text_and_the_same_bytes() -> None:
    found = made(*pair("C-1", sex="=1+1"))
    own = (*COLUMNS, Column("sex", "column:sex"))
    content = workbook(found, own)
    assert content == workbook(found, own)
    book = load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["return", "counts", "lines"]
    row = dict(zip(*book["lines"].iter_rows(values_only=True), strict=True))
    assert row["captured on"] == datetime(2025, 6, 1)
    assert row["animals"] == 1
    sex = book["lines"].cell(2, len(own))
    assert (sex.value, sex.data_type) == ("=1+1", "s")
    said = list(book["return"].iter_rows(values_only=True))
    assert ("due", datetime(2026, 4, 14)) in said
    assert ("recipient", "Office") in said
