"""Before any cell is looked at: the scene, the clauses in force, and what stands against any site."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from tussock.interval import Verdict
from tussock.measure.clauses import HOUSE_RULE, Clause, Standing, bind
from tussock.measure.judging import ClauseResult, Measures, judge
from tussock.measure.scene import Case, Scene
from tussock.permit.condition import Decided
from tussock.permit.demands import DistanceFromCapture, DistanceTo
from tussock.permit.permit_file import Permit, Version
from tussock.planning.record import PermitFacts
from tussock.planning.setting import Capture, Setting
from tussock.species.intake import Admission, gate

NO_CIRCLE_M = 2000.0
"""Circle where neither a distance clause nor a home range is known [m] (judgement)."""
LEAST_CIRCLE_M, MOST_CIRCLE_M = 1000.0, 5000.0
"""Circle without a distance clause: ten home-range diameters between these [m] (judgement)."""


@dataclass(frozen=True)
class Prepared:
    """One capture in its setting, made ready.

    Attributes
    ----------
    clauses
        Of every permit's version in force at the planned release, then the house rules.
    permits
        Each permit with its version; empty where none is in force.
    lapsed
        STOP lines for permits without a version in force.
    animal
        Results of the clauses that the animal decides.
    admission
        What the gate at intake says.
    """

    capture: Capture
    setting: Setting
    scene: Scene
    clauses: tuple[Clause, ...]
    permits: tuple[PermitFacts, ...]
    lapsed: tuple[str, ...]
    animal: tuple[ClauseResult, ...]
    admission: Admission

    @property
    def missing(self) -> tuple[Clause, ...]:
        """Mandatory clauses of a permit that need a layer the region lacks."""
        return tuple(
            c
            for c in self.clauses
            if c.standing is Standing.LAYER_MISSING and c.condition.mandatory and c.source != HOUSE_RULE
        )

    @property
    def against(self) -> tuple[ClauseResult, ...]:
        """Mandatory clauses that this animal does not meet."""
        bad = (Verdict.NOT_MET, Verdict.MISSING)
        return tuple(r for r in self.animal if r.mandatory and r.verdict in bad)

    @property
    def missing_layers(self) -> tuple[str, ...]:
        """Layers that mandatory clauses need and the region lacks."""
        needed = {use.layer for c in self.missing for use in c.condition.layers()}
        return tuple(sorted(layer for layer in needed if not self.scene.region.has(layer)))


def prepare(capture: Capture, setting: Setting) -> Prepared:
    """Return a capture made ready for planning.

    Raises
    ------
    InputError
        When the capture lies outside the region, or ground files cannot be used.
    """
    setting.region.check_holds(capture.position, where=f"capture {capture.id}".strip())
    scene = _scene(capture, setting)
    clauses, permits, lapsed = _in_force(scene, setting)
    measures = Measures(scene, scene.capture)
    animal = tuple(judge(c, measures, 0) for c in clauses if c.condition.decided is Decided.ANIMAL)
    admission = gate(capture.animal, country=setting.region.file.country, contacts=setting.contacts)
    return Prepared(capture, setting, scene, clauses, permits, lapsed, animal, admission)


def _scene(capture: Capture, setting: Setting) -> Scene:
    day = setting.released.astimezone(setting.permits[0].zone).date()
    before = tuple(r for r in setting.earlier if r.instant <= setting.released)
    case = Case(capture.position, capture.animal, setting.released, day, before, setting.consents)
    return Scene(setting.region, case)


def _in_force(
    scene: Scene, setting: Setting
) -> tuple[tuple[Clause, ...], tuple[PermitFacts, ...], tuple[str, ...]]:
    clauses: list[Clause] = []
    facts, lapsed = [], []
    for permit in setting.permits:
        day = setting.released.astimezone(permit.zone).date()
        version = permit.version_on(day)
        name = version.name if version else ""
        facts.append(PermitFacts(permit.id, permit.holder, permit.authority, name, permit.file))
        if version is None:
            lapsed.append(_lapse(permit, str(day)))
        else:
            clauses += bind(version.conditions, scene, source=permit.id)
    clauses += bind(setting.house_rules, scene, source=HOUSE_RULE)
    return tuple(clauses), tuple(facts), tuple(lapsed)


def _lapse(permit: Permit, day: str) -> str:
    spans = "; ".join(_span(v) for v in permit.versions)
    return (
        f"Permit {permit.id} has no version in force on {day} ({spans}). "
        f"Do not release under it; call {permit.authority}."
    )


def _span(version: Version) -> str:
    return f"{version.valid_from} to {version.valid_to or 'open'}"


def circle(clauses: Iterable[Clause], scene: Scene) -> tuple[float, str]:
    """Return the radius of the circle searched [m] and the label of the clause it comes from.

    The smallest limit of the mandatory distance clauses that apply; without one ten home-range
    diameters, at least 1 and at most 5 km, 2 km where the home range is unknown (judgement).
    """
    limits = [
        (d.limit.at_most, c.condition.id)
        for c in clauses
        if c.decides_place
        for d in c.demands
        if isinstance(d.quantity, DistanceFromCapture) and d.limit is not None
    ]
    if limits:
        return min(limits)
    diameter = scene.case.animal.profile.home_range_diameter_m
    if diameter is None:
        return NO_CIRCLE_M, "no distance clause; home range unknown"
    wide = float(np.clip(10 * diameter, LEAST_CIRCLE_M, MOST_CIRCLE_M))
    return wide, "no distance clause; ten home-range diameters"


def setbacks(clauses: Iterable[Clause]) -> dict[str, float]:
    """Return layer → the largest setback that applies [m]."""
    out: dict[str, float] = {}
    for clause in clauses:
        for demand in clause.demands if clause.decides_place else ():
            if isinstance(demand.quantity, DistanceTo) and demand.limit is not None:
                layer = demand.quantity.layer
                out[layer] = max(out.get(layer, 0.0), demand.limit.at_least)
    return out
