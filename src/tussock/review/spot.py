"""The check at the spot: every clause again where one stands, now, and what only a person can see.

Judged by the same call as a record afterwards, as if the animal were let go at this fix at this moment.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from tussock.geodesy import bearing_deg, distance_m
from tussock.ground.region import Region
from tussock.interval import Verdict, worst
from tussock.measure.clauses import HOUSE_RULE, bind
from tussock.measure.consent import OWNER_UNKNOWN
from tussock.measure.judging import ClauseResult, judge
from tussock.measure.scene import EarlierRelease, Scene
from tussock.permit.condition import Condition, Decided
from tussock.permit.consents import Consent
from tussock.permit.permit_file import Permit
from tussock.permit.record_answers import PHOTO
from tussock.permit.record_kinds import (
    Attested,
    ConsentRecorded,
    DisposedTo,
    RecordCondition,
    WeatherWithin,
)
from tussock.position import Position
from tussock.review.handling import RELEASED, Handling, Planned
from tussock.review.judged import Book, Judged, case_of, judge_record, lies_in, measures_of
from tussock.review.planned import PlannedSite, PlanRecord
from tussock.review.spot_hours import Deadline, deadline
from tussock.review.spot_next import NextSite, in_time, next_site, seen_from
from tussock.review.spot_questions import ANIMAL, LOOK, Answer, Question, clause_questions
from tussock.species.intake import Animal

_DECIDED_NOW = (Attested, ConsentRecorded, DisposedTo, WeatherWithin)
"""Clauses of the record that a release decides; the others are still to be done when it has happened."""
_ANSWERED = {Answer.YES: Verdict.MET, Answer.NO: Verdict.NOT_MET, Answer.UNCLEAR: Verdict.UNCERTAIN}


@dataclass(frozen=True)
class Photo:
    """A photo taken at the spot: its path as given, and its SHA-256."""

    path: str
    sha256: str


@dataclass(frozen=True, kw_only=True)
class Spot:
    """What is known by standing there.

    Attributes
    ----------
    number
        Which site of the plan is meant.
    fix, now
        Where one stands, with its radius, and when.
    answers
        Question's key → yes, no or unclear.
    why
        The person's own word on a no.
    temperature_c
        Of the air [°C]; ``None`` where it was not taken.
    """

    number: int
    fix: Position
    now: datetime
    answers: Mapping[str, Answer] = field(default_factory=dict)
    why: str = ""
    photo: Photo | None = None
    temperature_c: float | None = None


@dataclass(frozen=True, kw_only=True)
class Held:
    """What a spot is held against.

    Attributes
    ----------
    earlier
        Releases of other captures.
    rejected
        Sites of the plan that were rejected before.
    contacts
        Way on → whom to call.
    """

    region: Region
    permits: tuple[Permit, ...]
    animal: Animal
    house_rules: tuple[Condition, ...] = ()
    consents: tuple[Consent, ...] = ()
    earlier: tuple[EarlierRelease, ...] = ()
    rejected: frozenset[int] = frozenset()
    contacts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class SpotCheck:
    """What a check came to.

    Attributes
    ----------
    site
        The planned one; ``away_m`` and ``bearing_deg`` lead from the fix to its centre.
    in_disc
        Whether the fix's disc lies in the planned disc.
    results
        One per clause of every permit, then the house rules.
    questions
        Those to be answered here; ``answers`` has those that were.
    to_do
        Mandatory clauses that fall due after the release, or that the register leaves open.
    stop
        Why nothing may be released under a permit today, whatever the spot.
    ends
        When the allowed time runs out; ``None`` where it does not within two days.
    after
        The next open site of the plan, where this one will not do, or is not certain.
    way_on
        What to do instead where there is none, in sentences.
    """

    plan: PlanRecord
    spot: Spot
    site: PlannedSite
    away_m: float
    bearing_deg: float
    in_disc: bool
    results: tuple[ClauseResult, ...]
    questions: tuple[Question, ...]
    to_do: tuple[ClauseResult, ...]
    stop: tuple[str, ...]
    ends: Deadline | None
    after: NextSite | None = None
    way_on: tuple[str, ...] = ()

    @property
    def answers(self) -> dict[str, Answer]:
        """Answers to the questions asked here, in their order."""
        return {q.key: self.spot.answers[q.key] for q in self.questions if q.key in self.spot.answers}

    @property
    def unanswered(self) -> tuple[Question, ...]:
        """Questions still open."""
        return tuple(q for q in self.questions if q.key not in self.spot.answers)

    def answered(self, answer: Answer) -> tuple[Question, ...]:
        """Return the questions answered so."""
        return tuple(q for q in self.questions if self.spot.answers.get(q.key) is answer)

    @property
    def verdict(self) -> Verdict:
        """The worst of the mandatory clauses and of the answers."""
        own = [r.verdict for r in self.results if r.mandatory and r.verdict is not None]
        looked = [_looked(self.spot, q) for q in self.questions if not q.clause]
        return worst([*own, *looked, *(Verdict.MISSING for _ in self.stop)])

    @property
    def against(self) -> tuple[ClauseResult, ...]:
        """Mandatory clauses that are not met, worst first."""
        order = (Verdict.NOT_MET, Verdict.MISSING, Verdict.UNCERTAIN)
        bad = [r for r in self.results if r.mandatory and r.verdict in order]
        return tuple(sorted(bad, key=lambda r: order.index(r.verdict or Verdict.NOT_MET)))

    @property
    def rejected(self) -> bool:
        """Whether the planned site is ruled out: by a *no*, or because a clause is not met within its disc."""
        return bool(self.answered(Answer.NO)) or (self.near and self.verdict is Verdict.NOT_MET)

    @property
    def near(self) -> bool:
        """Whether the fix may be at the planned site: the two discs touch."""
        return self.away_m <= self.site.radius_m + self.spot.fix.radius_m

    @property
    def counts(self) -> tuple[int, int, int, int]:
        """Clauses of the permits met by calculation, attested, to be seen to, and not checked."""
        own = [r for r in self.results if not r.house and r.applies]
        met = [r for r in own if r.verdict is Verdict.MET]
        asked = {(q.source, q.clause) for q in self.answered(Answer.YES)}
        attested = sum((r.source, r.id) in asked for r in met)
        open_ones = sum(r.verdict is None for r in own)
        return len(met) - attested, attested, len(self.to_do), open_ones - len(self.to_do)


def _looked(spot: Spot, question: Question) -> Verdict:
    answer = spot.answers.get(question.key)
    return Verdict.MISSING if answer is None else _ANSWERED[answer]


def check_spot(plan: PlanRecord, spot: Spot, held: Held) -> SpotCheck:
    """Return the check of a site of a plan, at a fix and a moment.

    Unanswered questions leave the verdict missing, never met.

    Raises
    ------
    KeyError
        When the plan has no site of that number.
    InputError
        When the fix lies outside the region, or ground files cannot be used.
    """
    site = plan.site(spot.number)
    if site is None:
        raise KeyError(spot.number)
    held.region.check_holds(spot.fix, where="--at")
    record = _as_record(plan, spot, held)
    found = _judged(record, spot, held, site)
    ends = (spot.fix.longitude, spot.fix.latitude, site.longitude, site.latitude)
    made = SpotCheck(
        plan=plan,
        spot=spot,
        site=site,
        away_m=float(distance_m(*ends)),
        bearing_deg=bearing_deg(*ends),
        in_disc=lies_in(spot.fix, site.position),
        results=found.results,
        questions=(*LOOK, *found.asked),
        to_do=found.to_do,
        stop=found.stop,
        ends=deadline(found.scenes, spot.fix, spot.now),
    )
    return _led_on(made, held, barred=found.barred)


def _as_record(plan: PlanRecord, spot: Spot, held: Held) -> Handling:
    """Return the record that a release here and now would make."""
    return Handling(
        capture_id=plan.capture_id,
        taken_at=plan.taken_at,
        captured=plan.captured,
        animal=held.animal,
        disposal=RELEASED,
        disposed=spot.now,
        let_go_at=spot.fix,
        temperature_c=None if spot.temperature_c is None else (spot.temperature_c, spot.temperature_c),
        columns={PHOTO: spot.photo.path} if spot.photo else {},
    )


@dataclass(frozen=True)
class _Judged:
    """Results with the conditions they are of, the clauses that a person answers here, and what came up."""

    pairs: tuple[tuple[ClauseResult, Condition], ...]
    asked: tuple[Question, ...]
    stop: tuple[str, ...]
    scenes: tuple[tuple[Permit, Scene], ...]

    @property
    def results(self) -> tuple[ClauseResult, ...]:
        return tuple(r for r, _ in self.pairs)

    @property
    def to_do(self) -> tuple[ClauseResult, ...]:
        return tuple(r for r, c in self.pairs if _is_to_do(r, c))

    @property
    def barred(self) -> bool:
        """Whether a clause that no place changes stands against any release."""
        bad = (Verdict.NOT_MET, Verdict.MISSING)
        return any(
            r.mandatory and r.verdict in bad
            for r, c in self.pairs
            if c.decided is Decided.ANIMAL or isinstance(c, DisposedTo)
        )


def _judged(record: Handling, spot: Spot, held: Held, site: PlannedSite) -> _Judged:
    """Judge every permit and the house rules."""
    book = Book(now=spot.now, earlier=held.earlier, consents=held.consents)
    by_clause = {(q.source, q.clause): q for q in clause_questions(held.permits)}
    pairs: list[tuple[ClauseResult, Condition]] = []
    asked, stop, scenes = [], [], []
    for permit in held.permits:
        own = replace(
            record,
            planned=Planned(site.position, site.verdicts(permit.id)),
            answers={permit.id: _answers(by_clause.values(), spot, permit)},
        )
        judged = judge_record(own, permit, held.region, book)
        if not judged.disposal:
            stop.append(_lapsed(permit))
        conditions = _conditions(permit, judged)
        for found, condition in zip(judged.results, conditions, strict=True):
            question = by_clause[found.source, found.id] if _is_asked(found, condition) else None
            asked += [question] if question else []
            pairs.append(
                (_here(found, condition, spot.answers.get(question.key) if question else None), condition)
            )
        scenes.append((permit, Scene(held.region, case_of(own, permit, book, spot.now))))
    pairs += _rules(record, spot, held, scenes[0])
    return _Judged(tuple(pairs), tuple(asked), tuple(stop), tuple(scenes))


def _lapsed(permit: Permit) -> str:
    return f"Permit {permit.id} has no version in force now: do not release under it; call {permit.authority}"


def _conditions(permit: Permit, judged: Judged) -> tuple[Condition, ...]:
    """Return the conditions that the results of a permit are of, in their order."""
    by_name = {v.name: v for v in permit.versions}
    taking, disposal = by_name.get(judged.taking), by_name.get(judged.disposal)
    return (*(taking.of_taking if taking else ()), *(disposal.of_disposal if disposal else ()))


def _rules(
    record: Handling, spot: Spot, held: Held, first: tuple[Permit, Scene]
) -> list[tuple[ClauseResult, Condition]]:
    permit, scene = first
    measures = measures_of(record, scene, spot.now)
    rules = bind(held.house_rules, scene, source=HOUSE_RULE, zone=permit.zone)
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
    return isinstance(condition, ConsentRecorded) and found.reason == OWNER_UNKNOWN


def _here(found: ClauseResult, condition: Condition, answer: Answer | None) -> ClauseResult:
    """Return a result as it stands before the release: what falls due later is not missing yet."""
    if not found.applies:
        return found
    if isinstance(condition, RecordCondition) and not isinstance(condition, _DECIDED_NOW):
        return replace(
            found, verdict=None, reason=condition.not_checked, value=None, limit=None, margin=None, unit=""
        )
    if answer is Answer.UNCLEAR:
        return replace(found, verdict=Verdict.UNCERTAIN, reason="you cannot tell")
    if isinstance(condition, ConsentRecorded) and answer is not None:
        words = "attested: the consent is on hand" if answer is Answer.YES else "the consent is not on hand"
        return replace(found, verdict=_ANSWERED[answer], reason=words)
    return found


def _is_to_do(found: ClauseResult, condition: Condition) -> bool:
    record = condition.decided is Decided.RECORD
    return record and found.mandatory and found.applies and found.verdict is None and not found.house


def _led_on(made: SpotCheck, held: Held, *, barred: bool) -> SpotCheck:
    """Return the check with where to go, or what to do, where this spot will not do."""
    if made.spot.answers.get(ANIMAL) is Answer.NO:
        return replace(made, way_on=(_called(_TO_THE_VET, held.contacts.get("carer", "")),))
    authority = held.contacts.get("authority", "")
    if made.stop or barred:
        return replace(made, way_on=(*made.stop, _called(_NO_RELEASE, authority)))
    if made.verdict not in (Verdict.NOT_MET, Verdict.UNCERTAIN):
        return made
    after = _after(made, held)
    way_on = () if after else (_called(_NONE_LEFT, authority),)
    return replace(made, after=after, way_on=way_on)


def _after(made: SpotCheck, held: Held) -> NextSite | None:
    """Return the planned site itself where one stands beside it, or else the next one."""
    fix, now, number = made.spot.fix, made.spot.now, made.site.rank
    beside = not made.near and not made.rejected and number not in held.rejected
    if beside and in_time(made.site, now):
        return seen_from(fix, made.site)
    return next_site(made.plan, but=number, rejected=held.rejected, fix=fix, now=now)


_TO_THE_VET = "It is not alert and moving normally: it is not released. It goes to a vet or a licensed carer."
_NO_RELEASE = "Nothing may be released as things stand, at this site or another. Call the authority."
_NONE_LEFT = "No site left: no other site of this plan is open and in time. Call the authority."


def _called(sentence: str, contact: str) -> str:
    return f"{sentence} {contact}".strip()
