"""Clauses judged from the record: just inside, on and just outside each limit, worked out by hand.

Published numbers stand beside their source. Hobart's clocks: +11:00 until 2026-04-05 03:00, then +10:00
(from 02:00 again) until 2026-10-04 02:00, from then +11:00 (Australian summer time; the offsets are
written out, so that the elapsed hours can be checked by hand).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.interval import Interval, Verdict
from tussock.permit.capture_book import PERIODS, BookedCapture, CaptureBook
from tussock.permit.condition import Condition, Decided
from tussock.permit.kinds import KINDS
from tussock.permit.record_facts import Finding, Incident, RecordFacts, persons_in
from tussock.permit.record_hours import TOLERANCE_S, in_words, longest_gap
from tussock.permit.record_kinds import (
    Attested,
    CheckedEveryHours,
    DisposedTo,
    HandledBy,
    IncidentReportedWithinHours,
    Quota,
    RecordComplete,
    RecordWithinHours,
    ReturnDue,
    WeatherWithin,
)

if TYPE_CHECKING:
    from tests.permit.conftest import Desk

MET, NOT, UNCERTAIN, MISSING = Verdict.MET, Verdict.NOT_MET, Verdict.UNCERTAIN, Verdict.MISSING
HOBART = ZoneInfo("Australia/Hobart")
CAPTURED = datetime.fromisoformat("2026-11-21T10:00:00+11:00")
SECOND, HOUR = timedelta(seconds=1), timedelta(hours=1)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def after(hours: float = 0, *, seconds: float = 0) -> datetime:
    return CAPTURED + timedelta(hours=hours, seconds=seconds)


def record(**recorded: Any) -> RecordFacts:
    """Return a capture released 5 h later, of which nothing else is recorded unless said."""
    whole: dict[str, Any] = {
        "zone": HOBART,
        "version_from": date(2026, 7, 1),
        "version_to": date(2027, 6, 30),
        "captured": CAPTURED,
        "disposed": after(5),
        "disposal": "released",
        "now": after(100),
        "scientific_name": "Notechis scutatus",
        "individual_count": 1,
        "capture_id": "c-1",
    }
    return RecordFacts(**(whole | recorded))


def checked(limit_h: float = 2) -> CheckedEveryHours:
    return CheckedEveryHours(id="1", limit_h=limit_h)


# ---- how often the held animal is looked at


@pytest.mark.parametrize(
    ("seconds", "verdict"),
    [(-1, MET), (0, MET), (1, MET), (1.001, NOT), (2, NOT), (3600, NOT)],
)
def test_victoria_looks_at_least_every_two_hours_in_transport(seconds: float, verdict: Verdict) -> None:
    """Wildlife Regulations 2024 (Vic) reg 122: at least every 2 h (domain-facts § 1a row 3, SEEN).

    Held from 10:00 to 13:00, looked at once, 2 h and so many seconds after the capture.
    """
    facts = record(disposed=after(3), checks=(after(2, seconds=seconds),))
    found = checked().judge_record(facts)
    assert found.verdict is verdict
    assert found.value is not None and found.margin is not None
    assert found.value.high == pytest.approx(2 + seconds / 3600, abs=1e-9)
    assert found.margin == pytest.approx(-seconds / 3600, abs=1e-9)
    assert (found.limit, found.unit) == (2, "h")


@pytest.mark.parametrize(
    ("checks", "held_h", "longest_h"),
    [
        ((), 5, 5),
        ((1.0, 3.0, 4.5), 5, 2),  # gaps 1, 2, 1.5, 0.5
        ((4.5, 1.0, 3.0), 5, 2),  # in any order
        ((1.0,), 5, 4),  # the last stretch counts: 1 h to 5 h
        ((4.0,), 5, 4),  # and the first
        ((2.5, 2.5), 5, 2.5),
        ((0.0, 5.0), 5, 5),  # looks at both ends say nothing of the time between
    ],
)
def test_the_longest_time_without_a_look(checks: tuple[float, ...], held_h: float, longest_h: float) -> None:
    facts = record(disposed=after(held_h), checks=tuple(after(h) for h in checks))
    found = checked().judge_record(facts)
    assert found.value == Interval(longest_h, longest_h)
    assert found.verdict is (MET if longest_h <= 2 else NOT)


def test_an_open_capture_counts_to_now() -> None:
    facts = record(disposed=None, disposal="", now=after(4), checks=(after(1.5),))
    found = checked().judge_record(facts)
    assert (found.verdict, found.value) == (NOT, Interval(2.5, 2.5))
    assert "it is still held" in found.reason
    assert checked(2.5).judge_record(facts).verdict is MET


@pytest.mark.parametrize(("seconds", "verdict"), [(-1, MET), (0, MET), (1, MET), (2, MISSING)])
def test_looks_that_nobody_recorded_are_missing_unless_none_was_due(seconds: float, verdict: Verdict) -> None:
    facts = record(disposed=after(2, seconds=seconds), checks=None)
    found = checked().judge_record(facts)
    assert found.verdict is verdict
    assert ("no look was due" in found.reason) == (verdict is MET)
    held_h = (7200 + seconds) / 3600  # the longest gap is at most the whole holding
    assert found.value == (Interval(0, held_h) if verdict is MET else None)


def test_looks_recorded_as_none_are_no_looks() -> None:
    assert checked().judge_record(record(checks=())).verdict is NOT
    assert checked().judge_record(record(checks=None)).verdict is MISSING


def test_looks_outside_the_holding_are_left_out_and_said() -> None:
    """Looks at 09:00 (before the capture at 10:00) and 15:30 (after the release at 15:00) do not help."""
    facts = record(checks=(after(-1), after(2), after(5.5)))
    found = checked().judge_record(facts)
    assert (found.verdict, found.value) == (NOT, Interval(3, 3))
    assert "2 recorded outside the holding left out" in found.reason
    assert "from 2026-11-21 12:00:00+11:00 to 2026-11-21 15:00:00+11:00" in found.reason


def test_holding_that_ends_before_it_begins_is_a_contradiction() -> None:
    for clause in (checked(), RecordWithinHours(id="1", limit_h=48)):
        found = clause.judge_record(record(disposed=after(-1), recorded=after(1), checks=()))
        assert found.verdict is MISSING
        assert "contradict" in found.reason and "before the capture" in found.reason
        early = record(disposed=None, disposal="", now=after(-1), recorded=after(1), checks=())
        assert clause.judge_record(early).verdict is MISSING
    # two clocks a second apart are none
    assert checked().judge_record(record(disposed=after(0, seconds=-1), checks=())).verdict is MET


@pytest.mark.parametrize(
    ("captured", "disposed", "hours"),
    [
        # clocks back: 01:30+11:00 is 14:30Z, 02:45+10:00 is 16:45Z
        (
            datetime(2026, 4, 5, 1, 30, tzinfo=HOBART),
            datetime(2026, 4, 5, 2, 45, fold=1, tzinfo=HOBART),
            2.25,
        ),
        (
            datetime(2026, 4, 5, 1, 30, tzinfo=HOBART),
            datetime(2026, 4, 5, 2, 45, fold=0, tzinfo=HOBART),
            1.25,
        ),
        # clocks on: 01:30+10:00 is 15:30Z, 03:45+11:00 is 16:45Z
        (datetime(2026, 10, 4, 1, 30, tzinfo=HOBART), datetime(2026, 10, 4, 3, 45, tzinfo=HOBART), 1.25),
    ],
)
def test_hours_are_elapsed_hours_where_the_clocks_change(
    captured: datetime, disposed: datetime, hours: float
) -> None:
    facts = record(captured=captured, disposed=disposed, checks=(), recorded=disposed)
    found = checked().judge_record(facts)
    assert found.value == Interval(hours, hours)
    assert found.verdict is (MET if hours <= 2 else NOT)
    written = RecordWithinHours(id="1", limit_h=2).judge_record(
        record(captured=captured, disposed=captured, recorded=disposed)
    )
    assert written.value == Interval(hours, hours)


def test_checks_are_put_in_order_of_time_not_of_the_clock() -> None:
    """02:50+11:00 comes before 02:10+10:00, though its clock reads later."""
    early = datetime(2026, 4, 5, 2, 50, fold=0, tzinfo=HOBART)
    late = datetime(2026, 4, 5, 2, 10, fold=1, tzinfo=HOBART)
    start, stop = longest_gap([late, early])
    assert (start, stop) == (at("2026-04-04T15:50+00:00"), at("2026-04-04T16:10+00:00"))


seconds_list = st.lists(st.integers(0, 200_000), min_size=1, max_size=12)


@given(seconds_list, st.integers(1, 200_000), st.integers(0, 200_000))
def test_one_more_look_never_lengthens_the_longest_gap(looks: list[int], held: int, extra: int) -> None:
    def value(checks: list[int]) -> float:
        facts = record(
            disposed=after(seconds=held), checks=tuple(CAPTURED + s * SECOND for s in checks), now=after(1000)
        )
        found = checked().judge_record(facts)
        assert found.value is not None
        return found.value.high

    assert value([*looks, extra]) <= value(looks)


@given(seconds_list, st.integers(1, 200_000))
def test_the_longest_gap_is_numpys_largest_difference(looks: list[int], held: int) -> None:
    facts = record(disposed=after(seconds=held), checks=tuple(CAPTURED + s * SECOND for s in looks))
    found = checked().judge_record(facts)
    inside = [s for s in looks if s <= held]
    assert found.value is not None
    assert found.value.high * 3600 == pytest.approx(np.diff(np.sort([0, *inside, held])).max(), abs=1e-6)


@pytest.mark.parametrize("limit_h", [0.1, 0.7, 1 / 3, 2, 48, 8784])
def test_the_tolerance_is_one_second_at_every_limit(limit_h: float) -> None:
    assert TOLERANCE_S == 1
    for beyond, verdict in ((0, MET), (1, MET), (2, NOT)):
        end = CAPTURED + timedelta(seconds=round(limit_h * 3600) + beyond)
        assert checked(limit_h).judge_record(record(disposed=end, checks=())).verdict is verdict


# ---- when the record was written


@pytest.mark.parametrize(
    ("recorded", "verdict"),
    [
        ("2026-11-23T14:59:59+11:00", MET),
        ("2026-11-23T15:00:00+11:00", MET),  # 48 h after the release at 15:00 on the 21st
        ("2026-11-23T04:00:00+00:00", MET),  # the same instant
        ("2026-11-23T15:00:02+11:00", NOT),
        ("2026-11-24T15:00:00+11:00", NOT),
        ("2026-11-21T14:59:59+11:00", MET),  # a second early: two clocks
        ("2026-11-21T14:59:00+11:00", MISSING),  # before it happened
    ],
)
def test_south_australia_records_within_48_hours(recorded: str, verdict: Verdict) -> None:
    """National Parks and Wildlife (Wildlife) Regulations 2019 (SA) r 16: within 48 h.

    domain-facts § 1a row 8, SEEN (heading read only).
    """
    found = RecordWithinHours(id="1", limit_h=48).judge_record(record(recorded=at(recorded)))
    assert found.verdict is verdict
    if verdict is MISSING:
        assert "before the disposal it is about" in found.reason
    else:
        assert found.value is not None and found.value.high == max(0, (at(recorded) - after(5)) / HOUR)


def test_the_delay_in_hours() -> None:
    found = RecordWithinHours(id="1", limit_h=48).judge_record(record(recorded=after(15)))
    assert (found.value, found.limit, found.margin, found.unit) == (Interval(10, 10), 48, 38, "h")
    assert found.reason == "the record was written 10 h after the disposal"


def test_a_record_without_its_date_is_missing() -> None:
    found = RecordWithinHours(id="1", limit_h=48).judge_record(record())
    assert found.verdict is MISSING and "recordedDate" in found.reason


def test_the_record_of_an_open_capture_is_about_the_capture() -> None:
    found = RecordWithinHours(id="1", limit_h=2).judge_record(
        record(disposed=None, disposal="", recorded=after(3))
    )
    assert (found.verdict, found.value) == (NOT, Interval(3, 3))
    assert found.reason.endswith("after the capture")


# ---- incidents


def report(*incidents: Incident, limit_h: float = 24, **recorded: Any) -> Finding:
    return IncidentReportedWithinHours(id="1", limit_h=limit_h).judge_record(
        record(incidents=incidents, **recorded)
    )


@pytest.mark.parametrize(
    ("hours", "seconds", "verdict"), [(24, -1, MET), (24, 0, MET), (24, 1, MET), (24, 2, NOT), (0, 0, MET)]
)
def test_an_incident_is_reported_in_time(hours: float, seconds: float, verdict: Verdict) -> None:
    found = report(Incident("bite", after(1), after(1 + hours, seconds=seconds)))
    assert found.verdict is verdict
    assert found.margin == pytest.approx(24 - hours - seconds / 3600, abs=1e-9)


def test_no_incident_and_no_word_of_incidents_differ() -> None:
    assert report() == Finding(MET, "no incident is recorded", limit=24, unit="h")
    clause = IncidentReportedWithinHours(id="1", limit_h=24)
    assert clause.judge_record(record(incidents=None)).verdict is MISSING


@pytest.mark.parametrize(("seconds", "verdict"), [(-1, MISSING), (0, MISSING), (1, MISSING), (2, NOT)])
def test_an_incident_not_reported_counts_to_now_and_is_never_met(seconds: float, verdict: Verdict) -> None:
    found = report(Incident("escape", after(1), None), now=after(25, seconds=seconds))
    assert found.verdict is verdict
    assert "not reported" in found.reason
    assert found.value is not None
    assert found.value.high == pytest.approx(24 + seconds / 3600)


def test_an_incident_reported_before_it_happened_is_a_contradiction() -> None:
    assert report(Incident("bite", after(1), after(0.5))).verdict is MISSING
    assert report(Incident("bite", after(1), None), now=after(0)).verdict is MISSING
    assert report(Incident("bite", after(1), after(1, seconds=-1))).verdict is MET


def test_the_worst_incident_decides() -> None:
    good, late = Incident("bite", after(1), after(2)), Incident("escape", after(1), after(30))
    later, wrong = Incident("death", after(1), after(40)), Incident("bite", after(1), after(0))
    found = report(good, late, wrong, later)
    assert (found.verdict, found.value) == (NOT, Interval(39, 39))
    assert found.reason.startswith("death of") and found.reason.endswith("(the worst of 4 incidents)")
    assert report(good, wrong).verdict is MISSING


# ---- weather


@pytest.mark.parametrize(
    ("low", "high", "verdict", "limit", "margin"),
    [
        (20, 20, MET, 12, 8),
        (12, 12, MET, 12, 0),
        (11.99, 11.99, NOT, 12, -0.01),
        (35, 35, MET, 35, 0),
        (35.01, 35.01, NOT, 35, -0.01),
        (30, 30, MET, 35, 5),
        (11, 13, UNCERTAIN, 12, -1),
        (34, 36, UNCERTAIN, 35, -1),
        (12, 35, MET, 12, 0),
        (-5, -4, NOT, 12, -17),
    ],
)
def test_weather_between_two_limits(
    low: float, high: float, verdict: Verdict, limit: float, margin: float
) -> None:
    found = WeatherWithin(id="1", min_c=12, max_c=35).judge_record(record(temperature_c=(low, high)))
    assert (found.verdict, found.limit, found.unit) == (verdict, limit, "°C")
    assert found.margin == pytest.approx(margin)
    assert found.value == Interval(low, high)


def test_weather_with_one_limit() -> None:
    cold, hot = WeatherWithin(id="1", min_c=12), WeatherWithin(id="1", max_c=35)
    assert cold.judge_record(record(temperature_c=(50, 50))).verdict is MET
    assert hot.judge_record(record(temperature_c=(-20, -20))).verdict is MET
    assert cold.judge_record(record(temperature_c=(11.9, 11.9))).limit == 12
    assert hot.judge_record(record(temperature_c=(35.1, 35.1))).limit == 35


@pytest.mark.parametrize("span", [None, (30.0, 12.0), (float("nan"), 12.0), (12.0, float("inf"))])
def test_a_temperature_that_is_none_is_missing(span: tuple[float, float] | None) -> None:
    assert WeatherWithin(id="1", max_c=35).judge_record(record(temperature_c=span)).verdict is MISSING


def test_the_weather_of_a_release_is_not_asked_of_an_animal_that_was_not_released() -> None:
    clause = WeatherWithin(id="1", max_c=35)
    found = clause.judge_record(record(disposal="vet_or_carer"))
    assert found.verdict is None and found.reason.startswith("does not apply")
    # as long as no end of holding is recorded, it is not due
    held = clause.judge_record(record(disposal="vet_or_carer", disposed=None))
    assert held.verdict is None and held.reason.startswith("not due yet")


def test_what_belongs_to_the_end_of_holding_is_not_due_while_an_animal_is_held() -> None:
    held = record(disposal="", disposed=None, columns={"eventDate": "2026-03-01", "disposal": ""})
    site = Attested(id="1", question="Is there a refuge?", ask_at="site").judge_record(held)
    assert site.verdict is None and site.reason.startswith("not due yet")
    taken = Attested(id="1", question="Was it bagged?", ask_at="capture").judge_record(held)
    assert taken.verdict is MISSING
    complete = RecordComplete(id="1", fields=("eventDate", "disposal"))
    assert complete.judge_record(held).verdict is None
    assert complete.judge_record(replace(held, columns={"eventDate": "", "disposal": ""})).verdict is NOT
    assert complete.judge_record(replace(held, disposed=held.now)).verdict is NOT


# ---- who handled it


@pytest.mark.parametrize(
    ("handlers", "verdict"),
    [
        (("A. Nother",), MET),
        (("a.  NOTHER ",), MET),
        (("A. Nother", "N. O. Body"), MET),
        (("A. Nother | N. O. Body",), MET),
        (("A. Nother", "Some One"), NOT),
        (("A. Nothr",), NOT),
        ((), MISSING),
        (("", " | "), MISSING),
    ],
)
def test_only_named_persons_handle_it(handlers: tuple[str, ...], verdict: Verdict) -> None:
    clause = HandledBy(id="1", persons=("A. Nother", "N. O. Body"))
    assert clause.judge_record(record(handlers=handlers)).verdict is verdict


@pytest.mark.parametrize(
    ("handlers", "ended_by", "disposal", "verdict", "words"),
    [
        (("A. Nother",), ("N. O. Body",), "released", MET, "handled by A. Nother, N. O. Body"),
        (("A. Nother",), (), "released", MISSING, "recordedBy of the end of holding is empty"),
        (("A. Nother",), (" | ",), "authority", MISSING, "recordedBy of the end of holding is empty"),
        (("A. Nother",), (), "", MISSING, "recordedBy of the end of holding is empty"),
        (("A. Nother",), (), "died", MET, "handled by A. Nother"),
        (("A. Nother",), (), "escaped", MET, "handled by A. Nother"),
        (("A. Nother",), ("Some One",), "died", NOT, "Some One"),
        ((), ("A. Nother",), "released", MISSING, "recordedBy of the capture is empty"),
        ((), ("A. Nother",), "died", MISSING, "recordedBy of the capture is empty"),
        ((), (), "released", MISSING, "recordedBy, who handled the animal, is empty"),
        (("Some One",), (), "released", NOT, "Some One"),
        (("A. Nother",), None, "released", MET, "handled by A. Nother"),  # told of the whole record
    ],
)
def test_each_end_of_the_holding_names_somebody(
    handlers: tuple[str, ...],
    ended_by: tuple[str, ...] | None,
    disposal: str,
    verdict: Verdict,
    words: str,
) -> None:
    clause = HandledBy(id="1", persons=("A. Nother", "N. O. Body"))
    found = clause.judge_record(record(handlers=handlers, ended_by=ended_by, disposal=disposal))
    assert found.verdict is verdict
    assert words in found.reason


def test_a_name_that_is_nearly_right_is_named_and_does_not_count() -> None:
    clause = HandledBy(id="1", persons=("A. Nother", "N. O. Body"))
    found = clause.judge_record(record(handlers=("A. Nothr", "Some One")))
    assert found.verdict is NOT
    assert "A. Nothr, who is not among those named (nearly A. Nother:" in found.reason
    assert "Some One, who is not among those named" in found.reason
    assert "nearly N. O. Body" not in found.reason


def test_without_a_list_of_its_own_the_permits_persons_count() -> None:
    facts = record(handlers=("N. O. Body",), authorised_persons=("N. O. Body",))
    assert HandledBy(id="1").judge_record(facts).verdict is MET
    assert HandledBy(id="1", persons=("A. Nother",)).judge_record(facts).verdict is NOT
    assert HandledBy(id="1").judge_record(record(handlers=("N. O. Body",))).verdict is MISSING


def test_recorded_by_is_split_at_bars() -> None:
    assert persons_in("A. Nother | N.  O. Body|") == ("A. Nother", "N. O. Body")
    assert persons_in(" ") == ()


# ---- quotas


def booked(*captures: tuple[str, int] | tuple[str, int, str]) -> tuple[BookedCapture, ...]:
    """Return a book of tiger snakes, unless another name is given, with ids c-1, c-2, …"""
    named = [(*c, "Notechis scutatus")[:3] for c in captures]
    return tuple(BookedCapture(at(t), name, n, f"c-{i}") for i, (t, n, name) in enumerate(named, start=1))


def judge_each(clause: Quota, book: tuple[BookedCapture, ...], **recorded: Any) -> list[Finding]:
    """Return the finding of each capture of a book, in the book's order."""
    return [
        clause.judge_record(
            record(
                captured=b.instant,
                disposed=b.instant,
                scientific_name=b.scientific_name,
                individual_count=b.individual_count,
                capture_id=b.id,
                captures=book,
                **recorded,
            )
        )
        for b in book
    ]


