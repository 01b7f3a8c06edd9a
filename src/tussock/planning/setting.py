"""What a plan starts from: the animal in hand, and everything it is held against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

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
RELEASE_AFTER = timedelta(minutes=60)
"""Assumed time from now to the release, where none is given (judgement)."""


@dataclass(frozen=True)
class Capture:
    """An animal in hand: what it is, where and when it was taken."""

    id: str
    position: Position
    time: datetime
    animal: Animal
    answers: Mapping[str, str]
    vernacular_name: str = ""


@dataclass(frozen=True)
class Setting:
    """Everything a plan stands on besides the capture.

    Attributes
    ----------
    now
        The clock; ``release_at`` the planned release (``None``: an hour after now).
    earlier
        Releases in the book before.
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
    earlier: tuple[EarlierRelease, ...] = ()
    top: int = 5
    separation_m: float = SEPARATION_M
    site_radius_m: float = SITE_RADIUS_M
    contacts: Mapping[str, str] = field(default_factory=dict)
    inputs: Mapping[str, str] = field(default_factory=dict)
    rasters: bool = True

    @property
    def released(self) -> datetime:
        """The planned release."""
        return self.release_at or self.now + RELEASE_AFTER
