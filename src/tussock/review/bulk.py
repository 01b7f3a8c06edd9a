"""Very many records judged at once, clause by clause; what cannot be judged so is said and left.

The definition is :func:`tussock.review.judged.judge_record`: a verdict given here equals its verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.ground.region import Region
from tussock.permit.condition import Condition
from tussock.permit.consents import Consent
from tussock.permit.permit_file import Permit, Version
from tussock.review.bulk_clauses import Batch, judge_clause
from tussock.review.bulk_clock import Wall, day_number
from tussock.review.bulk_columns import Code, Codes, Columns, Index, Mask, columns_of
from tussock.review.bulk_ground import Ground, Tally
from tussock.spans import posix

__all__ = ["BATCH", "BulkClause", "BulkVerdicts", "Code", "Columns", "columns_of", "judge_bulk"]

BATCH = 65_536
"""Records judged together: small enough that what is worked out for them stays in fast memory."""
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class BulkClause:
    """A clause of one version.

    Attributes
    ----------
    version
        Name of the version it stands in.
    condition
        As read.
    """

    version: str
    condition: Condition


@dataclass(eq=False)
class BulkVerdicts:
    """What became of n records under m clauses.

    Attributes
    ----------
    clauses
        Every clause of every version, in the permit's order.
    codes
        :class:`~tussock.review.bulk_columns.Code` per record and clause, shape (n, m).
    worst
        The worst verdict among each record's mandatory clauses that were judged, ``MISSING`` at best where
        no version was in force or its times contradict each other; shape (n,).
    by_bounds, by_vectors
        Per clause how many measurements the surfaces decided, and how many took the vectors.
    """

    clauses: tuple[BulkClause, ...]
    codes: Codes
    worst: Codes
    by_bounds: list[int] = field(default_factory=list)
    by_vectors: list[int] = field(default_factory=list)

    @property
    def left(self) -> npt.NDArray[np.int64]:
        """(Record, clause) pairs left to the definition, shape (k, 2)."""
        return np.argwhere(self.codes == Code.LEFT)

    @property
    def unfinished(self) -> Mask:
        """Which records have a clause left, so that ``worst`` may be worse yet; shape (n,)."""
        return np.asarray((self.codes == Code.LEFT).any(axis=1))

    def counts(self) -> list[dict[Code, int]]:
        """Return per clause how many records have each code."""
        each = (np.bincount(self.codes[:, k], minlength=len(Code)) for k in range(len(self.clauses)))
        return [{code: int(found[code]) for code in Code} for found in each]

    @property
    def screened(self) -> float:
        """The share of measurements that the surfaces decided."""
        bounds, vectors = sum(self.by_bounds), sum(self.by_vectors)
        return bounds / (bounds + vectors) if bounds + vectors else 1.0


def judge_bulk(
    records: Columns,
    permit: Permit,
    region: Region,
    *,
    now: datetime,
    consents: Sequence[Consent] = (),
    batch: int = BATCH,
    progress: Progress | None = None,
    threads: int = 2,
) -> BulkVerdicts:
    """Return records judged under a permit.

    Parameters
    ----------
    now
        An open capture counts to then.
    consents
        The consent register: what it names may be spared by ``unless_captured_within``.
    batch
        How many records are judged together; it changes nothing but memory and speed.
    progress
        Called with how many records are judged and how many there are.
    threads
        Batches judged at a time.

    Raises
    ------
    InputError
        When ground files cannot be used.
    """
    clauses = tuple(BulkClause(v.name, c) for v in permit.versions for c in v.conditions)
    n = len(records)
    codes = np.full((n, len(clauses)), Code.NOT_ASKED, dtype=np.uint8)
    made = BulkVerdicts(clauses, codes, np.full(n, Code.MET, dtype=np.uint8))
    tallies = [Tally() for _ in clauses]
    if n:
        named = frozenset(c.layer for c in consents if c.feature_id)
        work = _Work(records, permit, region, now=posix(now), named=named)
        for done, (rows, found) in enumerate(_each(work, n, batch, threads, len(clauses)), start=1):
            codes[rows], made.worst[rows] = found.codes, found.worst
            _add(tallies, found.tallies)
            if progress is not None:
                progress(min(done * batch, n), n)
    made.by_bounds, made.by_vectors = [t.by_bounds for t in tallies], [t.by_vectors for t in tallies]
    return made


def _add(totals: Sequence[Tally], more: Sequence[Tally]) -> None:
    for total, one in zip(totals, more, strict=True):
        total.by_bounds += one.by_bounds
        total.by_vectors += one.by_vectors


@dataclass(frozen=True, eq=False)
class _Found:
    codes: Codes
    worst: Codes
    tallies: list[Tally]


def _each(work: _Work, n: int, batch: int, threads: int, clauses: int) -> Iterator[tuple[slice, _Found]]:
    """Yield the batches in order, few of them waiting at a time."""
    slices = [slice(start, min(start + batch, n)) for start in range(0, n, batch)]
    with ThreadPoolExecutor(max_workers=threads) as pool:
        yield from zip(slices, pool.map(lambda rows: work.judged(rows, clauses), slices), strict=True)


class _Work:
    """What all batches share."""

    def __init__(
        self, records: Columns, permit: Permit, region: Region, *, now: float, named: frozenset[str]
    ) -> None:
        self.records, self.permit, self.now, self.named = records, permit, now, named
        times: Floats = np.r_[records.captured, records.disposed, now]
        self.wall = Wall(permit.zone, float(np.nanmin(times)), float(np.nanmax(times)))
        first, last = (int(self.wall.day(np.array([t]))[0]) for t in (np.nanmin(times), np.nanmax(times)))
        self.ground = Ground(region, records.animals[0], first=first, last=last)

    def judged(self, rows: slice, clauses: int) -> _Found:
        """Return the verdicts of one batch."""
        columns = self.records.taken(rows)
        whole = Batch.of(columns, self.permit, self.ground, self.wall, now=self.now, named=self.named)
        out = np.full((len(columns), clauses), Code.NOT_ASKED, dtype=np.uint8)
        tallies = [Tally() for _ in range(clauses)]
        in_force = self._in_any(whole.captured_day) & self._in_any(whole.ended_day)
        sound = in_force & ~whole.contradicted[True]
        found = _Found(out, np.where(sound, Code.MET, Code.MISSING).astype(np.uint8), tallies)
        first = 0
        for version in self.permit.versions:
            self._version(version, whole, found, first=first)
            first += len(version.conditions)
        return found

    def _in_any(self, day: Index) -> Mask:
        found = np.zeros(len(day), dtype=bool)
        for version in self.permit.versions:
            found |= _in_force(version, day)
        return found

    def _version(self, version: Version, whole: Batch, into: _Found, *, first: int) -> None:
        """Judge a version's clauses: those of the taking by the day of capture, the others by the end."""
        taken, ended = (np.flatnonzero(_in_force(version, d)) for d in (whole.captured_day, whole.ended_day))
        of_taking, of_disposal = whole.taken(taken), whole.taken(ended)
        for k, condition in enumerate(version.conditions, start=first):
            rows, some = (taken, of_taking) if condition.of_taking else (ended, of_disposal)
            if not len(rows):
                continue
            found = judge_clause(condition, some, into.tallies[k])
            into.codes[rows, k] = found
            if condition.mandatory:
                judged = np.where(found <= Code.NOT_MET, found, Code.MET)
                into.worst[rows] = np.maximum(into.worst[rows], judged)


def _in_force(version: Version, day: Index) -> Mask:
    """Return which days lie in a version's term."""
    mask = day >= day_number(version.valid_from)
    if version.valid_to is not None:
        mask &= day <= day_number(version.valid_to)
    return mask
