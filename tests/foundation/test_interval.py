"""Intervals and limits: closed ends, one millimetre, reasons kept, the worst verdict."""

from __future__ import annotations

import math

import hypothesis.strategies as st
import pytest
from hypothesis import given

from tests.support.profiles import examples
from tussock.interval import TOLERANCE_M, Interval, Limit, Verdict, worst

MET, OPEN, NOT = Verdict.MET, Verdict.UNCERTAIN, Verdict.NOT_MET
NUMBERS = st.floats(-1e6, 1e6)
LIMITS = st.one_of(
    st.builds(lambda v: Limit(at_least=v), NUMBERS),
    st.builds(lambda v: Limit(at_most=v), NUMBERS),
    st.builds(lambda a, b: Limit(at_least=min(a, b), at_most=max(a, b)), NUMBERS, NUMBERS),
)


@st.composite
def intervals(draw: st.DrawFn) -> Interval:
    low, high = sorted((draw(NUMBERS), draw(NUMBERS)))
    return Interval(low, high)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (100, 120, MET),
        (99.9991, 120, MET),
        (99.998, 120, OPEN),
        (80, 100, OPEN),
        (80, 99.9991, OPEN),
        (80, 99.998, NOT),
        (-math.inf, math.inf, OPEN),
        (100, math.inf, MET),
        (-math.inf, 99, NOT),
    ],
)
def test_a_least_distance_is_closed_to_a_millimetre(low: float, high: float, expected: Verdict) -> None:
    assert Limit(at_least=100.0).judge(Interval(low, high)) is expected


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(0, 100, MET), (0, 100.0009, MET), (0, 100.002, OPEN), (100, 130, OPEN), (100.002, 130, NOT)],
)
def test_a_largest_distance_is_closed_to_a_millimetre(low: float, high: float, expected: Verdict) -> None:
    assert Limit(at_most=100.0).judge(Interval(low, high)) is expected


@pytest.mark.parametrize(
    ("low", "high", "expected"), [(60, 90, MET), (40, 60, OPEN), (0, 40, NOT), (110, 120, NOT)]
)
def test_a_range_has_two_ends(low: float, high: float, expected: Verdict) -> None:
    assert Limit(at_least=50.0, at_most=100.0).judge(Interval(low, high)) is expected


@examples(200)
@given(value=intervals(), limit=LIMITS)
def test_met_is_a_margin_of_no_less_than_minus_a_millimetre(value: Interval, limit: Limit) -> None:
    assert (limit.judge(value) is MET) == (limit.margin(value) >= -TOLERANCE_M)


@examples(200)
@given(value=intervals(), limit=LIMITS, by=st.floats(0, 1e5))
def test_a_wider_interval_never_turns_a_verdict_round(value: Interval, limit: Limit, by: float) -> None:
    narrow, wide = limit.judge(value), limit.judge(value.widened(by, reason="position"))
    assert wide in (narrow, OPEN)


@examples(200)
@given(value=intervals(), limit=LIMITS)
def test_a_point_inside_an_interval_is_judged_as_the_interval_allows(value: Interval, limit: Limit) -> None:
    verdicts = {limit.judge(Interval(p, p)) for p in (value.low, value.high, (value.low + value.high) / 2)}
    whole = limit.judge(value)
    assert whole is OPEN or verdicts == {whole}


def test_widening_moves_both_ends_and_keeps_the_reasons() -> None:
    found = (
        Interval(10, 20)
        .widened(3, reason="position", floor=8)
        .widened(2, reason="layer")
        .widened(1, reason="position")
    )
    assert (found.low, found.high) == (5, 26)
    assert found.reasons == {"position": 4, "layer": 2}
    assert found.widest_reason == "position"
    assert Interval(1, 2).widened(3, reason="position", floor=0).low == 0


def test_lowering_cuts_the_low_end_only() -> None:
    found = Interval(300, 310).lowered_to(80, reason="edge of data")
    assert (found.low, found.high, found.reasons) == (80, 310, {"edge of data": 220})
    assert found.lowered_to(90, reason="edge of data") is found


def test_an_exact_value_has_no_widest_reason() -> None:
    assert Interval(5, 5).widest_reason is None
    assert Interval(5, 5, {"position": 0.0}).widest_reason is None


@pytest.mark.parametrize(("low", "high"), [(2, 1), (math.nan, 1), (1, math.nan)])
def test_what_is_no_interval(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="not an interval"):
        Interval(low, high)


def test_the_worst_verdict() -> None:
    order = [NOT, Verdict.MISSING, OPEN, MET]
    for k, verdict in enumerate(order):
        assert worst(order[k:]) is verdict
        assert worst(order[k:][::-1]) is verdict
    assert worst([]) is MET


def test_the_end_that_is_printed() -> None:
    assert (Limit(at_least=5).printed, Limit(at_most=7).printed, Limit().printed) == (5, 7, None)
