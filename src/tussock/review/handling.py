"""One animal's holding as recorded, from capture to how it ended. Plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from tussock.interval import Verdict
from tussock.measure.scene import EarlierRelease
from tussock.permit.record_facts import Incident
from tussock.position import Position
from tussock.species.animal import Animal, Identification
from tussock.species.traits import Profile

RELEASED = "released"


@dataclass(frozen=True)
class Planned:
    """What a plan said of the nearest suitable place, for the release that followed it.

    Attributes
    ----------
    position
        The planned site; its radius is the planned disc.
    verdicts
        Clause id → verdict that was stored when the plan was made, of the one permit judged by: another
        permit may have a clause of the same id.
    """

    position: Position
    verdicts: Mapping[str, Verdict]


@dataclass(frozen=True, kw_only=True)
class Handling:
    """A capture and how its holding ended. Every instant has an offset.

    Attributes
    ----------
    capture_id, taken_at, captured, animal
        Which capture, where and when it was taken, and what it is.
    trap_checked
        When the trap was checked; ``None`` where it is not recorded.
    disposal, disposed
        How and when holding ended; ``disposed`` ``None`` while it is held.
    named_at_end
        Profile of the species that the end of holding names, where that is another one than the capture's.
    let_go_at
        The actual place of release; ``None`` where there is none.
    consent_reference
        The consent that the record names.
    planned
        The plan that was followed, where one was.
    recorded, checks, incidents, temperature_c, handlers, ended_by, columns
        As in :class:`tussock.permit.record_facts.RecordFacts`.
    answers
        Permit id → clause id → yes, no or unclear.
    """

    capture_id: str
    taken_at: Position
    captured: datetime
    animal: Animal
    trap_checked: datetime | None = None
    disposal: str = ""
    disposed: datetime | None = None
    named_at_end: Profile | None = None
    let_go_at: Position | None = None
    consent_reference: str = ""
    planned: Planned | None = None
    recorded: datetime | None = None
    checks: tuple[datetime, ...] | None = None
    incidents: tuple[Incident, ...] | None = None
    temperature_c: tuple[float, float] | None = None
    handlers: tuple[str, ...] = ()
    ended_by: tuple[str, ...] | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @property
    def released(self) -> bool:
        """Whether the animal was let go, at a place."""
        return self.disposal == RELEASED and self.let_go_at is not None

    @property
    def judged_as(self) -> Animal:
        """The animal, of every species that the record gives it: nobody knows which of the two it was."""
        named = self.named_at_end
        if named is None:
            return self.animal
        unsure = self.animal.identification is Identification.CERTAIN
        sure = Identification.PROBABLE if unsure else self.animal.identification
        return replace(self.animal, identification=sure, others=(*self.animal.others, named))

    @property
    def as_earlier(self) -> EarlierRelease | None:
        """What a later release counts of it; ``None`` where nothing was let go, or nobody wrote where."""
        at = self.let_go_at
        if self.disposal != RELEASED or at is None or self.disposed is None:
            return None
        animal = self.animal
        return EarlierRelease(
            at.longitude,
            at.latitude,
            at.radius_m,
            self.disposed,
            animal.scientific_name,
            animal.individual_count,
            self.consent_reference,
            self.named_at_end.scientific_name if self.named_at_end else "",
        )
