"""Every clause judged at a spot by the call that judges records, as if the animal were let go there now."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from tussock.interval import Verdict
from tussock.measure.clauses import HOUSE_RULE, bind
from tussock.measure.consent import OWNER_UNKNOWN
from tussock.measure.covering import covering_at
from tussock.measure.judging import NO_BOOK, USED_UP, ClauseResult, Measures, doubted, judge
from tussock.measure.scene import Scene
from tussock.permit.condition import Condition, Decided
from tussock.permit.permit_file import Permit
from tussock.permit.place_kinds import MaxReleasesNear
from tussock.permit.record_answers import PHOTO
from tussock.permit.record_kinds import (
    Attested,
    ConsentRecorded,
    DisposedTo,
    RecordCondition,
    WeatherWithin,
)
from tussock.review.handling import RELEASED, Handling, Planned
from tussock.review.judged import Book, Judged, judge_measured, measures_of
from tussock.review.planned import PlannedSite, PlanRecord
from tussock.review.spot_facts import Held, Spot
from tussock.review.spot_questions import ANSWERED, Answer, Question, clause_questions

_DECIDED_NOW = (Attested, ConsentRecorded, DisposedTo, WeatherWithin)
"""Clauses of the record that a release decides; the others are still to be done when it has happened."""


@dataclass(frozen=True)
class SpotResults:
    """Results with the conditions they are of, the clauses that a person answers here, and what came up.

    ``consents`` are those that cover the spot, as (consent id, id of the ground).
    """

    pairs: tuple[tuple[ClauseResult, Condition], ...]
    asked: tuple[Question, ...]
    stop: tuple[str, ...]
    scenes: tuple[tuple[Permit, Scene], ...]
    consents: tuple[tuple[str, str], ...] = ()

    @property
    def results(self) -> tuple[ClauseResult, ...]:
        """One per clause of every permit, then the house rules."""
        return tuple(r for r, _ in self.pairs)

    @property
    def to_do(self) -> tuple[ClauseResult, ...]:
        """Mandatory clauses that a person must still see to."""
        return tuple(r for r, c in self.pairs if _is_to_do(r, c))

    @property
    def ruled_out(self) -> bool:
        """Whether a mandatory clause about the place, or the consent for it, is not met."""
        return any(
            r.mandatory and r.strictest is Verdict.NOT_MET
            for r, c in self.pairs
            if c.decided is Decided.PLACE or isinstance(c, ConsentRecorded)
        )

    @property
    def barred(self) -> bool:
        """Whether a clause that no place changes stands against any release."""
        bad = (Verdict.NOT_MET, Verdict.MISSING)
        return any(
            r.mandatory and r.verdict in bad
            for r, c in self.pairs
            if c.decided is Decided.ANIMAL or isinstance(c, DisposedTo)
        )


def judged_here(plan: PlanRecord, site: PlannedSite, spot: Spot, held: Held) -> SpotResults:
    """Return every clause of every permit, and the house rules, judged at a spot."""
    record = _as_record(plan, spot, held)
    book = Book(now=spot.now, earlier=held.earlier, consents=held.consents)
    by_clause = {(q.source, q.clause): q for q in clause_questions(held.permits)}
    pairs: list[tuple[ClauseResult, Condition]] = []
    asked, stop = [], []
    consents: set[tuple[str, str]] = set()
    measured = [(p, measures_of(record, p, held.region, book)) for p in held.permits]
    for permit, measures in measured:
        own = replace(
            record,
            planned=Planned(site.position, site.verdicts(permit.id)),
            answers={permit.id: _answers(by_clause.values(), spot, permit)},
        )
        judged = judge_measured(own, permit, book, measures)
        if not judged.disposal:
            stop.append(_lapsed(permit))
        conditions = _conditions(permit, judged)
        for found, condition in zip(judged.results, conditions, strict=True):
            question = by_clause[found.source, found.id] if _is_asked(found, condition) else None
            asked += [_put(question, found)] if question else []
            here = _here(found, condition, spot.answers.get(question.key) if question else None)
            pairs.append((here, condition))
            if isinstance(condition, ConsentRecorded) and here.verdict is Verdict.MET:
                consents |= set(covering_at(condition, measures.scene, measures.at, 0))
    pairs += _rules(held, *measured[0])
    scenes = tuple((permit, measures.scene) for permit, measures in measured)
    return SpotResults(tuple(pairs), tuple(asked), tuple(stop), scenes, tuple(sorted(consents)))


def _lapsed(permit: Permit) -> str:
    return f"Permit {permit.id} has no version in force now: do not release under it; call {permit.authority}"


def _conditions(permit: Permit, judged: Judged) -> tuple[Condition, ...]:
    """Return the conditions that the results of a permit are of, in their order."""
    by_name = {v.name: v for v in permit.versions}
    taking, disposal = by_name.get(judged.taking), by_name.get(judged.disposal)
    return (*(taking.of_taking if taking else ()), *(disposal.of_disposal if disposal else ()))


def _rules(held: Held, permit: Permit, measures: Measures) -> list[tuple[ClauseResult, Condition]]:
    """Return the house rules judged in the first permit's zone, with what is measured already."""
    rules = bind(held.house_rules, measures.scene, source=HOUSE_RULE, zone=permit.zone)
    return [(judge(rule, measures, 0), rule.condition) for rule in rules]


