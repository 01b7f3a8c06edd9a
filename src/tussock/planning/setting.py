"""What a plan starts from: the animal in hand, and everything it is held against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from tussock.ground.region import Region
from tussock.measure.scene import SITE_RADIUS_M, EarlierRelease
from tussock.permit.condition import Condition
from tussock.permit.consents import Consent
from tussock.permit.permit_file import Permit
from tussock.planning.criteria import Weights
from tussock.position import Position
from tussock.species.intake import Animal

SEPARATION_M = 150.0
"""Least distance between two offered sites [m] (judgement)."""
DETOUR, DRIVE_KMH = 1.4, 40.0
"""Until there is a road graph: so many times the straight line, at that speed [km/h] (judgement)."""
WALK_M, WALK_KMH = 200.0, 3.0
"""From the car to the site: so far [m], at that speed [km/h] (judgement)."""
S_PER_KMH = 3.6
"""Seconds that a metre takes at 1 km/h."""


@dataclass(frozen=True)
class Capture:
    """An animal in hand: what it is, where and when it was taken.

    ``trap_checked`` is when the trap was checked; ``None`` where it is not recorded.
    """

    id: str
    position: Position
    time: datetime
    animal: Animal
    answers: Mapping[str, str]
    vernacular_name: str = ""
    trap_checked: datetime | None = None


@dataclass(frozen=True)
class Setting:
    """Everything a plan stands on besides the capture.

    Attributes
    ----------
    now
        The clock.
    release_at
        The planned release; ``None``: as soon as each place can be reached, by an estimate.
    earlier
        Releases in the book before; ``None`` where no book is given.
    beside
        Sites of the plans before in a batch, as if the animals had been let go there.
    contacts
        Way on → whom to call.
    inputs
        Name → SHA-256 of each file read, for the record.
    rasters
        Whether the plan keeps what the map veils and shades.
    """

    region: Region
    permits: tuple[Permit, ...]
    house_rules: tuple[Condition, ...]
    weights: Weights
    now: datetime
    release_at: datetime | None = None
    consents: tuple[Consent, ...] = ()
    earlier: tuple[EarlierRelease, ...] | None = None
    beside: tuple[EarlierRelease, ...] = ()
    top: int = 5
    separation_m: float = SEPARATION_M
    site_radius_m: float = SITE_RADIUS_M
    contacts: Mapping[str, str] = field(default_factory=dict)
    inputs: Mapping[str, str] = field(default_factory=dict)
    rasters: bool = True

    @property
    def counted(self) -> tuple[EarlierRelease, ...]:
        """Every release that may count."""
        return (*(self.earlier or ()), *self.beside)

    @property
    def start(self) -> datetime:
        """The earliest planned release: as given, or after the walk where the animal was taken."""
        # in UTC: within one zone Python adds clock readings, not elapsed time
        return self.release_at or self.now.astimezone(UTC) + timedelta(seconds=walk_s())

    @property
    def per_metre_s(self) -> float:
        """How much later a place can be reached for each metre that it lies from the capture [s/m]."""
        return drive_s(1.0) if self.release_at is None else 0.0


def drive_s(distance_m: float) -> float:
    """Return how long the drive to a place takes [s], by the estimate."""
    return DETOUR * distance_m * S_PER_KMH / DRIVE_KMH


def walk_s() -> float:
    """Return how long the walk to a site takes [s], by the estimate."""
    return WALK_M * S_PER_KMH / WALK_KMH
