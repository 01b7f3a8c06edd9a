"""Each sort of answer, and that every field of every kind has a question of its own."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.permit.asking.scripted import plain
from tussock.errors import InputError
from tussock.permit.asking import answers as sort
from tussock.permit.asking import calendar_answers as calendar
from tussock.permit.asking.draft import Draft
from tussock.permit.asking.fields import FIELDS
from tussock.permit.asking.session import resume
from tussock.permit.condition import Condition
from tussock.permit.explain import fields_by_key
from tussock.permit.kinds import KINDS
from tussock.permit.plain.amounts import Measure

EVERY = tomllib.loads((Path(__file__).parents[1] / "every_kind.toml").read_text("utf-8"))
CLAUSES = EVERY["versions"][0]["conditions"]


@pytest.mark.parametrize("clause", CLAUSES, ids=lambda c: c["kind"])
def test_a_clause_typed_again_with_empty_lines_only_stays_as_it_is(clause: dict[str, Any]) -> None:
    raw = {
        **EVERY,
        "versions": [{"valid_from": EVERY["versions"][0]["valid_from"], "conditions": [dict(clause)]}],
    }
    before = Draft(raw).permit()
    draft = Draft(raw)
    resume(plain(["", clause["id"], *[""] * 40]), draft)
    assert draft.permit() == before
    left_out = {k for k, v in clause.items() if v is False}  # what is false anyway need not stand there
    assert {k: v for k, v in draft.clauses[0].items() if k in clause} == {
        k: v for k, v in clause.items() if k not in left_out or k == "mandatory"
    }


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_has_a_question(kind: str) -> None:
    own = set(fields_by_key(KINDS[kind])) - set(fields_by_key(Condition))
    assert {k for k in own if f"{kind}.{k}" not in FIELDS and k not in FIELDS} == set()


def test_no_question_is_left_over() -> None:
    keys = {(kind, key) for kind in KINDS for key in fields_by_key(KINDS[kind])}
    for name in FIELDS:
        kind, _, key = name.rpartition(".")
        assert ((kind, key) in keys) if kind else any(k == key for _, k in keys), name


@pytest.mark.parametrize(
    ("text", "clock"),
    [
        ("20:00", "20:00"),
        ("8 pm", "20:00"),
        ("8.30 p.m.", "20:30"),
        ("12 am", "00:00"),
        ("12 pm", "12:00"),
        ("12.15 AM", "00:15"),
        ("0630", "06:30"),
        ("6:05", "06:05"),
        ("2000 h", "20:00"),
    ],
)
def test_clock_times(text: str, clock: str) -> None:
    assert calendar.clock().parse(text) == clock


@pytest.mark.parametrize("text", ["8", "25:00", "12:60", "13 pm", "0 am", "noon", "", "8 pm 9"])
def test_no_clock_times(text: str) -> None:
    with pytest.raises(InputError, match="no clock time"):
        calendar.clock().parse(text)


def test_windows() -> None:
    window = calendar.window()
    assert window.parse("1") == window.parse("Daylight") == "daylight"
    assert window.parse("active period") == "active_period"
    assert window.parse("from 8 pm to 5.30 am") == {"from": "20:00", "to": "05:30"}
    assert window.parse("06:00-18:00") == {"from": "06:00", "to": "18:00"}
    for wrong in ("sunset", "8 pm to", "6 to 7"):
        with pytest.raises(InputError):
            window.parse(wrong)


def test_months_pass_the_new_year() -> None:
    months = calendar.months()
    assert months.parse("October to March") == [10, 11, 12, 1, 2, 3]
    assert months.parse("5, Jun, 7-8") == [5, 6, 7, 8]
    assert months.parse("May to May") == [5]
    for wrong in ("Ma", "J", "13", "summer"):
        with pytest.raises(InputError, match="no month"):
            months.parse(wrong)


def test_days_of_the_year() -> None:
    day = calendar.month_day()
    assert (day.parse("30 June"), day.parse("1 Sep"), day.parse("06-30")) == ("06-30", "09-01", "06-30")
    assert day.show("06-30") == "30 June"


def test_whole_numbers_and_temperatures() -> None:
    assert [sort.whole().parse(t) for t in ("3", "twenty", "1,200")] == [3, 20, 1200]
    assert [sort.celsius().parse(t) for t in ("12", "-3 °C", "−0.5", "15 degrees")] == [12, -3, -0.5, 15]
    for answer, wrong in (
        (sort.whole(), "2.5"),
        (sort.whole(), "few"),
        (sort.celsius(), "warm"),
        (sort.celsius(), ""),
    ):
        with pytest.raises(InputError):
            answer.parse(wrong)


def test_amounts_are_whole_where_they_can_be() -> None:
    value = sort.amount(Measure.METRES).parse("2 km")
    assert (value, type(value)) == (2000, int)
    assert sort.amount(Measure.HECTARES).parse("40 acres") == 16.1874256896


def test_choices_are_taken_by_number_word_and_what_is_shown() -> None:
    one = sort.choice({"site": "the place of release", "both": "both"})
    assert one.parse("1") == one.parse("SITE") == one.parse("the place of release") == "site"
    for wrong in ("0", "3", "sight", ""):
        with pytest.raises(InputError, match="a number from 1 to 2, or its word"):
            one.parse(wrong)
    own = sort.several(("dwellings", "roads"), own=True)
    assert own.parse("1, my mines,roads") == ["dwellings", "my mines", "roads"]
    with pytest.raises(InputError, match="write dwellings"):
        own.parse("dwelings")


def test_names_may_hold_commas() -> None:
    assert sort.names().parse("Quill, J.; Fenn, M.") == ["Quill, J.", "Fenn, M."]
    assert sort.names().parse("J. Quill,  M.  Fenn") == ["J. Quill", "M. Fenn"]


def test_menus_fit_a_small_screen() -> None:
    for name, field in FIELDS.items():
        for raw in ({}, {"layer": "roads"}, {"layer": "habitat"}):
            menu = field.answer(raw).menu
            assert len(menu) <= 12 and all(len(line) <= 80 for line in menu), name
