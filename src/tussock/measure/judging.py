"""Clauses judged at a place: one result each, with interval, limit, margin and reason."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from tussock.ground.region import NO_GROUND
from tussock.interval import Interval, Verdict, worst
from tussock.measure.clauses import HOUSE_RULE, Clause, Standing, judge_animal, time_facts
from tussock.measure.consent import OWNER_UNKNOWN
from tussock.measure.covering import may_be_used_up
from tussock.measure.exact import measure
from tussock.measure.measured import Measured
from tussock.measure.scene import Places, Scene
from tussock.permit.condition import Decided
from tussock.permit.demands import Demand, DistanceFromCapture, Quantity
from tussock.permit.place_kinds import MaxReleasesNear
from tussock.permit.record_kinds import ConsentRecorded
from tussock.permit.time_kinds import TimeCondition

USED_UP = "no book of earlier releases is given to count in: find out how many animals are left of it"
NO_REGISTER = "no register of consents is given: name it, or log the consents"
NO_BOOK = "no book of earlier releases is given: look up what was released near here before, or name the book"


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
    doubt
        What would settle whether it applies, in words; empty where it surely does.
    at_worst
        The verdict if what is in doubt goes against it; ``None`` where ``verdict`` is that already.
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
    doubt: str = ""
    at_worst: Verdict | None = None

    @property
    def strictest(self) -> Verdict | None:
        """The verdict with every doubt going against it: what a decision on the spot has to reckon with."""
        return self.at_worst or self.verdict

    @property
    def house(self) -> bool:
        """Whether it is the user's own stricter condition rather than the permit's."""
        return self.source == HOUSE_RULE


Window = tuple[float, float]
"""Earliest and latest instant of a release [POSIX seconds]."""


class Measures:
    """Quantities at places, each measured once however many clauses and criteria ask for it.

    ``windows`` gives each place's time of release; without it no clause that the clock decides is judged.
    ``ahead`` gives what was measured already, together with other places; ``None`` what was not.
    """

    def __init__(
        self,
        scene: Scene,
        at: Places,
        *,
        windows: Sequence[Window | None] = (),
        ahead: Callable[[Quantity], Measured | None] | None = None,
    ) -> None:
        self.scene, self.at, self.windows, self._ahead = scene, at, windows, ahead
        self._made: dict[Quantity, Measured] = {}

    def of(self, quantity: Quantity) -> Measured:
        """Return a quantity at the places."""
        found = self._made.get(quantity)
        if found is None:
            found = self._ahead(quantity) if self._ahead is not None else None
            found = measure(quantity, self.scene, self.at) if found is None else found
            self._made[quantity] = found
        return found

    def window(self, i: int) -> Window | None:
        """Return when the release at a place happens, or may."""
        return self.windows[i] if self.windows else None


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
    return doubted(judge_applying(clause, measures, i))


def doubted(result: ClauseResult) -> ClauseResult:
    """Return a result with what is not known of its applying reckoned in.

    Where that is in doubt, what would be met is met whichever way it is, and what would not be, or is
    uncertain, is missing an answer: nobody fell short of a clause that may not have been theirs.
    """
    if not result.doubt or result.verdict not in (Verdict.NOT_MET, Verdict.UNCERTAIN):
        return result
    words = f"whether it applies is not known, for want of {result.doubt}"
    if_so = "not met" if result.verdict is Verdict.NOT_MET else "uncertain"
    # how wide a value is says nothing where it lies wholly outside
    why = result.reason if result.value is None or result.verdict is Verdict.UNCERTAIN else None
    reason = f"{words}; if it does, it is {if_so}{f' ({why})' if why else ''}"
    return replace(result, verdict=Verdict.MISSING, at_worst=result.verdict, reason=reason)


def judge_applying(clause: Clause, measures: Measures, i: int) -> ClauseResult:
    """Return the result of a clause at one of the places, as if a clause that may apply surely did."""
    match clause.standing:
        case Standing.LAYER_MISSING if clause.source == HOUSE_RULE:
            return _result(clause, None, reason=f"not checked: {clause.why}")
        case Standing.LAYER_MISSING | Standing.INPUT_MISSING:
            return _result(clause, Verdict.MISSING, reason=clause.why)
        case Standing.NOT_APPLYING:
            return replace(_result(clause, None, reason=f"does not apply: {clause.why}"), applies=False)
        case Standing.NOT_CHECKED | Standing.TO_DO:
            return _result(clause, None, reason=clause.why)
        case Standing.CLOCK:
            return _by_clock(clause, measures, i)
    if clause.condition.decided is Decided.ANIMAL:
        verdict, reason = judge_animal(clause.condition, measures.scene)
        return _result(clause, verdict, reason=reason)
    results = [_judged(clause, d, measures.of(d.quantity).at(i)) for d in clause.demands]
    if isinstance(clause.condition, ConsentRecorded):
        return _by_consent(clause, results, measures, i)
    found = _worst(results)
    if _uncounted(clause, found, measures.scene):
        return replace(found, verdict=None, value=None, margin=None, reason=NO_BOOK)
    return found


def _uncounted(clause: Clause, found: ClauseResult, scene: Scene) -> bool:
    """Return whether a clause is met only because nobody said what was released before."""
    counts = isinstance(clause.condition, MaxReleasesNear) and scene.case.no_book
    return counts and found.verdict is not Verdict.NOT_MET


def _by_clock(clause: Clause, measures: Measures, i: int) -> ClauseResult:
    """Judge a clause over the time of release at a place."""
    window, condition = measures.window(i), clause.condition
    if window is None or clause.zone is None or not isinstance(condition, TimeCondition):
        return _result(clause, None, reason="not checked: the time of release is not known")
    at = measures.at
    facts = time_facts(measures.scene, clause.zone, float(at.lon[i]), float(at.lat[i]))
    demand = Demand(DistanceFromCapture(), condition.demand(facts), "h")  # only its limit and unit are read
    return _judged(clause, demand, condition.measured(facts, *window))


def _by_consent(clause: Clause, results: list[ClauseResult], measures: Measures, i: int) -> ClauseResult:
    """Judge consent: lacking on mapped ground, proven, or for a person to find out."""
    lacking = _worst(results) if results else _result(clause, Verdict.MET, reason="")
    if lacking.verdict is not Verdict.MET:
        return _result(clause, None, reason=NO_REGISTER) if measures.scene.case.no_register else lacking
    for proof in clause.proofs:
        found = _judged(clause, proof, measures.of(proof.quantity).at(i))
        if found.verdict is Verdict.MET:
            counted = may_be_used_up(clause.condition, measures.scene, measures.at, i)
            return _result(clause, None, reason=used_up_words(counted)) if counted else found
    return _result(clause, None, reason=NO_GROUND if measures.scene.region.blank else OWNER_UNKNOWN)


def used_up_words(consents: Sequence[str]) -> str:
    """Return that consents cover a number of animals only, and nobody counted."""
    return f"consent {' and '.join(consents)} is for a number of animals, and {USED_UP}"


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
        words=clause.words,
        doubt=clause.doubt,
    )


def _result(clause: Clause, verdict: Verdict | None, *, reason: str) -> ClauseResult:
    c = clause.condition
    made = ClauseResult(c.id, c.kind, c.text, clause.source, c.mandatory, verdict)
    return replace(made, reason=reason, words=clause.words, doubt=clause.doubt)


def _worst(results: list[ClauseResult]) -> ClauseResult:
    """Return the result with the worst verdict, of equals the one with the least margin."""
    verdict = worst([r.verdict for r in results if r.verdict is not None])
    same = [r for r in results if r.verdict is verdict]
    return min(same, key=lambda r: math.inf if r.margin is None else r.margin)