def totals(found: list[Finding]) -> list[float]:
    return [f.value.high for f in found if f.value is not None]


def test_individuals_are_counted_up_to_and_with_this_capture_in_order_of_time() -> None:
    book = booked(("2026-11-21T12:00+11:00", 3), ("2026-11-21T09:00+11:00", 1), ("2026-11-21T15:00+11:00", 1))
    found = judge_each(Quota(id="1", count=4, per="day"), book)
    assert totals(found) == [4, 1, 5]
    assert [f.verdict for f in found] == [MET, MET, NOT]
    assert [f.margin for f in found] == [0, 3, -1]
    assert (found[2].limit, found[2].unit) == (4, "individuals")


def test_captures_of_one_instant_are_told_apart_by_their_ids() -> None:
    book = booked(("2026-11-21T12:00+11:00", 1), ("2026-11-21T01:00+00:00", 1))
    assert totals(judge_each(Quota(id="1", count=1, per="day"), book)) == [1, 2]


def test_a_day_is_one_of_the_permits_zone() -> None:
    """23:30 and 00:30 in Hobart are one day in UTC; 10:30 and 11:30 are two."""
    midnight = booked(("2026-11-21T23:30+11:00", 1), ("2026-11-22T00:30+11:00", 1))
    assert {b.instant.astimezone(UTC).date() for b in midnight} == {date(2026, 11, 21)}
    assert totals(judge_each(Quota(id="1", count=1, per="day"), midnight)) == [1, 1]
    morning = booked(("2026-11-21T10:30+11:00", 1), ("2026-11-21T11:30+11:00", 1))
    assert len({b.instant.astimezone(UTC).date() for b in morning}) == 2
    assert totals(judge_each(Quota(id="1", count=1, per="day"), morning)) == [1, 2]
    # the offset that a record is written in changes nothing
    abroad = booked(("2026-11-21T12:30+00:00", 1), ("2026-11-21T13:30+00:00", 1))
    assert totals(judge_each(Quota(id="1", count=1, per="day"), abroad)) == [1, 1]


