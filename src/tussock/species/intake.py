"""The gate at intake: whether a site may be shown for an animal, and otherwise the ways on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from tussock.errors import Faults
from tussock.species.animal import (
    QUESTIONS,
    Animal,
    Condition,
    FoundIn,
    Gravid,
    Identification,
    LifeStage,
    Origin,
    parse_answer,
    read_animal,
    unanswered,
)
from tussock.species.traits import Range

__all__ = [
    "QUESTIONS",
    "WAY_CODES",
    "Admission",
    "Animal",
    "Condition",
    "FoundIn",
    "Gravid",
    "Identification",
    "LifeStage",
    "Origin",
    "WayOn",
    "gate",
    "parse_answer",
    "read_animal",
    "unanswered",
]


@dataclass(frozen=True)
class WayOn:
    """What happens instead of a release.

    Attributes
    ----------
    code
        ``record``, ``carer``, ``authority`` or ``identify``.
    sentence
        The same for people.
    contact
        Whom to call, as the user noted it; empty when not noted.
    """

    code: str
    sentence: str
    contact: str = ""


@dataclass(frozen=True)
class Admission:
    """Whether a site may be shown, and if not the ways on.

    Attributes
    ----------
    ways_on
        Empty exactly when a site may be shown; the most pressing first.
    notes
        What to know either way, such as a name without a profile.
    """

    ways_on: tuple[WayOn, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def site_may_be_shown(self) -> bool:
        """True when nothing stands against a release."""
        return not self.ways_on


WAY_CODES = ("record", "carer", "authority", "identify")
"""Codes of the ways on, the most pressing first."""


def gate(
    animal: Animal,
    *,
    country: str | None,
    listed: bool | None = None,
    contacts: Mapping[str, str] | None = None,
) -> Admission:
    """Return whether a site may be shown for an animal, and otherwise the ways on.

    Only an animal that is fit, wild and local, identified with certainty and no egg is let through.

    Parameters
    ----------
    animal
        With all questions answered.
    country
        ISO 3166 alpha-2 code of the region; ``None`` when it names none: then the profile's origins
        are not used and the answer on origin stands.
    listed
        Whether the permit in force lists the species; ``None`` when it has no such list.
    contacts
        Code of a way on → whom to call, in the user's words.

    Raises
    ------
    InputError
        If a contact's code or the country is none.
    """
    _check(country=country, contacts=contacts or {})
    ways = [*_ways(animal), *_listed_ways(animal, country=country, listed=listed)]
    ranked = sorted(ways, key=lambda way: WAY_CODES.index(way[0]))
    called = contacts or {}
    return Admission(
        ways_on=tuple(WayOn(code, sentence, called.get(code, "")) for code, sentence in ranked),
        notes=tuple(_notes(animal, country=country)),
    )


_ORIGIN_SENTENCES = {
    Origin.POSSIBLE_ESCAPEE: "It may have escaped from keeping: it is not released, whatever the species. "
    "Call the wildlife authority.",
    Origin.BROUGHT_IN: "It was brought in from elsewhere: it is not released here. "
    "Call the wildlife authority.",
    Origin.EXOTIC: "It is exotic: it is not released. Call the wildlife authority.",
    Origin.UNKNOWN: "Where it comes from is not known: no site is shown. Ask the wildlife authority.",
}


_NOT_NATIVE = {Range.INTRODUCED: "is introduced in", Range.ABSENT: "does not live wild in"}


def _ways(animal: Animal) -> Iterator[tuple[str, str]]:
    if animal.condition is Condition.DEAD:
        yield "record", "It is dead: nothing to release. Enter it in the record with what became of it."
    elif animal.condition is not Condition.FIT:
        yield "carer", f"It is {animal.condition}: it goes to a vet or a licensed carer, no site is shown."
    if animal.life_stage is LifeStage.EGG:
        yield "authority", "Eggs never get a release site. Ask the wildlife authority or a licensed carer."
    if animal.origin in _ORIGIN_SENTENCES:
        yield "authority", _ORIGIN_SENTENCES[animal.origin]
    if animal.identification is Identification.PROBABLE:
        yield (
            "identify",
            "The species is only probable: no site is shown. Ask for identification help. Planning for two "
            "possible species is not there yet; once it is, both names will be asked for.",
        )
    elif animal.identification is Identification.UNKNOWN:
        yield "identify", "The species is not known: no site is shown. Ask for identification help."


def _listed_ways(animal: Animal, *, country: str | None, listed: bool | None) -> Iterator[tuple[str, str]]:
    name = animal.scientific_name
    status = animal.profile.origin.get(country, Range.NATIVE) if country else Range.NATIVE
    if status in _NOT_NATIVE:
        sentence = f"{name} {_NOT_NATIVE[status]} {country}: it is not released. Call the wildlife authority."
        yield "authority", sentence
    if listed is False:
        yield "authority", f"The permit in force does not list {name}. Call the authority that issued it."


def _notes(animal: Animal, *, country: str | None) -> Iterator[str]:
    name, profile = animal.scientific_name, animal.profile
    if not profile.known:
        yield (
            f"NO PROFILE for '{name}': it is taken as {profile.danger.replace('_', ' ')}, "
            "without preferences. Check the name, or add a profile of your own."
        )
    if country and country not in profile.origin:
        yield f"Whether {name} is native in {country} is not in its profile: your answer on origin stands."
    if animal.found_in is FoundIn.VEHICLE:
        yield "Found in a vehicle: it may have come with it from elsewhere. Be sure that it is local."
    if animal.found_in is FoundIn.TRAP_OR_NETTING:
        yield (
            "Found in a trap or netting: injuries may not show. "
            "Have a vet or a licensed carer confirm that it is fit."
        )


def _check(*, country: str | None, contacts: Mapping[str, str]) -> None:
    faults = Faults()
    if country is not None and not (len(country) == 2 and country.isascii() and country.isupper()):
        faults.add(f"found {country!r}", where="country", allowed="two capital letters (ISO 3166)")
    for code in sorted(set(contacts) - set(WAY_CODES)):
        faults.add(f"found '{code}'", where="contacts", allowed=", ".join(WAY_CODES))
    faults.raise_if_any()
