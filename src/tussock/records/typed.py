"""What the columns of an entry mean: instants, positions, animals. Every fault of a book is told at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from tussock.clock import parse_instant
from tussock.errors import Faults, InputError
from tussock.names import DISPOSALS
from tussock.permit.consents import COLUMNS as CONSENT_COLUMNS
from tussock.permit.consents import Consent, consents_in
from tussock.permit.record_facts import Incident, persons_in
from tussock.position import LATITUDE, LONGITUDE, Position, most_decimals, position_from_row
from tussock.records.entries import Entry
from tussock.species.answers import OTHERS, read_recorded_animal
from tussock.species.intake import QUESTIONS, Animal
from tussock.species.profiles import SpeciesBook
from tussock.tables import Row, Table

ANSWER = "answer:"
"""Begins the columns that hold answers to attested clauses: ``answer:8(b)``."""
LIST = "|"
"""Parts several values in one cell (Darwin Core's recommendation)."""
_NAMES = ("scientificName", "vernacularName")
_ABOUT_ANIMAL = (*_NAMES, OTHERS, *QUESTIONS, "individualCount")
_CELSIUS = re.compile(r"[+-]?\d{1,3}(\.\d+)?")
_T = TypeVar("_T")


@dataclass(frozen=True)
class Captured:
    """A capture as recorded; ``counted`` says whether the number of animals was written down."""

    entry: Entry
    time: datetime
    position: Position
    animal: Animal
    trap_checked: datetime | None
    counted: bool
    recorded: datetime | None

    @property
    def id(self) -> str:
        """Its captureID."""
        return self.entry.id


@dataclass(frozen=True)
class Disposed:
    """How the holding of one animal, or of several, ended.

    ``count`` ``None``: the record does not say. ``species``: the scientific name, where it names the animal
    again; empty where it does not.
    """

    entry: Entry
    time: datetime
    disposal: str
    position: Position | None
    count: int | None
    recorded: datetime | None
    temperature_c: tuple[float, float] | None
    species: str = ""

    @property
    def capture_id(self) -> str:
        """The capture it belongs to."""
        return self.entry.parent


@dataclass(frozen=True)
class Cleaning:
    """When a container was cleaned."""

    container: str
    at: tuple[datetime, ...]


class Reader:
    """Reads entries of one book; faults are collected, and told by :meth:`done`."""

    def __init__(self, *, species: SpeciesBook) -> None:
        self.species = species
        self.faults = Faults()
        self._animals: dict[tuple[tuple[str, str], ...], Animal] = {}

    def done(self) -> None:
        """Raise what was found wrong.

        Raises
        ------
        InputError
            Listing every fault with its row and column.
        """
        self.faults.raise_if_any(most=50)

    def captures(self, entries: Iterable[Entry]) -> tuple[Captured, ...]:
        """Return captures in order of time."""
        listed = list(entries)
        decimals = decimals_in(listed)
        found = [self._capture(e, decimals) for e in listed]
        return tuple(sorted((c for c in found if c is not None), key=lambda c: (c.time, c.id)))

    def disposals(self, entries: Iterable[Entry]) -> tuple[Disposed, ...]:
        """Return disposals in order of time."""
        listed = list(entries)
        decimals = decimals_in(listed)
        found = [self._disposal(e, decimals) for e in listed]
        return tuple(sorted((d for d in found if d is not None), key=lambda d: (d.time, d.entry.id)))

    def looks(self, entries: Iterable[Entry]) -> dict[str, tuple[datetime, ...]]:
        """Return, per capture, when the held animal was looked at."""
        found: dict[str, list[datetime]] = {}
        for e in entries:
            instant = self.instant(e, "eventDate")
            if instant is not None:
                found.setdefault(e.parent, []).append(instant)
        return {capture: tuple(sorted(times)) for capture, times in found.items()}

    def incidents(self, entries: Iterable[Entry]) -> dict[str, tuple[Incident, ...]]:
        """Return, per capture (empty for none), what happened and when it was reported."""
        found: dict[str, list[Incident]] = {}
        for e in entries:
            happened = self.instant(e, "eventDate")
            reported = self.instant(e, "reportedDate") if e.get("reportedDate") else None
            if happened is not None:
                found.setdefault(e.parent, []).append(Incident(e.get("incident"), happened, reported))
        return {capture: tuple(listed) for capture, listed in found.items()}

    def cleanings(self, entries: Iterable[Entry]) -> dict[str, tuple[datetime, ...]]:
        """Return, per container, when it was cleaned."""
        found: dict[str, list[datetime]] = {}
        for e in entries:
            for text in filter(None, (t.strip() for t in e.get("cleanedDate").split(LIST))):
                where = f"{e.where}, cleanedDate"
                instant = self._try(parse_instant, text, where=where)
                if instant is not None:
                    found.setdefault(e.get("containerID"), []).append(instant)
        return {container: tuple(sorted(times)) for container, times in found.items()}

    def consents(self, entries: Iterable[Entry]) -> tuple[Consent, ...]:
        """Return the consent register."""
        rows = tuple(
            Row(n, {c: e.get(c) for c in CONSENT_COLUMNS}, e.where) for n, e in enumerate(entries, start=2)
        )
        if not rows:
            return ()
        return self._try(consents_in, Table(Path("consents"), CONSENT_COLUMNS, rows)) or ()

    def instant(self, entry: Entry, column: str) -> datetime | None:
        """Return the instant in a column; ``None`` where it is none, which is noted."""
        return self._try(parse_instant, entry.get(column), where=f"{entry.where}, {column}")

    def _optional(self, entry: Entry, column: str) -> datetime | None:
        return self.instant(entry, column) if entry.get(column) else None

    def _capture(self, entry: Entry, decimals: int) -> Captured | None:
        time = self.instant(entry, "eventDate")
        position = self._try(position_from_row, _row(entry), decimals=decimals, instant=time)
        animal = self._animal(entry)
        checked, recorded = (self._optional(entry, c) for c in ("trapCheckDate", "recordedDate"))
        if time is None or position is None or animal is None:
            return None
        return Captured(entry, time, position, animal, checked, bool(entry.get("individualCount")), recorded)

    def _animal(self, entry: Entry) -> Animal | None:
        """Return the animal that the answers describe; a book gives the same set of them many times."""
        answers = tuple((c, entry.get(c)) for c in _ABOUT_ANIMAL if entry.get(c))
        found = self._animals.get(answers)
        if found is None:
            found = self._try(read_recorded_animal, dict(answers), book=self.species, where=entry.where)
        if found is not None:
            self._animals[answers] = found
        return found

    def _disposal(self, entry: Entry, decimals: int) -> Disposed | None:
        time = self.instant(entry, "eventDate")
        word = entry.get("disposal").lower()
        if word and word not in DISPOSALS:
            self.faults.add(
                f"disposal '{word[:40]}'",
                where=f"{entry.where}, disposal",
                allowed=", ".join(DISPOSALS),
                fix="write one of them",
            )
        placed = entry.get(LATITUDE) or entry.get(LONGITUDE)
        position = (
            self._try(position_from_row, _row(entry), decimals=decimals, instant=time) if placed else None
        )
        count, warmth = self._count(entry), self._temperature(entry)
        recorded = self._optional(entry, "recordedDate")
        if time is None:
            return None
        return Disposed(entry, time, word, position, count, recorded, warmth, self._named_again(entry))

    def _named_again(self, entry: Entry) -> str:
        """Return the species that an end of holding names, as far as the name can be told."""
        names = {c: entry.get(c).strip() for c in _NAMES if entry.get(c).strip()}
        key = tuple(names.items())
        if key not in self._animals:
            try:
                self._animals[key] = read_recorded_animal(names, book=self.species)
            except InputError:
                return names.get(_NAMES[0], "")
        return self._animals[key].scientific_name

    def _count(self, entry: Entry) -> int | None:
        text = entry.get("individualCount")
        if not text:
            return 1 if entry.get("organismID") else None
        if text.isascii() and text.isdigit() and len(text) <= 6 and int(text) > 0:
            return int(text)
        self.faults.add(
            f"individualCount '{text[:40]}'",
            where=f"{entry.where}, individualCount",
            allowed="a whole number from 1, or empty",
            fix="correct it",
        )
        return None

    def _temperature(self, entry: Entry) -> tuple[float, float] | None:
        text = entry.get("airTemperature")
        return self._try(parse_temperature, text, where=f"{entry.where}, airTemperature") if text else None

    def _try(self, read: Callable[..., _T], *given: object, **named: object) -> _T | None:
        try:
            return read(*given, **named)
        except InputError as error:
            self.faults.take(error)
            return None


def parse_temperature(text: str, *, where: str) -> tuple[float, float]:
    """Return the low and the high air temperature [°C]: one number, or two parted by ``|``.

    Raises
    ------
    InputError
        When they are none.

    Examples
    --------
    >>> parse_temperature("17.5 | 19", where="")
    (17.5, 19.0)
    """
    parts = [t.strip().replace("−", "-") for t in text.split(LIST)]
    if not all(_CELSIUS.fullmatch(t) for t in parts) or len(parts) > 2:
        allowed = "degrees Celsius with a point, one number or two parted by |"
        raise InputError(f"'{text[:40]}' is no temperature", where=where, allowed=allowed)
    values = [float(t) for t in parts]
    return values[0], values[-1]


def decimals_in(entries: Iterable[Entry]) -> int:
    """Return the most decimals shown in the coordinates of the entries."""
    return most_decimals(Table(Path(), (), tuple(_row(e) for e in entries)))


def answers_in(cells: Mapping[str, str]) -> dict[str, str]:
    """Return clause id → answer, from the columns that begin with ``answer:``."""
    return {c.removeprefix(ANSWER): v for c, v in cells.items() if c.startswith(ANSWER)}


def handlers_in(*entries: Entry | None) -> tuple[str, ...]:
    """Return everybody named in ``recordedBy``, each once."""
    return tuple(dict.fromkeys(name for e in entries if e for name in persons_in(e.get("recordedBy"))))


def _row(entry: Entry) -> Row:
    return Row(0, entry.cells, entry.where)
