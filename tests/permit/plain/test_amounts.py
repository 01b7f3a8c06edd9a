"""Amounts as people write them, and as they stand in a clause's text."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.permit.plain.amounts import UNITS, Measure, figure, number, parse_amount
from tussock.permit.plain.in_text import amounts_in

_WORDS = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen"
)
ONES = tuple(_WORDS.split())
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def spelt(n: int) -> str:
    """Spell a whole number below a million as English does; written for this test alone."""
    if n < 20:
        return ONES[n]
    if n < 100:
        return TENS[n // 10 - 2] + (f"-{ONES[n % 10]}" if n % 10 else "")
    if n < 1000:
        return f"{ONES[n // 100]} hundred" + (f" and {spelt(n % 100)}" if n % 100 else "")
    rest = n % 1000
    joint = " and " if 0 < rest < 100 else " "
    return f"{spelt(n // 1000)} thousand" + (f"{joint}{spelt(rest)}" if rest else "")


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.integers(1, 999_999))
def test_numbers_in_words_and_figures_are_read_back(n: int) -> None:
    assert number(spelt(n)) == n
    assert number(spelt(n).replace("-", " ").upper()) == n
    assert number(f"{n:,}") == number(str(n)) == number(f"{n:,}".replace(",", " ")) == n


@pytest.mark.parametrize(
    "text", ["", "and", "hundred two", "one and two", "ten two", "2,00,0", "1/0", "a", "five five"]
)
def test_what_is_no_number(text: str) -> None:
    assert number(text) is None


# NIST Special Publication 811, appendix B.8, for the international foot, yard and mile (from memory)
PUBLISHED = [
    ("1 mile", Measure.METRES, 1609.344),
    ("1 yard", Measure.METRES, 0.9144),
    ("1 foot", Measure.METRES, 0.3048),
    ("2 km", Measure.METRES, 2000),
    ("2 square kilometres", Measure.HECTARES, 200),
    ("30 minutes", Measure.HOURS, 0.5),
    ("two days", Measure.HOURS, 48),
    ("4 weeks", Measure.DAYS, 28),
    ("48 h", Measure.DAYS, 2),
]


@pytest.mark.parametrize(("text", "measure", "value"), PUBLISHED)
def test_conversions(text: str, measure: Measure, value: float) -> None:
    assert parse_amount(text, measure=measure) == value


def test_forty_acres() -> None:
    # 40 acres = 16.187 ha: see tests/external/test_forty_acres.py
    assert parse_amount("40 acres", measure=Measure.HECTARES) == pytest.approx(16.187, abs=0.0005)


@pytest.mark.parametrize(
    ("text", "measure"),
    [
        ("2 acres", Measure.METRES),
        ("2 h", Measure.METRES),
        ("2 m", Measure.HECTARES),
        ("2 m", Measure.HOURS),
        ("2 km2", Measure.METRES),
        ("-2 m", Measure.METRES),
        ("km", Measure.METRES),
        ("2 furlongs", Measure.METRES),
        ("", Measure.HOURS),
    ],
)
def test_what_is_no_such_amount_is_refused_with_an_example(text: str, measure: Measure) -> None:
    with pytest.raises(InputError, match="Allowed: a number with its unit, such as"):
        parse_amount(text, measure=measure)


def test_a_bare_number_is_in_the_files_unit() -> None:
    assert parse_amount("1,500.5", measure=Measure.METRES) == 1500.5
    assert parse_amount("½", measure=Measure.HOURS) == 0.5


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.integers(1, 10**6), st.sampled_from(sorted(UNITS)))
def test_every_unit_is_read_alike_in_an_answer_and_in_a_text(n: int, unit: str) -> None:
    measure = UNITS[unit].measure
    found = amounts_in(f"Let it go within {n:,} {unit} of there.")
    assert [(a.value, a.measure) for a in found] == [(n * UNITS[unit].size, measure)]
    assert parse_amount(f"{n:,} {unit}", measure=measure) == float(found[0].value)


IN_TEXT = [
    ("no more than twenty-four (24) hours", [24]),
    ("a 24-hour period", [24]),
    ("between 100 and 200 metres", [100, 200]),
    ("five to ten hectares", [5, 10]),
    ("two and a half hours", [Fraction(5, 2)]),
    ("half a mile", [Fraction("804.672")]),
    ("one hundred and fifty metres", [150]),
    ("under 3(a), 200 metres", [200]),
    ("at least 100 m from any\nroad", [100]),
    # what only looks like an amount
    ("after 20:00 h", []),
    ("from 0600 hours to 1800 hours", []),
    ("at 20.00 h", []),
    ("at 10 km/h", []),
    ("two working days", []),
    ("3 tiger snakes", []),
    ("5 nautical miles", []),
    ("once an hour", []),
    ("clause 3 m", [3]),  # cannot be told from an amount, and harms nothing: it is a hint
]


@pytest.mark.parametrize(("text", "values"), IN_TEXT)
def test_amounts_in_a_text(text: str, values: list[Fraction]) -> None:
    assert [a.value for a in amounts_in(text)] == values


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.text(alphabet=st.sampled_from("0123456789 ,.:/-–½²()mkhaorne\n\u00a0\u0663"), max_size=60))
def test_no_text_is_too_odd(text: str) -> None:
    for amount in amounts_in(text):
        assert amount.printed in text
        assert amount.value > 0


def test_figures_are_shown_without_noise() -> None:
    assert [figure(v) for v in (2000.0, 1609.344, 0.5, 16.1874256896)] == [
        "2000",
        "1609.344",
        "0.5",
        "16.187426",
    ]
