"""Amounts as people write them: '2 km', '40 acres', 'twenty-four hours', '½ mile'.

Conversions are exact fractions. Sources: the international yard of 0.9144 m (agreement of 1959, Federal
Register 24 F.R. 5348), of which foot, mile and acre are exact multiples; the acre is 4,840 square yards.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from tussock.errors import InputError


class Measure(StrEnum):
    """What an amount measures, named by the unit that files hold it in."""

    METRES = "m"
    HECTARES = "ha"
    HOURS = "h"
    DAYS = "days"
    ANIMALS = "animals"


@dataclass(frozen=True)
class Unit:
    """A unit: what it measures, and how much of the file's unit it is."""

    measure: Measure
    size: Fraction


@dataclass(frozen=True)
class Amount:
    """A number with its unit, as found; ``value`` is in the file's unit."""

    value: Fraction
    measure: Measure
    printed: str


_YARD_M = Fraction(9144, 10_000)
_ACRE_HA = 4840 * _YARD_M**2 / 10_000
_SIZES: Mapping[tuple[str, ...], tuple[Measure, Fraction]] = {
    ("m", "metre", "metres", "meter", "meters"): (Measure.METRES, Fraction(1)),
    ("km", "kms", "kilometre", "kilometres", "kilometer", "kilometers"): (Measure.METRES, Fraction(1000)),
    ("mile", "miles", "mi"): (Measure.METRES, 1760 * _YARD_M),
    ("yard", "yards", "yd", "yds"): (Measure.METRES, _YARD_M),
    ("foot", "feet", "ft"): (Measure.METRES, _YARD_M / 3),
    ("ha", "hectare", "hectares"): (Measure.HECTARES, Fraction(1)),
    ("acre", "acres", "ac"): (Measure.HECTARES, _ACRE_HA),
    ("km²", "km2", "sq km", "square kilometre", "square kilometres", "square kilometers"): (
        Measure.HECTARES,
        Fraction(100),
    ),
    ("m²", "m2", "sq m", "square metre", "square metres", "square meters"): (
        Measure.HECTARES,
        Fraction(1, 10_000),
    ),
    ("h", "hr", "hrs", "hour", "hours"): (Measure.HOURS, Fraction(1)),
    ("min", "mins", "minute", "minutes"): (Measure.HOURS, Fraction(1, 60)),
    ("day", "days", "d"): (Measure.HOURS, Fraction(24)),
    ("week", "weeks"): (Measure.HOURS, Fraction(168)),
    ("animal", "animals", "snake", "snakes", "individual", "individuals", "specimen", "specimens"): (
        Measure.ANIMALS,
        Fraction(1),
    ),
}
UNITS: dict[str, Unit] = {name: Unit(*size) for names, size in _SIZES.items() for name in names}
"""Every way a unit is written, in small letters."""
EXAMPLES = {
    Measure.METRES: "500 m, 2 km, 1 mile, 200 yards",
    Measure.HECTARES: "5 ha, 40 acres, 2 km²",
    Measure.HOURS: "24 h, 30 minutes, 2 days",
    Measure.DAYS: "28 days, 4 weeks",
    Measure.ANIMALS: "3, twenty",
}

