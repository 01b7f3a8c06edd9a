"""The book read as a whole: each capture with how its holding ended, ready to be judged.

Every disposal becomes one record; what is left of a capture, or all of it, stays held and is one more.
So every entry stands in the book once, and the animals add up.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from tussock.measure.scene import EarlierRelease
from tussock.permit.capture_book import BookedCapture
from tussock.permit.consents import Consent
from tussock.permit.record_facts import Incident
from tussock.records.entries import (
    CALLOUT,
    CAPTURE,
    CHECK,
    CONSENT,
    CONTAINER,
    DISPOSAL,
    INCIDENT,
    Entry,
)
from tussock.records.remarks import Lot, remarks_on
from tussock.records.typed import Captured, Disposed, Reader, handlers_in
from tussock.review.audit import Kept, Remark
from tussock.review.auditing import Beside
from tussock.review.handling import RELEASED, Handling
from tussock.species.profiles import SpeciesBook
from tussock.species.traits import Profile

NO_CAPTURE = "no capture of that captureID is in the book"


@dataclass(frozen=True)
class RecordBook:
    """A book as read.

    Attributes
    ----------
    kept
        One for each disposal, and one for each capture, or part of one, without; in order of time.
    remarks
        What is to be explained of the book itself.
    loose
        Releases whose capture is not in the book.
    callouts, checks
        As recorded.
    no_register
        Whether the book keeps no consents.
    """

    kept: tuple[Kept, ...]
    remarks: tuple[Remark, ...]
    captures: tuple[Captured, ...]
    disposals: tuple[Disposed, ...]
    loose: tuple[EarlierRelease, ...] = ()
    consents: tuple[Consent, ...] = ()
    callouts: tuple[Entry, ...] = ()
    checks: tuple[Entry, ...] = ()
    no_register: bool = False

    @property
    def booked(self) -> tuple[BookedCapture, ...]:
        """Every capture, as far as quotas count it."""
        return tuple(
            BookedCapture(c.time, c.animal.scientific_name, c.animal.individual_count, c.id)
            for c in self.captures
        )

    def beside(self, now: datetime, inputs: Mapping[str, str]) -> Beside:
        """Return what an audit of the book judges its records beside.

        Parameters
        ----------
        inputs
            Name → SHA-256 of each file read.
        """
        return Beside(
            now=now,
            consents=self.consents,
            captures=self.booked,
            loose=self.loose,
            remarks=self.remarks,
            captures_read=len(self.captures),
            disposals_read=len(self.disposals),
            inputs=inputs,
            no_register=self.no_register,
        )


@dataclass(frozen=True)
class _Beside:
    """What else is on record about captures; ``None`` where the book does not keep it."""

    species: SpeciesBook
    looks: Mapping[str, tuple[datetime, ...]] | None
    incidents: Mapping[str, tuple[Incident, ...]] | None


def read_book(
    entries: Iterable[Entry], *, species: SpeciesBook, now: datetime, keeps: Container[str] = ()
) -> RecordBook:
    """Return the book that entries make.

    Parameters
    ----------
    species
        Where names are looked up.
    now
        What is still held counts to then.
    keeps
        Kinds of entries that the book keeps even where there is none of them: no incident in a logbook
        means that none is recorded; beside two tables it means nothing.

    Raises
    ------
    InputError
        Listing every cell that cannot be read.
    """
    by_kind: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_kind[entry.kind].append(entry)
    reader = Reader(species=species)
    captures, disposals = reader.captures(by_kind[CAPTURE]), reader.disposals(by_kind[DISPOSAL])
    beside = _Beside(
        species,
        reader.looks(by_kind[CHECK]) if by_kind[CHECK] or CHECK in keeps else None,
        reader.incidents(by_kind[INCIDENT]) if by_kind[INCIDENT] or INCIDENT in keeps else None,
    )
    consents = reader.consents(by_kind[CONSENT])
    cleanings = reader.cleanings(by_kind[CONTAINER])
    reader.done()
    lots = _lots(captures, disposals)
    blank = dict.fromkeys((c for e in (*by_kind[CAPTURE], *by_kind[DISPOSAL]) for c in e.cells), "")
    kept = [_kept(lot, beside, blank) for lot in lots]
    orphans = _orphans(captures, disposals)
    kept += [
        Kept(d.capture_id, None, NO_CAPTURE, "", d.entry.where, d.entry.id, d.entry.cells) for d in orphans
    ]
    remarks = remarks_on(lots, orphans, cleanings=cleanings, looks=by_kind[CHECK], now=now)
    return RecordBook(
        tuple(sorted(kept, key=_order)),
        remarks,
        captures,
        disposals,
        tuple(r for d in orphans if (r := _loose(d)) is not None),
        consents,
        tuple(by_kind[CALLOUT]),
        tuple(by_kind[CHECK]),
        no_register=not by_kind[CONSENT] and CONSENT not in keeps,
    )


def _loose(disposed: Disposed) -> EarlierRelease | None:
    """Return a release whose capture nobody wrote down; ``None`` where it is none, or has no place."""
    at = disposed.position
    if at is None or disposed.disposal not in ("", RELEASED):
        return None
    name, consent = (disposed.entry.get(c) for c in ("scientificName", "consentReference"))
    count = disposed.count or 1
    return EarlierRelease(at.longitude, at.latitude, at.radius_m, disposed.time, name, count, consent)


def _order(kept: Kept) -> tuple[bool, float, str, str]:
    handling = kept.handling
    when = (handling.disposed or handling.captured).timestamp() if handling else 0.0
    return handling is None, when, kept.capture_id, kept.disposal_id


def _lots(captures: Iterable[Captured], disposals: Iterable[Disposed]) -> list[Lot]:
    """Return what became of every animal: lots of one capture that ended alike, and the rest still held."""
    ended: dict[str, list[Disposed]] = defaultdict(list)
    for disposed in disposals:
        ended[disposed.capture_id].append(disposed)
    return [lot for captured in captures for lot in _lots_of(captured, ended[captured.id])]


def _lots_of(captured: Captured, ended: list[Disposed]) -> list[Lot]:
    taken = captured.animal.individual_count
    if len(ended) == 1 and ended[0].count is None:  # the whole capture
        return [Lot(captured, ended[0], taken, counted=captured.counted)]
    lots = [Lot(captured, d, d.count or 1, counted=d.count is not None) for d in ended]
    rest = taken - sum(lot.count for lot in lots)
    return [*lots, Lot(captured, None, rest, counted=captured.counted)] if rest > 0 else lots


def _orphans(captures: Iterable[Captured], disposals: Iterable[Disposed]) -> list[Disposed]:
    known = {c.id for c in captures}
    return [d for d in disposals if d.capture_id not in known]


def _kept(lot: Lot, beside: _Beside, blank: Mapping[str, str]) -> Kept:
    """Return a lot as a record; a column that the book has and this entry leaves empty is one left empty."""
    captured, ended = lot.captured, lot.disposed
    cells = {**captured.entry.cells, **(ended.entry.cells if ended else {})}
    return Kept(
        captured.id,
        _handling(lot, beside, {**blank, **cells}),
        "",
        captured.entry.where,
        ended.entry.where if ended else "",
        ended.entry.id if ended else "",
        cells,
    )


def _named_at_end(lot: Lot, species: SpeciesBook) -> Profile | None:
    """Return the species that the end of holding names, where it is another one than the capture's."""
    taken, said = lot.captured.animal.scientific_name, lot.disposed.species if lot.disposed else ""
    if not taken or not said or taken.casefold() == said.casefold():
        return None
    return species.of_species(said)


def _handling(lot: Lot, beside: _Beside, cells: Mapping[str, str]) -> Handling:
    captured, ended = lot.captured, lot.disposed
    recorded = ended.recorded if ended else captured.recorded
    return Handling(
        capture_id=captured.id,
        taken_at=captured.position,
        captured=captured.time,
        animal=replace(captured.animal, individual_count=lot.count),
        trap_checked=captured.trap_checked,
        disposal=lot.disposal,
        disposed=ended.time if ended else None,
        named_at_end=_named_at_end(lot, beside.species),
        let_go_at=ended.position if ended and lot.disposal == RELEASED else None,
        consent_reference=ended.entry.get("consentReference") if ended else "",
        recorded=recorded,
        checks=None if beside.looks is None else beside.looks.get(captured.id),
        incidents=None if beside.incidents is None else beside.incidents.get(captured.id, ()),
        temperature_c=ended.temperature_c if ended else None,
        handlers=handlers_in(captured.entry),
        ended_by=handlers_in(ended.entry) if ended else None,
        columns=cells,
    )
