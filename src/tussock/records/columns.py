"""The columns that mean something in each kind of entry, and columns that are nearly one of them.

A column that nobody knows is kept as the user's own. One that is a slip of the pen away from a known one
would be kept so too, and what stands in it would be missing wherever it is asked for.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from tussock.errors import InputError
from tussock.names import ALIKE
from tussock.permit.consents import COLUMNS as CONSENT_COLUMNS
from tussock.position import LATITUDE, LONGITUDE, UNCERTAINTY
from tussock.records.darwin_core import TERMS
from tussock.records.entries import (
    CALLOUT,
    CAPTURE,
    CHECK,
    CONSENT,
    CONTAINER,
    DISPOSAL,
    ID_COLUMN,
    INCIDENT,
    KINDS,
    PARENT,
)
from tussock.records.kinds import INSTANTS, NEEDED, RESIDENT, TELLING, guess_kind
from tussock.records.spot_entry import VERDICT
from tussock.records.typed import ANSWER
from tussock.records.zones import ZONE
from tussock.species.answers import OTHERS
from tussock.species.intake import QUESTIONS

_OF_EVENTS = (
    *INSTANTS, LATITUDE, LONGITUDE, UNCERTAINTY, "geodeticDatum", ZONE, "scientificName", "vernacularName",
    OTHERS, *QUESTIONS, "individualCount", "sex", "organismID", "consentReference", "recordedBy",
    "airTemperature", "habitat", "associatedMedia", "occurrenceRemarks",
)  # fmt: skip
_OF_KIND: Mapping[str, tuple[str, ...]] = {
    CALLOUT: ("outcome", *RESIDENT),
    # with a slip in its name, the column that tells a table of another kind makes it one of captures
    CAPTURE: ("disposal", "disposalID", "incident", "incidentID", "checkID", "containerID"),
    DISPOSAL: ("disposal",),
    CHECK: ("kind", "verdict", "rejected"),
    INCIDENT: ("incident",),
}
_OF_CONTAINERS = (ID_COLUMN[CONTAINER], "cleanedDate", ZONE)
_NEAR_TERMS = ("scientificNameID", "scientificNameAuthorship", "recordedByID", "identificationID")
"""Terms of Darwin Core that are nearly a column of ours and mean something else (from memory)."""
_HEADS = (ANSWER, VERDICT)


@dataclass(frozen=True)
class Near:
    """A column that is nearly a known one.

    Attributes
    ----------
    absent
        Whether the known one is not there: what it would hold is then missing.
    """

    column: str
    meant: str
    absent: bool

    @property
    def words(self) -> str:
        """What is said of it."""
        return f"column '{self.column[:60]}' is not known (did you mean {self.meant}?)"


def known_columns(kind: str) -> tuple[str, ...]:
    """Return the columns that mean something in entries of a kind."""
    if kind == CONSENT:
        return CONSENT_COLUMNS
    if kind == CONTAINER:
        return _OF_CONTAINERS
    ids = (ID_COLUMN[k] for k in (kind, PARENT.get(kind, kind)))
    return tuple(dict.fromkeys((*ids, *_OF_KIND.get(kind, ()), *_OF_EVENTS)))


def near_columns(kind: str, columns: Iterable[str]) -> tuple[Near, ...]:
    """Return the columns that are nearly a known one: other case, letters swapped, left out or wrong.

    Examples
    --------
    >>> [n.meant for n in near_columns("disposal", ["eventDate", "recordedDte", "weather"])]
    ['recordedDate']
    """
    there = list(columns)
    by_key = {_key(c): c for c in known_columns(kind)}
    return tuple(_near(by_key, there))


def _near(by_key: Mapping[str, str], there: list[str]) -> Iterator[Near]:
    known = {*by_key.values(), *TERMS, *_NEAR_TERMS}
    for column in there:
        if column in known or column.startswith(_HEADS):
            continue
        head, colon, rest = column.partition(":")
        if colon:
            heads = {_key(h): h for h in _HEADS}
            meant = "".join(heads[k] + rest.strip() for k in _alike(head, heads)[:1])
        else:
            meant = "".join(by_key[k] for k in _alike(column, by_key)[:1])
        if meant:
            yield Near(column, meant, meant not in there)


def _alike(word: str, keys: Iterable[str]) -> list[str]:
    """Return the key that a word is nearly; letters in another order are the same."""
    key, listed = _key(word), list(keys)
    return [k for k in listed if sorted(k) == sorted(key)] or get_close_matches(key, listed, 1, ALIKE)


def _key(column: str) -> str:
    return re.sub(r"[\W_]", "", column).casefold()


def refuse_near(kind: str, columns: Iterable[str], *, where: str, keep: bool = False) -> tuple[Near, ...]:
    """Return the columns that are nearly a known one and can be kept; refuse those that must not be.

    Those are the ones whose known column is not there, as many rows would have to be amended one by one
    afterwards; and those that would carry a resident's details into the book.

    Parameters
    ----------
    keep
        Keep the first sort as the user's own, as somebody said so.

    Raises
    ------
    InputError
        Naming each with what is probably meant.
    """
    near = near_columns(kind, columns)
    private = [n for n in near if n.meant in RESIDENT]
    wrong = private if keep else [n for n in near if n.absent or n in private]
    if wrong:
        fix = "rename it" if wrong == private else "rename it, or keep it as your own with --own-columns"
        raise InputError(
            "; ".join(n.words for n in wrong)[:600],
            where=where,
            allowed="the column's name as it is known, or one that is not nearly it",
            fix=fix,
        )
    return tuple(n for n in near if n not in wrong)


def kind_of(columns: Iterable[str], *, where: str) -> str:
    """Return the kind of entries that a table with these columns holds.

    Raises
    ------
    InputError
        When no column tells, with the column that nearly does.
    """
    there = tuple(columns)
    try:
        return guess_kind(there, where=where)
    except InputError as error:
        near = {n.column: n for kind in KINDS for n in near_columns(kind, there) if n.meant in TELLING}
        if not near:
            raise
        named = "; ".join(n.words for n in near.values())
        raise InputError(f"{error.found}; {named}"[:600], where=where, fix="rename it") from None


def needed_columns(kind: str, columns: Iterable[str], *, where: str) -> None:
    """Refuse a table that lacks a needed column and has one that is nearly it.

    Raises
    ------
    InputError
        Naming the columns.
    """
    wrong = [n for n in near_columns(kind, columns) if n.absent and n.meant in NEEDED.get(kind, ())]
    if wrong:
        missing = ", ".join(dict.fromkeys(n.meant for n in wrong))
        named = "; ".join(n.words for n in wrong)
        raise InputError(f"missing column {missing}; {named}"[:600], where=where, fix="rename it")
