"""Clauses made ready for a scene: what each asks of this ground for this animal."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import shapely

from tussock.interval import Limit
from tussock.measure.exact import class_distances
from tussock.measure.measured import Measured
from tussock.measure.scene import Scene
from tussock.permit.condition import Condition, Decided
from tussock.permit.demands import Demand, Depth, SameHabitat
from tussock.permit.place_kinds import NotWithin

HOUSE_RULE = "house rule"
SAME_HABITAT_M = 50.0
"""How near the site's natural class must come to the capture [m] (design choice of this project)."""
UNKNOWN_RANGE_M = 300.0
"""Stands in for the home-range radius where it is not known [m] (design choice of this project)."""


class Standing(StrEnum):
    """Whether a clause can be judged here."""

    READY = "ready"
    NOT_CHECKED = "not checked"
    NOT_APPLYING = "does not apply"
    LAYER_MISSING = "layer missing"


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
    """

    condition: Condition
    source: str
    standing: Standing
    why: str = ""
    demands: tuple[Demand, ...] = ()
    screened_by: tuple[Demand, ...] = ()

    @property
    def coarse(self) -> tuple[Demand, ...]:
        """What screening bounds: met exactly where the clause is."""
        return self.screened_by or self.demands

    @property
    def key(self) -> str:
        """Tells clauses of several permits apart."""
        return f"{self.source}|{self.condition.id}"

    @property
    def decides_place(self) -> bool:
        """Whether a place must meet it to be offered."""
        return (
            self.standing is Standing.READY
            and self.condition.decided is Decided.PLACE
            and self.condition.mandatory
        )


def facts_of(scene: Scene) -> Facts:
    """Return what clauses ask of the scene's animal."""
    animal = scene.case.animal
    return Facts(
        scientific_name=animal.scientific_name,
        danger=str(animal.profile.danger),
        origin=str(animal.origin),
        life_stage=str(animal.life_stage),
        gravid=str(animal.gravid),
        condition=str(animal.condition),
        found_in=str(animal.found_in),
        release_month=scene.case.day.month,
    )


def bind(conditions: Iterable[Condition], scene: Scene, *, source: str) -> tuple[Clause, ...]:
    """Return the conditions as clauses of this scene."""
    facts = facts_of(scene)
    return tuple(_bound(c, scene, facts, source) for c in conditions)


def _bound(condition: Condition, scene: Scene, facts: Facts, source: str) -> Clause:
    misfit = condition.misfit(facts)
    if misfit:
        return Clause(condition, source, Standing.NOT_APPLYING, misfit)
    if not condition.judged:
        return Clause(condition, source, Standing.NOT_CHECKED, condition.not_checked or "not checked")
    missing = [use.layer for use in condition.layers() if not scene.region.has(use.layer)]
    if missing:
        return Clause(
            condition, source, Standing.LAYER_MISSING, f"the region has no layer {', '.join(missing)}"
        )
    demands = condition.demands()
    if isinstance(condition, NotWithin) and condition.unless_captured_within:
        demands = tuple(_sparing(d, scene) for d in demands)
    if any(isinstance(d.quantity, SameHabitat) for d in demands):
        return _same_habitat(condition, scene, source)
    return Clause(condition, source, Standing.READY, "", demands)


def _sparing(demand: Demand, scene: Scene) -> Demand:
    """Spare the areas that surely hold the capture and that a consent in force names."""
    if not isinstance(demand.quantity, Depth):
        return demand
    layer = demand.quantity.layer
    found = scene.features(layer)
    reach = scene.capture.radius_m + scene.error_m(layer)
    point = scene.capture.points[0]
    species = scene.case.animal.scientific_name
    named = {
        c.feature_id
        for c in scene.case.consents
        if c.layer == layer and c.feature_id and c.in_force(scene.case.day, species=species)
    }
    edge = shapely.distance(shapely.boundary(found.geometries), point)
    holds = shapely.intersects(found.geometries, point)
    surely, perhaps = holds & (edge >= reach), holds | (edge <= reach)
    ids = found.ids.astype(str)
    spared = frozenset(str(i) for i in np.unique(ids[surely]) if i in named)
    maybe = frozenset(str(i) for i in np.unique(ids[perhaps]) if i in named) - spared
    return replace(demand, quantity=replace(demand.quantity, spared=spared, maybe_spared=maybe))


def _same_habitat(condition: Condition, scene: Scene, source: str) -> Clause:
    """Bind the limit, and screen by the union of the classes that lie within it of the capture.

    The clause is met exactly where the place's disc lies wholly in those classes.
    """
    metres, loosened = same_habitat_limit_m(scene)
    limit = Limit(at_most=metres)
    near = frozenset(name for name, there in _by_class(scene).items() if there.met(limit)[0])
    demand = Demand(SameHabitat(loosened), limit)
    coarse = Demand(Depth("habitat", near), Limit(at_least=0.0))
    return Clause(condition, source, Standing.READY, "", (demand,), (coarse,))


def _by_class(scene: Scene) -> dict[str, Measured]:
    made: dict[str, Measured] = scene.made("class distances", lambda: class_distances(scene))
    return made


def same_habitat_limit_m(scene: Scene) -> tuple[float, float]:
    """Return how near the site's natural class must come to the capture [m], and how much wider it may be.

    50 m, or the home-range radius where no natural class can lie within 50 m. Where one may but need
    not, the limit is one of the two: the narrow one is held, and missing it by less than the
    difference is uncertain.
    """
    radius = scene.case.animal.profile.home_range_radius_m
    wide = max(SAME_HABITAT_M, UNKNOWN_RANGE_M if radius is None else radius)
    low = min((float(m.low[0]) for m in _by_class(scene).values()), default=np.inf)
    high = min((float(m.high[0]) for m in _by_class(scene).values()), default=np.inf)
    if low > SAME_HABITAT_M:
        return wide, 0.0
    return SAME_HABITAT_M, wide - SAME_HABITAT_M if high > SAME_HABITAT_M else 0.0
