"""Counting in an indexed book gives what counting capture by capture gives."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import hypothesis.strategies as st
from hypothesis import given

from tests.support.profiles import examples
from tussock.permit.capture_book import BookedCapture, CaptureBook
from tussock.permit.record_counts import judge_quota
from tussock.permit.record_facts import RecordFacts

ZONE = ZoneInfo("Australia/Hobart")
NAMES = ("Notechis scutatus", "Notechis", "Austrelaps superbus", "Serpentes")
START = datetime(2025, 12, 25, 12, tzinfo=UTC)
captures = st.lists(
    st.builds(
        BookedCapture,
        # whole hours and half-minutes: several of one instant, others to either side of midnight
        st.integers(0, 700).map(lambda n: START + timedelta(hours=n, seconds=30 * (n % 3))),
        st.sampled_from(NAMES),
        st.integers(1, 4),
        st.sampled_from(("", "a", "b", "c", "d", "e", "f")),
    ),
    max_size=25,
)
SPECIES = st.sampled_from((None, ("Notechis scutatus",), ("Notechis spp.",), ("Austrelaps superbus",)))


@examples(300)
@given(captures, st.integers(0, 30), st.sampled_from(("day", "week", "month", "year", "version")), SPECIES,
       st.integers(1, 12))  # fmt: skip
def test_an_indexed_book_counts_alike(
    book: list[BookedCapture], which: int, per: str, species: tuple[str, ...] | None, count: int
) -> None:
    strange = BookedCapture(START + timedelta(days=9), NAMES[0], 2, "not in the book")
    this = [*book, strange][which % (len(book) + 1)]
    facts = RecordFacts(
        zone=ZONE, version_from=date(2025, 12, 28), version_to=date(2026, 1, 14), captured=this.instant,
        now=START, scientific_name=this.scientific_name, individual_count=this.individual_count,
        capture_id=this.id, captures=tuple(book),
    )  # fmt: skip
    plain = judge_quota(facts, count=count, per=per, species=species)
    indexed = replace(facts, captures=CaptureBook(book, ZONE))
    assert judge_quota(indexed, count=count, per=per, species=species) == plain
