"""What place clauses ask of the ground: a quantity, and the closed range it must lie in.

The quantities name *what* is measured; the measuring room knows how, coarsely over half a million
cells or exactly at one place. Criteria of the planner ask for the same quantities.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from tussock.interval import Limit


class At(StrEnum):
    """Where a quantity is measured."""

    SITE = "site"
    CAPTURE = "capture"


@dataclass(frozen=True)
class DistanceFromCapture:
    """Geodesic distance capture–site [m]."""


@dataclass(frozen=True)
class BeyondNearest:
    """How much farther from the capture a place lies than the nearest that meets all else [m].

    Of planned places, centre to centre.
    """

    nearest_m: float


@dataclass(frozen=True)
class DistanceTo:
    """Distance from the site to the nearest feature of a layer [m]; 0 inside one.

    ``classes`` ``None`` takes every feature.
    """

    layer: str
    classes: frozenset[str] | None = None


@dataclass(frozen=True)
class Depth:
    """Signed distance to the edge of a layer's areas [m].

    Positive inside them, or outside them where ``outside`` is set. ``spared`` names features (by
    their id) that do not count; ``maybe_spared`` those of which it is not sure. ``taking`` measures
    on the day of the capture, not of the release. ``as_mapped`` takes the mapped areas for all there are.
    """

    layer: str
    classes: frozenset[str] | None = None
    outside: bool = False
    at: At = At.SITE
    spared: frozenset[str] = frozenset()
    maybe_spared: frozenset[str] = frozenset()
    taking: bool = False
    as_mapped: bool = False


@dataclass(frozen=True)
class SameHabitat:
    """Distance from the capture to the nearest polygon of the site's natural class [m].

    ``loosened_m`` lowers the low end, where the limit may be that much wider.
    """

    loosened_m: float = 0.0


@dataclass(frozen=True)
class PatchArea:
    """Area of the patch round the site [ha]: of ``habitat`` (classes; ``None`` = natural) or ``property``."""

    of: str = "habitat"
    classes: frozenset[str] | None = None


@dataclass(frozen=True)
class SamePolygon:
    """Signed distance to the edge of the polygons that hold the capture [m], inside positive."""

    layer: str


@dataclass(frozen=True)
class BarriersBetween:
    """Barriers between capture and site: 0 none touches the hull of the discs, 1 they are separated."""

    layer: str
    classes: frozenset[str] | None = None


@dataclass(frozen=True)
class ReleasesNear:
    """Individuals released before within ``within_m`` of the site in the last ``within_days`` days.

    ``same_species`` counts only those of the animal's species.
    """

    within_m: float
    within_days: float
    same_species: bool


Quantity = (
    DistanceFromCapture
    | BeyondNearest
    | DistanceTo
    | Depth
    | SameHabitat
    | PatchArea
    | SamePolygon
    | BarriersBetween
    | ReleasesNear
)


def layers_of(quantity: Quantity) -> tuple[str, ...]:
    """Return the feature layers that a quantity is measured on."""
    match quantity:
        case DistanceTo() | Depth() | SamePolygon() | BarriersBetween():
            return (quantity.layer,)
        case SameHabitat():
            return ("habitat",)
        case PatchArea(of="property"):
            return ("parcels",)
        case PatchArea():
            return ("habitat", "barriers")
        case _:
            return ()


@dataclass(frozen=True)
class Demand:
    """A quantity, the range it must lie in (``None``: it depends on the ground and the animal), its unit."""

    quantity: Quantity
    limit: Limit | None
    unit: str = "m"
