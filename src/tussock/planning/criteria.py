"""Criteria: each maps the interval of a measure to a suitability interval in [0.01, 1].

Farther-is-better reads the low end of the interval, nearer-is-better the high end; the other end
gives the other end of the suitability.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.measure.scene import Scene
from tussock.names import ROAD_CLASSES
from tussock.permit.demands import DistanceFromCapture, DistanceTo, PatchArea, Quantity, ReleasesNear
from tussock.planning.weights import FLOOR, Weight, Weights, read_weights
from tussock.species.profiles import Profile

__all__ = [
    "QUIET_ROADS",
    "Criterion",
    "HomeRange",
    "Weights",
    "by_species",
    "criteria_for",
    "home_range",
    "left_out",
    "read_weights",
]
QUIET_ROADS = frozenset({"track", "path"})
"""Roads that carry hardly any traffic; the criterion leaves them out (judgement)."""
Shape = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Criterion:
    """One criterion made ready for a scene and one of the species the animal may be.

    Attributes
    ----------
    profile
        The species.
    name, words
        Name in the record; what it reads, in words.
    weight
        Its weight, above 0.
    quantity
        What it measures; ``None`` for habitat class and cover, which are looked up.
    shape
        Measure → suitability in [FLOOR, 1], monotone.
    farther
        Whether more of the measure is better.
    unit
        Of the measure.
    """

    profile: Profile
    name: str
    words: str
    weight: float
    quantity: Quantity | None
    shape: Shape
    farther: bool
    unit: str = "m"

    def scores(self, low: Floats, high: Floats) -> tuple[Floats, Floats]:
        """Return the suitability interval of measure intervals; nan ends give [FLOOR, 1]."""
        worse, better = (low, high) if self.farther else (high, low)
        unknown = np.isnan(worse) | np.isnan(better)
        least = np.where(unknown, FLOOR, self.shape(np.where(unknown, 0.0, worse)))
        most = np.where(unknown, 1.0, self.shape(np.where(unknown, 0.0, better)))
        return least, most


def criteria_for(
    scene: Scene, weights: Weights, *, circle_m: float, setbacks: Mapping[str, float]
) -> tuple[Criterion, ...]:
    """Return the criteria that this region and animal allow; one whose layer the region lacks is left out.

    Those of every species the animal may be, one species after the other by name: what order they were
    named in decides nothing.

    Parameters
    ----------
    circle_m
        Radius of the circle searched [m].
    setbacks
        Layer → largest setback that applies [m].

    Raises
    ------
    InputError
        When no criterion is left: the weights count only what is not there.
    """
    profiles = sorted(scene.case.animal.profiles, key=lambda p: p.scientific_name)
    made = [_of_species(p, scene, weights, circle_m=circle_m, setbacks=setbacks) for p in profiles]
    if not all(made):
        raise InputError(
            "no criterion is left to score by",
            where="weights",
            allowed="a weight above 0 for a criterion whose layer the region has",
            fix="give closeness a weight",
        )
    return tuple(c for species in made for c in species)


def _of_species(
    profile: Profile, scene: Scene, weights: Weights, *, circle_m: float, setbacks: Mapping[str, float]
) -> tuple[Criterion, ...]:
    home = _home(profile, weights)
    clear = {layer: setbacks.get(layer, 0.0) + home.radius_m for layer in _KEPT_AWAY_FROM}
    made = [
        _habitat(profile, weights.habitat),
        _cover(profile, weights.cover),
        _away(profile, weights.dwellings, "dwellings", full_m=clear["dwellings"]),
        _away(profile, weights.peopled_places, "peopled_places", full_m=clear["peopled_places"]),
        _roads(profile, weights.roads, full_m=max(weights.roads.full_m, clear["roads"])),
        _closeness(profile, scene, weights.closeness, circle_m, home),
        _patch(profile, weights.patch, home),
        _water(profile, weights.water),
        _releases(profile, weights.recent_releases),
    ]
    return tuple(c for c in made if c is not None and c.weight > 0 and _has_layer(c, scene))


def by_species(criteria: Iterable[Criterion]) -> dict[str, tuple[Criterion, ...]]:
    """Return scientific name → its criteria, in the order given."""
    made: dict[str, tuple[Criterion, ...]] = {}
    for criterion in criteria:
        name = criterion.profile.scientific_name
        made[name] = (*made.get(name, ()), criterion)
    return made


def left_out(criteria: tuple[Criterion, ...], weights: Weights) -> tuple[str, ...]:
    """Return the names of criteria that have a weight but could not be used."""
    used = {c.name for c in criteria}
    named = [n for n in Weights.model_fields if n != "unknown" and getattr(weights, n).weight > 0]
    return tuple(n for n in named if n not in used)


@dataclass(frozen=True)
class HomeRange:
    """The home range that stands for the animal: area [ha], radius and diameter [m]."""

    hectares: float

    @property
    def radius_m(self) -> float:
        """Radius of the circle with that area [m]."""
        return math.sqrt(self.hectares * 10_000 / math.pi)

    @property
    def diameter_m(self) -> float:
        """Diameter of that circle [m]."""
        return 2 * self.radius_m


def home_range(scene: Scene, weights: Weights) -> HomeRange:
    """Return the smallest home range of the species it may be; a stated stand-in where one is not known."""
    return min((_home(p, weights) for p in scene.case.animal.profiles), key=lambda home: home.hectares)


def _home(profile: Profile, weights: Weights) -> HomeRange:
    return HomeRange(profile.home_range_ha or weights.unknown.home_range_ha)


def _has_layer(criterion: Criterion, scene: Scene) -> bool:
    match criterion.quantity:
        case DistanceTo(layer=layer):
            return scene.region.has(layer)
        case PatchArea():
            return scene.region.has("habitat")
        case None:
            return scene.region.has(criterion.name)
        case _:
            return True


def _rising(full: float) -> Shape:
    return lambda v: np.clip(v / full, FLOOR, 1.0)


def _habitat(profile: Profile, weight: Weight) -> Criterion:
    # the measure is the preference itself, looked up by class
    return Criterion(
        profile,
        "habitat",
        "the species' preference for this habitat",
        weight.weight,
        None,
        lambda v: np.clip(v, FLOOR, 1.0),
        farther=True,
        unit="",
    )


def _cover(profile: Profile, weight: Weight) -> Criterion | None:
    wanted = profile.cover_preference
    if wanted <= 0:
        return None
    return Criterion(
        profile,
        "cover",
        f"ground cover against the {wanted:.0%} it prefers",
        weight.weight,
        None,
        _rising(wanted),
        farther=True,
        unit="",
    )


_KEPT_AWAY_FROM = {
    "dwellings": "nearest dwelling",
    "peopled_places": "nearest peopled place",
    "roads": "nearest road with traffic",
}
"""Layers that farther is better from, in words."""


def _away(profile: Profile, weight: Weight, layer: str, *, full_m: float) -> Criterion:
    return Criterion(
        profile,
        layer,
        f"{_KEPT_AWAY_FROM[layer]}, full from {full_m:.0f} m",
        weight.weight,
        DistanceTo(layer),
        _rising(full_m),
        farther=True,
    )


def _roads(profile: Profile, weight: Weight, *, full_m: float) -> Criterion:
    busy = frozenset(ROAD_CLASSES) - QUIET_ROADS
    return replace(_away(profile, weight, "roads", full_m=full_m), quantity=DistanceTo("roads", busy))


def _closeness(profile: Profile, scene: Scene, weight: Weight, circle_m: float, home: HomeRange) -> Criterion:
    near, rim = min(home.diameter_m, circle_m / 2), circle_m
    heavier = weight.bound_weight if bound_to_place(profile, scene) else 1.0

    def shape(v: Floats) -> Floats:
        return np.clip(1 - (1 - weight.at_rim) * (v - near) / (rim - near), FLOOR, 1.0)

    return Criterion(
        profile,
        "closeness",
        f"closeness to the capture, full within {near:.0f} m",
        weight.weight * heavier,
        DistanceFromCapture(),
        shape,
        farther=False,
    )


def bound_to_place(profile: Profile, scene: Scene) -> bool:
    """Return whether the animal should be moved as little as possible: gravid, young, or a dormant month."""
    animal = scene.case.animal
    young = str(animal.life_stage) in {"neonate", "juvenile"}
    dormant = profile.is_dormant(scene.case.day.month, latitude=scene.case.capture.latitude)
    return str(animal.gravid) == "yes" or young or dormant


def _patch(profile: Profile, weight: Weight, home: HomeRange) -> Criterion:
    full = weight.full_home_ranges * home.hectares
    return Criterion(
        profile,
        "patch",
        f"unbroken natural ground, full from {full:.0f} ha",
        weight.weight,
        PatchArea(),
        _rising(full),
        farther=True,
        unit="ha",
    )


def _water(profile: Profile, weight: Weight) -> Criterion | None:
    affinity = profile.water_affinity
    if affinity <= 0:
        return None
    return Criterion(
        profile,
        "water",
        "nearness of water",
        weight.weight,
        DistanceTo("water"),
        lambda v: np.clip(1 - affinity * np.minimum(v / weight.gone_m, 1.0), FLOOR, 1.0),
        farther=False,
    )


def _releases(profile: Profile, weight: Weight) -> Criterion:
    near = ReleasesNear(weight.within_m, weight.within_days, same_species=False)
    return Criterion(
        profile,
        "recent_releases",
        f"animals released within {weight.within_m:.0f} m in the last year",
        weight.weight,
        near,
        lambda v: np.clip(1 / (1 + v), FLOOR, 1.0),
        farther=False,
        unit="individuals",
    )
