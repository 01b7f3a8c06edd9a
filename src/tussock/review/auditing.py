"""The audit of a book: each record judged by the versions of its days, and what the book itself leaves open.

The same clauses over the same measures as in planning and at the spot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np

from tussock import __version__
from tussock.errors import InputError
from tussock.ground.region import Region, no_ground
from tussock.measure.consent import named
from tussock.measure.judging import ClauseResult, Measures
from tussock.measure.scene import EarlierRelease
from tussock.permit.capture_book import BookedCapture, CaptureBook
from tussock.permit.consents import Consent
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import MaxDistanceFromCapture, MaxReleasesNear
from tussock.review.audit import Audit, GroundSource, Kept, Remark, Row, Totals
from tussock.review.handling import RELEASED, Handling
from tussock.review.judged import TURNED, Book, case_of, judge_measured, place_of
from tussock.review.probability import p_met
from tussock.review.together import MOST_TOGETHER, Outlook, Together
from tussock.spans import posix

_DISTANCES = ("max_distance_from_capture", "min_distance_from")
_BY_RADIUS = frozenset(("position", "assumed", "layer", "datum"))
"""Reasons that are radii: with any other, nothing is known of how likely a distance is."""
_METRES_PER_DEGREE = 110_000.0
"""A degree of latitude is never shorter: 110,574 m at the equator."""
ANSWER = "answer:"


@dataclass(frozen=True, kw_only=True)
class Beside:
    """What the records are judged beside.

    Attributes
    ----------
    no_register
        Whether the book keeps no consents: none on record then means nothing.
    captures
        Every capture of the book, for quotas.
    loose
        Releases of the book whose capture is not in it: they count where earlier releases do.
    remarks
        On the book itself.
    captures_read, disposals_read
        How many entries the book has.
    progress
        Called with how many records are judged and how many there are.
    """

    now: datetime
    consents: tuple[Consent, ...] = ()
    captures: tuple[BookedCapture, ...] = ()
    loose: tuple[EarlierRelease, ...] = ()
    remarks: tuple[Remark, ...] = ()
    captures_read: int = 0
    disposals_read: int = 0
    inputs: Mapping[str, str] | None = None
    progress: Callable[[int, int], None] | None = None
    no_register: bool = False


def audit(
    kept: Sequence[Kept], permit: Permit, region: Region | None, beside: Beside, *, under: str = ""
) -> Audit:
    """Return what a book looks like under one permit.

    Parameters
    ----------
    region
        ``None`` where no ground data is given: clauses that ask for ground are missing then.
    under
        Where the permit is one that was not in force then: how it is called.

    Raises
    ------
    InputError
        When ground files cannot be used.
    """
    earlier = _Earlier(kept, permit, beside)
    ground = region or _no_ground(kept)
    rows: list[Row] = []
    outlook = Outlook(ground)
    for some in _some(kept):
        for row in _rows(some, permit, outlook, beside, earlier):
            rows.append(row)
            if beside.progress is not None:
                beside.progress(len(rows), len(kept))
    return Audit(
        permit=permit,
        rows=tuple(rows),
        remarks=(*_gap_remarks(rows), *beside.remarks),
        totals=_totals(rows, beside),
        now=beside.now,
        software=f"tussock {__version__}",
        region="" if ground.blank else ground.file.name,
        under=under,
        ground=_ground(permit, ground),
        inputs=beside.inputs or {},
    )


def _no_ground(kept: Iterable[Kept]) -> Region:
    """Return a region without layers round the first place on record; nothing is measured in its plane."""
    taken = next((k.handling.taken_at for k in kept if k.handling is not None), None)
    return no_ground(taken.longitude, taken.latitude) if taken else no_ground(0.0, 0.0)


def _some(kept: Sequence[Kept]) -> Iterator[Sequence[Kept]]:
    for start in range(0, len(kept), MOST_TOGETHER):
        yield kept[start : start + MOST_TOGETHER]


def _rows(
    kept: Sequence[Kept], permit: Permit, outlook: Outlook, beside: Beside, earlier: _Earlier
) -> Iterator[Row]:
    """Yield the rows of some records, measured together."""
    told = [_with_answers(k, permit) for k in kept]
    records = [k.handling for k in told if k.handling is not None]
    register, none = beside.consents, beside.no_register
    books = [Book(beside.now, earlier.of(r), register, earlier.captures, none) for r in records]
    cases = [case_of(r, permit, book) for r, book in zip(records, books, strict=True)]
    together = Together(outlook, cases, [place_of(r) for r in records])
    i = 0
    for one in told:
        if one.handling is None:
            yield Row(one, None)
        else:
            yield _row(one, one.handling, permit, books[i], together.measures(i))
            i += 1


def _with_answers(kept: Kept, permit: Permit) -> Kept:
    if kept.handling is None:
        return kept
    said = {c.removeprefix(ANSWER): v for c, v in kept.cells.items() if c.startswith(ANSWER)}
    # where permits share a clause's id, the column has the permit's before it
    answers = {c.removeprefix(f"{permit.id}:"): v for c, v in sorted(said.items(), key=lambda i: ":" in i[0])}
    return replace(kept, handling=replace(kept.handling, answers={permit.id: answers}))


def _row(kept: Kept, record: Handling, permit: Permit, book: Book, measures: Measures) -> Row:
    judged = judge_measured(record, permit, book, measures)
    chances = {r.id: p for r in judged.results if (p := chance(r, record)) is not None}
    return Row(kept, judged, chances)


def chance(result: ClauseResult, record: Handling) -> float | None:
    """Return P(met) of a distance clause; ``None`` where something else than radii makes it uncertain.

    Both radii as 95 % radii of circular normal errors, which is what a containing radius mostly is.
    """
    value, at = result.value, record.let_go_at
    if result.kind not in _DISTANCES or value is None or result.limit is None or at is None:
        return None
    if set(value.reasons) - _BY_RADIUS or not np.isfinite(value.high):
        return None
    widened = sum(value.reasons.values())
    distance = value.high - widened
    if result.kind == MaxDistanceFromCapture.model_fields["kind"].default:
        return p_met(result.limit - distance, record.taken_at.radius_m, at.radius_m)
    return p_met(distance - result.limit, at.radius_m, max(0.0, widened - at.radius_m))


class _Earlier:
    """Finds, for a record, what clauses may count of the rest of the book; little of thousands is near."""

    def __init__(self, kept: Iterable[Kept], permit: Permit, beside: Beside) -> None:
        self.captures = CaptureBook(beside.captures, permit.zone)
        self._loose = beside.loose
        found = [k.handling for k in kept if k.handling is not None and k.handling.disposal == RELEASED]
        dated = [(posix(h.disposed), h) for h in found if h.let_go_at is not None and h.disposed is not None]
        dated.sort(key=lambda one: one[0])
        self._when = np.array([when for when, _ in dated])
        self._latitude = np.array([h.let_go_at.latitude for _, h in dated if h.let_go_at is not None])
        self._of = [(h.capture_id, r) for _, h in dated if (r := h.as_earlier) is not None]
        counted = frozenset(c.id for c in beside.consents if c.number is not None)
        using = [bool(named(r.consent_reference) & counted) for _, r in self._of]
        self._naming = np.flatnonzero(np.array(using, dtype=bool))
        self._widest = max((r.radius_m for _, r in self._of), default=0.0)
        near = [c for v in permit.versions for c in v.conditions if isinstance(c, MaxReleasesNear)]
        self._within_m = max((c.within_m for c in near), default=-1.0)
        self._within_s = max((c.within_days for c in near), default=0.0) * 86_400.0 + 1.0

    def of(self, record: Handling) -> tuple[EarlierRelease, ...]:
        """Return the releases of other captures that lie near and not long before, or use up a consent."""
        ended = record.disposed
        if ended is None:
            return ()
        loose = tuple(r for r in self._loose if r.instant <= ended)
        last = int(np.searchsorted(self._when, posix(ended), side="right"))
        wanted = {*self._naming[: np.searchsorted(self._naming, last)].tolist(), *self._near(record, last)}
        others = (self._of[i] for i in sorted(wanted))
        return (*loose, *(r for capture_id, r in others if capture_id != record.capture_id))

    def _near(self, record: Handling, last: int) -> list[int]:
        at, ended = record.let_go_at, record.disposed
        if at is None or ended is None or self._within_m < 0:
            return []
        first = int(np.searchsorted(self._when, posix(ended) - self._within_s))
        reach = self._within_m + at.radius_m + self._widest
        away = np.abs(self._latitude[first:last] - at.latitude) * _METRES_PER_DEGREE
        near: list[int] = (first + np.flatnonzero(away <= reach)).tolist()
        return near


def _gap_remarks(rows: Iterable[Row]) -> list[Remark]:
    """Return what happened while no version was in force, and times that cannot all be right.

    That holding ended before the capture is the book's to say.
    """
    judged = [(row, row.judged) for row in rows if row.judged is not None]
    permit = "a permit, or the authority's leave, for that day"
    gaps = [_remark("permit_gap", row, words, permit) for row, j in judged for words in j.gaps]
    notes = "notes or messages made at the time"
    return gaps + [
        _remark("contradiction", row, words, notes)
        for row, j in judged
        for words in j.contradictions
        if words != TURNED
    ]


def _remark(sort: str, row: Row, words: str, evidence: str) -> Remark:
    kept = row.kept
    where = "; ".join(filter(None, (kept.capture_where, kept.disposal_where)))
    return Remark(sort, f"{words[0].upper()}{words[1:]}.", kept.capture_id, where, evidence)


def _totals(rows: Sequence[Row], beside: Beside) -> Totals:
    handled = [row.kept.handling for row in rows if row.kept.handling is not None]
    ended = [h for h in handled if h.disposed is not None]
    return Totals(
        captures_read=beside.captures_read,
        disposals_read=beside.disposals_read,
        rows=len(rows),
        animals=sum(h.animal.individual_count for h in handled),
        released=sum(h.disposal == RELEASED for h in ended),
        otherwise=sum(h.disposal != RELEASED for h in ended),
        held=len(handled) - len(ended),
        not_judged=len(rows) - len(handled),
    )


def _ground(permit: Permit, region: Region) -> tuple[GroundSource, ...]:
    """Return the layers that the permit's clauses read, those of the region."""
    uses = (use.layer for v in permit.versions for c in v.conditions for use in c.layers())
    return tuple(_source(name, region) for name in dict.fromkeys(uses) if region.has(name))


