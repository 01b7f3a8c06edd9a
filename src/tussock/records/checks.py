"""How an entry's columns are checked on their way into the book.

What passes here can be read when the book is: the checks are the readers themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from tussock.clock import parse_date
from tussock.errors import InputError, together
from tussock.names import DISPOSALS, OUTCOMES
from tussock.permit.consents import COLUMNS as CONSENT_COLUMNS
from tussock.permit.consents import consents_in
from tussock.position import LATITUDE, LONGITUDE, UNCERTAINTY, parse_degrees, position_from_row
from tussock.records.entries import CAPTURE, CHECK, CONSENT
from tussock.records.kinds import DATES, INSTANTS, NEEDED
from tussock.records.typed import ANSWER, LIST, parse_temperature
from tussock.records.zones import check_instant
from tussock.species.answers import OTHERS, parse_answer, read_recorded_animal
from tussock.species.intake import QUESTIONS
from tussock.species.profiles import SpeciesBook
from tussock.tables import Row, Table

_WORDS: Mapping[str, tuple[str, ...]] = {
    "disposal": DISPOSALS,
    "outcome": OUTCOMES,
    "incident": ("bite", "escape", "death"),
}
_ANSWERS = ("yes", "no", "unclear")
_CHECKS = ("holding", "spot")
_ABOUT_ANIMAL = ("scientificName", "vernacularName", OTHERS, *QUESTIONS, "individualCount")
_MOST_DECIMALS = 9
"""Decimals that no radius is raised for."""


class Checker:
    """Says everything that is wrong with an entry.

    Parameters
    ----------
    species
        Where names are looked up.
    """

    def __init__(self, species: SpeciesBook) -> None:
        self._species = species
        self._animals: dict[tuple[tuple[str, str], ...], tuple[InputError, ...]] = {}

    def faults_of(self, kind: str, cells: Mapping[str, str], *, where: str) -> tuple[InputError, ...]:
        """Return a fault for each cell that its column cannot hold, and for what does not go together."""
        missing = [c for c in NEEDED[kind] if not cells.get(c) and kind != CONSENT]
        found = [InputError(f"{c} is empty", where=where, fix="fill it in") for c in missing]
        for column, text in cells.items():
            found += _tried(_check_cell, kind, column, text, f"{where}, {column}")
        if kind == CONSENT:
            found += _tried(_check_consent, cells, where)
        else:
            found += _tried(_check_place, Row(0, cells, where))
        if kind == CAPTURE:
            found += self._about_animal(cells, where)
        return tuple(found)

    def _about_animal(self, cells: Mapping[str, str], where: str) -> Iterator[InputError]:
        """Yield what is wrong with the answers; a table gives the same set of them many times."""
        asked = tuple((c, cells[c]) for c in _ABOUT_ANIMAL if cells.get(c))
        if asked not in self._animals:
            self._animals[asked] = _tried(_read_animal, dict(asked), self._species)
        for error in self._animals[asked]:
            at = f"{where}, {error.where}" if error.where else where
            yield InputError(error.found, where=at, allowed=error.allowed, fix=error.fix)


def _tried(check: Callable[..., None], *given: object) -> tuple[InputError, ...]:
    try:
        check(*given)
    except InputError as error:
        return error.parts or (error,)
    return ()


def _read_animal(answers: Mapping[str, str], species: SpeciesBook) -> None:
    read_recorded_animal(answers, book=species)


def _check_cell(kind: str, column: str, text: str, where: str) -> None:
    """Refuse a text that its column cannot hold, whatever else the entry says."""
    if column in INSTANTS:
        _check_instants(text, where, many=column == "cleanedDate")
    elif column in (LATITUDE, LONGITUDE):
        parse_degrees(text, axis=column, where=where.removesuffix(f", {column}"))
    elif column in _WORDS:
        _check_word(text, _WORDS[column], where=where)
    elif column.startswith(ANSWER):
        _check_word(text, _ANSWERS, where=where)
    elif column == "kind" and kind == CHECK:
        _check_word(text, _CHECKS, where=where)
    elif column == "airTemperature":
        parse_temperature(text, where=where)
    elif kind not in (CAPTURE, CONSENT):  # which are checked as a whole
        _check_other(column, text, where)


def _check_other(column: str, text: str, where: str) -> None:
    if column == "individualCount":
        _check_count(text, where=where)
    elif column in QUESTIONS:
        parse_answer(QUESTIONS[column], text, where=where)
    elif column in DATES:
        parse_date(text, where=where)


def _check_instants(text: str, where: str, *, many: bool) -> None:
    faults = [f for one in (text.split(LIST) if many else (text,)) for f in _tried(check_instant, one, where)]
    if faults:
        raise together(faults)


def _check_word(text: str, words: tuple[str, ...], *, where: str) -> None:
    if text.lower() not in words:
        found, allowed = f"'{text[:40]}' is none of the words", ", ".join(words)
        raise InputError(found, where=where, allowed=allowed, fix="write one of them")


def _check_count(text: str, *, where: str) -> None:
    if not (text.isascii() and text.isdigit() and len(text) <= 6 and int(text) > 0):
        allowed = "a whole number from 1 to 999999, or empty"
        raise InputError(f"'{text[:40]}' is no number of animals", where=where, allowed=allowed)


def _check_consent(cells: Mapping[str, str], where: str) -> None:
    row = Row(0, cells, where)
    consents_in(Table(Path(where.partition(",")[0]), CONSENT_COLUMNS, (row,)))


def _check_place(row: Row) -> None:
    """Refuse a place that is none; coordinates that are no numbers are told of their own columns."""
    given = [c for c in (LATITUDE, LONGITUDE) if row.get(c)]
    if len(given) == 1:
        raise InputError(f"{given[0]} stands alone", where=row.where, fix="fill in both coordinates, or none")
    if any(_tried(_check_degrees, row.get(c), c) for c in given):
        return
    if given:
        position_from_row(row, decimals=_MOST_DECIMALS, instant=None)
    elif row.get(UNCERTAINTY):  # the radius is looked at round any point
        probe = Row(0, {**row.cells, LATITUDE: "1", LONGITUDE: "1"}, row.where)
        position_from_row(probe, decimals=_MOST_DECIMALS, instant=None)


def _check_degrees(text: str, axis: str) -> None:
    parse_degrees(text, axis=axis, where="")
