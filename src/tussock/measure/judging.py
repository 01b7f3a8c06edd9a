"""Clauses judged at a place: one result each, with interval, limit, margin and reason."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from tussock.interval import Interval, Verdict, worst
from tussock.measure.clauses import HOUSE_RULE, Clause, Standing, facts_of
from tussock.measure.exact import measure
from tussock.measure.measured import Measured
from tussock.measure.scene import Places, Scene
from tussock.permit.condition import Decided
from tussock.permit.demands import Demand, Quantity


@dataclass(frozen=True)
class ClauseResult:
    """A clause at a place.

    Attributes
    ----------
    id, kind, text
        As in the permit.
    source
        The permit's id, or ``house rule``.
    verdict
        ``None`` where the clause was not checked or does not apply; ``reason`` says which.
    value
        What was measured; ``None`` where nothing was (animal clauses, clauses not checked).
    limit, margin
        In ``unit``; margin is the signed distance from the limit at the worse end, positive is good.
    reason
        What made the interval wide, or why there is no verdict.
    words
        What the clause computes, in one plain sentence.
    applies
        Whether it is, or may be, for this animal.
    """

    id: str
    kind: str
    text: str
    source: str
    mandatory: bool
    verdict: Verdict | None
    value: Interval | None = None
    limit: float | None = None
    margin: float | None = None
    unit: str = ""
    reason: str | None = None
    words: str = ""
    applies: bool = True

    @property
    def house(self) -> bool:
        """Whether it is the user's own stricter condition rather than the permit's."""
        return self.source == HOUSE_RULE


class Measures:
    """Quantities at places, each measured once however many clauses and criteria ask for it."""

    def __init__(self, scene: Scene, at: Places) -> None:
        self.scene, self.at = scene, at
        self._made: dict[Quantity, Measured] = {}

    def of(self, quantity: Quantity) -> Measured:
        """Return a quantity at the places."""
        if quantity not in self._made:
            self._made[quantity] = measure(quantity, self.scene, self.at)
        return self._made[quantity]


def met_everywhere(clauses: Iterable[Clause], measures: Measures) -> npt.NDArray[np.bool_]:
    """Return at which places every clause that decides places is met, shape (n,)."""
    met = np.ones(len(measures.at), dtype=bool)
    for clause in clauses:
        if clause.decides_place:
            for demand in clause.demands:
                met &= _met(demand, measures)
    return met


def _met(demand: Demand, measures: Measures) -> npt.NDArray[np.bool_]:
    if demand.limit is None:
        raise ValueError(f"{demand.quantity} has no limit: bind the clause first")
    return measures.of(demand.quantity).met(demand.limit)


def judge(clause: Clause, measures: Measures, i: int) -> ClauseResult:
    """Return the result of a clause at one of the places measured."""
    if clause.standing is Standing.LAYER_MISSING:
        house = clause.source == HOUSE_RULE
        return _result(
            clause,
            None if house else Verdict.MISSING,
            reason=f"not checked: {clause.why}" if house else clause.why,
        )
    if clause.standing is Standing.NOT_APPLYING:
        return replace(_result(clause, None, reason=f"does not apply: {clause.why}"), applies=False)
    if clause.standing is Standing.NOT_CHECKED:
        return _result(clause, None, reason=clause.why)
    if clause.condition.decided is Decided.ANIMAL:
        verdict, reason = clause.condition.judge_animal(facts_of(measures.scene))
        return _result(clause, verdict, reason=reason)
    return _worst([_judged(clause, d, measures.of(d.quantity).at(i)) for d in clause.demands])


def _judged(clause: Clause, demand: Demand, value: Interval) -> ClauseResult:
    if demand.limit is None:
        raise ValueError(f"{demand.quantity} has no limit: bind the clause first")
    verdict = demand.limit.judge(value)
    margin = demand.limit.margin(value)
    return ClauseResult(
        id=clause.condition.id,
        kind=clause.condition.kind,
        text=clause.condition.text,
        source=clause.source,
        mandatory=clause.condition.mandatory,
        verdict=verdict,
        value=value,
        limit=demand.limit.printed,
        margin=margin if math.isfinite(margin) else None,
        unit=demand.unit,
        reason=value.widest_reason,
        words=clause.condition.words(),
    )


def _result(clause: Clause, verdict: Verdict | None, *, reason: str) -> ClauseResult:
    c = clause.condition
    return ClauseResult(
        c.id, c.kind, c.text, clause.source, c.mandatory, verdict, reason=reason, words=c.words()
    )


def _worst(results: list[ClauseResult]) -> ClauseResult:
    """Return the result with the worst verdict, of equals the one with the least margin."""
    verdict = worst([r.verdict for r in results if r.verdict is not None])
    same = [r for r in results if r.verdict is verdict]
    return min(same, key=lambda r: math.inf if r.margin is None else r.margin)
