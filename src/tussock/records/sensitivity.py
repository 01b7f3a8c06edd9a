"""How coarsely the places of a species are given away: published categories, and which species has which."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tussock.errors import Faults
from tussock.permit.taxon import covers, name_parts
from tussock.permit.toml_file import read_toml

SHIPPED = Path(__file__).with_name("sensitivity.toml")
DECIMALS: Mapping[int, int | None] = {1: None, 2: 1, 3: 2, 4: 3}
"""Category → decimals of a degree that are given; ``None``: no place is (Chapman 2020, Table 7)."""
_ALLOWED = "a category: 1, 2, 3 or 4"


@dataclass(frozen=True)
class Sensitivity:
    """Categories by species.

    Attributes
    ----------
    species
        Scientific name, of a species or a genus → category.
    default
        Of a species that is not among them.
    unidentified
        Of an animal whose species is not known.
    """

    species: Mapping[str, int]
    default: int
    unidentified: int

    def category(self, names: Iterable[str]) -> int:
        """Return the strictest category of the species that an animal may be.

        A listed name that may be that of the animal, and may not, counts.
        """
        known = [name for name in names if name_parts(name)]
        return min((self._of(name) for name in known), default=self.unidentified)

    def _of(self, name: str) -> int:
        found = [
            (covers(one, name), len(name_parts(one)), category) for one, category in self.species.items()
        ]
        unsure = [category for answer, _, category in found if answer is None]
        closest = max((parts for answer, parts, _ in found if answer), default=0)
        sure = [category for answer, parts, category in found if answer and parts == closest]
        return min([*(sure or [self.default]), *unsure])


def read_sensitivity(path: Path | None = None) -> Sensitivity:
    """Return the categories of a file; those that come with Tussock where none is named.

    Raises
    ------
    InputError
        Listing everything in it that is no category and no species.
    """
    path = path or SHIPPED
    raw, faults = read_toml(path), Faults()
    for key in sorted(raw.keys() - {"default", "unidentified", "species"}):
        faults.add(f"unknown key '{key[:40]}'", where=path.name, allowed="default, unidentified, [species]")
    for key in ("default", "unidentified"):
        _check(raw.get(key), f"{path.name}, {key}", faults)
    species = raw.get("species", {})
    if not isinstance(species, dict):
        faults.add("species is no table", where=path.name, allowed='[species] with "Name" = category')
        species = {}
    for name, category in species.items():
        where = f"{path.name}, species, {name[:60]}"
        _check(category, where, faults)
        if not name_parts(name):
            faults.add("it is no scientific name", where=where, allowed="such as 'Notechis scutatus'")
    faults.raise_if_any()
    return Sensitivity(dict(species), raw["default"], raw["unidentified"])


def _check(category: Any, where: str, faults: Faults) -> None:
    if isinstance(category, bool) or not isinstance(category, int) or category not in DECIMALS:
        shown = "nothing" if category is None else f"'{str(category)[:40]}'"
        faults.add(f"found {shown}", where=where, allowed=_ALLOWED, fix="write one of them")
