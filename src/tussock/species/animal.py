"""An animal as answered for at intake: the words its answers take, and the species it may be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from tussock.errors import InputError
from tussock.species.traits import STRICTNESS, Danger, Profile

MOST_DIGITS = 6
"""Longest count read; a longer one is a slip (choice of this project)."""
COUNT_ALLOWED = "a whole number from 1 to 999999"


class Identification(StrEnum):
    """How sure the species is."""

    CERTAIN = "certain"
    PROBABLE = "probable"
    UNKNOWN = "unknown"


class Origin(StrEnum):
    """Where the animal comes from."""

    WILD_LOCAL = "wild_local"
    POSSIBLE_ESCAPEE = "possible_escapee"
    BROUGHT_IN = "brought_in"
    EXOTIC = "exotic"
    UNKNOWN = "unknown"


class Condition(StrEnum):
    """State of the animal."""

    FIT = "fit"
    INJURED = "injured"
    SICK = "sick"
    DEAD = "dead"


class LifeStage(StrEnum):
    """Life stage."""

    EGG = "egg"
    NEONATE = "neonate"
    JUVENILE = "juvenile"
    SUBADULT = "subadult"
    ADULT = "adult"
    UNKNOWN = "unknown"


class Gravid(StrEnum):
    """Whether she carries young or eggs."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class FoundIn(StrEnum):
    """Where it was found."""

    BUILDING = "building"
    YARD = "yard"
    ROAD = "road"
    WATER = "water"
    TRAP_OR_NETTING = "trap_or_netting"
    VEHICLE = "vehicle"
    OTHER = "other"


QUESTIONS: Mapping[str, type[StrEnum]] = {
    "identification": Identification,
    "origin": Origin,
    "animalCondition": Condition,
    "lifeStage": LifeStage,
    "gravid": Gravid,
    "foundIn": FoundIn,
}
"""Column → the answers it takes. Besides them: a name, and ``individualCount``."""

OTHERS = "orScientificName"
"""Column of the other species it may be, their names separated by `` | ``; may stay empty."""


@dataclass(frozen=True)
class Animal:
    """An animal (or several taken together) as answered for at intake.

    Attributes
    ----------
    scientific_name
        As in its profile; the name given where there is no profile.
    profile
        Profile of the species, or the neutral one.
    identification, origin, condition, life_stage, gravid, found_in
        The answers; ``condition`` and ``found_in`` are ``None`` in a record that does not say.
    individual_count
        How many, at least 1.
    others
        Profiles of the other species it may be: those named, or else the look-alikes of the first where the
        identification is only probable.
    look_alikes
        Profiles of the first species' look-alikes.
    """

    scientific_name: str
    profile: Profile
    identification: Identification
    origin: Origin
    condition: Condition | None
    individual_count: int
    life_stage: LifeStage
    gravid: Gravid
    found_in: FoundIn | None
    others: tuple[Profile, ...] = ()
    look_alikes: tuple[Profile, ...] = ()

    def __post_init__(self) -> None:
        if self.individual_count < 1:
            raise InputError(f"individualCount {self.individual_count}", allowed=COUNT_ALLOWED)
        if self.identification is Identification.CERTAIN and self.others:
            raise contradiction(p.scientific_name for p in self.others)

    @property
    def profiles(self) -> tuple[Profile, ...]:
        """Every species it may be, each once; the one named first comes first."""
        return tuple({p.scientific_name: p for p in (self.profile, *self.others)}.values())

    @property
    def names(self) -> tuple[str, ...]:
        """Scientific names of every species it may be, in that order."""
        return tuple(p.scientific_name for p in self.profiles)

    @property
    def danger(self) -> Danger:
        """The strictest danger class of every species it may be."""
        return max((p.danger for p in self.profiles), key=STRICTNESS.index)


def contradiction(others: Iterable[str]) -> InputError:
    """Return the error for a certain identification beside other species."""
    return InputError(
        f"certain, yet other species are named: {', '.join(others)[:200]}",
        allowed="probable, where it may be another species",
        fix="answer probable, or leave out the other names",
    )
