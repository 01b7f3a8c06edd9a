"""Clauses made ready for a scene: what each asks of this ground for this animal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property, partial
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import shapely

from tussock.ground.features import Features, Geometries
from tussock.ground.region import NO_GROUND
from tussock.interval import Limit, Verdict, worst
from tussock.measure.consent import consent_demands
from tussock.measure.exact import class_distances
from tussock.measure.measured import Measured
from tussock.measure.scene import Scene
from tussock.permit.animal_kinds import SpeciesInRange
from tussock.permit.condition import Condition, Decided
from tussock.permit.demands import Demand, Depth, SameHabitat
from tussock.permit.place_kinds import NotWithin, SameHabitatAsCapture
from tussock.permit.record_kinds import ConsentRecorded
from tussock.permit.taxon import covers
from tussock.permit.time_kinds import TimeCondition, TimeFacts
from tussock.spans import posix
from tussock.species.animal import Animal, FoundIn

HOUSE_RULE = "house rule"
SAME_HABITAT_M = 50.0
"""How near the site's natural class must come to the capture [m] (design choice of this project)."""
UNKNOWN_RANGE_M = 300.0
"""Stands in for the home-range radius where it is not known [m] (design choice of this project)."""


class Standing(StrEnum):
    """Whether a clause can be judged here."""

    READY = "ready"
    CLOCK = "by the clock"
    TO_DO = "by the record"
    NOT_CHECKED = "not checked"
    NOT_APPLYING = "does not apply"
    LAYER_MISSING = "layer missing"
    INPUT_MISSING = "input missing"


@dataclass(frozen=True)
class Facts:
    """What clauses ask of an animal, in the words of the permit file."""

    scientific_name: str
    danger: str
    origin: str
    life_stage: str
    gravid: str
    condition: str
    found_in: str
    release_month: int


@dataclass(frozen=True)
class Clause:
    """A condition bound to a scene.

    Attributes
    ----------
    condition
        As read.
    source
        The permit's id, or ``house rule``.
    standing, why
        Whether it is judged here, and if not why, in words.
    demands
        What it asks of the ground, limits filled in.
    screened_by
        What is screened instead where that says the same and can be bounded better.
    proofs
        Where given, one of them must be met besides; else a person has to see to the clause.
    zone
        The permit's time zone; ``None`` for house rules.
    doubt
        What would settle whether it applies, in words; empty where it surely does, or does not.
    """

    condition: Condition
    source: str
    standing: Standing
    why: str = ""
    demands: tuple[Demand, ...] = ()
    screened_by: tuple[Demand, ...] = ()
    proofs: tuple[Demand, ...] = ()
    zone: ZoneInfo | None = None
    doubt: str = ""

    @property
    def coarse(self) -> tuple[Demand, ...]:
        """What screening bounds: met exactly where the clause is."""
        return self.screened_by or self.demands

    @cached_property
    def words(self) -> str:
        """What it computes, in one plain sentence."""
        return self.condition.words()

    @property
    def key(self) -> str:
        """Tells clauses of several permits apart."""
        return f"{self.source}|{self.condition.id}"

    @property
    def decides_place(self) -> bool:
        """Whether a place must meet it to be offered."""
        return self.standing is Standing.READY and bool(self.demands) and self.condition.mandatory

    @property
    def to_do(self) -> bool:
        """Whether a person must see to it whatever the place."""
        return self.standing is Standing.TO_DO and self.condition.mandatory


def facts_of(scene: Scene) -> tuple[Facts, ...]:
    """Return what clauses ask of the scene's animal, for every species and month that it may be."""
    found: tuple[Facts, ...] = scene.made("facts", lambda: _shared_facts(scene))
    return found


def _shared_facts(scene: Scene) -> tuple[Facts, ...]:
    """Return the facts; the same object wherever they are the same."""
    facts = tuple(_facts(scene))
    same: tuple[Facts, ...] = scene.shared(("facts", facts), lambda: facts)
    return same


def _facts(scene: Scene) -> Iterator[Facts]:
    animal = scene.case.animal
    months = dict.fromkeys(day.month for day in scene.case.days)
    for profile in animal.profiles:
        for month in months:
            yield Facts(
                scientific_name=profile.scientific_name,
                danger=str(profile.danger) if profile.known else "",
                origin=str(animal.origin),
                life_stage=str(animal.life_stage),
                gravid=str(animal.gravid),
                condition=str(animal.condition or ""),
                found_in=str(animal.found_in or ""),
                release_month=month,
            )


def judge_animal(condition: Condition, scene: Scene) -> tuple[Verdict, str]:
    """Return the verdict that the animal decides, and why.

    The worst of the species that it may be; not met only where it is so whichever of them it is.
    """
    facts = facts_of(scene.taking if condition.of_taking else scene)
    found = [condition.judge_animal(one) for one in facts]
    verdict = worst([v for v, _ in found])
    why = next(words for v, words in found if v is verdict)
    if verdict is Verdict.NOT_MET and any(v is not verdict for v, _ in found):
        names = dict.fromkeys(one.scientific_name for one in facts)
        return Verdict.MISSING, f"it depends on {which_of(names)}: {why}"
    return verdict, why


