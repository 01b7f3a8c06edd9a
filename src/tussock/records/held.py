"""The book as a plan takes it: the captures still held at a moment, and what was released before it.

A plan reads tables; here the entries of a logbook become just what those tables give, by the same readers.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from pathlib import Path

from tussock.clock import parse_instant
from tussock.errors import InputError
from tussock.permit.consents import Consent
from tussock.planning.inputs import CAPTURE_COLUMNS, BookedRelease, CaptureRow, captures_in
from tussock.records.book import RecordBook, read_book
from tussock.records.entries import CAPTURE, CONSENT, DISPOSAL, Entry
from tussock.records.typed import decimals_in
from tussock.review.handling import RELEASED, Handling
from tussock.spans import posix
from tussock.species.profiles import SpeciesBook
from tussock.tables import Row, Table

_MOST_NAMED = 20
"""So many captures are named in a message at most."""
_AS_OF = "set the clock with --now to a time when it was held, to plan as of then"


@dataclass(frozen=True)
class HeldBook:
    """A logbook as it stood at a moment.

    Attributes
    ----------
    name
        Of the logbook, for messages and for the names of what was read.
    captures
        Every capture that was made by then, as recorded.
    left
        captureID → individuals still held.
    ends
        captureID → how the holding of all of them ended, in words.
    ahead
        captureID of captures that were made later.
    booked
        Releases made by then.
    notes
        What is not counted, in words.
    """

    name: str
    captures: tuple[Entry, ...]
    left: Mapping[str, int]
    ends: Mapping[str, str]
    ahead: tuple[str, ...] = ()
    booked: tuple[BookedRelease, ...] = ()
    consents: tuple[Consent, ...] = ()
    notes: tuple[str, ...] = ()
    consent_cells: tuple[Mapping[str, str], ...] = field(default=(), repr=False)

    def has(self, name: str) -> bool:
        """Return whether a capture of that id is in it, whenever it was made."""
        return name in self.ahead or any(e.id == name for e in self.captures)

    def rows(self, wanted: Iterable[str], *, species: SpeciesBook) -> tuple[CaptureRow, ...]:
        """Return captures as a table of them gives them, in order of time; of several animals those left.

        Raises
        ------
        InputError
            Listing every answer that is none.
        """
        entries = self._wanted(wanted)
        if not entries:
            return ()
        columns = dict.fromkeys((*CAPTURE_COLUMNS, *(c for e in self.captures for c in e.cells)), "")
        rows = (Row(n, {**columns, **self._cells(e)}, e.where) for n, e in enumerate(entries, start=2))
        table = Table(Path(self.name), tuple(columns), tuple(rows))
        return captures_in(table, book=species, decimals=decimals_in(self.captures))

    def refusals(self, wanted: Iterable[str]) -> Iterator[tuple[str, str, str]]:
        """Yield id, reason and what to do, of those asked for that are not held."""
        there = {e.id for e in self.captures}
        for name in wanted:
            shown = f"capture '{name[:60]}'"
            if name in self.ahead:
                yield name, f"{shown} is made later than the clock says", _AS_OF
            elif name not in there:
                yield name, f"there is no {shown} in {self.name}", "correct the id, or log the capture"
            elif name not in self.left:
                yield name, f"{shown} is no longer held: {self.ends[name]}", _AS_OF

    @cached_property
    def inputs(self) -> dict[str, str]:
        """Name → SHA-256 of the releases and consents that count, as they were read."""
        releases = [
            [b.capture_id, r.longitude, r.latitude, r.radius_m, r.instant.isoformat(), r.scientific_name,
             r.individual_count, r.consent_reference]
            for b in self.booked for r in (b.release,)
        ]  # fmt: skip
        made = {f"releases/{self.name}": _hash(releases)}
        if self.consents:
            made[f"consents/{self.name}"] = _hash([dict(c) for c in self.consent_cells])
        return made

    def hash_of(self, wanted: Iterable[str]) -> dict[str, str]:
        """Return name → SHA-256 of the captures asked for, as they were read."""
        return {f"captures/{self.name}": _hash([[e.id, self._cells(e)] for e in self._wanted(wanted)])}

    def _wanted(self, wanted: Iterable[str]) -> list[Entry]:
        names = set(wanted)
        return [e for e in self.captures if e.id in names]

    def _cells(self, entry: Entry) -> dict[str, str]:
        """Return a capture's cells, with the number of animals left of it where some are gone."""
        if not entry.get("individualCount"):
            return dict(entry.cells)  # an open question, as in a table
        return {**entry.cells, "individualCount": str(self.left[entry.id])}


