"""Callouts of a book as hotspots count them: each with its place, and what its captures say of the animal."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from tussock.clock import parse_instant
from tussock.errors import Faults, InputError
from tussock.geodesy import Plane
from tussock.hotspots.calls import Call
from tussock.hotspots.found import GivenCalls
from tussock.hotspots.repeats import Release
from tussock.position import LATITUDE, LONGITUDE, Position, position_from_row
from tussock.records.entries import CALLOUT, CAPTURE, DISPOSAL, Entry
from tussock.records.naming import Naming
from tussock.records.typed import decimals_in
from tussock.species.profiles import SpeciesBook, load_profiles
from tussock.tables import Row

CAPTURED, RELEASED = "captured", "released"
_T = TypeVar("_T")
_BEYOND_M = 1e8
"""Where a place stands that the plane cannot hold [m]: far outside every region."""


def calls_of(
    entries: Iterable[Entry], *, plane: Plane, inputs: Mapping[str, str], species: SpeciesBook | None = None
) -> GivenCalls:
    """Return the callouts of a book as calls; those without a place are named, none is dropped.

    Species, place of capture and mark are of the first capture of a callout that says them, else of the
    callout. A callout without a place stands where its capture does. Species and mark of a release are its
    own, else those of its capture.

    Parameters
    ----------
    plane
        Of the region.
    inputs
        Name → SHA-256 of the files that the entries are from.
    species
        By which animals are named; ``None`` for the shipped profiles.

    Raises
    ------
    InputError
        Listing every cell that cannot be read.
    """
    by_kind: dict[str, list[Entry]] = defaultdict(list)
    for entry in sorted(entries, key=lambda e: e.id):
        by_kind[entry.kind].append(entry)
    naming = Naming(load_profiles() if species is None else species)
    reader, faults = _Reader.of(by_kind, plane, naming), Faults()
    taken: dict[str, list[Entry]] = defaultdict(list)
    for capture in by_kind[CAPTURE]:
        taken[capture.parent].append(capture)
    calls, without = [], []
    for callout in by_kind[CALLOUT]:
        call = _tried(faults, lambda c: _call(c, taken[c.id], reader), callout)
        if isinstance(call, Call):
            calls.append(call)
        elif call is NO_PLACE:
            without.append(callout.id)
    of = {capture.id: capture for capture in by_kind[CAPTURE]}
    let_go = [d for d in by_kind[DISPOSAL] if d.get("disposal").lower() in ("", RELEASED)]
    releases = [_tried(faults, lambda d: _release(d, of.get(d.parent), reader), d) for d in let_go]
    faults.raise_if_any(most=50)
    nowhere = sum(r is NO_PLACE for r in releases)
    notes = (*_notes(taken, {c.id for c in by_kind[CALLOUT]}), *_placeless(nowhere))
    # a row that stands there twice is one release
    found = tuple(dict.fromkeys(r for r in releases if isinstance(r, Release)))
    return GivenCalls(len(by_kind[CALLOUT]), tuple(calls), tuple(without), found, inputs, notes)


class _NoPlace:
    """What stands for an entry that names no place."""


NO_PLACE = _NoPlace()


@dataclass(frozen=True)
class _Reader:
    """Reads places and names; each kind of entry has as many decimals as its most exact one shows."""

    plane: Plane
    decimals: Mapping[str, int]
    naming: Naming

    @staticmethod
    def of(by_kind: Mapping[str, Sequence[Entry]], plane: Plane, naming: Naming) -> _Reader:
        return _Reader(plane, {kind: decimals_in(entries) for kind, entries in by_kind.items()}, naming)

    def at(self, entry: Entry, time: datetime) -> tuple[float, float, float] | None:
        """Return easting, northing and radius [m]; ``None`` where no place is named."""
        if not (entry.get(LATITUDE) or entry.get(LONGITUDE)):
            return None
        row = Row(0, entry.cells, entry.where)
        return self._in_plane(position_from_row(row, decimals=self.decimals[entry.kind], instant=time))

    def _in_plane(self, position: Position) -> tuple[float, float, float]:
        x, y = (float(v) for v in self.plane.project(position.longitude, position.latitude))
        if not (math.isfinite(x) and math.isfinite(y)):
            return _BEYOND_M, _BEYOND_M, position.radius_m
        return x, y, position.radius_m


def _tried(faults: Faults, read: Callable[[Entry], _T], entry: Entry) -> _T | None:
    try:
        return read(entry)
    except InputError as error:
        faults.take(error)
        return None


def _call(callout: Entry, captures: Sequence[Entry], reader: _Reader) -> Call | _NoPlace:
    time = _instant(callout)
    at = reader.at(callout, time)
    for capture in captures:
        at = at or reader.at(capture, time)
    if at is None:
        return NO_PLACE
    said = (*captures, callout)
    return Call(
        id=callout.id,
        time=time,
        x=at[0],
        y=at[1],
        radius_m=at[2],
        species=reader.naming.of(said),
        outcome=callout.get("outcome").lower(),
        found_in=_first(said, "foundIn").lower(),
        captured=bool(captures) or callout.get("outcome").lower() == CAPTURED,
        organism_id=_first(said, "organismID"),
    )


def _release(disposal: Entry, capture: Entry | None, reader: _Reader) -> Release | _NoPlace:
    time = _instant(disposal)
    at = reader.at(disposal, time)
    if at is None:
        return NO_PLACE
    said = (disposal,) if capture is None else (disposal, capture)
    return Release(disposal.id, time, at[0], at[1], reader.naming.of(said), _first(said, "organismID"))


def _instant(entry: Entry) -> datetime:
    return parse_instant(entry.get("eventDate"), where=f"{entry.where}, eventDate")


def _first(entries: Iterable[Entry], column: str) -> str:
    """Return the first that is filled in, spaces single."""
    return next((" ".join(e.get(column).split()) for e in entries if e.get(column).strip()), "")


def _notes(taken: Mapping[str, Sequence[Entry]], callouts: set[str]) -> tuple[str, ...]:
    loose = sum(len(found) for parent, found in taken.items() if parent not in callouts)
    if not loose:
        return ()
    return (
        f"{loose} capture{'s' if loose > 1 else ''} of the book belong{'' if loose > 1 else 's'} to no "
        "callout: calls are counted, and such a capture is none",
    )


def _placeless(releases: int) -> tuple[str, ...]:
    if not releases:
        return ()
    said = "1 release names" if releases == 1 else f"{releases} releases name"
    return (f"{said} no place: whether a call followed is not asked",)