def which_of(names: Iterable[str]) -> str:
    """Return the question which of some species it is, in words."""
    return f"which species it is ({' or '.join(name or 'one without a name' for name in names)})"


def bind(
    conditions: Iterable[Condition], scene: Scene, *, source: str, zone: ZoneInfo | None = None
) -> tuple[Clause, ...]:
    """Return the conditions as clauses of this scene.

    Parameters
    ----------
    source
        The permit's id, or ``house rule``.
    zone
        The permit's time zone: clauses that the clock decides need it.
    """
    return tuple(_bound(c, scene, source, zone) for c in conditions)


def _bound(condition: Condition, scene: Scene, source: str, zone: ZoneInfo | None) -> Clause:
    """Bind a condition; where the case does not decide how, once for all scenes of a job."""
    misfit, doubt = fit(condition, scene)
    made = partial(Clause, condition, source, zone=zone, doubt=doubt)
    if not misfit and _by_case(condition):
        return _ready(condition, scene, zone, made)
    # the clause keeps the condition, so that its identity is not given to another
    clause: Clause = scene.shared(
        ("clause", id(condition), misfit, doubt, source, zone),
        lambda: (
            made(standing=Standing.NOT_APPLYING, why=misfit)
            if misfit
            else _ready(condition, scene, zone, made)
        ),
    )
    return clause


def _by_case(condition: Condition) -> bool:
    """Return whether the place of capture, the clock, the day or the consents decide how it is bound."""
    return (
        isinstance(condition, ConsentRecorded | SpeciesInRange | SameHabitatAsCapture)
        or condition.decided is Decided.TIME
        or (isinstance(condition, NotWithin) and condition.unless_captured_within)
    )


def _ready(condition: Condition, scene: Scene, zone: ZoneInfo | None, made: Callable[..., Clause]) -> Clause:
    """Bind a condition that is, or may be, for the animal."""
    if isinstance(condition, ConsentRecorded):
        demands, proofs = consent_demands(condition, scene)
        return made(standing=Standing.READY, demands=demands, proofs=proofs)
    if condition.decided is Decided.TIME:
        return _timed(condition, scene, zone, made)
    if condition.decided is Decided.RECORD:
        return made(standing=Standing.TO_DO, why=condition.not_checked)
    if not condition.judged:
        return made(standing=Standing.NOT_CHECKED, why=condition.not_checked or "not checked")
    return _grounded(condition, scene, made)


def fit(condition: Condition, scene: Scene) -> tuple[str, str]:
    """Return why a clause is for none of the species and months it may be, and what would settle it.

    Both are empty where it is for all of them.
    """
    if condition.applies_to is None:
        return "", ""
    facts = facts_of(scene.taking if condition.of_taking else scene)
    each = [condition.misfit(one) for one in facts]
    if all(each):
        return each[0], ""
    wanted = [
        name for one, away in zip(facts, each, strict=True) if not away for name in condition.unknown(one)
    ]
    return "", ", ".join(dict.fromkeys([*_divided(facts, each), *wanted]))


def _divided(facts: Iterable[Facts], misfits: Iterable[str]) -> Iterator[str]:
    """Yield what a clause is for some of and not for the others: the species, the months."""
    said = {
        (one.scientific_name, one.release_month): bool(away) for one, away in zip(facts, misfits, strict=True)
    }
    names, months = dict.fromkeys(name for name, _ in said), dict.fromkeys(month for _, month in said)
    if any(len({said[name, month] for name in names}) > 1 for month in months):
        yield which_of(names)
    if any(len({said[name, month] for month in months}) > 1 for name in names):
        yield "the month"


def _grounded(condition: Condition, scene: Scene, made: Callable[..., Clause]) -> Clause:
    """Bind what the ground or the animal decides."""
    missing = [use.layer for use in condition.layers() if not scene.region.has(use.layer)]
    if missing:
        why = NO_GROUND if scene.region.blank else f"the region has no layer {', '.join(missing)}"
        return made(standing=Standing.LAYER_MISSING, why=why)
    if isinstance(condition, SpeciesInRange):
        return _in_range(condition, scene, made)
    demands = condition.demands()
    if isinstance(condition, NotWithin) and condition.unless_captured_within:
        demands = tuple(_sparing(d, scene) for d in demands)
    if any(isinstance(d.quantity, SameHabitat) for d in demands):
        return _same_habitat(scene, made)
    return made(standing=Standing.READY, demands=demands)


def _timed(condition: Condition, scene: Scene, zone: ZoneInfo | None, made: Callable[..., Clause]) -> Clause:
    needs = condition.needs if isinstance(condition, TimeCondition) else ""
    if zone is None or scene.case.captured is None or not isinstance(condition, TimeCondition):
        return made(standing=Standing.NOT_CHECKED, why=f"not checked: it needs {needs}")
    capture = scene.case.capture
    lacking = condition.lacking(time_facts(scene, zone, capture.longitude, capture.latitude))
    if lacking:
        return made(standing=Standing.INPUT_MISSING, why=lacking)
    return made(standing=Standing.CLOCK)