NEW_YEAR = booked(
    ("2026-12-27T12:00+11:00", 1),  # a Sunday
    ("2026-12-28T12:00+11:00", 1),  # Monday: ISO week 53 of 2026 begins
    ("2026-12-31T12:00+11:00", 1),
    ("2027-01-01T12:00+11:00", 1),  # Friday of the same week
    ("2027-01-03T12:00+11:00", 1),  # its Sunday
    ("2027-01-04T12:00+11:00", 1),  # Monday: week 1 of 2027
)


@pytest.mark.parametrize(
    ("per", "expected"),
    [
        ("day", [1, 1, 1, 1, 1, 1]),
        ("week", [1, 1, 2, 3, 4, 1]),
        ("month", [1, 2, 3, 1, 2, 3]),
        ("year", [1, 2, 3, 1, 2, 3]),
        ("version", [1, 2, 3, 4, 5, 6]),
    ],
)
def test_periods_over_new_year(per: Any, expected: list[int]) -> None:
    assert totals(judge_each(Quota(id="1", count=3, per=per), NEW_YEAR)) == expected


def test_the_same_month_of_another_year_is_another_month() -> None:
    book = booked(("2025-11-21T12:00+11:00", 1), ("2026-11-21T12:00+11:00", 1))
    early = date(2025, 1, 1)
    assert totals(judge_each(Quota(id="1", count=3, per="month"), book, version_from=early)) == [1, 1]


