"""The book of species: finding the profile for a name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from pathlib import Path

from tussock.errors import InputError
from tussock.names import ALIKE
from tussock.species.reading import read_profiles
from tussock.species.traits import ActivePeriod, Danger, Profile, Range, name_key, species_part

__all__ = ["ActivePeriod", "Danger", "Profile", "Range", "SpeciesBook", "load_profiles"]

SHIPPED = Path(__file__).with_name("profiles.toml")
"""The profiles that come with Tussock."""


@dataclass(frozen=True)
class SpeciesBook:
    """Profiles that can be found by any of their names.

    Attributes
    ----------
    profiles
        One per species, in the order of the files; a user's own stands in for the shipped one.
    neutral
        Stands in for any name without a profile.
    """

    profiles: tuple[Profile, ...]
    neutral: Profile
    _by_key: dict[str, tuple[Profile, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_by_key", _index(self.profiles))

    def candidates(self, name: str) -> tuple[Profile, ...]:
        """Return every profile a name may mean; empty when there is none.

        Case, spaces, hyphens and apostrophes do not count. A subspecies, or an author with a year,
        is found under its species. Where a user's own profiles bear the name, only those count.
        """
        found = self._by_key.get(name_key(name), ())
        species = species_part(name)
        if not found and species:
            found = self._by_key.get(name_key(species), ())
        return found

    def find(self, name: str) -> Profile:
        """Return the profile for a scientific or vernacular name.

        A name without a profile gives the neutral one: strictest danger class, no preferences,
        ``known`` False and the name as given. Say so loudly wherever it is used.

        Raises
        ------
        InputError
            If the name is empty, shared by several species (it lists them), or nearly one in the book.
        """
        given = " ".join(name.split())
        if not name_key(given):
            raise InputError(f"no name in {name!r}", allowed="a scientific or vernacular name")
        found = self.candidates(given)
        if len(found) > 1:
            names = ", ".join(sorted(p.scientific_name for p in found))
            raise InputError(
                f"'{given}' may be any of {len(found)} species", allowed=names, fix="give the scientific name"
            )
        if found:
            return found[0]
        self._refuse_slip(given)
        return self._stand_in(given)

    def of_species(self, scientific_name: str) -> Profile:
        """Return the profile of a species that a profile file names; the neutral one where it has none.

        Unlike :meth:`find` it takes the name for right: nobody is there to correct it.
        """
        found = self.candidates(scientific_name)
        return found[0] if len(found) == 1 else self._stand_in(scientific_name)

    def _stand_in(self, name: str) -> Profile:
        return replace(self.neutral, scientific_name=name)

    def _refuse_slip(self, given: str) -> None:
        """Raise InputError for a name that is nearly one in the book: clauses that list it would miss it."""
        near = get_close_matches(name_key(given), self._by_key, n=3, cutoff=ALIKE)
        if not near:
            return
        names = sorted({p.scientific_name for key in near for p in self._by_key[key]})
        raise InputError(
            f"there is no '{given}', but a name very like it",
            allowed=", ".join(names),
            fix="correct the spelling, or add a profile of your own if it is another species",
        )


def load_profiles(extra: Path | None = None) -> SpeciesBook:
    """Return the shipped profiles, with those of a user's own file put over them.

    Parameters
    ----------
    extra
        A file in the form of the shipped one. Its profile of a species replaces the shipped one whole,
        and a name it gives means its own species only.

    Raises
    ------
    InputError
        Every fault of the files at once, each with file, profile, field and what is allowed.
    """
    shipped, neutral = read_profiles(SHIPPED)
    if neutral is None:
        raise InputError("no neutral profile", where=SHIPPED.name, fix="reinstall Tussock")
    own = read_profiles(extra, from_user=True)[0] if extra is not None else ()
    replaced = {p.scientific_name for p in own}
    kept = tuple(p for p in shipped if p.scientific_name not in replaced)
    return SpeciesBook(profiles=kept + own, neutral=neutral)


def _index(profiles: Iterable[Profile]) -> dict[str, tuple[Profile, ...]]:
    bearers: dict[str, list[Profile]] = {}
    for profile in profiles:
        for key in {name_key(n) for n in (profile.scientific_name, *profile.vernacular_names)}:
            bearers.setdefault(key, []).append(profile)
    return {key: _users_first(found) for key, found in bearers.items()}


def _users_first(found: list[Profile]) -> tuple[Profile, ...]:
    own = tuple(p for p in found if p.from_user)
    return own or tuple(found)
