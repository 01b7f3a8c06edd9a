"""The check at the spot: every clause again where one stands, now, and what only a person can see.

Judged by the same call as a record afterwards, as if the animal were let go at this fix at this moment.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from tussock.geodesy import bearing_deg, distance_m
from tussock.interval import Verdict, worst
from tussock.measure.judging import ClauseResult
from tussock.review.judged import lies_in
from tussock.review.planned import PlannedSite, PlanRecord
from tussock.review.spot_facts import Held, Photo, Spot
from tussock.review.spot_hours import Deadline, deadline
from tussock.review.spot_judged import judged_here
from tussock.review.spot_next import NextSite, in_time, next_site, seen_from
from tussock.review.spot_questions import ANIMAL, ANSWERED, LOOK, Answer, Question

__all__ = ["Held", "Photo", "Spot", "SpotCheck", "check_spot"]


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
    ruled_out
        Whether a mandatory clause about the place is not met.
    stop
        Why nothing may be released under a permit today, whatever the spot.
    ends
        When the allowed time runs out; ``None`` where it does not within two days.
    after
        The next open site of the plan, where this one will not do, or is not certain.
    way_on
        What to do instead where there is none, in sentences.
    consents
        Those that cover the spot, as (consent id, id of the ground); empty where a clause does not prove one.
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
    ruled_out: bool
    stop: tuple[str, ...]
    ends: Deadline | None
    after: NextSite | None = None
    way_on: tuple[str, ...] = ()
    consents: tuple[tuple[str, str], ...] = ()

    @property
    def answers(self) -> dict[str, Answer]:
        """Answers to the questions asked here, in their order."""
        return {q.key: self.spot.answers[q.key] for q in self.questions if q.key in self.spot.answers}

    @property
    def unanswered(self) -> tuple[Question, ...]:
        """Questions still open."""
        return tuple(q for q in self.questions if q.key not in self.spot.answers)

    @property
    def open_questions(self) -> tuple[Question, ...]:
        """Questions whose answers can still change anything: none once something is not met."""
        settled = self.strictest is Verdict.NOT_MET or bool(self.stop)
        return () if settled else self.unanswered

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
    def strictest(self) -> Verdict:
        """The same with every doubt whether a clause applies going against the spot."""
        return worst([self.verdict, *(r.strictest for r in self.results if r.mandatory and r.strictest)])

    @property
    def against(self) -> tuple[ClauseResult, ...]:
        """Mandatory clauses that are not met, worst first."""
        order = (Verdict.NOT_MET, Verdict.MISSING, Verdict.UNCERTAIN)
        bad = [r for r in self.results if r.mandatory and r.verdict in order]
        return tuple(sorted(bad, key=lambda r: order.index(r.verdict or Verdict.NOT_MET)))

    @property
    def rejected(self) -> bool:
        """Whether the planned site is out: a *no*, or a clause about the place not met where it lies.

        A clause of the clock, or the animal itself, says nothing about the site.
        """
        noes = [q for q in self.answered(Answer.NO) if q.key != ANIMAL]
        return bool(noes) or (self.near and self.ruled_out)

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
    return Verdict.MISSING if answer is None else ANSWERED[answer]


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
    found = judged_here(plan, site, spot, held)
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
        ruled_out=found.ruled_out,
        stop=found.stop,
        ends=deadline(found.scenes, spot.fix, spot.now),
        consents=found.consents,
    )
    return _led_on(made, held, barred=found.barred)


def _led_on(made: SpotCheck, held: Held, *, barred: bool) -> SpotCheck:
    """Return the check with where to go, or what to do, where this spot will not do."""
    if made.spot.answers.get(ANIMAL) is Answer.NO:
        return replace(made, way_on=(_called(_TO_THE_VET, held.contacts.get("carer", "")),))
    authority = held.contacts.get("authority", "")
    if made.stop or barred:
        return replace(made, way_on=(*made.stop, _called(_NO_RELEASE, authority)))
    doubtful = any(r.mandatory and r.at_worst for r in made.results)  # a clause may forbid this spot
    if made.verdict not in (Verdict.NOT_MET, Verdict.UNCERTAIN) and not doubtful:
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
