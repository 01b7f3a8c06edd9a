"""Sorts of answers: amounts with units, numbers, yes or no, choices, lists."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import SequenceMatcher

from tussock.errors import InputError
from tussock.names import ALIKE
from tussock.permit.asking.talk import Answer
from tussock.permit.explain import did_you_mean
from tussock.permit.plain.amounts import EXAMPLES, Measure, figure, number, parse_amount

_UNIT_NAMES = {
    Measure.METRES: "metres",
    Measure.HECTARES: "hectares",
    Measure.HOURS: "hours",
    Measure.DAYS: "days",
}
_YES_NO = {"y": True, "yes": True, "true": True, "n": False, "no": False, "false": False}


def line() -> Answer:
    """Return the answer that is any text on one line."""
    return Answer(lambda text: text, "Text on one line.")


def amount(measure: Measure) -> Answer:
    """Return the answer that is a number with its unit; the converted value is shown."""

    def parse(text: str) -> float | int:
        return _tidy(parse_amount(text, measure=measure))

    return Answer(
        parse,
        f"A number with its unit, such as {EXAMPLES[measure]}; a bare number is in {_UNIT_NAMES[measure]}.",
        echo=lambda value: f"{figure(value)} {measure}",
        show=lambda value: f"{figure(value)} {measure}",
    )


def _tidy(value: float) -> float | int:
    return int(value) if value.is_integer() else value


def whole() -> Answer:
    """Return the answer that is a whole number, in digits or words."""

    def parse(text: str) -> int:
        value = number(text)
        if value is None or value.denominator != 1:
            raise InputError(f"'{text[:60]}' is no whole number", allowed="such as 3 or twenty")
        return int(value)

    return Answer(parse, "A whole number, such as 3 or twenty.")


def celsius() -> Answer:
    """Return the answer that is a temperature in degrees Celsius."""

    def parse(text: str) -> float | int:
        plain = re.sub(r"\s*(°\s*c?|c|degrees( celsius)?)$", "", text.strip(), flags=re.IGNORECASE)
        value = number(plain.lstrip("-−"))
        if value is None:
            raise InputError(f"'{text[:60]}' is no temperature", allowed="degrees Celsius, such as 12 or -3")
        return _tidy(float(-value if plain[0] in "-−" else value))

    return Answer(parse, "Degrees Celsius, such as 12 or -3.", show=lambda v: f"{figure(v)} °C")


def yes_no() -> Answer:
    """Return the answer that is yes or no."""

    def parse(text: str) -> bool:
        if text.lower() not in _YES_NO:
            raise InputError(f"found '{text[:60]}'", allowed="yes or no")
        return _YES_NO[text.lower()]

    return Answer(parse, "yes or no.", show=lambda value: "yes" if value else "no")


def choice(options: Mapping[str, str] | Sequence[str], *, own: bool = False) -> Answer:
    """Return the answer that is one of several, by number or word.

    Parameters
    ----------
    options
        Value → what is shown beside it, or the values alone.
    own
        Whether a word that is none of them may be meant all the same.
    """
    shown = _shown(options)
    return Answer(
        lambda text: picked(text, shown, own=own),
        "The number or the word of one of them." + (" A name of your own is taken too." if own else ""),
        tuple(_menu(shown)),
        show=lambda value: shown.get(value, str(value)),
    )


def several(options: Mapping[str, str] | Sequence[str], *, own: bool = False) -> Answer:
    """Return the answer that is a list of some of them, by numbers or words, separated by commas."""
    shown = _shown(options)

    def parse(text: str) -> list[str]:
        return [picked(part, shown, own=own) for part in parts(text)]

    return Answer(
        parse,
        "Numbers or words, separated by commas." + (" Names of your own are taken too." if own else ""),
        tuple(_menu(shown)),
        show=", ".join,
    )


def names() -> Answer:
    """Return the answer that is a list of names, separated by semicolons or else by commas."""
    help_words = "Names separated by commas (by semicolons where a name has a comma)."
    return Answer(parts, help_words, show=", ".join)


def _shown(options: Mapping[str, str] | Sequence[str]) -> Mapping[str, str]:
    return options if isinstance(options, Mapping) else {o: o.replace("_", " ") for o in options}


def _menu(shown: Mapping[str, str]) -> Iterable[str]:
    rows = [f"{n:>4}  {words}" for n, words in enumerate(shown.values(), start=1)]
    if len(rows) <= 8:
        return rows
    # a long list in two columns still fits a small screen
    half, wide = -(-len(rows) // 2), max(map(len, rows))
    if wide > 36:
        return rows
    left, right = rows[:half], [*rows[half:], ""]
    return [f"{one:<38}{other}".rstrip() for one, other in zip(left, right, strict=False)]


def parts(text: str) -> list[str]:
    """Return the entries of a list as typed."""
    listed = [" ".join(p.split()) for p in text.split(";" if ";" in text else ",")]
    return [p for p in listed if p]


def picked(text: str, options: Mapping[str, str], *, own: bool = False) -> str:
    """Return the value that its number, its word or what is shown beside it picks.

    Parameters
    ----------
    options
        Value → what is shown.
    own
        Whether a word that is none of them may be meant; one with a slip of the pen is not taken for it.

    Raises
    ------
    InputError
        When it picks none.
    """
    plain = " ".join(text.split())
    words = tuple(options)
    if plain.isascii() and plain.isdigit() and 1 <= int(plain[:4]) <= len(words):
        return words[int(plain[:4]) - 1]
    low = plain.lower().replace(" ", "_")
    for word, shown in options.items():
        if low == word.lower() or plain.lower() == shown.lower():
            return word
    if own and plain and not plain.isdigit() and not any(_alike(low, word) for word in words):
        return plain
    hint = did_you_mean(low, words)
    allowed = f"a number from 1 to {len(words)}, or its word" + (", or a name of your own" if own else "")
    raise InputError(f"'{plain[:60]}' is none of them", allowed=allowed, fix=hint)


def _alike(one: str, other: str) -> bool:
    return SequenceMatcher(None, one, other.lower()).ratio() >= ALIKE