def _source(name: str, region: Region) -> GroundSource:
    spec = region.file.layers[name]
    files = tuple(dict.fromkeys(s.file for s in spec.sources))
    return GroundSource(name, files, spec.as_of, spec.licence, spec.attribution, spec.complete)


def under_version(permit: Permit, name: str) -> Permit:
    """Return the permit as if one of its versions had been in force all along.

    Raises
    ------
    InputError
        When there is no version of that name.
    """
    version = next((v for v in permit.versions if v.name == name), None)
    if version is None:
        raise InputError(
            f"no version is called '{name[:60]}'",
            where=permit.file or permit.id,
            allowed=", ".join(v.name for v in permit.versions),
            fix="name one by its first day, or name a permit file",
        )
    return always(permit, version)


def always(permit: Permit, version: Version) -> Permit:
    """Return a permit whose only version is in force on every day."""
    return replace(permit, versions=(Version(date.min + timedelta(days=1), None, version.conditions),))


def days_of(audit: Audit) -> tuple[datetime, datetime] | None:
    """Return the first and the last instant of the records; ``None`` for an empty book."""
    times = [t for row in audit.rows if (t := row.when)]
    return (min(times, key=_utc), max(times, key=_utc)) if times else None


def _utc(instant: datetime) -> datetime:
    return instant.astimezone(UTC)