@given(st.dates(date(2000, 1, 1), date(2060, 1, 1)), st.integers(-20, 20))
def test_weeks_begin_on_monday(day: date, shift: int) -> None:
    """0001-01-01, day 1 of ``date.toordinal``, is a Monday: weeks are sevens from it."""
    other = day + timedelta(days=shift)
    same = (day.toordinal() - 1) // 7 == (other.toordinal() - 1) // 7
    assert (PERIODS["week"](day) == PERIODS["week"](other)) is same


def test_the_term_of_a_version_holds_both_its_days() -> None:
    book = booked(
        ("2026-06-30T23:59+10:00", 1),
        ("2026-07-01T00:00+10:00", 1),
        ("2027-06-30T23:59+10:00", 1),
        ("2027-07-01T00:00+10:00", 1),
    )
    found = judge_each(Quota(id="1", count=9, per="version"), book)
    assert [f.verdict for f in found] == [MISSING, MET, MET, MISSING]
    assert totals(found) == [1, 2]
    assert "outside the term of version 2026-07-01" in found[0].reason
    opened = judge_each(Quota(id="1", count=9, per="version"), book, version_to=None)
    assert totals(opened) == [1, 2, 3]


def test_other_species_are_not_counted_and_not_judged() -> None:
    book = booked(
        ("2026-11-21T09:00+11:00", 1),
        ("2026-11-21T10:00+11:00", 7, "Austrelaps superbus"),
        ("2026-11-21T11:00+11:00", 1, "Notechis scutatus occidentalis"),
    )
    found = judge_each(Quota(id="1", count=1, per="day", species=("Notechis",)), book)
    assert [f.verdict for f in found] == [MET, None, NOT]
    assert totals(found) == [1, 2]
    assert found[1].reason.startswith("does not apply")


