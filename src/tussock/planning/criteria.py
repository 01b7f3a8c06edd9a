"""Criteria: each maps the interval of a measure to a suitability interval in [0.01, 1].

Farther-is-better reads the low end of the interval, nearer-is-better the high end; the other end
gives the other end of the suitability.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.ground.region_file import as_input_error
from tussock.measure.scene import Scene
from tussock.names import ROAD_CLASSES
from tussock.permit.demands import DistanceFromCapture, DistanceTo, PatchArea, Quantity, ReleasesNear
from tussock.tables import read_bytes

FLOOR = 0.01
"""Least suitability: nothing is worth less than a hundredth of the best (design choice)."""
SHIPPED = Path(__file__).with_name("weights.toml")
QUIET_ROADS = frozenset({"track", "path"})
"""Roads that carry hardly any traffic; the criterion leaves them out (judgement)."""
Shape = Callable[[Floats], Floats]


class Weight(BaseModel):
    """One criterion's weight and the numbers of its shape."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    weight: float = Field(ge=0, le=1000, allow_inf_nan=False)
    full_m: float = Field(200.0, gt=0)
    at_rim: float = Field(0.3, ge=FLOOR, le=1)
    bound_weight: float = Field(2.0, ge=1, le=100)
    full_home_ranges: float = Field(5.0, gt=0)
    gone_m: float = Field(1000.0, gt=0)
    within_m: float = Field(300.0, gt=0)
    within_days: float = Field(365.0, gt=0)


class _Unknown(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)
    home_range_ha: float = Field(gt=0)


class Weights(BaseModel):
    """weights.toml as read."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    habitat: Weight
    cover: Weight
    dwellings: Weight
    peopled_places: Weight
    roads: Weight
    closeness: Weight
    patch: Weight
    water: Weight
    recent_releases: Weight
    unknown: _Unknown


def read_weights(path: Path | None = None) -> Weights:
    """Return the weights of a file, the shipped ones when none is named.

    Raises
    ------
    InputError
        When it is no TOML, or lacks or misspells a criterion.
    """
    path = path or SHIPPED
    try:
        return Weights.model_validate(tomllib.loads(read_bytes(path).decode("utf-8-sig")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"it is not TOML ({error})", where=str(path)) from None
    except ValidationError as error:
        raise as_input_error(error, where=path.name) from None


@dataclass(frozen=True)
class Criterion:
    """One criterion made ready for a scene.

    Attributes
    ----------
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

    Parameters
    ----------
    circle_m
        Radius of the circle searched [m].
    setbacks
        Layer → largest setback that applies [m].
    """
    home = home_range(scene, weights)
    made = [
        _habitat(scene, weights),
        _cover(scene, weights),
        _away("dwellings", "nearest dwelling", weights.dwellings, setbacks, home),
        _away("peopled_places", "nearest peopled place", weights.peopled_places, setbacks, home),
        _roads(weights.roads, setbacks, home),
        _closeness(scene, weights.closeness, circle_m, home),
        _patch(weights.patch, home),
        _water(scene, weights.water),
        _releases(weights.recent_releases),
    ]
    return tuple(c for c in made if c is not None and c.weight > 0 and _has_layer(c, scene))


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
    """Return the profile's home range, or the stated stand-in."""
    return HomeRange(scene.case.animal.profile.home_range_ha or weights.unknown.home_range_ha)


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


def _habitat(scene: Scene, weights: Weights) -> Criterion:
    # the measure is the preference itself, looked up by class
    return Criterion(
        "habitat",
        "the species' preference for this habitat",
        weights.habitat.weight,
        None,
        lambda v: np.clip(v, FLOOR, 1.0),
        farther=True,
        unit="",
    )


def _cover(scene: Scene, weights: Weights) -> Criterion | None:
    wanted = scene.case.animal.profile.cover_preference
    if wanted <= 0:
        return None
    return Criterion(
        "cover",
        f"ground cover against the {wanted:.0%} it prefers",
        weights.cover.weight,
        None,
        _rising(wanted),
        farther=True,
        unit="",
    )


def _away(
    layer: str, words: str, weight: Weight, setbacks: Mapping[str, float], home: HomeRange
) -> Criterion:
    full = setbacks.get(layer, 0.0) + home.radius_m
    return Criterion(
        layer,
        f"{words}, full from {full:.0f} m",
        weight.weight,
        DistanceTo(layer),
        _rising(full),
        farther=True,
    )


def _roads(weight: Weight, setbacks: Mapping[str, float], home: HomeRange) -> Criterion:
    full = max(weight.full_m, setbacks.get("roads", 0.0) + home.radius_m)
    busy = frozenset(ROAD_CLASSES) - QUIET_ROADS
    return Criterion(
        "roads",
        f"nearest road with traffic, full from {full:.0f} m",
        weight.weight,
        DistanceTo("roads", busy),
        _rising(full),
        farther=True,
    )


def _closeness(scene: Scene, weight: Weight, circle_m: float, home: HomeRange) -> Criterion:
    near, rim = min(home.diameter_m, circle_m / 2), circle_m
    heavier = weight.bound_weight if bound_to_place(scene) else 1.0

    def shape(v: Floats) -> Floats:
        return np.clip(1 - (1 - weight.at_rim) * (v - near) / (rim - near), FLOOR, 1.0)

    return Criterion(
        "closeness",
        f"closeness to the capture, full within {near:.0f} m",
        weight.weight * heavier,
        DistanceFromCapture(),
        shape,
        farther=False,
    )


def bound_to_place(scene: Scene) -> bool:
    """Return whether the animal should be moved as little as possible: gravid, young, or a dormant month."""
    animal = scene.case.animal
    young = str(animal.life_stage) in {"neonate", "juvenile"}
    dormant = animal.profile.is_dormant(scene.case.day.month, latitude=scene.case.capture.latitude)
    return str(animal.gravid) == "yes" or young or dormant


def _patch(weight: Weight, home: HomeRange) -> Criterion:
    full = weight.full_home_ranges * home.hectares
    return Criterion(
        "patch",
        f"unbroken natural ground, full from {full:.0f} ha",
        weight.weight,
        PatchArea(),
        _rising(full),
        farther=True,
        unit="ha",
    )


def _water(scene: Scene, weight: Weight) -> Criterion | None:
    affinity = scene.case.animal.profile.water_affinity
    if affinity <= 0:
        return None
    return Criterion(
        "water",
        "nearness of water",
        weight.weight,
        DistanceTo("water"),
        lambda v: np.clip(1 - affinity * np.minimum(v / weight.gone_m, 1.0), FLOOR, 1.0),
        farther=False,
    )


def _releases(weight: Weight) -> Criterion:
    near = ReleasesNear(weight.within_m, weight.within_days, same_species=False)
    return Criterion(
        "recent_releases",
        f"animals released within {weight.within_m:.0f} m in the last year",
        weight.weight,
        near,
        lambda v: np.clip(1 / (1 + v), FLOOR, 1.0),
        farther=False,
        unit="individuals",
    )
