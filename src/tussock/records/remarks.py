"""What is to be explained of a book itself, whatever the clauses say of each record."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from tussock.records.entries import Entry
from tussock.records.typed import Captured, Disposed
from tussock.review.audit import Remark
from tussock.review.handling import RELEASED

HELD_H = 24.0
"""An animal without an outcome needs explaining after so many hours (choice of this project)."""
LATE_H = 168.0
"""A record written so many hours after the event is a late entry, whatever the permit asks (choice of this
project: a week later it is no longer written from fresh memory)."""
_NUMBERED = re.compile(r"(.*?)(\d{1,9})")
_LEAST_NUMBERED = 3
"""From so many ids of one form on they are taken to be numbered in sequence (choice of this project)."""
_SECOND = timedelta(seconds=1)


@dataclass(frozen=True)
class Lot:
    """Animals of one capture whose holding ended together; ``disposed`` ``None``: they are held.

    ``counted``: the number was written down, and not taken to be one.
    """

    captured: Captured
    disposed: Disposed | None
    count: int
    counted: bool

    @property
    def disposal(self) -> str:
        """How it ended; one without a word but with a place counts as a release, the careful side."""
        if self.disposed is None:
            return ""
        return self.disposed.disposal or (RELEASED if self.disposed.position else "")

    @property
    def where(self) -> str:
        """The rows it comes from."""
        rows = (self.captured.entry.where, self.disposed.entry.where if self.disposed else "")
        return "; ".join(filter(None, rows))


def remarks_on(
    lots: Sequence[Lot],
    orphans: Iterable[Disposed],
    *,
    cleanings: Mapping[str, tuple[datetime, ...]],
    looks: Iterable[Entry],
    now: datetime,
) -> tuple[Remark, ...]:
    """Return the remarks on a book, those that need explaining first, then by sort and entry."""
    spots = {e.parent for e in looks if e.get("kind") == "spot"}
    found = [
        *(r for lot in lots for r in _on_lot(lot, now)),
        *(_orphan(d) for d in orphans),
        *_counts(lots),
        *_numbering([lot.captured.id for lot in lots]),
        *_containers(lots, cleanings),
        *_unchecked(lots, spots),
    ]
    return tuple(sorted(found, key=lambda r: (not r.attention, r.sort, r.entry, r.words)))


def _on_lot(lot: Lot, now: datetime) -> Iterator[Remark]:
    captured, ended = lot.captured, lot.disposed
    yield from _in_future(lot, now)
    if ended is None:
        yield _held(lot, now)
        yield from _late(lot, captured.time, captured.recorded, "capture")
    else:
        if ended.time < captured.time - _SECOND:
            times = ended.time.isoformat(), captured.time.isoformat()
            words = "Holding ended at {}, before the capture at {}.".format(*times)
            yield _remark("before_capture", lot, words, "the notes of that day, to correct the wrong time")
        yield from _late(lot, ended.time, ended.recorded, "end of holding")
        if lot.disposal == RELEASED and ended.position is None:
            evidence = "where it was let go: a track, a photo with position, the consent's ground"
            yield _remark("no_place", lot, "It was released, and no place is on record.", evidence)
        yield from _other_species(lot, ended)
    yield from _assumed(lot)


def _other_species(lot: Lot, ended: Disposed) -> Iterator[Remark]:
    """Yield that an end of holding names another species than its capture: it is judged for both.

    Names are compared as what they stand for: a common name is no other species.
    """
    taken, said = lot.captured.animal.scientific_name, ended.species
    if taken and said and taken.casefold() != said.casefold():
        words = f"The capture is of {taken}, the end of holding of {said}: it is counted as {taken}."
        yield _remark("other_species", lot, words, "what the animal was: a photo, or who saw it")


def _in_future(lot: Lot, now: datetime) -> Iterator[Remark]:
    ended = lot.disposed
    named = {"capture": lot.captured.time} | ({"end of holding": ended.time} if ended else {})
    for what, time in named.items():
        if time > now + _SECOND:
            words = f"The {what} is dated {time.isoformat()}, which is still to come."
            yield _remark("in_future", lot, words, "the notes of that day, to correct the wrong time")


def _remark(sort: str, lot: Lot, words: str, evidence: str, *, attention: bool = True) -> Remark:
    return Remark(sort, words, lot.captured.id, lot.where, evidence, attention)


def _held(lot: Lot, now: datetime) -> Remark:
    hours = (now - lot.captured.time).total_seconds() / 3600
    who = "It has" if lot.count == 1 else f"{lot.count} animals have"
    words = f"{who} no outcome on record, {max(hours, 0.0):.0f} h after the capture."
    evidence = "the outcome of each animal, with its time and place"
    return _remark("no_disposal", lot, words, evidence, attention=hours > HELD_H)


def _late(lot: Lot, event: datetime, recorded: datetime | None, name: str) -> Iterator[Remark]:
    if recorded is None:
        return
    hours = (recorded - event).total_seconds() / 3600
    if hours > LATE_H:
        words = f"It was written up {hours / 24:.0f} days after the {name}."
        yield _remark("late_entry", lot, words, "notes or messages made at the time")
    elif hours * 3600 < -1:
        words = f"recordedDate {recorded.isoformat()} is before the {name} it is about."
        yield _remark("contradiction", lot, words, "when the record was really written")


def _assumed(lot: Lot) -> Iterator[Remark]:
    captured, ended = lot.captured, lot.disposed
    if captured.position.assumed:
        yield _radius(lot, "capture", captured.position.radius_m)
    if ended is not None and ended.position is not None and ended.position.assumed:
        yield _radius(lot, "release", ended.position.radius_m)
    if not lot.counted:
        yield _remark(
            "assumed_count", lot, "individualCount is empty: one animal is assumed.", "how many it were"
        )
    if ended is not None and not ended.disposal and ended.position is not None:
        words = "How holding ended is not recorded: with a place given it is taken as a release."
        yield _remark("assumed_outcome", lot, words, "what became of the animal")


def _radius(lot: Lot, what: str, metres: float) -> Remark:
    words = f"The radius of the {what} is not recorded: {metres:g} m are assumed."
    return _remark("assumed", lot, words, "the accuracy that the device showed, or a track")


def _orphan(disposed: Disposed) -> Remark:
    what, whom = disposed.disposal or "an outcome", disposed.capture_id or "no captureID"
    words = f"{what} is recorded for {whom}, which no capture has."
    evidence = "the record of the capture, or the right captureID"
    entry = disposed.capture_id or disposed.entry.id
    return Remark("no_capture", words[0].upper() + words[1:], entry, disposed.entry.where, evidence)


def _counts(lots: Iterable[Lot]) -> Iterator[Remark]:
    by_capture: dict[str, list[Lot]] = defaultdict(list)
    for lot in lots:
        by_capture[lot.captured.id].append(lot)
    for each in by_capture.values():
        taken = each[0].captured.animal.individual_count
        ended = sum(lot.count for lot in each if lot.disposed is not None)
        if ended > taken:
            animals = "1 animal was" if taken == 1 else f"{taken} animals were"
            words = f"{animals} captured and {ended} have an outcome."
            yield _remark("count", each[0], words, "how many animals it were, and what became of each")


def _numbering(ids: Iterable[str]) -> Iterator[Remark]:
    """Yield the numbers left out of a sequence of ids; scattered numbers are no sequence."""
    forms: dict[str, dict[int, str]] = defaultdict(dict)
    for name in ids:
        match = _NUMBERED.fullmatch(name)
        if match:
            forms[match.group(1)][int(match.group(2))] = name
    for lead, named in sorted(forms.items()):
        numbers = sorted(named)
        gaps = [(a, b) for a, b in pairwise(numbers) if b > a + 1]
        if len(numbers) < _LEAST_NUMBERED or sum(b - a - 1 for a, b in gaps) >= len(numbers):
            continue
        for before, after in gaps:
            width = len(named[before]) - len(lead)
            first, last = (f"{lead}{n:0{width}d}" for n in (before + 1, after - 1))
            which = first if first == last else f"{first} to {last}"
            words = f"{which} is left out between {named[before]} and {named[after]}."
            yield Remark("numbering_gap", words, first, "", "what became of that number")


def _containers(lots: Iterable[Lot], cleanings: Mapping[str, tuple[datetime, ...]]) -> Iterator[Remark]:
    """Yield containers that held one animal after another without being cleaned between."""
    used: dict[str, dict[str, Lot]] = defaultdict(dict)
    for lot in lots:
        name = lot.captured.entry.get("containerID")
        if name:
            used[name][lot.captured.id] = lot
    for name, by_capture in sorted(used.items()):
        in_turn = sorted(by_capture.values(), key=lambda lot: lot.captured.time)
        for before, after in pairwise(in_turn):
            if not any(before.captured.time <= t <= after.captured.time for t in cleanings.get(name, ())):
                words = (
                    f"Container {name} held {before.captured.id} before, and no cleaning between is recorded."
                )
                yield _remark("not_cleaned", after, words, "when the container was cleaned")


def _unchecked(lots: Iterable[Lot], spots: set[str]) -> Iterator[Remark]:
    """Yield releases without the check at the spot: said, never blocked."""
    for lot in lots:
        if spots and lot.disposal == RELEASED and lot.captured.id not in spots:
            words = "It was let go without the check at the spot on record."
            yield _remark("no_check", lot, words, "the check, if it was made", attention=False)
