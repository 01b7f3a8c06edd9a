"""From the answers given (a table row, options, prompts) to the animal they describe."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from enum import StrEnum
from functools import partial
from typing import TypeVar

from tussock.errors import Faults, InputError
from tussock.names import UNKNOWN
from tussock.species.animal import (
    COUNT_ALLOWED,
    MOST_DIGITS,
    QUESTIONS,
    Animal,
    Condition,
    FoundIn,
    Gravid,
    Identification,
    LifeStage,
    Origin,
    contradiction,
)
from tussock.species.profiles import SpeciesBook
from tussock.species.traits import Profile, name_key

_E = TypeVar("_E", bound=StrEnum)

NAMELESS = "not named"
"""Stands in for the name of an animal whose record has none, while the rest is read."""
_NOT_RECORDED = {"animalCondition": "fit", "foundIn": "other", "individualCount": "1"}
"""Stand-ins that are taken out again, where ``unknown`` is no answer."""

OTHERS = "orScientificName"
"""Column of the other species it may be, their names separated by ``|``; it may stay empty."""


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
    identification = _identification(answers)
    look_alikes = tuple(map(book.of_species, profile.look_alikes))
    others = tuple(_other(name, answers, book=book) for name in other_names(answers))
    if not others and identification is Identification.PROBABLE:
        others = look_alikes
    return Animal(
        scientific_name=profile.scientific_name,
        profile=profile,
        identification=identification,
        origin=parse_answer(Origin, answers["origin"]),
        condition=parse_answer(Condition, answers["animalCondition"]),
        individual_count=_count(answers["individualCount"]),
        life_stage=parse_answer(LifeStage, answers["lifeStage"]),
        gravid=parse_answer(Gravid, answers["gravid"]),
        found_in=parse_answer(FoundIn, answers["foundIn"]),
        others=others,
        look_alikes=look_alikes,
    )


def read_recorded_animal(answers: Mapping[str, str], *, book: SpeciesBook, where: str = "") -> Animal:
    """Return the animal of a record: what nobody wrote down is not known, and one animal where no count is.

    Raises
    ------
    InputError
        Every wrong or contradicting answer at once.
    """
    stand_ins = {c: _NOT_RECORDED.get(c, UNKNOWN) for c in unanswered(answers)}
    if "scientificName" not in stand_ins:
        animal = read_animal({**stand_ins, **answers}, book=book, where=where)
    else:  # no name: the neutral profile, under none
        stand_ins["scientificName"] = NAMELESS
        found = read_animal({**stand_ins, **answers}, book=book, where=where)
        animal = replace(found, scientific_name="", profile=replace(found.profile, scientific_name=""))
    return replace(
        animal,
        condition=None if "animalCondition" in stand_ins else animal.condition,
        found_in=None if "foundIn" in stand_ins else animal.found_in,
    )


def other_names(answers: Mapping[str, str]) -> tuple[str, ...]:
    """Return the names given of other species it may be.

    >>> other_names({"orScientificName": "Vipera berus | Vipera aspis"})
    ('Vipera berus', 'Vipera aspis')
    """
    text = answers.get(OTHERS, "").strip()
    return tuple(name.strip() for name in text.split("|")) if text else ()


def _check(answers: Mapping[str, str], *, book: SpeciesBook, where: str) -> None:
    faults = Faults()
    at = f"{where}, " if where else ""
    missing = unanswered(answers)
    for column in missing:
        faults.add("not answered", where=f"{at}{column}", allowed=_allowed(column), fix="answer it")
    for column, read in _readers(answers, book=book):
        try:
            if column not in missing:
                read()
        except InputError as error:
            faults.add(error.found, where=f"{at}{column}", allowed=error.allowed, fix=error.fix)
    faults.raise_if_any()


def _readers(answers: Mapping[str, str], *, book: SpeciesBook) -> Iterator[tuple[str, Callable[[], object]]]:
    """Yield each column with a function that raises InputError where its answer is none."""
    yield "scientificName", lambda: _profile(answers, book=book)
    for name in other_names(answers):
        yield OTHERS, partial(_other, name, answers, book=book)
    yield "identification", lambda: _identification(answers)
    for column, kind in QUESTIONS.items():
        if column != "identification":
            yield column, partial(parse_answer, kind, answers.get(column, ""))
    yield "individualCount", lambda: _count(answers.get("individualCount", ""))


def _identification(answers: Mapping[str, str]) -> Identification:
    """Return how sure the species is; certain and other names beside it contradict."""
    given = parse_answer(Identification, answers["identification"])
    others = other_names(answers)
    if others and given is Identification.CERTAIN:
        raise contradiction(others)
    return given


def _allowed(column: str) -> str:
    if column in QUESTIONS:
        return ", ".join(QUESTIONS[column])
    return COUNT_ALLOWED if column == "individualCount" else "a scientific or vernacular name"


def _count(text: str) -> int:
    digits = text.strip()
    if not (digits.isascii() and digits.isdigit() and len(digits) <= MOST_DIGITS and int(digits) >= 1):
        raise InputError(f"found {text[:60]!r}", allowed=COUNT_ALLOWED)
    return int(digits)


def _other(name: str, answers: Mapping[str, str], *, book: SpeciesBook) -> Profile:
    """Return the profile of another species it may be.

    Raises
    ------
    InputError
        As the book does, and for the species that is named already.
    """
    found = book.find(name)
    try:
        first = _profile(answers, book=book)
    except InputError:  # said of its own column
        return found
    if name_key(found.scientific_name) == name_key(first.scientific_name):
        raise InputError(
            f"'{name[:60]}' is the species named already",
            allowed="another species it may be",
            fix="name another, or leave it out",
        )
    return found


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
