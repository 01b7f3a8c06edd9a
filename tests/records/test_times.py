"""Times that cannot be: refused where they are still to come, told where they contradict each other."""

from __future__ import annotations

from datetime import datetime

import pytest

from tussock.records.entries import CALLOUT, CAPTURE, CHECK, DISPOSAL, INCIDENT, Entry
from tussock.records.times import doubts, to_come

NOW = datetime.fromisoformat("2026-11-21T18:00:00+11:00")


def entry(kind: str, time: str, name: str = "X-1", **cells: str) -> Entry:
    """Return an entry of the capture C-1."""
    own = {"captureID": "C-1"} if kind in (DISPOSAL, CHECK, INCIDENT) else {}
    return Entry(kind, name, {"eventDate": time, **own, **cells}, "t.csv, row 2")


C_1, X_1 = "capture C-1 at 2026-03-04T10:00:00+11:00", "X-1 at 2026-03-04T09:00:00+11:00"
TAKEN = entry(CAPTURE, "2026-03-04T10:00+11:00", "C-1", calloutID="O-1", individualCount="1")


@pytest.mark.parametrize(
    ("column", "text", "ahead"),
    [
        ("eventDate", "2026-11-21T18:05:00+11:00", False),
        ("eventDate", "2026-11-21T07:05:00Z", False),
        ("eventDate", "2026-11-21T18:11:00+11:00", True),
        ("recordedDate", "2026-11-21T19:00:00+11:00", True),
        ("cleanedDate", "2026-11-20T10:00+11:00 | 2026-11-22T10:00+11:00", True),
        ("validTo", "2027-11-21", False),
        ("eventDate", "no time", False),
    ],
)
def test_what_is_still_to_come(column: str, text: str, ahead: bool) -> None:
    found = to_come(Entry(CAPTURE, "C-1", {column: text}, "t.csv, row 2"), NOW)
    assert bool(found) is ahead
    assert {f.where for f in found} <= {f"t.csv, row 2, {column}"}


def test_only_what_is_asked_about() -> None:
    late = Entry(CAPTURE, "C-1", {"eventDate": "2027-01-01T00:00Z", "recordedDate": "2027-01-01T00:00Z"}, "t")
    assert [f.where for f in to_come(late, NOW, columns=("recordedDate",))] == ["t, recordedDate"]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ([entry(CALLOUT, "2026-03-04T11:00+11:00", "O-1")], f"the {C_1} is before the call O-1"),
        ([entry(DISPOSAL, "2026-03-04T09:00+11:00")], f"the end of holding {X_1} is before the capture C-1"),
        ([entry(CHECK, "2026-03-04T09:00+11:00")], f"the check {X_1} is before the {C_1}"),
        ([entry(DISPOSAL, "2026-03-04T12:00+11:00"), entry(CHECK, "2026-03-04T13:00+11:00", "K-1")],
         "the end of holding X-1 at 2026-03-04T12:00:00+11:00 is before the check K-1 at"),
        ([entry(DISPOSAL, "2026-04-03T12:00+11:00")],
         "is 30 days after the capture C-1 at 2026-03-04T10:00:00+11:00; on 2026-03-04 it would fit: "
         "are day and month of the end of holding swapped?"),
        ([entry(DISPOSAL, "2026-03-04T12:00+11:00", recordedDate="2026-03-04T11:00+11:00")],
         "recordedDate 2026-03-04T11:00:00+11:00 is before the end of holding X-1"),
        ([entry(INCIDENT, "2026-03-04T12:00+11:00", reportedDate="2026-03-03T11:00+11:00")],
         "reportedDate 2026-03-03T11:00:00+11:00 is before the incident X-1"),
    ],
)  # fmt: skip
def test_what_cannot_be_true_together(given: list[Entry], words: str) -> None:
    (told,) = doubts(given, [TAKEN])
    assert words in told
    (again,) = doubts([TAKEN], given) if given[0].kind not in (DISPOSAL, INCIDENT) else (told,)
    assert again == told, "whichever of them comes last"


@pytest.mark.parametrize(
    "given",
    [
        [entry(CALLOUT, "2026-03-04T09:30+11:00", "O-1")],
        [entry(DISPOSAL, "2026-03-04T10:00+11:00")],
        [entry(DISPOSAL, "2026-05-20T10:00+10:00")],
        [entry(DISPOSAL, "2026-06-07T10:00+10:00")],
        [entry(DISPOSAL, "unknown")],
        [entry(CHECK, "2026-03-04T11:00+11:00"), entry(DISPOSAL, "2026-03-04T11:00+11:00")],
        [entry(DISPOSAL, "2026-03-04T11:00+11:00", captureID="C-404")],
    ],
)
def test_what_can_be_true_is_not_doubted(given: list[Entry]) -> None:
    assert doubts(given, [TAKEN]) == ()


def test_of_several_animals_one_may_be_looked_at_after_another_is_gone() -> None:
    litter = entry(CAPTURE, "2026-03-04T10:00+11:00", "C-1", individualCount="3")
    gone, look = entry(DISPOSAL, "2026-03-04T12:00+11:00"), entry(CHECK, "2026-03-04T13:00+11:00", "K-1")
    assert doubts([gone, look], [litter]) == ()
