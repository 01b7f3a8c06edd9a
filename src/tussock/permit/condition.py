"""What every clause of a permit has, whatever its kind."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar, Protocol

from pydantic import BaseModel, ConfigDict, Field, model_validator

from tussock.interval import Verdict
from tussock.names import UNKNOWN
from tussock.permit.demands import Demand
from tussock.permit.fields import (
    AnimalConditions,
    Dangers,
    FoundIn,
    Gravid,
    LifeStages,
    Line,
    Months,
    Origins,
    Prose,
    SpeciesNames,
)
from tussock.permit.record_facts import Finding, RecordFacts
from tussock.permit.taxon import any_covers


class Decided(StrEnum):
    """What decides a clause, and so when it can be judged."""

    PLACE = "place"
    ANIMAL = "animal"
    TIME = "time"
    RECORD = "record"
    NONE = "none"


class AnimalFacts(Protocol):
    """What was answered about the animal, in the words of :mod:`tussock.names`.

    Empty and ``unknown`` both mean that it is not known. ``release_month`` is 1–12, in the
    permit's zone.
    """

    @property
    def scientific_name(self) -> str:
        """Its name, as far as it is identified."""

    @property
    def danger(self) -> str:
        """Danger class of the species."""

    @property
    def origin(self) -> str:
        """Where it comes from."""

    @property
    def life_stage(self) -> str:
        """From egg to adult."""

    @property
    def gravid(self) -> str:
        """Whether she carries young."""

    @property
    def condition(self) -> str:
        """The state it is in (``animalCondition``)."""

    @property
    def found_in(self) -> str:
        """Where it was found."""

    @property
    def release_month(self) -> int:
        """Month of the planned or recorded release."""


def known(answer: str) -> bool:
    """Return whether a question about the animal was answered."""
    return answer not in ("", UNKNOWN)


class Strict(BaseModel):
    """A table of a TOML file: no key too many, no value turned into another type."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class AppliesTo(Strict):
    """The animals and months that a clause is for; every field given must fit.

    What is not known about the animal fits: a clause only ever restricts, so taking it to apply is
    the careful side. Whether it then does is not known either: :meth:`unknown` says for want of what.
    """

    species: SpeciesNames | None = None
    danger: Dangers | None = None
    origin: Origins | None = None
    life_stage: LifeStages | None = None
    gravid: Gravid | None = None
    animal_condition: AnimalConditions | None = None
    found_in: FoundIn | None = None
    months: Months | None = None

    @model_validator(mode="after")
    def _names_something(self) -> AppliesTo:
        if not self.model_fields_set:
            raise ValueError("applies_to names nothing; leave it out where the clause is for every animal")
        return self

    def misfit(self, animal: AnimalFacts) -> str:
        """Return why the clause is not for this animal; empty when it is, or may be."""
        if self.species is not None and any_covers(self.species, animal.scientific_name) is False:
            return f"it is for {', '.join(self.species)}, the animal is {animal.scientific_name}"
        for name, wanted, answer in self._answers(animal):
            if wanted is not None and known(answer) and answer not in wanted:
                return f"it is for {name} {' or '.join(wanted)}, the animal's is {answer}"
        if self.months is not None and animal.release_month not in self.months:
            months = ", ".join(map(str, self.months))
            return f"it is for months {months}, the release is in month {animal.release_month}"
        return ""

    def unknown(self, animal: AnimalFacts) -> tuple[str, ...]:
        """Return which answers that decide whether it is for this animal are not known."""
        named = self.species is not None and any_covers(self.species, animal.scientific_name) is None
        open_ones = [
            n for n, wanted, answer in self._answers(animal) if wanted is not None and not known(answer)
        ]
        return (*(("scientificName",) if named else ()), *(_COLUMNS[n] for n in open_ones))

    def _answers(self, animal: AnimalFacts) -> tuple[tuple[str, tuple[str, ...] | None, str], ...]:
        return (
            ("danger", self.danger, animal.danger),
            ("origin", self.origin, animal.origin),
            ("life stage", self.life_stage, animal.life_stage),
            ("gravid", self.gravid, animal.gravid),
            ("condition", self.animal_condition, animal.condition),
            ("found in", self.found_in, animal.found_in),
        )


_COLUMNS = {
    "danger": "the species' danger class",
    "origin": "origin",
    "life stage": "lifeStage",
    "gravid": "gravid",
    "condition": "animalCondition",
    "found in": "foundIn",
}
"""What a person calls an answer → where it is looked for when it is not known."""


@dataclass(frozen=True)
class LayerUse:
    """A layer that a clause reads: which classes of it (``None`` all), and whether it must hold areas."""

    layer: str
    classes: tuple[str, ...] | None = None
    areas: bool = False


class Condition(Strict):
    """One testable clause of a permit.

    Attributes
    ----------
    id
        The clause as printed in the permit.
    kind
        Which test it is; fixed by the subclass.
    text
        The authority's words; may be empty.
    mandatory
        ``False`` makes it advisory: shown, never blocking.
    applies_to
        The animals and months it is for; ``None`` for all.
    decided
        What decides it (class attribute).
    judged, not_checked
        Whether a verdict can be given before a release, and what is needed or to be done where it cannot
        (class attributes). What the record decides is judged afterwards, by :meth:`judge_record`.
    """

    decided: ClassVar[Decided] = Decided.NONE
    judged: ClassVar[bool] = True
    not_checked: ClassVar[str] = ""
    taking: ClassVar[bool] = False

    id: Annotated[Line, Field(description='the clause as printed in the permit, such as "3(a)"')]
    kind: str
    text: Prose = ""
    mandatory: Annotated[bool, Field(description="true or false")] = True
    applies_to: Annotated[AppliesTo | None, Field(description="a table such as { danger = [...] }")] = None

    @property
    def of_taking(self) -> bool:
        """Whether the version at capture judges it, and not the one at disposal."""
        return self.taking

    def applies(self, animal: AnimalFacts) -> bool:
        """Return whether the clause is, or may be, for this animal."""
        return not self.misfit(animal)

    def misfit(self, animal: AnimalFacts) -> str:
        """Return why the clause does not apply; empty when it does, or may."""
        return self.applies_to.misfit(animal) if self.applies_to else ""

    def unknown(self, animal: AnimalFacts) -> tuple[str, ...]:
        """Return which answers that decide whether it applies are not known."""
        return self.applies_to.unknown(animal) if self.applies_to else ()

    def layers(self) -> tuple[LayerUse, ...]:
        """Return the layers whose features it reads."""
        return ()

    def demands(self) -> tuple[Demand, ...]:
        """Return what it asks of the ground; empty for clauses that a place does not decide."""
        return ()

    def judge_animal(self, animal: AnimalFacts) -> tuple[Verdict, str]:
        """Return the verdict that the animal decides, and why.

        An answer that is needed and not known gives ``missing``; so does every clause that an
        animal does not decide.
        """
        return Verdict.MISSING, f"{self.kind} is not decided by the animal"

    def judge_record(self, facts: RecordFacts) -> Finding:
        """Return what the record says of it, after the release.

        What is needed and not recorded gives ``missing``; so does every clause that a record does not
        decide.
        """
        return Finding(Verdict.MISSING, f"{self.kind} is not decided by the record")

    def words(self) -> str:
        """Return one plain sentence: what is computed, from which layer and fields."""
        return f"{self.kind} is read and kept."
