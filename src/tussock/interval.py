"""Everything measured is an interval [low, high] with the reasons for its width."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

TOLERANCE_M = 0.001
"""Limits are compared to one millimetre (choice of this project: coordinates with 8 decimals
cannot decide finer, see the 5,000 m vectors in the tests)."""


class Verdict(StrEnum):
    """What the arithmetic says of a clause; not a legal finding."""

    MET = "met"
    UNCERTAIN = "uncertain"
    NOT_MET = "not_met"
    MISSING = "missing"


_WORST = {Verdict.NOT_MET: 0, Verdict.MISSING: 1, Verdict.UNCERTAIN: 2, Verdict.MET: 3}


def worst(verdicts: list[Verdict]) -> Verdict:
    """Return the worst of the verdicts: not_met, missing, uncertain, met.

    An empty list gives ``met``: nothing stands against it.
    """
    return min(verdicts, key=_WORST.__getitem__, default=Verdict.MET)


@dataclass(frozen=True)
class Interval:
    """A measured quantity.

    Attributes
    ----------
    low, high
        Ends, in the measure's unit; ``low <= high``; ``inf`` where nothing bounds it.
    reasons
        What made it wide → by how much [same unit]: ``position``, ``edge of data``, ``layer``,
        ``datum``, ``date``, ``assumed``, ``plane``.
    """

    low: float
    high: float
    reasons: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if math.isnan(self.low) or math.isnan(self.high) or self.low > self.high:
            raise ValueError(f"not an interval: [{self.low}, {self.high}]")

    @property
    def widest_reason(self) -> str | None:
        """The reason that widened most; ``None`` for an exact value."""
        live = {k: w for k, w in self.reasons.items() if w > 0}
        return max(live, key=lambda k: (live[k], k)) if live else None

    def widened(self, by: float, *, reason: str, floor: float = -math.inf) -> Interval:
        """Return the interval with both ends moved out by ``by`` [same unit], never below ``floor``."""
        if by == 0:
            return self
        reasons = {**self.reasons, reason: self.reasons.get(reason, 0.0) + by}
        return Interval(max(floor, self.low - by), self.high + by, reasons)

    def lowered_to(self, bound: float, *, reason: str) -> Interval:
        """Return the interval with its low end cut down to ``bound`` where it lies above it."""
        if bound >= self.low:
            return self
        return Interval(bound, self.high, {**self.reasons, reason: self.low - bound})


@dataclass(frozen=True)
class Limit:
    """A closed range that a measure must lie in, in the measure's unit, and how far off still counts."""

    at_least: float = -math.inf
    at_most: float = math.inf
    tolerance: float = TOLERANCE_M

    def margin(self, value: Interval) -> float:
        """Return the signed distance from the limit at the worse end; positive is good."""
        return min(value.low - self.at_least, self.at_most - value.high)

    def judge(self, value: Interval) -> Verdict:
        """Return met (wholly inside), not_met (wholly outside) or uncertain (straddling)."""
        if self.margin(value) >= -self.tolerance:
            return Verdict.MET
        if value.high < self.at_least - self.tolerance or value.low > self.at_most + self.tolerance:
            return Verdict.NOT_MET
        return Verdict.UNCERTAIN

    @property
    def printed(self) -> float | None:
        """The finite end of the limit, as the permit states it."""
        finite = [x for x in (self.at_most, self.at_least) if math.isfinite(x)]
        return finite[0] if finite else None
