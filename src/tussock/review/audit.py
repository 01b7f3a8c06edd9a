"""An audit: every record of a book held against the clauses in force on its days. Plain data.

What is found is of two sorts: verdicts of clauses, and remarks on the book itself (an animal without an
outcome, a number left out). Neither is a legal finding.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from tussock.interval import Verdict, worst
from tussock.measure.judging import ClauseResult
from tussock.permit.permit_file import Permit
from tussock.review.handling import Handling
from tussock.review.judged import Judged


@dataclass(frozen=True)
class Remark:
    """Something to explain about the book, whatever the clauses say.

    Attributes
    ----------
    sort
        ``permit_gap``, ``no_disposal``, ``no_capture``, ``before_capture``, ``numbering_gap``,
        ``late_entry``, ``assumed`` (a radius), ``assumed_count``, ``assumed_outcome``, ``contradiction``,
        ``count``, ``not_cleaned``, ``no_check``, ``no_place``, ``in_future``,
        ``other_species``.
    words
        What was found, in one sentence.
    entry
        Id of the capture (or of the disposal without one, or of the first number left out).
    where
        Rows or logbook entries it is about.
    evidence
        What would settle it.
    attention
        Whether it needs explaining; otherwise it is only said.
    """

    sort: str
    words: str
    entry: str
    where: str = ""
    evidence: str = ""
    attention: bool = True


@dataclass(frozen=True)
class Kept:
    """A record of the book, ready to be judged, with where it came from.

    Attributes
    ----------
    handling
        ``None`` where there is nothing to judge: ``why`` says so (a disposal without a capture, …).
    capture_where, disposal_where
        The rows it was made from; empty where there is none.
    disposal_id
        Empty while the animal is held.
    cells
        The input's columns: those of the capture, and over them those of the disposal.
    """

    capture_id: str
    handling: Handling | None
    why: str = ""
    capture_where: str = ""
    disposal_where: str = ""
    disposal_id: str = ""
    cells: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Row:
    """A record under one permit.

    Attributes
    ----------
    judged
        ``None`` where there is nothing to judge, see ``kept.why``.
    probabilities
        Clause id → P(met) of distance clauses: a further column, never a verdict.
    """

    kept: Kept
    judged: Judged | None
    probabilities: Mapping[str, float] = field(default_factory=dict)

    @property
    def verdict(self) -> Verdict:
        """The worst of the mandatory clauses; ``missing`` where there is nothing to judge."""
        return self.judged.verdict if self.judged else Verdict.MISSING

    @property
    def worst(self) -> ClauseResult | None:
        """The mandatory clause that decides the verdict: of the worst ones that with the least margin."""
        if self.judged is None:
            return None
        found = [r for r in self.judged.results if r.mandatory and r.verdict is not None]
        if not found:
            return None
        verdict = worst([r.verdict for r in found if r.verdict is not None])
        same = [r for r in found if r.verdict is verdict]
        return min(same, key=_tightness)

    @property
    def needs_explaining(self) -> bool:
        """Whether its verdict is another than met."""
        return self.verdict is not Verdict.MET

    @property
    def when(self) -> datetime | None:
        """When holding ended, or else the animal was taken: the book's order."""
        handling = self.kept.handling
        return (handling.disposed or handling.captured) if handling else None


def _tightness(result: ClauseResult) -> float:
    """Return what orders clauses of one verdict: the margin as a share of the limit."""
    if result.margin is None:
        return float("inf")
    return result.margin / abs(result.limit) if result.limit else result.margin


@dataclass(frozen=True)
class Totals:
    """Counts that must add up.

    Attributes
    ----------
    captures_read, disposals_read
        Entries of the book.
    rows
        Rows of the audit: one for each disposal, and one for each capture, or part of one, without.
    animals
        Individuals taken.
    released, otherwise, held, not_judged
        Rows let go, ended in another way, without an end, and with nothing to judge.
    """

    captures_read: int
    disposals_read: int
    rows: int
    animals: int
    released: int
    otherwise: int
    held: int
    not_judged: int

    @property
    def reconciled(self) -> bool:
        """Whether the rows add up."""
        return self.rows == self.released + self.otherwise + self.held + self.not_judged


@dataclass(frozen=True)
class GroundSource:
    """A layer that the audit read."""

    layer: str
    files: tuple[str, ...]
    as_of: date | None
    licence: str = ""
    attribution: str = ""
    complete: str = ""


@dataclass(frozen=True)
class Audit:
    """What was found under one permit.

    Attributes
    ----------
    rows
        In the order of the book: by when holding ended; what cannot be dated comes last.
    remarks
        On the book itself, those that need explaining first.
    region
        The region's name; empty where no ground data was given.
    under
        Empty, or the name of the version or file that all were judged under instead of their own.
    now
        Open captures count to then.
    inputs
        Name → SHA-256 of every file read.
    """

    permit: Permit
    rows: tuple[Row, ...]
    remarks: tuple[Remark, ...]
    totals: Totals
    now: datetime
    software: str
    region: str = ""
    under: str = ""
    ground: tuple[GroundSource, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)

    @property
    def needs_attention(self) -> bool:
        """Whether anything needs explaining."""
        return any(r.needs_explaining for r in self.rows) or any(r.attention for r in self.remarks)

    def verdicts(self) -> Counter[Verdict]:
        """Return how many rows have each verdict."""
        return Counter(row.verdict for row in self.rows)

    def by_clause(self) -> dict[str, Counter[Verdict | None]]:
        """Return, per clause id, how many rows have each verdict; ``None`` not checked or not applying."""
        found: dict[str, Counter[Verdict | None]] = {}
        for result in (r for row in self.rows if row.judged for r in row.judged.results):
            found.setdefault(result.id, Counter())[result.verdict] += 1
        return found


def in_order_of_explaining(rows: Iterable[Row]) -> list[Row]:
    """Return rows with what needs explaining first: the worst verdict, then the book's order."""
    order = {Verdict.NOT_MET: 0, Verdict.MISSING: 1, Verdict.UNCERTAIN: 2, Verdict.MET: 3}
    return sorted(rows, key=lambda row: order[row.verdict])
