"""Numbers and words as people read them; expected texts written by hand."""

from __future__ import annotations

import math

import pytest

from tussock.interval import Interval, Verdict
from tussock.maps.words import (
    THIN,
    applies,
    between,
    clause_name,
    compass,
    grouped,
    hectares,
    limit_words,
    margin_words,
    metres,
    moment,
    sentence,
    to_confirm,
    value_words,
)
from tussock.planning.record import HOUSE_RULE, ClauseResult


def shown(text: str) -> str:
    return text.replace(THIN, " ")


@pytest.mark.parametrize(
    ("value", "spread", "expected"),
    [
        (1240.4, 0, "1 240 m"),
        (1244.9, 5.0, "1 245 m"),
        (1244.9, 5.1, "1 240 m"),
        (1245.0, 30, "1 250 m"),
        (4.0, 30, "under 10 m"),
        (0.0, 0, "0 m"),
        (math.inf, 0, "no known end"),
    ],
)
def test_a_distance_has_no_false_digits(value: float, spread: float, expected: str) -> None:
    assert shown(metres(value, spread=spread)) == expected


@pytest.mark.parametrize(
    ("low", "high", "unit", "expected"),
    [
        (388.0, 452.0, "m", "between 380 and 460 m"),
        (388.2, 389.1, "m", "between 388 and 390 m"),
        (0.0, 44.0, "m", "under 50 m"),
        (80.0, math.inf, "m", "80 m or more"),
        (200.0, 200.0, "m", "200 m"),
        (4.0, 6.25, "ha", "between 4.0 and 6.2 ha"),
        (0.4, 0.4, "", "0.40"),
    ],
)
def test_an_interval_is_rounded_outwards(low: float, high: float, unit: str, expected: str) -> None:
    assert shown(between(Interval(low, high), unit)) == expected


@pytest.mark.parametrize(
    ("bearing", "wind"),
    [
        (0, "north"),
        (22.4, "north"),
        (22.6, "north-east"),
        (180, "south"),
        (337.6, "north"),
        (292.6, "north-west"),
    ],
)
def test_winds(bearing: float, wind: str) -> None:
    assert compass(bearing) == wind


def clause(**changes: object) -> ClauseResult:
    base: dict[str, object] = {
        "id": "3(b)",
        "kind": "min_distance_from",
        "text": "",
        "source": "P",
        "mandatory": True,
        "verdict": Verdict.MET,
        "value": Interval(212.0, 272.0, {"position": 30.0}),
        "limit": 200.0,
        "margin": 12.0,
        "unit": "m",
    }
    return ClauseResult(**{**base, **changes})  # type: ignore[arg-type]  # the changes of each test


def test_limit_and_margin_say_which_way() -> None:
    assert shown(limit_words(clause())) == "at least 200 m"
    assert shown(limit_words(clause(kind="max_distance_from_capture"))) == "at most 200 m"
    assert shown(margin_words(clause())) == "10 m to spare"
    assert shown(margin_words(clause(margin=4.0))) == "less than 10 m to spare"
    assert shown(margin_words(clause(verdict=Verdict.UNCERTAIN, margin=-38.0))) == "may miss by 30 m"
    assert shown(margin_words(clause(verdict=Verdict.NOT_MET, margin=-40.0))) == "misses by 40 m"
    assert margin_words(clause(margin=None)) == ""


def test_signed_distances_are_told_as_sides() -> None:
    inside = clause(kind="habitat_in", limit=0.0)
    assert shown(value_words(inside)) == "inside, by at least 210 m"
    assert (
        shown(value_words(clause(kind="habitat_in", value=Interval(-90.0, -30.0))))
        == "outside, by at least 30 m"
    )
    assert value_words(clause(kind="not_within", value=Interval(-5.0, 20.0))) == "on or near its edge"
    for ends in ((-78134.0, math.inf), (-math.inf, 85317.0)):  # the map ends before the ground does
        said = value_words(clause(kind="habitat_in", value=Interval(*ends)))
        assert said == "at or beyond the edge of the region"
    assert limit_words(inside) == ""
    assert margin_words(inside) == ""


def test_what_the_person_confirms() -> None:
    open_one = clause(verdict=None, kind="consent_recorded", reason="not checked: it needs the register")
    assert to_confirm(open_one)
    assert not to_confirm(clause())
    assert not to_confirm(clause(verdict=None, reason="does not apply: danger is harmless"))
    assert not applies(clause(verdict=None, reason="does not apply: danger is harmless"))
    assert not to_confirm(clause(verdict=None, source=HOUSE_RULE, reason="not checked: no layer"))
    assert not to_confirm(clause(verdict=None, kind="return_due", reason="not checked: for the return"))


def test_names_numbers_and_sentences() -> None:
    assert clause_name(HOUSE_RULE, "house: roads") == "house rule, roads"
    assert clause_name("P", "3(b)") == "clause 3(b)"
    assert sentence("look out") == "Look out."
    assert sentence("") == ""
    assert shown(grouped(-1234.5, 1)) == "−1 234.5"
    assert shown(hectares(0.4, 12.3)) == "0–12 ha"
    assert shown(hectares(1.04, 1.04)) == "1.0 ha"
    assert moment("2026-11-21T05:10:00Z") == "2026-11-21 05:10 (UTC+00:00)"
    assert moment("tonight") == "tonight"
