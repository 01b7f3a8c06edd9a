"""Field types of permit files: each refuses what cannot be meant, and says what it takes.

A ``Field(description=…)`` is printed as *Allowed* in error messages, so it names the unit.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Sequence
from datetime import time
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from tussock.names import (
    ANIMAL_CONDITIONS,
    DANGERS,
    DISPOSALS,
    FOUND_IN,
    GRAVID,
    HABITAT_CLASSES,
    LIFE_STAGES,
    ORIGINS,
    UNKNOWN,
)
from tussock.permit.taxon import name_parts

MOST_M = 20_004_000.0
"""Half the length of a meridian [m]: no two places are farther apart."""
MOST_HA = 1.5e10
"""Roughly the land of the Earth [ha]."""
MOST_HOURS = 8784.0
"""A leap year [h]."""
MOST_DAYS = 36_525.0
"""A century [d]."""
MOST_COUNT = 1_000_000
_SHORT, _LONG = 200, 4000
_BIDI_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def _clean(text: str, *, most: int, spaces: str) -> str:
    trimmed = text.strip()
    if not trimmed:
        raise ValueError("it is empty")
    if len(trimmed) > most:
        raise ValueError(f"it has {len(trimmed)} characters, more than {most}")
    for letter in trimmed:
        if letter in _BIDI_OVERRIDES or (
            unicodedata.category(letter) in ("Cc", "Cs") and letter not in spaces
        ):
            raise ValueError(f"it holds the control character U+{ord(letter):04X}")
    return trimmed


def _line(text: str) -> str:
    return _clean(text, most=_SHORT, spaces="")


def _prose(text: str) -> str:
    return " ".join(_clean(text, most=_LONG, spaces="\n\r\t").split()) if text.strip() else ""


def _scientific(text: str) -> str:
    name = " ".join(_line(text).split())
    if not name_parts(name):
        raise ValueError("it is no scientific name of a genus, species or subspecies")
    return name


def _some(values: tuple[object, ...]) -> tuple[object, ...]:
    if not values:
        raise ValueError("it is empty")
    value, count = Counter(values).most_common(1)[0]
    if count > 1:
        raise ValueError(f"'{str(value)[:60]}' stands {count} times")
    return values


def _clock(value: object) -> object:
    """Return a clock time from ``HH:MM`` text; a TOML local time passes as it is."""
    if isinstance(value, time):
        return value
    parts = value.split(":") if isinstance(value, str) else []
    if len(parts) != 2 or not all(p.isascii() and p.isdigit() and len(p) == 2 for p in parts):
        raise ValueError("it is no clock time")
    return time(int(parts[0]), int(parts[1]))


def _month_day(text: str) -> str:
    month, _, day = text.partition("-")
    if not all(p.isascii() and p.isdigit() and len(p) == 2 for p in (month, day)):
        raise ValueError("it is no month and day")
    longest = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    if not 1 <= int(month) <= 12 or not 1 <= int(day) <= longest[int(month) - 1]:
        raise ValueError("it is not in the calendar")
    return text


class NotOneOfError(ValueError):
    """A word outside its list; carries both, so that the nearest can be named."""

    def __init__(self, word: str, words: Sequence[str]) -> None:
        self.word, self.words = word, tuple(words)
        super().__init__(f"'{word[:60]}' is none of the words known here")


def one_of(words: Sequence[str]) -> AfterValidator:
    """Return the check that a word is one of those."""

    def check(word: str) -> str:
        if word not in words:
            raise NotOneOfError(word, words)
        return word

    return AfterValidator(check)


SOME = AfterValidator(_some)
"""Marks a list field: at least one entry, each once."""

Line = Annotated[
    str, AfterValidator(_line), Field(description=f"text on one line, up to {_SHORT} characters")
]
Prose = Annotated[str, AfterValidator(_prose), Field(description=f"text, up to {_LONG} characters")]
Scientific = Annotated[
    str,
    AfterValidator(_scientific),
    Field(description="a scientific name such as 'Notechis scutatus', or a genus such as 'Notechis spp.'"),
]
Clock = Annotated[time, BeforeValidator(_clock), Field(description="a local clock time HH:MM in quotes")]
MonthDay = Annotated[str, AfterValidator(_month_day), Field(description="month and day as MM-DD in quotes")]

Metres = Annotated[
    float,
    Field(gt=0, le=MOST_M, allow_inf_nan=False, description="metres, a number above 0 and at most 20004000"),
]
Hectares = Annotated[
    float,
    Field(gt=0, le=MOST_HA, allow_inf_nan=False, description="hectares, a number above 0 and at most 1.5e10"),
]
Hours = Annotated[
    float,
    Field(gt=0, le=MOST_HOURS, allow_inf_nan=False, description="hours, a number above 0 and at most 8784"),
]
Days = Annotated[
    float,
    Field(gt=0, le=MOST_DAYS, allow_inf_nan=False, description="days, a number above 0 and at most 36525"),
]
Count = Annotated[
    int,
    Field(gt=0, le=MOST_COUNT, description="a whole number above 0 and at most 1000000"),
]
Celsius = Annotated[
    float,
    Field(ge=-60, le=60, allow_inf_nan=False, description="degrees Celsius, −60 to 60"),
]
Month = Annotated[int, Field(ge=1, le=12, description="months as whole numbers, 1 to 12")]

# TOML gives lists; models are frozen and hashed, so they are kept as tuples (hence not strict)
_LIST = "a list in square brackets, not empty, each once: "
Lines = Annotated[tuple[Line, ...], SOME, Field(strict=False, description=_LIST + "texts")]
SpeciesNames = Annotated[
    tuple[Scientific, ...],
    SOME,
    Field(
        strict=False, description=_LIST + "scientific names such as 'Notechis scutatus' or 'Notechis spp.'"
    ),
]
Months = Annotated[tuple[Month, ...], SOME, Field(strict=False, description=_LIST + "months 1 to 12")]
Dangers = Annotated[
    tuple[Annotated[str, one_of(DANGERS)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(DANGERS)),
]
Origins = Annotated[
    tuple[Annotated[str, one_of(ORIGINS)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(ORIGINS)),
]
_KNOWN_ORIGINS = tuple(o for o in ORIGINS if o != UNKNOWN)
KnownOrigins = Annotated[
    tuple[Annotated[str, one_of(_KNOWN_ORIGINS)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(_KNOWN_ORIGINS)),
]
LifeStages = Annotated[
    tuple[Annotated[str, one_of(LIFE_STAGES)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(LIFE_STAGES)),
]
Gravid = Annotated[
    tuple[Annotated[str, one_of(GRAVID)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(GRAVID)),
]
AnimalConditions = Annotated[
    tuple[Annotated[str, one_of(ANIMAL_CONDITIONS)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(ANIMAL_CONDITIONS)),
]
FoundIn = Annotated[
    tuple[Annotated[str, one_of(FOUND_IN)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(FOUND_IN)),
]
HabitatClasses = Annotated[
    tuple[Annotated[str, one_of(HABITAT_CLASSES)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(HABITAT_CLASSES)),
]
Disposals = Annotated[
    tuple[Annotated[str, one_of(DISPOSALS)], ...],
    SOME,
    Field(strict=False, description=_LIST + ", ".join(DISPOSALS)),
]
