"""A record judged, clause by clause, by the versions in force on its days.

The same clauses over the same measures as in planning; only the instant, the place and the answers are
those of the record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from tussock.clock import local_date
from tussock.geodesy import distance_m
from tussock.ground.region import Region
from tussock.interval import Verdict, worst
from tussock.measure.clauses import Clause, Standing, bind, which_of
from tussock.measure.consent import reference_holds
from tussock.measure.judging import ClauseResult, Measures, doubted, judge_applying
from tussock.measure.measured import Measured
from tussock.measure.scene import Case, EarlierRelease, Places, Scene, places
from tussock.permit.animal_kinds import SpeciesInRange
from tussock.permit.capture_book import BookedCapture, CaptureBook
from tussock.permit.condition import Decided
from tussock.permit.consents import Consent
from tussock.permit.demands import Quantity
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import MaxReleasesNear, NearestSuitable, SameHabitatAsCapture
from tussock.permit.record_facts import RecordFacts
from tussock.permit.record_hours import TOLERANCE_S
from tussock.permit.record_kinds import ConsentRecorded
from tussock.permit.time_kinds import MaxHoldingHours, ReleaseWindow, TimeCondition
from tussock.position import Position
from tussock.review.handling import Handling
from tussock.spans import posix

NOT_RELEASED = "does not apply: the animal was not released"
TURNED = "the times contradict each other: holding ended before the capture"
AHEAD = "the times contradict each other: what is recorded lies after the present moment"
_BY_SPECIES = (ReleaseWindow, SpeciesInRange, SameHabitatAsCapture, ConsentRecorded)
"""Clauses whose limit, or what meets it, is another for another species; besides those of the animal."""
UNCHECKED = "the times contradict each other: the trap was checked after holding ended"


@dataclass(frozen=True)
class Book:
    """What else is on record.

    Attributes
    ----------
    earlier
        Releases of other captures; ``None`` where no book of them is given.
    consents
        The consent register.
    no_register
        Whether nobody said which consents there are: none on record then means nothing.
    captures
        Every capture of the book, as they are or indexed; ``None`` where no book is given.
    now
        An open capture counts to then.
    """

    now: datetime
    earlier: tuple[EarlierRelease, ...] | None = None
    consents: tuple[Consent, ...] = ()
    captures: tuple[BookedCapture, ...] | CaptureBook | None = None
    no_register: bool = False


@dataclass(frozen=True)
class Judged:
    """A record under one permit.

    Attributes
    ----------
    taking, disposal
        Names of the versions in force at the capture and at the end of holding; empty where none was.
    results
        One per clause, in the permit's order: those of the taking first.
    contradictions
        Times of the record that cannot all be right, in words; whichever clauses there are.
    """

    permit: str
    taking: str
    disposal: str
    results: tuple[ClauseResult, ...]
    contradictions: tuple[str, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst of the mandatory clauses.

        At best ``missing`` where no version was in force or the times contradict each other: what no
        clause speaks of, or nobody can date, is not met.
        """
        found = [r.verdict for r in self.results if r.mandatory and r.verdict is not None]
        return worst([*found, *([Verdict.MISSING] if self.gaps or self.contradictions else [])])

    @property
    def gaps(self) -> tuple[str, ...]:
        """What happened while no version was in force, in words."""
        said = (("the capture", self.taking), ("the end of holding", self.disposal))
        return tuple(f"no version of {self.permit} was in force at {what}" for what, name in said if not name)


def judge_record(record: Handling, permit: Permit, region: Region, book: Book) -> Judged:
    """Return a record judged under one permit, whatever became of the animal.

    Raises
    ------
    InputError
        When ground files cannot be used.
    """
    return judge_measured(record, permit, book, measures_of(record, permit, region, book))


def judge_measured(record: Handling, permit: Permit, book: Book, measures: Measures) -> Judged:
    """Return a record judged under one permit with the measures of :func:`measures_of`."""
    before = permit.version_on(local_date(record.captured, permit.zone))
    after = permit.version_on(local_date(record.disposed or book.now, permit.zone))
    results: list[ClauseResult] = []
    for version, conditions in ((before, before.of_taking if before else ()),
                                (after, after.of_disposal if after else ())):  # fmt: skip
        if version is None:
            continue
        facts = _facts(record, permit, version, book)
        clauses = bind(conditions, measures.scene, source=permit.id, zone=permit.zone)
        results += [_result(clause, record, measures, facts) for clause in clauses]
    names = (before.name if before else "", after.name if after else "")
    return Judged(permit.id, *names, tuple(results), contradictions_in(record, book.now))