def test_a_name_that_cannot_be_told_makes_the_count_an_interval() -> None:
    """Two surely, one by genus only that may be: with this one 2 to 3 of at most 2, 1 or 3."""
    book = booked(
        ("2026-11-21T09:00+11:00", 1),
        ("2026-11-21T10:00+11:00", 1, "Notechis sp."),
        ("2026-11-21T11:00+11:00", 1),
    )
    for count, verdict in ((1, NOT), (2, UNCERTAIN), (3, MET)):
        found = judge_each(Quota(id="1", count=count, per="day", species=("Notechis scutatus",)), book)[2]
        assert found.verdict is verdict
        assert found.value == Interval(2, 3, {"identification": 1})
        assert found.margin == count - 3


def test_an_animal_that_may_be_another_is_never_surely_over_a_quota() -> None:
    book = booked(("2026-11-21T09:00+11:00", 5), ("2026-11-21T10:00+11:00", 1, ""))
    for count, verdict in ((4, UNCERTAIN), (5, UNCERTAIN), (6, MET)):
        found = judge_each(Quota(id="1", count=count, per="day", species=("Notechis scutatus",)), book)[1]
        assert found.verdict is verdict


def test_a_quota_without_a_book_is_missing() -> None:
    assert Quota(id="1", count=5, per="day").judge_record(record()).verdict is MISSING