def time_facts(
    scene: Scene, zone: ZoneInfo, longitude: float, latitude: float, *, slack_deg: float = 0.0
) -> TimeFacts:
    """Return what the clock is held against for a release at a place [degrees]."""
    case = scene.case
    assert case.captured is not None  # bound clauses have it
    return TimeFacts(
        captured=posix(case.captured),
        zone=zone,
        longitude=longitude,
        latitude=latitude,
        active_periods=tuple(str(p.active_period or "") for p in case.animal.profiles),
        trap_checked=None if case.trap_checked is None else posix(case.trap_checked),
        in_trap=_in_trap(case.animal),
        slack_deg=slack_deg,
    )


def _in_trap(animal: Animal) -> bool | None:
    return None if animal.found_in is None else animal.found_in is FoundIn.TRAP_OR_NETTING


def _in_range(condition: SpeciesInRange, scene: Scene, made: Callable[..., Clause]) -> Clause:
    """Bind the mapped range of every species that it may be; a layer without one settles nothing."""
    mapped = sorted({str(c) for c in scene.features(condition.layer).classes if c})
    demands = []
    for name in scene.case.animal.names:
        own = frozenset(c for c in mapped if covers(c, name))
        if not own:
            why = f"layer {condition.layer} has no range of {name}"
            return made(standing=Standing.INPUT_MISSING, why=why)
        demands.append(Demand(Depth(condition.layer, own), Limit(at_least=0.0)))
    return made(standing=Standing.READY, demands=tuple(demands))


def _sparing(demand: Demand, scene: Scene) -> Demand:
    """Spare the areas that surely hold the capture and that a consent in force names."""
    if not isinstance(demand.quantity, Depth):
        return demand
    layer = demand.quantity.layer
    found = scene.features(layer)
    reach = scene.capture.radius_m + scene.error_m(layer)
    point = scene.capture.points[0]
    named = {c.feature_id for c in scene.case.consents_in_force() if c.layer == layer and c.feature_id}
    if not named:
        return demand
    ids, geometries, boundaries = scene.shared(
        ("named", id(found), frozenset(named)), lambda: _of_ids(found, named)
    )
    edge = shapely.distance(boundaries, point)
    holds = shapely.intersects(geometries, point)
    surely, perhaps = holds & (edge >= reach), holds | (edge <= reach)
    spared = frozenset(map(str, ids[surely]))
    maybe = frozenset(map(str, ids[perhaps])) - spared
    return replace(demand, quantity=replace(demand.quantity, spared=spared, maybe_spared=maybe))


def _of_ids(found: Features, ids: Iterable[str]) -> tuple[npt.NDArray[np.str_], Geometries, Geometries]:
    """Return ids, areas and outlines of the features of some ids."""
    every = found.text("ids")
    ours = np.isin(every, sorted(ids))
    return every[ours], found.geometries[ours], np.asarray(shapely.boundary(found.geometries[ours]))


def _same_habitat(scene: Scene, made: Callable[..., Clause]) -> Clause:
    """Bind the limit, and screen by the union of the classes that lie within it of the capture.

    The clause is met exactly where the place's disc lies wholly in those classes. Where the habitat may
    have been in several states it is not screened.
    """
    metres, loosened = same_habitat_limit_m(scene)
    limit = Limit(at_most=metres)
    demand = Demand(SameHabitat(loosened), limit)
    if len(scene.states("habitat")) > 1:
        return made(standing=Standing.READY, demands=(demand,))
    near = frozenset(name for name, there in _by_class(scene).items() if there.met(limit)[0])
    coarse = Demand(Depth("habitat", near), Limit(at_least=0.0))
    return made(standing=Standing.READY, demands=(demand,), screened_by=(coarse,))


def _by_class(scene: Scene) -> dict[str, Measured]:
    made: dict[str, Measured] = scene.made("class distances", lambda: class_distances(scene))
    return made


def same_habitat_limit_m(scene: Scene) -> tuple[float, float]:
    """Return how near the site's natural class must come to the capture [m], and how much wider it may be.

    50 m, or the home-range radius where no natural class can lie within 50 m: the smallest of the species
    that it may be. Where one may but need not, the limit is one of the two: the narrow one is held, and
    missing it by less than the difference is uncertain. So it is where the habitat may have been otherwise.
    """
    radii = [p.home_range_radius_m for p in scene.case.animal.profiles]
    wide = max(SAME_HABITAT_M, min(UNKNOWN_RANGE_M if r is None else r for r in radii))
    low = min((float(m.low[0]) for m in _by_class(scene).values()), default=np.inf)
    high = min((float(m.high[0]) for m in _by_class(scene).values()), default=np.inf)
    sure = len(scene.states("habitat")) == 1
    if low > SAME_HABITAT_M and sure:
        return wide, 0.0
    return SAME_HABITAT_M, wide - SAME_HABITAT_M if high > SAME_HABITAT_M or not sure else 0.0
