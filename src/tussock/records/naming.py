"""One name for each species of a book: names are compared as what they stand for, not as they are written."""

from __future__ import annotations

from collections.abc import Iterable

from tussock.errors import InputError
from tussock.records.entries import Entry
from tussock.species.answers import read_recorded_animal
from tussock.species.profiles import SpeciesBook
from tussock.species.traits import name_key

_SCIENTIFIC, _COMMON = "scientificName", "vernacularName"


class Naming:
    """Names animals by the species book, as the audit and the return do.

    A name that the book does not know, or that it gives to several species, stays as it is written; of its
    spellings the first that was met stands for all that differ in case, spaces and hyphens alone.
    """

    def __init__(self, species: SpeciesBook) -> None:
        self._species = species
        self._named: dict[tuple[str, str], str] = {}
        self._spelt: dict[str, str] = {}

    def of(self, entries: Iterable[Entry]) -> str:
        """Return the species that the first entry with a name says, scientific names first; else ``""``."""
        said = tuple(entries)
        for column in (_SCIENTIFIC, _COMMON):
            text = next((" ".join(e.get(column).split()) for e in said if e.get(column).strip()), "")
            if text:
                return self._one(column, text)
        return ""

    def _one(self, column: str, text: str) -> str:
        if (column, text) not in self._named:
            name = self._meant(column, text)
            self._named[column, text] = self._spelt.setdefault(name_key(name), name)
        return self._named[column, text]

    def _meant(self, column: str, text: str) -> str:
        try:
            found = read_recorded_animal({column: text}, book=self._species)
        except InputError:  # of several species, or a slip of the pen: nobody is there to say which
            return _written(column, text)
        return found.scientific_name if found.profile.known else _written(column, text)


def _written(column: str, text: str) -> str:
    """Return a name as names are written: a scientific one with a capital first, and no others."""
    if column == _COMMON:
        return text
    return text.capitalize() if text.isupper() else text[:1].upper() + text[1:]