def test_a_capture_that_is_not_in_the_book_counts_once_all_the_same() -> None:
    clause = Quota(id="1", count=1, per="day")
    assert clause.judge_record(record(captures=())).value == Interval(1, 1)
    nameless = BookedCapture(CAPTURED, "Notechis scutatus", 1)
    facts = record(capture_id="", captures=(nameless, nameless))
    assert clause.judge_record(facts).value == Interval(2, 2)
    # a record may be of some of a capture's animals, or newer than the book: the larger number counts
    part = record(captures=(BookedCapture(CAPTURED, "Notechis scutatus", 9, "c-1"),), individual_count=1)
    assert clause.judge_record(part).value == Interval(9, 9)
    newer = record(captures=(BookedCapture(CAPTURED, "Notechis scutatus", 1, "c-1"),), individual_count=9)
    assert clause.judge_record(newer).value == Interval(9, 9)


# ---- how holding ended, columns, answers


@pytest.mark.parametrize(
    ("recorded", "verdict", "says"),
    [
        ({"disposal": "released"}, MET, "released"),
        ({"disposal": "vet_or_carer"}, MET, "vet_or_carer"),
        ({"disposal": "escaped"}, NOT, "allowed is released or vet_or_carer"),
        ({"disposal": "", "disposed": None}, None, "still held"),
        ({"disposal": ""}, MISSING, "not recorded"),
    ],
)
def test_how_holding_may_end(recorded: dict[str, Any], verdict: Verdict | None, says: str) -> None:
    found = DisposedTo(id="1", disposals=("released", "vet_or_carer")).judge_record(record(**recorded))
    assert found.verdict is verdict and says in found.reason


