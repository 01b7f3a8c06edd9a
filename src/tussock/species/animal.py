"""The questions asked of an animal, and the animal their answers describe."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import TypeVar

from tussock.errors import Faults, InputError
from tussock.species.profiles import SpeciesBook
from tussock.species.traits import Profile

_E = TypeVar("_E", bound=StrEnum)

MOST_DIGITS = 6
"""Longest count read; a longer one is a slip (choice of this project)."""
_COUNT_ALLOWED = "a whole number from 1 to 999999"


class Identification(StrEnum):
    """How sure the species is."""

    CERTAIN = "certain"
    PROBABLE = "probable"
    UNKNOWN = "unknown"


class Origin(StrEnum):
    """Where the animal comes from."""

    WILD_LOCAL = "wild_local"
    POSSIBLE_ESCAPEE = "possible_escapee"
    BROUGHT_IN = "brought_in"
    EXOTIC = "exotic"
    UNKNOWN = "unknown"


class Condition(StrEnum):
    """State of the animal."""

    FIT = "fit"
    INJURED = "injured"
    SICK = "sick"
    DEAD = "dead"


class LifeStage(StrEnum):
    """Life stage."""

    EGG = "egg"
    NEONATE = "neonate"
    JUVENILE = "juvenile"
    SUBADULT = "subadult"
    ADULT = "adult"
    UNKNOWN = "unknown"


class Gravid(StrEnum):
    """Whether she carries young or eggs."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class FoundIn(StrEnum):
    """Where it was found."""

    BUILDING = "building"
    YARD = "yard"
    ROAD = "road"
    WATER = "water"
    TRAP_OR_NETTING = "trap_or_netting"
    VEHICLE = "vehicle"
    OTHER = "other"


QUESTIONS: Mapping[str, type[StrEnum]] = {
    "identification": Identification,
    "origin": Origin,
    "animalCondition": Condition,
    "lifeStage": LifeStage,
    "gravid": Gravid,
    "foundIn": FoundIn,
}
"""Column → the answers it takes. Besides them: a name, and ``individualCount``."""


@dataclass(frozen=True)
class Animal:
    """An animal (or several taken together) as answered for at intake.

    Attributes
    ----------
    scientific_name
        As in its profile; the name given where there is no profile.
    profile
        Profile of the species, or the neutral one.
    identification, origin, condition, life_stage, gravid, found_in
        The answers.
    individual_count
        How many, at least 1.
    """

    scientific_name: str
    profile: Profile
    identification: Identification
    origin: Origin
    condition: Condition
    individual_count: int
    life_stage: LifeStage
    gravid: Gravid
    found_in: FoundIn

    def __post_init__(self) -> None:
        if self.individual_count < 1:
            raise InputError(f"individualCount {self.individual_count}", allowed=_COUNT_ALLOWED)


def parse_answer(kind: type[_E], text: str, *, where: str = "") -> _E:
    """Return an answer read from text; case, spaces and hyphens do not count.

    >>> parse_answer(FoundIn, "Trap or netting").value
    'trap_or_netting'

    Raises
    ------
    InputError
        If it is none of the answers; the message lists them.
    """
    word = "_".join(text.casefold().replace("-", " ").replace("_", " ").split())
    try:
        return kind(word)
    except ValueError:
        raise InputError(f"found {text[:60]!r}", where=where, allowed=", ".join(kind)) from None


def unanswered(answers: Mapping[str, str]) -> tuple[str, ...]:
    """Return the columns still to be asked for, in order; a name counts in either of its columns."""
    named = any(answers.get(c, "").strip() for c in ("scientificName", "vernacularName"))
    rest = (c for c in (*QUESTIONS, "individualCount") if not answers.get(c, "").strip())
    return (*(() if named else ("scientificName",)), *rest)


def read_animal(answers: Mapping[str, str], *, book: SpeciesBook, where: str = "") -> Animal:
    """Return the animal that a set of answers (a table row, options, prompts) describes.

    Parameters
    ----------
    answers
        Column → text, Darwin Core names; other columns are left alone.
    book
        Where names are looked up.
    where
        File and row, for the messages.

    Raises
    ------
    InputError
        Every missing, wrong or contradicting answer at once.
    """
    _check(answers, book=book, where=where)
    profile = _profile(answers, book=book)
    return Animal(
        scientific_name=profile.scientific_name,
        profile=profile,
        identification=parse_answer(Identification, answers["identification"]),
        origin=parse_answer(Origin, answers["origin"]),
        condition=parse_answer(Condition, answers["animalCondition"]),
        individual_count=_count(answers["individualCount"]),
        life_stage=parse_answer(LifeStage, answers["lifeStage"]),
        gravid=parse_answer(Gravid, answers["gravid"]),
        found_in=parse_answer(FoundIn, answers["foundIn"]),
    )


def _check(answers: Mapping[str, str], *, book: SpeciesBook, where: str) -> None:
    faults = Faults()
    at = f"{where}, " if where else ""
    missing = unanswered(answers)
    for column in missing:
        faults.add("not answered", where=f"{at}{column}", allowed=_allowed(column), fix="answer it")
    readers: dict[str, Callable[[], object]] = {
        "scientificName": lambda: _profile(answers, book=book),
        **{c: partial(parse_answer, kind, answers.get(c, "")) for c, kind in QUESTIONS.items()},
        "individualCount": lambda: _count(answers.get("individualCount", "")),
    }
    for column in (c for c in readers if c not in missing):
        try:
            readers[column]()
        except InputError as error:
            faults.add(error.found, where=f"{at}{column}", allowed=error.allowed, fix=error.fix)
    faults.raise_if_any()


def _allowed(column: str) -> str:
    if column in QUESTIONS:
        return ", ".join(QUESTIONS[column])
    return _COUNT_ALLOWED if column == "individualCount" else "a scientific or vernacular name"


def _count(text: str) -> int:
    digits = text.strip()
    if not (digits.isascii() and digits.isdigit() and len(digits) <= MOST_DIGITS and int(digits) >= 1):
        raise InputError(f"found {text[:60]!r}", allowed=_COUNT_ALLOWED)
    return int(digits)


def _profile(answers: Mapping[str, str], *, book: SpeciesBook) -> Profile:
    scientific, vernacular = (answers.get(c, "").strip() for c in ("scientificName", "vernacularName"))
    if not scientific or not vernacular:
        return book.find(scientific or vernacular)
    profile, others = book.find(scientific), book.candidates(vernacular)
    if profile.known and others and profile not in others:
        meant = ", ".join(sorted(p.scientific_name for p in others))
        raise InputError(
            f"'{scientific}' and '{vernacular}' are different species",
            allowed=f"names of one species ('{vernacular}' means {meant})",
        )
    return profile
