"""Amounts that stand in a clause's text. A hint for a second look, not a reading of the law."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tussock.permit.plain.amounts import NUMBER_WORDS, UNITS, Amount, Measure, number

_TOKEN = re.compile(
    r"\d+ \d+/\d+|\d+/\d+|\d{1,3}(?:[,\u00a0\u202f ]\d{3})+(?:\.\d+)?(?!\d)|\d+(?:[.,]\d+)?[¼½¾]?|[¼½¾]"
    r"|[^\W\d_]+[²2]?(?!\w)|[^\W\d_]+|\S"
)
_CLOCK = re.compile(r"\d{4}|\d{1,2}\.\d{2}")
_BETWEEN = ("to", "or", "and", "-", "–", "—")


@dataclass(frozen=True)
class _Token:
    text: str
    start: int
    end: int

    @property
    def low(self) -> str:
        return self.text.lower()


def amounts_in(text: str) -> tuple[Amount, ...]:
    """Return every number with a unit that a text holds, of a range both ends.

    Clock times, speeds and counts of things without a unit known here are left out, and so is every
    number that cannot be read with certainty.

    Examples
    --------
    >>> [(a.printed, float(a.value)) for a in amounts_in("within two kilometres, 5 to 10 ha, for 24 h")]
    [('two kilometres', 2000.0), ('5 to 10 ha', 5.0), ('10 ha', 10.0), ('24 h', 24.0)]
    """
    tokens = [_Token(m.group(), m.start(), m.end()) for m in _TOKEN.finditer(text)]
    return tuple(amount for at in range(len(tokens)) for amount in _ending_at(tokens, at, text))


def _ending_at(tokens: Sequence[_Token], at: int, text: str) -> Iterator[Amount]:
    """Give the amounts whose unit ends with that token."""
    words = 2 if at and f"{tokens[at - 1].low} {tokens[at].low}" in UNITS else 1
    name = " ".join(t.low for t in tokens[at - words + 1 : at + 1])
    if name not in UNITS or _is_rate(tokens, at):
        return
    unit, before = UNITS[name], _skipped(tokens, at - words)
    first = _number_from(tokens, before)
    if first is None or (unit.measure is Measure.HOURS and _is_clock(tokens, first, before)):
        return
    for begin, end in (*_range_before(tokens, first), (first, before)):
        value = number(text[tokens[begin].start : tokens[end].end])
        if value:
            printed = text[tokens[begin].start : tokens[at].end]
            yield Amount(value * unit.size, unit.measure, printed)


def _is_rate(tokens: Sequence[_Token], at: int) -> bool:
    return at + 1 < len(tokens) and tokens[at + 1].text == "/"


def _skipped(tokens: Sequence[_Token], at: int) -> int:
    """Return the last token before a unit that is no hyphen or closing bracket: '24-hour', '(24) hours'."""
    while at >= 0 and tokens[at].text in ("-", "\u2010", "\u2011", ")"):
        at -= 1
    return at


def _number_from(tokens: Sequence[_Token], end: int) -> int | None:
    """Return where the number that ends there begins; the longest reading wins."""
    if end < 0:
        return None
    if tokens[end].text[0].isdigit() or tokens[end].text[0] in "¼½¾":
        return end if number(tokens[end].text) is not None else None
    begin, found = end, None
    while begin >= 0 and (tokens[begin].low in NUMBER_WORDS or tokens[begin].text == "-"):
        if number(" ".join(t.low for t in tokens[begin : end + 1] if t.text != "-")) is not None:
            found = begin
        begin -= 1
    return found


def _is_clock(tokens: Sequence[_Token], begin: int, end: int) -> bool:
    """Return whether it is a clock time such as '20:00 h', '20.00 h' or '2000 hours'."""
    after_colon = begin > 0 and tokens[begin - 1].text == ":"
    return after_colon or (begin == end and _CLOCK.fullmatch(tokens[end].text) is not None)


def _range_before(tokens: Sequence[_Token], first: int) -> Iterator[tuple[int, int]]:
    """Give begin and end of the number that a range such as '5 to 10 ha' begins with."""
    if first >= 2 and tokens[first - 1].low in _BETWEEN:
        begin = _number_from(tokens, first - 2)
        if begin is not None:
            yield begin, first - 2