def test_columns_that_must_be_filled_in() -> None:
    clause = RecordComplete(id="1", fields=("eventDate", "habitat", "sex"))
    whole = {"eventDate": "2026-11-21", "habitat": "woodland", "sex": "male"}
    assert clause.judge_record(record(columns=whole)).verdict is MET
    found = clause.judge_record(record(columns=whole | {"habitat": " ", "sex": ""}))
    assert found == Finding(NOT, "habitat is empty; sex is empty")
    found = clause.judge_record(record(columns={"eventDate": "2026-11-21", "Habitat": "wood", "sex": "male"}))
    assert found.verdict is MISSING
    assert "no column of the record is called habitat (write Habitat, if that is meant)" in found.reason
    found = clause.judge_record(record(columns={"eventDate": "", "habitat": "wood"}))
    assert found.verdict is NOT and "no column of the record is called sex" in found.reason


@pytest.mark.parametrize(
    ("answer", "photo", "media", "verdict"),
    [
        ("yes", False, "", MET),
        ("Yes ", False, "", MET),
        ("no", False, "", NOT),
        ("unclear", False, "", MISSING),
        ("", False, "", MISSING),
        (None, False, "", MISSING),
        ("perhaps", False, "", MISSING),
        ("yes", True, "photo.jpg", MET),
        ("yes", True, " ", MISSING),
        ("no", True, "", NOT),
        (None, True, "photo.jpg", MISSING),
    ],
)
def test_what_a_person_attests(answer: str | None, photo: bool, media: str, verdict: Verdict) -> None:
    clause = Attested(id="7(b)", question="Was the container labelled?", ask_at="capture", photo=photo)
    answers = {"7(a)": "yes"} | ({} if answer is None else {"7(b)": answer})
    found = clause.judge_record(record(answers=answers, columns={"associatedMedia": media}))
    assert found.verdict is verdict
    if verdict is MET:
        assert found.reason == "attested"