_ONES = [
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_SMALL = {w: n for n, w in enumerate(_ONES, start=1)} | {w: 10 * n for n, w in enumerate(_TENS, start=2)}
_LARGE = {"hundred": 100, "thousand": 1000}
_PARTS = {"half": Fraction(1, 2), "quarter": Fraction(1, 4)}
NUMBER_WORDS = frozenset({*_SMALL, *_LARGE, *_PARTS, "quarters", "a", "an", "and", "of"})
"""Words that a number in words is made of."""
_DIGITS = re.compile(r"(\d{1,3}(?:[, ]\d{3})+|\d+)(?:\.(\d+))?|(\d+),(\d{1,2})")
_RATIO = re.compile(r"(?:(\d+) )?(\d+)/(\d+)")


def number(text: str) -> Fraction | None:
    """Return the number that digits or English words name; ``None`` when they name none.

    Examples
    --------
    >>> number("2,000"), number("2.5"), number("1 1/2"), number("twenty-four")
    (Fraction(2000, 1), Fraction(5, 2), Fraction(3, 2), Fraction(24, 1))
    >>> number("one hundred and fifty"), number("two and a half"), number("half a"), number("one and two")
    (Fraction(150, 1), Fraction(5, 2), Fraction(1, 2), None)
    """
    plain = _plain(text)
    if ratio := _RATIO.fullmatch(plain):
        whole, top, bottom = (int(g or 0) for g in ratio.groups())
        return whole + Fraction(top, bottom) if bottom else None
    if digits := _DIGITS.fullmatch(plain):
        before, after, before_comma, after_comma = digits.groups()
        joined = re.sub("[, ]", "", before or before_comma)
        return Fraction(f"{joined}.{after or after_comma or 0}")
    return _in_words(plain.replace("-", " ").split())


def _plain(text: str) -> str:
    """Return the text in small letters, vulgar fractions written as ratios, one kind of space."""
    opened = re.sub(r"(?<=\d)(?=[¼½¾⅓⅔⅛])", " ", text)
    return " ".join(unicodedata.normalize("NFKC", opened).replace("\u2044", "/").lower().split())


def _in_words(words: Sequence[str]) -> Fraction | None:
    match list(words):
        case ["half"] | ["half", "a" | "an"] | ["a", "half"] | ["half", "of", "a" | "an"]:
            return _PARTS["half"]
        case (
            ["quarter"]
            | ["a", "quarter"]
            | ["quarter", "of", "a" | "an"]
            | ["a", "quarter", "of", "a" | "an"]
        ):
            return _PARTS["quarter"]
        case ["three", "quarters"] | ["three", "quarters", "of", "a" | "an"]:
            return 3 * _PARTS["quarter"]
        case [*whole, "and", "a", ("half" | "quarter") as part]:
            found = _whole(whole)
            return None if found is None else found + _PARTS[part]
        case ["a", "hundred" | "thousand" as large]:
            return Fraction(_LARGE[large])
        case _:
            return _whole(words)


def _whole(words: Sequence[str]) -> Fraction | None:
    """Return a whole number below a million in words, 'and' only after hundred or thousand."""
    if "thousand" in words:
        cut = list(words).index("thousand")
        high, rest = _below_thousand(words[:cut]), words[cut + 1 :]
        low = _below_thousand(_after_and(rest)) if rest else 0
        return None if not high or low is None else Fraction(1000 * high + low)
    found = _below_thousand(words)
    return None if found is None else Fraction(found)


def _below_thousand(words: Sequence[str]) -> int | None:
    match list(words):
        case [hundreds, "hundred", *rest] if hundreds in _SMALL and _SMALL[hundreds] < 10:
            low = _below_hundred(_after_and(rest)) if rest else 0
            return None if low is None else 100 * _SMALL[hundreds] + low
        case _:
            return _below_hundred(words)


def _below_hundred(words: Sequence[str]) -> int | None:
    match list(words):
        case [one] if one in _SMALL:
            return _SMALL[one]
        case [ten, one] if ten in _TENS and one in _ONES[:9]:
            return _SMALL[ten] + _SMALL[one]
        case _:
            return None


def _after_and(words: Sequence[str]) -> Sequence[str]:
    return words[1:] if words[:1] == ["and"] and len(words) > 1 else words


def parse_amount(text: str, *, measure: Measure) -> float:
    """Return an amount in the file's unit; a bare number is taken to be in it.

    Raises
    ------
    InputError
        When it is no number, or its unit measures something else.

    Examples
    --------
    >>> parse_amount("2 km", measure=Measure.METRES), parse_amount("40 acres", measure=Measure.HECTARES)
    (2000.0, 16.1874256896)
    """
    allowed = f"a number with its unit, such as {EXAMPLES[measure]}; without a unit it is in {measure}"
    plain = " ".join(_plain(text).split())
    count, name = _split(plain)
    value = number(count)
    unit = UNITS.get(name) if name else Unit(measure, Fraction(1))
    if value is None or unit is None or not _fits(unit.measure, measure):
        raise InputError(f"'{text[:60]}' is no such amount", allowed=allowed)
    scale = unit.size / 24 if measure is Measure.DAYS and unit.measure is Measure.HOURS else unit.size
    return float(value * scale)


def _fits(unit: Measure, wanted: Measure) -> bool:
    return unit is wanted or (wanted is Measure.DAYS and unit is Measure.HOURS)


def _split(text: str) -> tuple[str, str]:
    """Return number and unit of a text, the unit empty where there is none."""
    for name in sorted(UNITS, key=len, reverse=True):
        head = text.removesuffix(name)
        if head != text and head and not head[-1].isalpha():
            return head.rstrip(" -"), name
    return text, ""


def figure(value: float) -> str:
    """Return a number as it is shown: no exponent, no digits that say nothing.

    Examples
    --------
    >>> figure(2000.0), figure(1609.344)
    ('2000', '1609.344')
    """
    return f"{value:.6f}".rstrip("0").rstrip(".")
