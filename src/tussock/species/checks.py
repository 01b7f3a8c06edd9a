"""What a value in a profile file may be."""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import StrEnum

_SCIENTIFIC = re.compile(r"[A-Z][a-z]+ [a-z-]{2,}( [a-z-]{3,})?")


def is_text(value: object) -> bool:
    """Return whether it is a text with at least one letter or digit."""
    return isinstance(value, str) and any(map(str.isalnum, value))


def is_scientific(value: object) -> bool:
    """Return whether it is a binomial or trinomial: ``Genus species`` or ``Genus species subspecies``."""
    return isinstance(value, str) and _SCIENTIFIC.fullmatch(value) is not None


def is_table(value: object) -> bool:
    """Return whether it is a table."""
    return isinstance(value, dict)


def is_month(value: object) -> bool:
    """Return whether it is a month number, 1 to 12."""
    return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 12


def is_number(value: object, *, low: float, high: float) -> bool:
    """Return whether it is a number in [low, high]; nan is not, nor is true or false."""
    return isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high


def is_member(value: object, kind: type[StrEnum]) -> bool:
    """Return whether it is one of a kind's words."""
    return isinstance(value, str) and value in {m.value for m in kind}


def is_list_of(value: object, ok: Callable[[object], bool]) -> bool:
    """Return whether it is a list of different things that all pass."""
    return isinstance(value, list) and all(map(ok, value)) and len(set(value)) == len(value)
