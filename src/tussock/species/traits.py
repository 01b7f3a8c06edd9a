"""What is known of a species, and how it is called."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

CONTINENTS = ("Africa", "Asia", "Australia", "Europe", "North America", "South America")

_SQUARE_METRES_PER_HA = 10_000.0


class Danger(StrEnum):
    """Danger to people, as setbacks and permits group it."""

    HARMLESS = "harmless"
    MILDLY_VENOMOUS = "mildly_venomous"
    DANGEROUSLY_VENOMOUS = "dangerously_venomous"
    CONSTRICTOR_LARGE = "constrictor_large"


STRICTNESS = (Danger.HARMLESS, Danger.MILDLY_VENOMOUS, Danger.CONSTRICTOR_LARGE, Danger.DANGEROUSLY_VENOMOUS)
"""Danger classes, the strictest last; it stands for names without a profile (design)."""


class ActivePeriod(StrEnum):
    """When the animal is normally about; cathemeral: by day and by night."""

    DIURNAL = "diurnal"
    NOCTURNAL = "nocturnal"
    CREPUSCULAR = "crepuscular"
    CATHEMERAL = "cathemeral"


class Range(StrEnum):
    """How a species stands to a country."""

    NATIVE = "native"
    INTRODUCED = "introduced"
    ABSENT = "absent"


@dataclass(frozen=True)
class Profile:
    """What is known of one species.

    Attributes
    ----------
    scientific_name
        Genus and species; in the neutral profile the name that was asked for.
    vernacular_names
        Names people use; several species may share one.
    continent
        Where it is met; empty when not said.
    danger
        Danger class; the strictest in the neutral profile.
    active_period
        ``None`` when not known: a clause on the active period then lacks its input.
    habitat
        Preference [0.01, 1] for each of ``tussock.names.HABITAT_CLASSES``.
    cover_preference
        Preferred fraction of ground under cover [0, 1].
    water_affinity
        How much nearness of fresh water adds [0 indifferent, 1 lives by it].
    home_range_ha
        Home range [ha], ``None`` when not known; one figure from one place, read with
        ``home_range_method`` and ``home_range_statistic``.
    displacement_m
        Movement [m], ``None`` when not known; ``displacement_statistic`` says of what, and whether
        it is typical or maximal.
    origin
        Country (ISO 3166 alpha-2) → native, introduced or absent; countries not listed are not known.
    look_alikes
        Scientific names, with or without a profile.
    dormant_months_south, dormant_months_north
        Months (1–12) of little activity in each hemisphere.
    sources
        Field → citation, ``from memory`` or ``judgement``.
    known
        False in the neutral profile that stands in for a name without one.
    from_user
        Whether it came from the user's own file.
    """

    scientific_name: str
    danger: Danger
    habitat: Mapping[str, float] = field(hash=False)
    cover_preference: float
    water_affinity: float
    vernacular_names: tuple[str, ...] = ()
    continent: str = ""
    active_period: ActivePeriod | None = None
    home_range_ha: float | None = None
    home_range_method: str = ""
    home_range_statistic: str = ""
    displacement_m: float | None = None
    displacement_statistic: str = ""
    origin: Mapping[str, Range] = field(default_factory=dict, hash=False)
    look_alikes: tuple[str, ...] = ()
    dormant_months_south: tuple[int, ...] = ()
    dormant_months_north: tuple[int, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict, hash=False)
    known: bool = True
    from_user: bool = False

    @property
    def home_range_radius_m(self) -> float | None:
        """Radius [m] of the circle with the home range's area, √(A/π); ``None`` when not known.

        Source: domain-facts § 2b (5.8 ha → 136 m), held by ``tests/species/test_profiles.py``.
        """
        if self.home_range_ha is None:
            return None
        return math.sqrt(self.home_range_ha * _SQUARE_METRES_PER_HA / math.pi)

    @property
    def home_range_diameter_m(self) -> float | None:
        """Diameter [m] of that circle; ``None`` when the home range is not known."""
        radius = self.home_range_radius_m
        return None if radius is None else 2 * radius

    def is_dormant(self, month: int, *, latitude: float) -> bool:
        """Return whether a month (1–12) is one of little activity at a latitude [°, south negative].

        A hemisphere without listed months gives False: not listed is not known.
        """
        months = self.dormant_months_south if latitude < 0 else self.dormant_months_north
        return month in months


def name_key(name: str) -> str:
    """Return what two spellings of a name share: its letters and digits in lower case.

    >>> name_key(" Red-bellied  Black Snake") == name_key("red bellied blacksnake")
    True
    """
    return "".join(filter(str.isalnum, name.casefold()))


_SUBSPECIES = re.compile(
    r"([A-Z][a-z]+ [a-z-]{2,})(?: (?!with\b|and\b|vel\b)[a-z-]{3,})?(?: \(?[A-Z]\D*\d{4}\)?)?"
)


def species_part(name: str) -> str | None:
    """Return genus and species of a name with a subspecies, an author and year, or both.

    ``None`` for anything else, so that two names joined by a word are never cut to the first.

    >>> species_part("Morelia spilota imbricata")
    'Morelia spilota'
    >>> species_part("Vipera berus (Linnaeus, 1758)")
    'Vipera berus'
    >>> species_part("Vipera berus or aspis") is None
    True
    """
    match = _SUBSPECIES.fullmatch(" ".join(name.split()))
    return match.group(1) if match else None
