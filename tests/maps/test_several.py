"""Several permits: no clause is without its permit's id, and the counts stand apart."""

from __future__ import annotations

import dataclasses

import pytest

from tests.maps.test_plan_page import Reader
from tussock.interval import Interval, Verdict
from tussock.maps.ground_sketch import GroundSketch
from tussock.maps.no_site import whole_circle
from tussock.maps.plan_page import plan_html
from tussock.maps.several import told_apart
from tussock.maps.tally import counts, tally
from tussock.planning.record import ClauseResult, ClockFacts, ClockLine, PermitFacts, Plan, Site

FAR = ClauseResult(
    "3(a)", "max_distance_from_capture", "Within 1500 m.", "LH-22", True, Verdict.MET,
    Interval(400.0, 500.0), 1500.0, 1000.0, "m", "position", "at most",
)  # fmt: skip
GATE = ClauseResult("3(b)", "attested", "Shut the gate.", "LH-22", True, None, reason="for you to see to: do")


@pytest.fixture(scope="module")
def two(plan: Plan) -> Plan:
    """Give the made plan a second permit whose clauses have the same numbers."""

    def site(one: Site) -> Site:
        more = ("3(b): Shut the gate. (for you to see to: do)",)
        return dataclasses.replace(one, clauses=(*one.clauses, FAR, GATE), todo=(*one.todo, *more))

    first = dataclasses.replace(
        site(plan.sites[0]), release_from="2026-11-21T18:10+11:00", release_to="2026-11-21T18:55+11:00",
        deadline="2026-11-21T20:23+11:00", deadline_of="7", leave_by="2026-11-21T20:11+11:00",
    )  # fmt: skip
    lines = (
        ClockLine("7", "LH-22", "", (("2026-11-21T18:10+11:00", "2026-11-21T20:23+11:00"),), 48.0),
        ClockLine("7", "PX-0042", "", (("2026-11-21T18:10+11:00", "2026-11-22T04:20+11:00"),), 48.0),
    )
    return dataclasses.replace(
        plan,
        permits=(
            *plan.permits,
            PermitFacts("LH-22", "h", "Invented Landholders", "2025-01-01", "f", "2025-01-01"),
        ),
        sites=(first, *map(site, plan.sites[1:])),
        clock=ClockFacts("", "2026-11-21T20:23:50+11:00", lines, True),
    )


def test_each_clause_carries_its_permit(two: Plan, ground: GroundSketch) -> None:
    shown = told_apart(two).sites[0]
    names = [c.id for c in shown.clauses if not c.house]
    assert "3(a) of PX-0042" in names and "3(a) of LH-22" in names
    assert len(names) == len(set(names))
    assert "3(b) of LH-22: Shut the gate. (for you to see to: do)" in shown.todo
    assert shown.deadline_of == "7 of LH-22", "the hours end where that permit's line does"
    text = Reader(plan_html(two, ground)).text
    assert "clause 3(a) of LH-22: at most 1 500 m" in text and "of LH-22 of LH-22" not in text
    assert "clause 3(b):" not in text


def test_counts_are_per_permit(two: Plan) -> None:
    site = two.sites[0]
    own = counts(c for c in site.clauses if c.source == "PX-0042")
    # one of the second permit's two is met, the other is for the person
    assert tally(site) == (
        f"PX-0042: meets {own[0]} checked, you confirm 2, 0 not checked; "
        "LH-22: meets 1 checked, you confirm 1, 0 not checked"
    )


def test_one_permit_needs_no_telling_apart(plan: Plan) -> None:
    assert told_apart(plan) is plan
    assert tally(plan.sites[0]) == f"meets {plan.sites[0].checked} checked, you confirm 2, 0 not checked"


def test_a_clause_that_rules_out_everything_is_named_with_its_classes(plan: Plan) -> None:
    all_of_it = dataclasses.replace(
        plan.removed[0], id="4(a)", low_ha=plan.circle_ha, high_ha=plan.circle_ha, text="Into bush.",
        words="The release lies in layer habitat where its class is forest or woodland.",
    )  # fmt: skip
    said = whole_circle(dataclasses.replace(plan, removed=(all_of_it, *plan.removed[1:])))
    assert said == [
        "Clause 4(a) alone rules out the whole circle. Into bush. "
        "The release lies in layer habitat where its class is forest or woodland."
    ]
    assert whole_circle(plan) == []
