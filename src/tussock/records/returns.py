"""The return for a period: what became of every animal, in animals and not in rows.

Held at the start + captured = released + vet or carer + authority + euthanased + died + escaped + held at
the end. It holds for every species and period, because each lot of animals is followed from its capture to
its end, once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

from tussock.clock import local_date
from tussock.errors import InputError, together
from tussock.names import DISPOSALS
from tussock.permit.animal_kinds import SpeciesListed
from tussock.permit.permit_file import Permit
from tussock.permit.taxon import covers
from tussock.records.return_periods import Period, version_for
from tussock.review.audit import Kept, Remark

HELD_AT_START, CAPTURED, HELD_AT_END = "held at start", "captured", "held at end"
UNKNOWN_END = "outcome not recorded"
"""Holding ended and nobody wrote down how: such a return is incomplete."""
COLUMNS = (HELD_AT_START, CAPTURED, *DISPOSALS, UNKNOWN_END, HELD_AT_END)
NO_SPECIES = "species not recorded"


@dataclass(frozen=True)
class Line:
    """Animals of one capture that ended alike, as far as the period sees them.

    ``outcome`` is one of the disposals, or ``held at end``.
    """

    capture_id: str
    captured: date
    scientific_name: str
    count: int
    outcome: str
    ended: date | None
    cells: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Return:
    """What is sent in for a period.

    Attributes
    ----------
    counts
        Species → column → animals; species in order of their names. Where the permit asks for it, listed
        species without animals are among them.
    lines
        What the counts are made of, in order of time.
    gaps
        What keeps it from being complete, in words.
    notes
        What is to be known besides, in words.
    """

    permit: Permit
    period: Period
    counts: Mapping[str, Mapping[str, int]]
    lines: tuple[Line, ...]
    gaps: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def nil(self) -> bool:
        """Whether there is nothing to report."""
        return not self.lines

    @property
    def asked(self) -> bool:
        """Whether the permit asks for it: not a nil return where it says that none is needed."""
        clause = self.period.clause
        return not (self.nil and clause is not None and not clause.nil_return)

    @property
    def recipients(self) -> tuple[str, ...]:
        """Who gets it: those whom the permit names, or else its authority."""
        clause = self.period.clause
        return (clause.recipients if clause else None) or (self.permit.authority,)

    @property
    def total(self) -> Mapping[str, int]:
        """Animals of all species, by column."""
        return {c: sum(row[c] for row in self.counts.values()) for c in COLUMNS}


def return_for(
    kept: Iterable[Kept],
    permit: Permit,
    period: Period,
    *,
    today: date,
    remarks: Sequence[Remark] = (),
) -> Return:
    """Return what the book says of a period.

    An animal belongs to a period by the local date of its capture, and of the end of its holding; one that
    was taken before and ended in it was held at the start. Where the permit assigns by capture, it belongs
    to the period it was taken in alone, with its outcome whenever that came.

    Parameters
    ----------
    today
        A period that is not over by then is a gap.
    remarks
        On the book: those that need explaining and touch the animals of the period are its gaps.
    """
    found = (_line(one, period, permit.zone) for one in kept)
    lines = sorted((line for line in found if line), key=lambda each: (each.captured, each.capture_id))
    nil, notes = _nil_species(permit, period, lines)
    counts: dict[str, Counter[str]] = {name: Counter() for name in nil}
    for line in lines:
        counts.setdefault(line.scientific_name, Counter()).update(_columns_of(line, period))
    whole = {name: {c: row[c] for c in COLUMNS} for name, row in sorted(counts.items())}
    gaps = (*_not_over(period, today), *_gaps(lines, remarks))
    return Return(permit, period, whole, tuple(lines), gaps, notes)


def refuse_gaps(found: Return, *, where: str) -> None:
    """Refuse a return that is not complete.

    Parameters
    ----------
    where
        The book it was made from.

    Raises
    ------
    InputError
        Listing every gap.
    """
    if found.gaps:
        allowed = "a book in which every animal of the period has its outcome"
        fix = "complete the records, or print it as it is with --incomplete"
        faults = [InputError(gap, where=where) for gap in found.gaps]
        faults[-1] = InputError(found.gaps[-1], where=where, allowed=allowed, fix=fix)
        raise together(faults, most=len(faults))


def _line(kept: Kept, period: Period, zone: ZoneInfo) -> Line | None:
    """Return a lot as the period sees it; ``None`` where it does not touch it."""
    handling = kept.handling
    if handling is None:
        return None
    taken = local_date(handling.captured, zone)
    # an end before the capture is a gap; it stands on the day of capture, so that no animal is lost
    ended = max(taken, local_date(handling.disposed, zone)) if handling.disposed else None
    if period.by_capture:
        inside, over = period.holds(taken), ended is not None
    else:
        inside = taken <= period.last and (ended is None or ended >= period.first)
        over = ended is not None and ended <= period.last
    if not inside:
        return None
    animal = handling.animal
    return Line(
        kept.capture_id,
        taken,
        animal.scientific_name or NO_SPECIES,
        animal.individual_count,
        (handling.disposal or UNKNOWN_END) if over else HELD_AT_END,
        ended if over else None,
        kept.cells,
    )


def _columns_of(line: Line, period: Period) -> dict[str, int]:
    entered = HELD_AT_START if line.captured < period.first else CAPTURED
    return {entered: line.count, line.outcome: line.count}


def _nil_species(permit: Permit, period: Period, lines: Sequence[Line]) -> tuple[list[str], tuple[str, ...]]:
    """Return the listed species that no animal is of, where the permit asks for them, and what to say of it.

    An animal that may be of a listed species, and may not, leaves that line out: nil would claim too much.
    """
    if period.clause is None or not period.clause.nil_species:
        return [], ()
    version = version_for(permit, period.last)
    clauses = [c for c in (version.conditions if version else ()) if isinstance(c, SpeciesListed)]
    listed = sorted({name for c in clauses for name in c.species or ()})
    if not listed:
        return [], (f"Clause {period.clause.id} asks for a line a listed species, and no clause lists any.",)
    taken = {line.scientific_name for line in lines}
    held = {name: {_covers(name, each) for each in taken} for name in listed}
    open_ones = [name for name in listed if None in held[name] and True not in held[name]]
    notes = (f"No nil line for {', '.join(open_ones)}: an animal may be of it.",) if open_ones else ()
    return [name for name in listed if held[name] <= {False}], notes


def _covers(listed: str, name: str) -> bool | None:
    return None if name == NO_SPECIES else covers(listed, name)


def _not_over(period: Period, today: date) -> Iterator[str]:
    if today <= period.last:
        yield f"The period ends on {period.last} and is not over."


_ABOUT_ANIMALS = (
    "no_disposal",
    "before_capture",
    "in_future",
    "contradiction",
    "other_species",
    "count",
    "assumed_count",
    "assumed_outcome",
)


def _gaps(lines: Sequence[Line], remarks: Iterable[Remark]) -> Iterator[str]:
    """Yield what keeps a return from being complete."""
    ours = {line.capture_id for line in lines}
    for remark in remarks:
        orphaned = remark.sort == "no_capture"  # nobody knows which period its animal was taken in
        if remark.attention and (orphaned or (remark.sort in _ABOUT_ANIMALS and remark.entry in ours)):
            yield f"{remark.entry}: {remark.words}"
    for line in lines:
        if line.outcome == UNKNOWN_END:
            yield f"{line.capture_id}: how holding ended on {line.ended} is not recorded."