def contradictions_in(record: Handling, now: datetime) -> tuple[str, ...]:
    """Return which times of a record cannot all be right, in words; to a second."""
    ended, checked = record.disposed or now, record.trap_checked
    said = (
        (TURNED, record.disposed is not None and _before(ended, record.captured)),
        (UNCHECKED, record.disposed is not None and checked is not None and _before(ended, checked)),
        (AHEAD, any(_before(now, t) for t in (record.captured, checked, record.disposed) if t)),
    )
    return tuple(words for words, wrong in said if wrong)


def _before(one: datetime, other: datetime) -> bool:
    return posix(one) < posix(other) - TOLERANCE_S


def case_of(record: Handling, permit: Permit, book: Book) -> Case:
    """Return what a record is judged about."""
    ended = record.disposed or book.now
    return Case(
        record.taken_at,
        record.judged_as,
        ended,
        local_date(ended, permit.zone),
        tuple(r for r in book.earlier or () if r.instant <= ended),
        book.consents,
        captured=record.captured,
        capture_day=local_date(record.captured, permit.zone),
        trap_checked=record.trap_checked,
        no_book=book.earlier is None,
        no_register=book.no_register,
    )


def measures_of(record: Handling, permit: Permit, region: Region, book: Book) -> Measures:
    """Return measures at the place of release, on its day; at the capture where nothing was released."""
    scene = Scene(region, case_of(record, permit, book))
    at = place_of(record)
    return measures_at(places(at.longitude, at.latitude, radius_m=at.radius_m, plane=scene.plane), scene)


def place_of(record: Handling) -> Position:
    """Return where a record is measured: at its release, or else at the capture."""
    return record.let_go_at if record.released and record.let_go_at else record.taken_at


def measures_at(
    place: Places, scene: Scene, *, ahead: Callable[[Quantity], Measured | None] | None = None
) -> Measures:
    """Return measures of a record at its place, in its scene; ``ahead`` has what was measured already."""
    ended = posix(scene.case.released)
    return Measures(scene, place, windows=[(ended, ended)], ahead=ahead)


def _facts(record: Handling, permit: Permit, version: Version, book: Book) -> RecordFacts:
    return RecordFacts(
        zone=permit.zone,
        version_from=version.valid_from,
        version_to=version.valid_to,
        captured=record.captured,
        disposed=record.disposed,
        disposal=record.disposal,
        now=book.now,
        scientific_name=record.animal.scientific_name,
        other_names=record.judged_as.names[1:],
        individual_count=record.animal.individual_count,
        capture_id=record.capture_id,
        columns=record.columns,
        recorded=record.recorded,
        checks=record.checks,
        incidents=record.incidents,
        temperature_c=record.temperature_c,
        handlers=record.handlers,
        ended_by=record.ended_by,
        answers=record.answers.get(permit.id, {}),
        captures=book.captures,
        authorised_persons=permit.authorised_persons,
    )


def _result(clause: Clause, record: Handling, measures: Measures, facts: RecordFacts) -> ClauseResult:
    """Return the result of one clause for the record."""
    found = judge_applying(clause, measures, 0)
    if clause.standing is Standing.NOT_APPLYING:
        return found
    found = doubted(_recorded(found, clause, record, measures, facts))
    if found.verdict is Verdict.NOT_MET and isinstance(clause.condition, _BY_SPECIES):
        return _of_either(found, clause, record, measures, facts)
    return found


def _of_either(
    found: ClauseResult, clause: Clause, record: Handling, measures: Measures, facts: RecordFacts
) -> ClauseResult:
    """Return a result that is not met for one of the species it may be: only if it is so for each of them."""
    animal = measures.scene.case.animal
    for profile in animal.profiles if len(animal.profiles) > 1 else ():
        alone = replace(animal, scientific_name=profile.scientific_name, profile=profile, others=())
        own = Measures(measures.scene.of_animal(alone), measures.at, windows=measures.windows)
        (bound,) = bind([clause.condition], own.scene, source=clause.source, zone=clause.zone)
        applying = judge_applying(bound, own, 0)
        if _recorded(applying, bound, record, own, facts).verdict is not Verdict.NOT_MET:
            which = which_of(animal.names)
            reason = f"it depends on {which}: it is not met for each of them"
            return replace(found, verdict=Verdict.MISSING, doubt=which, at_worst=found.verdict, reason=reason)
    return found


