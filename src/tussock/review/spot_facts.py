"""What is known by standing at a spot, and what the spot is held against. Plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from tussock.ground.region import Region
from tussock.measure.scene import EarlierRelease
from tussock.permit.condition import Condition
from tussock.permit.consents import Consent
from tussock.permit.permit_file import Permit
from tussock.position import Position
from tussock.review.spot_questions import Answer
from tussock.species.intake import Animal


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
        Releases of other captures; ``None`` where no book of them is given.
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
    earlier: tuple[EarlierRelease, ...] | None = None
    rejected: frozenset[int] = frozenset()
    contacts: Mapping[str, str] = field(default_factory=dict)
