"""The gate at intake: whether a site may be shown for an animal, and otherwise the ways on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
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
)
from tussock.species.answers import OTHERS, other_names, parse_answer, read_animal, unanswered
from tussock.species.traits import Danger, Profile, Range

__all__ = [
    "OTHERS",
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
    "listed",
    "other_names",
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


def gate(animal: Animal, *, country: str | None, contacts: Mapping[str, str] | None = None) -> Admission:
    """Return whether a site may be shown for an animal, and otherwise the ways on.

    Only an animal that is fit, wild and local, identified and no egg is let through; one that is only
    probably identified where every species it may be would be.

    Parameters
    ----------
    animal
        With all questions answered.
    country
        ISO 3166 alpha-2 code of the region; ``None`` when it names none: then the profiles' origins
        are not used and the answer on origin stands.
    contacts
        Code of a way on → whom to call, in the user's words.

    Raises
    ------
    InputError
        If a contact's code or the country is none.
    """
    _check(country=country, contacts=contacts or {})
    ways = sorted(_ways(animal, country=country), key=lambda way: WAY_CODES.index(way[0]))
    called = contacts or {}
    return Admission(
        ways_on=tuple(WayOn(code, sentence, called.get(code, "")) for code, sentence in ways),
        notes=tuple(_notes(animal, country=country, planned=not ways)),
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


def _ways(animal: Animal, *, country: str | None) -> Iterator[tuple[str, str]]:
    if animal.condition is Condition.DEAD:
        yield "record", "It is dead: nothing to release. Enter it in the record with what became of it."
    elif animal.condition is not Condition.FIT:
        state = animal.condition or "in a state that nobody noted"
        yield "carer", f"It is {state}: it goes to a vet or a licensed carer, no site is shown."
    if animal.life_stage is LifeStage.EGG:
        yield "authority", "Eggs never get a release site. Ask the wildlife authority or a licensed carer."
    if animal.origin in _ORIGIN_SENTENCES:
        yield "authority", _ORIGIN_SENTENCES[animal.origin]
    for profile in animal.profiles if country else ():
        status = profile.origin.get(country or "", Range.NATIVE)
        if status in _NOT_NATIVE:
            yield "authority", _not_native(animal, profile, f"{_NOT_NATIVE[status]} {country}")
    if animal.identification is Identification.UNKNOWN:
        yield "identify", "The species is not known: no site is shown. Ask for identification help."
    elif animal.identification is Identification.PROBABLE and not animal.others:
        yield (
            "identify",
            "The species is only probable, and which others it may be is not known: no site is shown. "
            f"{_NAME_THEM}, or ask for identification help.",
        )


def _not_native(animal: Animal, profile: Profile, status: str) -> str:
    name = profile.scientific_name
    lead = name if len(animal.profiles) == 1 else f"One of the species it may be, {name},"
    sentence = f"{lead} {status}: it is not released. Call the wildlife authority."
    if _are_look_alikes(animal) and profile is not animal.profile:
        sentence += f" {name} is a look-alike that nobody named. {_NAME_THEM} where it cannot be that one."
    return sentence


_NAME_THEM = f"Name those it may be (--or, column {OTHERS})"


def _are_look_alikes(animal: Animal) -> bool:
    """Return whether the other species are the look-alikes of the first."""
    return bool(animal.others) and animal.others == animal.look_alikes


def _notes(animal: Animal, *, country: str | None, planned: bool) -> Iterator[str]:
    yield from _strangers([p for p in animal.profiles if not p.known])
    if animal.others and planned:
        yield _right_for_all(animal)
    yield from _dangerous_look_alikes(animal, country=country)
    unsaid = [p.scientific_name for p in animal.profiles if country and country not in p.origin]
    if unsaid:
        verb, whose = ("is", "its profile") if len(unsaid) == 1 else ("are", "their profiles")
        yield (
            f"Whether {listed(unsaid)} {verb} native in {country} is not in {whose}: "
            "your answer on origin stands."
        )
    if animal.found_in is FoundIn.VEHICLE:
        yield "Found in a vehicle: it may have come with it from elsewhere. Be sure that it is local."
    if animal.found_in is FoundIn.TRAP_OR_NETTING:
        yield (
            "Found in a trap or netting: injuries may not show. "
            "Have a vet or a licensed carer confirm that it is fit."
        )


def _strangers(profiles: Sequence[Profile]) -> Iterator[str]:
    """Yield the note on names without a profile; all of them have the neutral one's danger."""
    if not profiles:
        return
    names = listed([f"'{p.scientific_name}'" for p in profiles])
    taken = "it is taken" if len(profiles) == 1 else "they are taken"
    yield (
        f"NO PROFILE for {names}: {taken} as {profiles[0].danger.replace('_', ' ')}, "
        "without preferences. Check the name, or add a profile of your own."
    )


def _right_for_all(animal: Animal) -> str:
    first, *others = animal.names
    whose = f", the look-alikes of {first}. {_NAME_THEM} where others come closer"
    return (
        f"Identification probable: planned so that it is right for {listed(others, word='or')} too"
        f"{whose if _are_look_alikes(animal) else ''}. Each site is scored for the one it suits least."
    )


def _dangerous_look_alikes(animal: Animal, *, country: str | None) -> Iterator[str]:
    """Yield a note where a species that is not dangerously venomous has a look-alike that is.

    Look-alikes without a profile of their own are left out (their danger is not known), and so are those
    planned for anyway and those that do not live in the country.
    """
    if animal.profile.danger is Danger.DANGEROUSLY_VENOMOUS:
        return
    mistaken = [
        p.scientific_name
        for p in animal.look_alikes
        if p.known
        and p.danger is Danger.DANGEROUSLY_VENOMOUS
        and p not in animal.others
        and p.origin.get(country or "") is not Range.ABSENT
    ]
    if mistaken:
        names = listed(mistaken, word="or")
        yield f"{animal.scientific_name} is easily taken for {names} (dangerously venomous): be sure which."


def listed(names: Sequence[str], *, word: str = "and") -> str:
    """Return names as a list in a sentence.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    *most, last = names
    return f"{', '.join(most)} {word} {last}" if most else last


def _check(*, country: str | None, contacts: Mapping[str, str]) -> None:
    faults = Faults()
    if country is not None and not (len(country) == 2 and country.isascii() and country.isupper()):
        faults.add(f"found {country!r}", where="country", allowed="two capital letters (ISO 3166)")
    for code in sorted(set(contacts) - set(WAY_CODES)):
        faults.add(f"found '{code}'", where="contacts", allowed=", ".join(WAY_CODES))
    faults.raise_if_any()