@pytest.mark.parametrize(
    ("ask_at", "disposal", "verdict"),
    [
        ("capture", "died", MISSING),
        ("plan", "died", MISSING),
        ("site", "died", None),
        ("release", "died", None),
        ("site", "released", MISSING),
        ("release", "released", MISSING),
        ("return", "released", None),
    ],
)
def test_a_question_about_the_release_is_not_open_where_none_took_place(
    ask_at: Any, disposal: str, verdict: Verdict | None
) -> None:
    clause = Attested(id="1", question="Is it quiet?", ask_at=ask_at)
    assert clause.judge_record(record(disposal=disposal)).verdict is verdict
    for answer, answered in (("yes", MET), ("no", NOT)):
        facts = record(disposal=disposal, answers={"1": answer})
        assert clause.judge_record(facts).verdict is answered


words = st.one_of(
    st.sampled_from(["yes", "no", "unclear", "", "Yes", "YES", "y", "yes?", "true", "1"]), st.text(max_size=5)
)


@given(
    words,
    st.booleans(),
    st.sampled_from(["capture", "plan", "site", "release", "return"]),
    st.sampled_from(["", "released", "died"]),
    st.sampled_from(["", "photo.jpg"]),
)
def test_nothing_but_a_yes_is_attested(
    answer: str, photo: bool, ask_at: Any, ending: str, media: str
) -> None:
    clause = Attested(id="1", question="Is it so?", ask_at=ask_at, photo=photo)
    facts = record(answers={"1": answer}, disposal=ending, columns={"associatedMedia": media})
    met = clause.judge_record(facts).verdict is MET
    assert met == (answer.strip().lower() == "yes" and bool(media or not photo))


def test_the_return_is_not_judged_by_a_record() -> None:
    found = ReturnDue(id="1", period_end="03-31", due="04-14").judge_record(record())
    assert found.verdict is None and "for the return" in found.reason


# ---- all of them

BARE: list[tuple[str, dict[str, Any], str]] = [
    ("checked_every_hours", {"limit_h": 2}, "no looks at it are recorded"),
    ("record_within_hours", {"limit_h": 48}, "recordedDate"),
    ("incident_reported_within_hours", {"limit_h": 24}, "whether there was an incident"),
    ("weather_within", {"max_c": 35}, "air temperature"),
    ("handled_by", {}, "recordedBy"),
    ("quota", {"count": 5, "per": "year"}, "no book of captures"),
    ("disposed_to", {"disposals": ["released"]}, "how holding ended"),
    ("record_complete", {"fields": ["habitat"]}, "no column of the record is called habitat"),
    ("attested", {"question": "Is it so?", "ask_at": "capture"}, "not answered"),
]


@pytest.mark.parametrize(("kind", "fields", "says"), BARE)
def test_what_nobody_recorded_is_missing_and_named(
    desk: Desk, kind: str, fields: dict[str, Any], says: str
) -> None:
    found = desk.clause(kind, **fields).judge_record(record(disposal=""))
    assert found.verdict is MISSING
    assert says in found.reason


def test_every_record_kind_judges_records_and_no_other_does() -> None:
    judging = {k for k, c in KINDS.items() if c.judge_record is not Condition.judge_record}
    of_record = {k for k, c in KINDS.items() if c.decided is Decided.RECORD}
    assert {k for k, _, _ in BARE} <= judging
    assert judging - {"consent_recorded", "return_due"} == of_record - {"consent_recorded"}


def test_a_clause_of_the_ground_is_not_decided_by_a_record(desk: Desk) -> None:
    found = desk.clause("max_distance_from_capture", limit_m=5).judge_record(record())
    assert found == Finding(MISSING, "max_distance_from_capture is not decided by the record")


def test_a_time_without_an_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="no offset"):
        checked().judge_record(record(checks=(datetime(2026, 11, 21, 11),)))
    with pytest.raises(ValueError, match="no offset"):
        RecordWithinHours(id="1", limit_h=2).judge_record(record(recorded=datetime(2026, 11, 21, 11)))


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(0, "0 s"), (0.4, "0 s"), (59.6, "1 min"), (3600, "1 h"), (3661, "1 h 1 min 1 s"), (172_800, "48 h")],
)
def test_lengths_of_time_in_words(seconds: float, expected: str) -> None:
    assert in_words(seconds) == expected


@pytest.mark.parametrize("indexed", [False, True])
def test_a_part_of_a_litter_counts_as_the_whole_capture(indexed: bool) -> None:
    """Fourteen were taken; the record of the one that died is about fourteen taken, by hand 3 + 14."""
    book = booked(("2026-11-21T09:00+11:00", 3), ("2026-11-21T10:00+11:00", 14))
    own = book[1]
    captures = CaptureBook(book, HOBART) if indexed else book
    facts = record(
        captures=captures, captured=own.instant, disposed=own.instant, capture_id=own.id, individual_count=1
    )
    found = Quota(id="1", count=16, per="day").judge_record(facts)
    assert (found.value, found.verdict) == (Interval(17, 17), NOT)
