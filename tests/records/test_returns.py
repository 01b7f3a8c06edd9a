"""The return balances for every book and period, and two halves of a period make the whole."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.records.test_book import SPECIES, capture, ended
from tussock.clock import parse_zone
from tussock.errors import InputError
from tussock.names import DISPOSALS
from tussock.permit.animal_kinds import SpeciesListed
from tussock.permit.condition import Condition
from tussock.permit.permit_file import Permit, Version
from tussock.permit.record_kinds import ReturnDue
from tussock.records.book import RecordBook, read_book
from tussock.records.entries import Entry
from tussock.records.return_periods import Period, last_period, period_ending
from tussock.records.returns import (
    CAPTURED,
    HELD_AT_END,
    HELD_AT_START,
    UNKNOWN_END,
    refuse_gaps,
    return_for,
)

ZONE = parse_zone("Australia/Melbourne", where="")
DUE = ReturnDue(id="9", period_end="03-31", due="04-14")


def permit_with(*clauses: Condition, until: date | None = None) -> Permit:
    return Permit("P-1", "N. O. Body", "Office", ZONE, (), (Version(date(2020, 1, 1), until, clauses),))


PERMIT = permit_with(DUE)
BY_CAPTURE = DUE.model_copy(update={"assigned_by": "capture"})
NOW = datetime(2027, 1, 1, tzinfo=UTC)
TODAY = date(2028, 6, 1)
START = datetime(2025, 1, 1, tzinfo=UTC)


def book(entries: list[Entry]) -> RecordBook:
    return read_book(entries, species=SPECIES, now=NOW)


@st.composite
def books(draw: st.DrawFn) -> list[Entry]:
    entries = []
    for n in range(draw(st.integers(0, 8))):
        taken = START + timedelta(hours=draw(st.integers(0, 17_000)))
        count, name = (
            draw(st.integers(1, 9)),
            draw(st.sampled_from(["Notechis scutatus", "Drysdalia coronoides"])),
        )
        entries.append(capture(f"C-{n}", taken.isoformat(), individualCount=str(count), scientificName=name))
        left = count
        for k in range(draw(st.integers(0, 3))):
            part = draw(st.integers(1, max(1, left)))
            if part > left:
                break
            left -= part
            at = taken + timedelta(hours=draw(st.integers(-500, 4_000)))
            word = draw(st.sampled_from(DISPOSALS))
            entries.append(
                ended(f"C-{n}", at.isoformat(), organismID=f"L{k}", individualCount=str(part), disposal=word)
            )
    return entries


@given(books(), st.dates(date(2025, 1, 1), date(2026, 12, 31)), st.integers(1, 500), st.integers(1, 500))
def test_it_balances_and_two_halves_make_the_whole(
    entries: list[Entry], first: date, days: int, more: int
) -> None:
    kept = book(entries).kept
    middle, last = first + timedelta(days=days), first + timedelta(days=days + more)
    whole = return_for(kept, PERMIT, Period(first, last), today=TODAY)
    early = return_for(kept, PERMIT, Period(first, middle), today=TODAY)
    late = return_for(kept, PERMIT, Period(middle + timedelta(days=1), last), today=TODAY)
    for found in (whole, early, late):
        for row in found.counts.values():
            assert row[HELD_AT_START] + row[CAPTURED] == sum(
                row[c] for c in (*DISPOSALS, UNKNOWN_END, HELD_AT_END)
            )
    assert late.total[HELD_AT_START] == early.total[HELD_AT_END]
    assert whole.total[HELD_AT_START] == early.total[HELD_AT_START]
    assert whole.total[HELD_AT_END] == late.total[HELD_AT_END]
    for column in (CAPTURED, *DISPOSALS):
        assert whole.total[column] == early.total[column] + late.total[column]


@given(books(), st.dates(date(2025, 1, 1), date(2026, 12, 31)), st.integers(1, 500), st.integers(1, 500))
def test_by_capture_every_animal_is_in_one_period_with_its_outcome(
    entries: list[Entry], first: date, days: int, more: int
) -> None:
    kept = book(entries).kept
    middle, last = first + timedelta(days=days), first + timedelta(days=days + more)
    whole, early, late = (
        return_for(kept, PERMIT, Period(a, b, clause=BY_CAPTURE), today=TODAY)
        for a, b in ((first, last), (first, middle), (middle + timedelta(days=1), last))
    )
    assert whole.total == {c: n + late.total[c] for c, n in early.total.items()}
    assert whole.total[HELD_AT_START] == 0
    assert whole.total[CAPTURED] == sum(whole.total[c] for c in (*DISPOSALS, UNKNOWN_END, HELD_AT_END))


@given(books())
def test_no_animal_is_in_no_period(entries: list[Entry]) -> None:
    kept = book(entries).kept
    ever = return_for(kept, PERMIT, Period(date(2020, 1, 1), date(2030, 1, 1)), today=date(2031, 1, 1))
    assert ever.total[CAPTURED] == sum(k.handling.animal.individual_count for k in kept if k.handling)


def test_victoria_the_year_to_31_march_is_due_on_14_april() -> None:
    # Conservation Regulator, Victoria, "Licences - annual returns" (Wildlife Regulations 2024): the period
    # is 1 April to 31 March, the return is due by 14 April, and a nil return is still required
    period = period_ending(PERMIT, date(2026, 3, 31))
    assert (period.first, period.last, period.due) == (date(2025, 4, 1), date(2026, 3, 31), date(2026, 4, 14))
    found = return_for((), PERMIT, period, today=TODAY)
    assert found.nil
    assert not found.gaps


def test_the_period_is_in_local_dates() -> None:
    # Melbourne is 11 h ahead of UTC on 31 March 2026
    first = capture("C-1", "2026-03-31T12:59:00Z")
    second = capture("C-2", "2026-03-31T13:01:00Z")
    found = return_for(
        book([first, second]).kept, PERMIT, period_ending(PERMIT, date(2026, 3, 31)), today=TODAY
    )
    assert [line.capture_id for line in found.lines] == ["C-1"]


def test_a_period_the_permit_does_not_ask_for_is_refused() -> None:
    with pytest.raises(InputError, match="03-31"):
        period_ending(PERMIT, date(2026, 6, 30))


def test_a_leap_year_and_a_due_day_in_the_next_year() -> None:
    due = ReturnDue(id="9", period_end="02-28", due="01-31")
    permit = permit_with(due)
    period = period_ending(permit, date(2025, 2, 28))
    assert (period.first, period.due) == (date(2024, 2, 29), date(2026, 1, 31))
    assert period_ending(permit, date(2029, 2, 28)).first == date(2028, 2, 29)


@pytest.mark.parametrize("end", ["02-28", "02-29", "03-01", "06-30", "12-31"])
def test_periods_follow_each_other_without_a_gap(end: str) -> None:
    permit = permit_with(ReturnDue(id="9", period_end=end, due="02-29"))
    periods = [last_period(permit, date(year, 12, 31)) for year in range(2021, 2031)]
    for before, after in pairwise(periods):
        assert after.first - before.last == timedelta(days=1)
        assert before.due is not None and before.due > before.last


def test_the_period_that_ended_last_is_taken() -> None:
    assert last_period(PERMIT, date(2026, 4, 1)).last == date(2026, 3, 31)
    assert last_period(PERMIT, date(2026, 3, 31)).last == date(2025, 3, 31)
    with pytest.raises(InputError, match="--period-end"):
        last_period(permit_with(), date(2026, 4, 1))


def test_a_permit_that_lapsed_within_the_period_still_asks_for_its_return() -> None:
    period = period_ending(permit_with(DUE, until=date(2025, 9, 30)), date(2026, 3, 31))
    assert period.due == date(2026, 4, 14)


def test_an_end_before_its_capture_stays_in_the_return_and_is_a_gap() -> None:
    # the day of release was written a year early: neither period loses the animal
    found = book([capture("C-1", "2025-06-01T09:00:00+10:00"), ended("C-1", "2024-06-01T11:00:00+10:00")])
    period = period_ending(PERMIT, date(2026, 3, 31))
    made = return_for(found.kept, PERMIT, period, today=TODAY, remarks=found.remarks)
    assert (made.total[CAPTURED], made.total["released"]) == (1, 1)
    assert len(made.gaps) == 1 and "before the capture" in made.gaps[0]


def test_by_capture_an_outcome_after_the_period_is_reported_with_it() -> None:
    found = book([capture("C-1", "2026-03-31T09:00:00+11:00"), ended("C-1", "2026-04-02T09:00:00+11:00")])
    for clause, expected in ((DUE, HELD_AT_END), (BY_CAPTURE, "released")):
        permit = permit_with(clause)
        made = return_for(found.kept, permit, period_ending(permit, date(2026, 3, 31)), today=TODAY)
        assert [line.outcome for line in made.lines] == [expected]
        after = return_for(found.kept, permit, period_ending(permit, date(2027, 3, 31)), today=TODAY)
        assert after.nil == (clause is BY_CAPTURE)


def test_who_gets_it_and_whether_a_nil_return_is_asked() -> None:
    plain = return_for((), PERMIT, period_ending(PERMIT, date(2026, 3, 31)), today=TODAY)
    assert (plain.asked, plain.recipients) == (True, ("Office",))
    other = DUE.model_copy(update={"nil_return": False, "recipients": ("Desk", "Ranger")})
    permit = permit_with(other)
    made = return_for((), permit, period_ending(permit, date(2026, 3, 31)), today=TODAY)
    assert (made.asked, made.recipients) == (False, ("Desk", "Ranger"))


def test_a_nil_line_for_each_listed_species_that_no_animal_may_be_of() -> None:
    listed = SpeciesListed(id="2", species=("Notechis spp.", "Pseudonaja textilis", "Austrelaps superbus"))
    clause = DUE.model_copy(update={"nil_species": True})
    permit = permit_with(listed, clause)
    period = period_ending(permit, date(2026, 3, 31))
    day = "2025-06-01T09:00:00+10:00"
    found = book([capture("C-1", day, scientificName="Notechis scutatus")])
    made = return_for(found.kept, permit, period, today=TODAY)
    assert list(made.counts) == ["Austrelaps superbus", "Notechis scutatus", "Pseudonaja textilis"]
    assert sum(made.counts["Austrelaps superbus"].values()) == 0
    unsure = book([capture("C-1", day, scientificName="Pseudonaja")])
    made = return_for(unsure.kept, permit, period, today=TODAY)
    assert list(made.counts) == ["Austrelaps superbus", "Notechis spp.", "Pseudonaja"]
    assert made.notes == ("No nil line for Pseudonaja textilis: an animal may be of it.",)
    assert not made.gaps


def test_a_return_with_gaps_is_refused_with_each_of_them_named() -> None:
    found = book([capture("C-1", "2025-05-01T09:00:00+10:00"), capture("C-2", "2025-06-01T09:00:00+10:00")])
    period = period_ending(PERMIT, date(2026, 3, 31))
    made = return_for(found.kept, PERMIT, period, today=TODAY, remarks=found.remarks)
    with pytest.raises(InputError, match=r"(?s)C-1.*C-2.*--incomplete"):
        refuse_gaps(made, where="captures.csv")


def test_gaps_are_those_of_the_animals_of_the_period() -> None:
    found = book([
        capture("C-1", "2025-05-01T09:00:00+10:00"),
        capture("C-2", "2025-06-01T09:00:00+10:00"),
        ended("C-2", "2025-06-01T11:00:00+10:00", disposal="", decimalLatitude="", decimalLongitude=""),
        ended("C-9", "2025-06-01T11:00:00+10:00"),
        capture("C-3", "2026-05-01T09:00:00+10:00"),
    ])  # fmt: skip
    made = return_for(
        found.kept, PERMIT, period_ending(PERMIT, date(2026, 3, 31)), today=TODAY, remarks=found.remarks
    )
    assert sorted(words.split(":")[0] for words in made.gaps) == ["C-1", "C-2", "C-9"]
    assert made.counts == {"species not recorded": made.total}
    assert (made.total[CAPTURED], made.total[UNKNOWN_END], made.total[HELD_AT_END]) == (2, 1, 1)


def test_a_period_that_is_not_over_is_incomplete() -> None:
    period = period_ending(PERMIT, date(2026, 3, 31))
    assert return_for((), PERMIT, period, today=date(2026, 3, 31)).gaps
    assert not return_for((), PERMIT, period, today=date(2026, 4, 1)).gaps


def test_another_species_at_the_end_is_a_gap_of_the_return() -> None:
    """Of one animal one line can say what it was; which of two names is right nobody knows."""
    found = book([
        capture("C-1", "2025-06-01T09:00:00+10:00", scientificName="Notechis scutatus"),
        ended("C-1", "2025-06-01T11:00:00+10:00", scientificName="Pseudonaja textilis"),
    ])  # fmt: skip
    period = period_ending(PERMIT, date(2026, 3, 31))
    made = return_for(found.kept, PERMIT, period, today=TODAY, remarks=found.remarks)
    (gap,) = made.gaps
    assert gap == (
        "C-1: The capture is of Notechis scutatus, the end of holding of Pseudonaja textilis: "
        "it is counted as Notechis scutatus."
    )
    assert {name: row["released"] for name, row in made.counts.items()} == {"Notechis scutatus": 1}


def test_an_assumed_radius_is_no_gap_of_a_return_and_an_assumed_number_is() -> None:
    for cells, gaps in (({"coordinateUncertaintyInMeters": ""}, 0), ({"individualCount": ""}, 1)):
        found = book([
            capture("C-1", "2025-06-01T09:00:00+10:00", **cells),
            ended("C-1", "2025-06-01T11:00:00+10:00"),
        ])  # fmt: skip
        period = period_ending(PERMIT, date(2026, 3, 31))
        made = return_for(found.kept, PERMIT, period, today=TODAY, remarks=found.remarks)
        assert len(made.gaps) == gaps