def _answers(asked: Iterable[Question], spot: Spot, permit: Permit) -> dict[str, str]:
    """Return clause id → answer, of one permit."""
    return {
        q.clause: str(spot.answers[q.key]) for q in asked if q.source == permit.id and q.key in spot.answers
    }


def _is_asked(found: ClauseResult, condition: Condition) -> bool:
    """Return whether a person answers a clause here; of a consent only where the map does not settle it."""
    if isinstance(condition, Attested):
        return found.applies and condition.ask_at != "return"
    reason = found.reason or ""
    if isinstance(condition, MaxReleasesNear):
        return reason == NO_BOOK
    return isinstance(condition, ConsentRecorded) and (reason == OWNER_UNKNOWN or reason.endswith(USED_UP))


def _put(question: Question, found: ClauseResult) -> Question:
    """Return the question as the case puts it: of a consent for some animals, whether any are left."""
    whose, counted, _ = (found.reason or "").partition(f", and {USED_UP}")
    if not counted:
        return question
    return replace(question, text=f"{whose[0].upper()}{whose[1:]}: are enough left of it for this one?")


def _here(found: ClauseResult, condition: Condition, answer: Answer | None) -> ClauseResult:
    """Return a result as it stands before the release: what falls due later is not missing yet."""
    return doubted(_before(found, condition, answer))


def _before(found: ClauseResult, condition: Condition, answer: Answer | None) -> ClauseResult:
    if not found.applies:
        return found
    if isinstance(condition, RecordCondition) and not isinstance(condition, _DECIDED_NOW):
        return replace(
            found,
            verdict=None,
            reason=condition.not_checked,
            value=None,
            limit=None,
            margin=None,
            unit="",
            at_worst=None,
        )
    if answer is Answer.UNCLEAR:
        return replace(found, verdict=Verdict.UNCERTAIN, reason="you cannot tell")
    if isinstance(condition, MaxReleasesNear) and answer is not None:
        words = "attested: few enough" if answer is Answer.YES else "too many were let go near here"
        return replace(found, verdict=ANSWERED[answer], reason=words)
    if isinstance(condition, ConsentRecorded) and answer is not None:
        words = "attested: the consent is on hand" if answer is Answer.YES else "the consent is not on hand"
        return replace(found, verdict=ANSWERED[answer], reason=words)
    return found


def _is_to_do(found: ClauseResult, condition: Condition) -> bool:
    record = condition.decided is Decided.RECORD
    return record and found.mandatory and found.applies and found.verdict is None and not found.house


def _as_record(plan: PlanRecord, spot: Spot, held: Held) -> Handling:
    """Return the record that a release here and now would make."""
    return Handling(
        capture_id=plan.capture_id,
        taken_at=plan.taken_at,
        captured=plan.captured,
        animal=held.animal,
        trap_checked=plan.trap_checked,
        disposal=RELEASED,
        disposed=spot.now,
        let_go_at=spot.fix,
        temperature_c=None if spot.temperature_c is None else (spot.temperature_c, spot.temperature_c),
        columns={PHOTO: spot.photo.path} if spot.photo else {},
    )