def listed(names: Iterable[str]) -> str:
    """Return names in a message, the first of many.

    >>> listed(["C-1", "C-2"])
    'C-1, C-2'
    """
    found = sorted(names)
    return ", ".join(found[:_MOST_NAMED]) + (" …" if len(found) > _MOST_NAMED else "")


def logged(where: str) -> tuple[str, tuple[Entry, ...]]:
    """Return the name of a logbook and its present entries; none is made where there is none.

    Raises
    ------
    InputError
        When there is no logbook, or it cannot be used.
    """
    from tussock.records.logbook import open_logbook

    with open_logbook(where, create=False) as logbook:
        entries = logbook.entries()
    name = where.partition("?")[0].rpartition("/")[2] if "://" in where else Path(where).name
    return name, tuple(replace(e, where=f"{name}, {e.kind} {e.id}") for e in entries)


def held(name: str, entries: Iterable[Entry], *, species: SpeciesBook, now: datetime) -> HeldBook:
    """Return a logbook as it stood at a moment: what happened later is left out.

    Raises
    ------
    InputError
        Listing every cell that cannot be read.
    """
    given = [e for e in entries if e.kind in (CAPTURE, DISPOSAL, CONSENT)]
    later = [e for e in given if e.kind != CONSENT and _after(e, now)]
    ahead = {e.id for e in later if e.kind == CAPTURE}
    left_out = {(e.kind, e.id) for e in later}
    then = [
        e for e in given if (e.kind, e.id) not in left_out and (e.kind != DISPOSAL or e.parent not in ahead)
    ]
    book = read_book(then, species=species, now=now)
    handled = [(k.capture_id, k.handling) for k in book.kept if k.handling is not None]
    left = {name: h.animal.individual_count for name, h in handled if h.disposed is None}
    return HeldBook(
        name,
        tuple(c.entry for c in book.captures),
        left,
        {name: _end(h) for name, h in handled if name not in left},
        tuple(sorted(ahead)),
        tuple(_booked(handled, book, left=left)),
        book.consents,
        tuple(_notes(handled, later=sum(e.kind == DISPOSAL for e in later), now=now)),
        tuple(e.cells for e in then if e.kind == CONSENT),
    )


def _after(entry: Entry, now: datetime) -> bool:
    try:
        return posix(parse_instant(entry.get("eventDate"), where=entry.where)) > posix(now)
    except InputError:
        return False  # told when the book is read


def _end(handling: Handling) -> str:
    at = "" if handling.disposed is None else f" at {handling.disposed.isoformat()}"
    return f"{handling.disposal.replace('_', ' ') or 'ended in a way that is not written down'}{at}"


def _booked(
    handled: Iterable[tuple[str, Handling]], book: RecordBook, *, left: Container[str]
) -> Iterator[BookedRelease]:
    """Yield the releases; for what is left of a capture those of its others are earlier ones."""
    yield from (BookedRelease("", release) for release in book.loose)
    for name, handling in handled:
        if (release := handling.as_earlier) is not None:
            yield BookedRelease("" if name in left else name, release)


def _notes(handled: Iterable[tuple[str, Handling]], *, later: int, now: datetime) -> Iterator[str]:
    placeless = [name for name, h in handled if h.disposal == RELEASED and h.let_go_at is None]
    if placeless:
        yield f"no place of release is recorded for {listed(placeless)}: they are not counted"
    if later:
        what = "outcome is" if later == 1 else "outcomes are"
        yield f"{later} {what} dated after {now.isoformat()}, and left out"


def _hash(value: object) -> str:
    return hashlib.sha256(json.dumps(value, ensure_ascii=False).encode()).hexdigest()
