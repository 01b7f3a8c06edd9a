"""The plan that a release followed: found by the check it names, for one permit at a time."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.records.test_book import book, capture, ended
from tussock.interval import Verdict
from tussock.records.entries import CHECK, Entry
from tussock.records.followed import followed
from tussock.review.handling import Planned

LOOK = Entry(
    CHECK,
    "C-1/x/2",
    {
        "checkID": "C-1/x/2",
        "captureID": "C-1",
        "eventDate": "2026-03-01T10:50:00+11:00",
        "kind": "spot",
        "verdict:RL 1 2(a)": "met",
        "verdict:RL 2(a)": "not_met",
        "verdict:RL 3": "",
    },
)
PLANNED = {
    "checkReference": "C-1/x/2",
    "plannedDecimalLatitude": "-42.1055800",
    "plannedDecimalLongitude": "147.5638100",
    "plannedUncertaintyInMeters": "30",
}


def plan_of(release: Entry, permit: str, *checks: Entry) -> Planned | None:
    found = book(capture("C-1"), release, *checks)
    (kept,) = followed(found.kept, found.checks, permit)
    assert kept.handling is not None
    return kept.handling.planned


def test_the_planned_place_and_what_was_stored_there_under_each_permit() -> None:
    """Two permits may have a clause of the same id, and one id may begin another."""
    planned = plan_of(ended("C-1", **PLANNED), "RL", LOOK)
    assert planned is not None and planned.verdicts["2(a)"] is Verdict.NOT_MET
    at = planned.position
    assert (at.latitude, at.longitude, at.radius_m, at.assumed) == (-42.10558, 147.56381, 30.0, False)
    other = plan_of(ended("C-1", **PLANNED), "RL 1", LOOK)
    assert other is not None and other.verdicts["2(a)"] is Verdict.MET


@pytest.mark.parametrize("gone", PLANNED)
def test_without_the_check_or_the_planned_place_there_is_no_plan(gone: str) -> None:
    assert plan_of(ended("C-1", **{**PLANNED, gone: ""}), "RL", LOOK) is None


def test_a_plan_that_is_not_this_capture_s_or_not_of_this_permit_does_not_count() -> None:
    release = ended("C-1", **PLANNED)
    assert plan_of(release, "RL") is None
    assert plan_of(release, "OTHER", LOOK) is None
    strange = replace(LOOK, cells={**LOOK.cells, "captureID": "C-2"})
    assert plan_of(release, "RL", strange) is None
