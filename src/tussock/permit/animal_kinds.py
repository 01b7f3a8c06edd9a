# ruff: noqa: D102 - these methods are documented where Condition declares them
"""Clauses that the animal decides: its species, origin and condition."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from tussock.interval import Limit, Verdict
from tussock.permit.condition import AnimalFacts, Condition, Decided, LayerUse, known
from tussock.permit.demands import Demand, Depth
from tussock.permit.fields import AnimalConditions, KnownOrigins, Line, Origins, SpeciesNames
from tussock.permit.taxon import any_covers


class AnimalCondition(Condition):
    """A clause that the animal decides."""

    decided: ClassVar[Decided] = Decided.ANIMAL


def _origin_listed(origins: tuple[str, ...], origin: str) -> bool | None:
    """Return whether the origin is listed; ``None`` when it is not known and not listed as such."""
    if (origin or "unknown") in origins:
        return True
    return False if known(origin) else None


def _both(species: bool | None, origin: bool | None) -> bool | None:
    """Return whether both hold, of answers that may be unknown."""
    if species is False or origin is False:
        return False
    return None if species is None or origin is None else True


class _ListCondition(AnimalCondition):
    """A list of species, of origins, or of species of an origin."""

    species: SpeciesNames | None = None
    origin: Origins | None = None

    @model_validator(mode="after")
    def _lists_something(self) -> _ListCondition:
        if self.species is None and self.origin is None:
            raise ValueError(f"{self.kind} has neither species nor origin, so it lists nothing")
        return self

    def _listed(self, animal: AnimalFacts) -> bool | None:
        species = True if self.species is None else any_covers(self.species, animal.scientific_name)
        origin = True if self.origin is None else _origin_listed(self.origin, animal.origin)
        return _both(species, origin)

    def _unknown(self, animal: AnimalFacts) -> str:
        if self.species is not None and any_covers(self.species, animal.scientific_name) is None:
            name = animal.scientific_name
            if not name:
                return "the species is not known"
            listed = ", ".join(self.species)
            return f"the species is not known: '{name}' does not settle whether it is one of {listed}"
        return "the origin of the animal is not known"

    def _animal(self, animal: AnimalFacts) -> str:
        facts = []
        if self.species is not None:
            facts.append(animal.scientific_name or "unknown species")
        if self.origin is not None:
            facts.append(f"origin {animal.origin or 'unknown'}")
        return ", ".join(facts)

    def _list_words(self) -> str:
        parts = []
        if self.species is not None:
            parts.append(f"scientificName is one of {', '.join(self.species)}")
        if self.origin is not None:
            parts.append(f"origin is one of {', '.join(self.origin)}")
        return " and its ".join(parts)


class SpeciesListed(_ListCondition):
    """Only animals on the list may be taken."""

    kind: Literal["species_listed"] = "species_listed"
    taking: ClassVar[bool] = True
    origin: KnownOrigins | None = None

    def judge_animal(self, animal: AnimalFacts) -> tuple[Verdict, str]:
        listed = self._listed(animal)
        if listed is None:
            return Verdict.MISSING, self._unknown(animal)
        if listed:
            return Verdict.MET, f"{self._animal(animal)} is listed"
        return Verdict.NOT_MET, f"{self._animal(animal)} is not listed"

    def words(self) -> str:
        return f"The animal's {self._list_words().rstrip('.')}."


class SpeciesNotReleased(_ListCondition):
    """Animals on the list go to the authority, not to the bush."""

    kind: Literal["species_not_released"] = "species_not_released"

    def judge_animal(self, animal: AnimalFacts) -> tuple[Verdict, str]:
        listed = self._listed(animal)
        if listed is None:
            return Verdict.MISSING, self._unknown(animal)
        if listed:
            return Verdict.NOT_MET, f"{self._animal(animal)} must not be released"
        return Verdict.MET, f"{self._animal(animal)} is not on the list of animals not to release"

    def words(self) -> str:
        return f"An animal is not released when its {self._list_words().rstrip('.')}."


class AnimalConditionAllowed(AnimalCondition):
    """Only animals in that condition are released."""

    kind: Literal["animal_condition"] = "animal_condition"
    allowed: AnimalConditions

    def judge_animal(self, animal: AnimalFacts) -> tuple[Verdict, str]:
        if not known(animal.condition):
            return Verdict.MISSING, "the condition of the animal is not known"
        if animal.condition in self.allowed:
            return Verdict.MET, f"the animal is {animal.condition}"
        return Verdict.NOT_MET, f"the animal is {animal.condition}, allowed is {' or '.join(self.allowed)}"

    def words(self) -> str:
        return f"The animal's animalCondition is {' or '.join(self.allowed)}."


class SpeciesInRange(Condition):
    """Release within the species' mapped range: the animal says which, the place whether it lies there."""

    kind: Literal["species_in_range"] = "species_in_range"
    decided: ClassVar[Decided] = Decided.PLACE
    layer: Annotated[Line, Field(description="a layer of the region that holds areas (polygons)")]

    def layers(self) -> tuple[LayerUse, ...]:
        return (LayerUse(self.layer, areas=True),)

    def demands(self) -> tuple[Demand, ...]:
        """Return the depth in any range; binding narrows it to the species'."""
        return (Demand(Depth(self.layer), Limit(at_least=0.0)),)

    def words(self) -> str:
        return f"The release lies in layer {self.layer} where its class is the species' scientific name."