def _recorded(
    found: ClauseResult, clause: Clause, record: Handling, measures: Measures, facts: RecordFacts
) -> ClauseResult:
    """Return what the record makes of what was found at its place."""
    condition = clause.condition
    if isinstance(condition, ConsentRecorded):
        return _consent(found, condition, record, measures)
    if condition.decided is Decided.RECORD:
        finding = condition.judge_record(facts)
        applies = finding.verdict is not None or "does not apply" not in finding.reason
        return replace(
            found, verdict=finding.verdict, reason=finding.reason, value=finding.value, limit=finding.limit,
            margin=finding.margin, unit=finding.unit, applies=applies,
        )  # fmt: skip
    if isinstance(condition, TimeCondition):
        return _timed(found, condition, record, facts.now)
    if _of_release(clause) and not record.released:
        return _unreleased(found, record)
    if isinstance(condition, NearestSuitable):
        return _nearest(found, record)
    if isinstance(condition, MaxReleasesNear) and found.verdict is None:  # nobody counted
        return replace(found, verdict=Verdict.MISSING)
    return found


def _of_release(clause: Clause) -> bool:
    """Return whether a clause speaks of letting the animal go, and of nothing else."""
    asks = clause.condition.decided in (Decided.PLACE, Decided.ANIMAL)
    return asks and not clause.condition.of_taking


def _unreleased(found: ClauseResult, record: Handling) -> ClauseResult:
    if record.disposal == "released":  # let go, and nobody wrote down where
        return replace(
            found, verdict=Verdict.MISSING, reason="the place of release is not recorded", value=None,
            margin=None,
        )  # fmt: skip
    return replace(found, verdict=None, reason=NOT_RELEASED, value=None, margin=None, applies=False)


def _timed(found: ClauseResult, condition: TimeCondition, record: Handling, now: datetime) -> ClauseResult:
    if condition.releases_only and record.disposal != "released":
        return _unreleased(found, record)
    from_check = isinstance(condition, MaxHoldingHours) and condition.from_ == "trap_check"
    wrong = [words for words in contradictions_in(record, now) if from_check or words != UNCHECKED]
    if wrong:
        return replace(found, verdict=Verdict.MISSING, reason=wrong[0], margin=None)
    if record.disposed is None and found.verdict is Verdict.MET:  # held, and the clock goes on
        return replace(found, verdict=None, reason="still held, within the time")
    return found


def _consent(
    found: ClauseResult, condition: ConsentRecorded, record: Handling, measures: Measures
) -> ClauseResult:
    """Return what the register says; where it names no owner, whether the record names a consent."""
    if not record.released:
        return _unreleased(found, record)
    if found.verdict is not None:
        return found
    name = record.consent_reference
    if name and reference_holds(name, condition, measures.scene):
        return replace(found, verdict=Verdict.MET, reason=f"consent {name} is named in the record")
    return replace(found, verdict=Verdict.MISSING, reason=found.reason)


def _nearest(found: ClauseResult, record: Handling) -> ClauseResult:
    """Return what was stored when the plan was made, where the release lies in the planned disc."""
    planned, at = record.planned, record.let_go_at
    stored = planned.verdicts.get(found.id) if planned else None
    if planned is None or at is None or stored is None:
        return replace(found, verdict=Verdict.MISSING, reason="no plan that judged it is named")
    if not lies_in(at, planned.position):
        return replace(found, verdict=Verdict.MISSING, reason="the release lies beyond the planned disc")
    return replace(found, verdict=stored, reason="as judged when the plan was made")


def lies_in(at: Position, disc: Position) -> bool:
    """Return whether one disc lies in another, to a millimetre."""
    away = float(distance_m(at.longitude, at.latitude, disc.longitude, disc.latitude))
    return away + at.radius_m <= disc.radius_m + 0.001


def counts(results: Iterable[ClauseResult]) -> tuple[int, int, int]:
    """Return how many clauses are met by calculation, attested, and not checked; house rules do not count."""
    own = [r for r in results if not r.house and r.applies]
    attested = sum(r.kind == "attested" and r.verdict is Verdict.MET for r in own)
    met = sum(r.verdict is Verdict.MET for r in own) - attested
    return met, attested, sum(r.verdict is None for r in own)
