"""Clauses that the animal decides, and which animals a clause is for."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.interval import Verdict
from tussock.names import (
    ANIMAL_CONDITIONS,
    DANGERS,
    FOUND_IN,
    GRAVID,
    LIFE_STAGES,
    ORIGINS,
    UNKNOWN,
)
from tussock.permit.animal_kinds import AnimalConditionAllowed, SpeciesListed, SpeciesNotReleased
from tussock.permit.condition import AnimalFacts, AppliesTo, Condition
from tussock.permit.place_kinds import MaxDistanceFromCapture
from tussock.permit.taxon import any_covers, covers, name_parts

if TYPE_CHECKING:
    from tests.permit.conftest import Beast, Desk

MET, NOT_MET, MISSING = Verdict.MET, Verdict.NOT_MET, Verdict.MISSING


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("Notechis scutatus", ("Notechis", "scutatus")),
        ("  Notechis   scutatus ", ("Notechis", "scutatus")),
        ("Notechis scutatus (Peters, 1861)", ("Notechis", "scutatus")),
        ("Notechis scutatus Peters", ("Notechis", "scutatus")),
        ("Morelia spilota imbricata", ("Morelia", "spilota", "imbricata")),
        ("Morelia spilota subsp. imbricata", ("Morelia", "spilota", "imbricata")),
        ("Notechis", ("Notechis",)),
        ("Notechis sp.", ("Notechis",)),
        ("Notechis spp", ("Notechis",)),
        ("Notechis cf. scutatus", ("Notechis",)),
        ("unknown", ()),
        ("Unknown", ()),
        ("", ()),
        ("tiger snake", ()),
        ("Elapidae", ()),
        ("Hydrophiinae", ()),
        ("<b>", ()),
    ],
)
def test_name_parts(name: str, parts: tuple[str, ...]) -> None:
    assert name_parts(name) == parts


@pytest.mark.parametrize(
    ("listed", "name", "expected"),
    [
        ("Notechis scutatus", "Notechis scutatus", True),
        ("Notechis spp.", "Notechis scutatus", True),
        ("Morelia spilota", "Morelia spilota imbricata", True),
        ("Morelia spilota imbricata", "Morelia spilota", None),
        ("Morelia spilota imbricata", "Morelia spilota spilota", False),
        ("Notechis scutatus", "Notechis sp.", None),
        ("Notechis scutatus", "Pseudonaja sp.", False),
        ("Notechis scutatus", "Pseudonaja textilis", False),
        ("Notechis scutatus", "", None),
        ("Notechis scutatus", "unknown", None),
    ],
)
def test_covers(listed: str, name: str, expected: bool | None) -> None:
    assert covers(listed, name) is expected
    assert any_covers([listed], name) is expected
    assert any_covers(["Boa constrictor", listed], name) is expected
    assert any_covers([], name) is (None if not name_parts(name) else False)


LISTS: list[tuple[str, dict[str, Any], dict[str, str], Verdict, str]] = [
    ("species_listed", {"species": ["Notechis scutatus"]}, {}, MET, "is listed"),
    ("species_listed", {"species": ["Pseudonaja spp."]}, {}, NOT_MET, "Notechis scutatus is not listed"),
    (
        "species_listed",
        {"species": ["Notechis scutatus"]},
        {"scientific_name": ""},
        MISSING,
        "species is not known",
    ),
    (
        "species_listed",
        {"species": ["Notechis scutatus"]},
        {"scientific_name": UNKNOWN},
        MISSING,
        "species is not",
    ),
    (
        "species_listed",
        {"species": ["Notechis scutatus"]},
        {"scientific_name": "Notechis sp."},
        MISSING,
        "settle",
    ),
    ("species_listed", {"origin": ["wild_local"]}, {}, MET, "origin wild_local is listed"),
    (
        "species_listed",
        {"origin": ["wild_local"]},
        {"origin": "exotic"},
        NOT_MET,
        "origin exotic is not listed",
    ),
    (
        "species_listed",
        {"origin": ["wild_local"]},
        {"origin": UNKNOWN},
        MISSING,
        "origin of the animal is not known",
    ),
    (
        "species_listed",
        {"origin": ["wild_local"]},
        {"origin": ""},
        MISSING,
        "origin of the animal is not known",
    ),
    (
        "species_listed",
        {"species": ["Boa"], "origin": ["wild_local"]},
        {"origin": UNKNOWN},
        NOT_MET,
        "not listed",
    ),
    (
        "species_listed",
        {"species": ["Notechis"], "origin": ["wild_local"]},
        {"origin": UNKNOWN},
        MISSING,
        "origin",
    ),
    ("species_not_released", {"origin": ["exotic"]}, {"origin": "exotic"}, NOT_MET, "must not be released"),
    ("species_not_released", {"origin": ["exotic"]}, {}, MET, "not on the list"),
    ("species_not_released", {"origin": ["exotic"]}, {"origin": UNKNOWN}, MISSING, "origin of the animal"),
    (
        "species_not_released",
        {"origin": ["exotic", UNKNOWN]},
        {"origin": UNKNOWN},
        NOT_MET,
        "origin unknown must",
    ),
    ("species_not_released", {"origin": ["exotic", UNKNOWN]}, {"origin": ""}, NOT_MET, "origin unknown must"),
    (
        "species_not_released",
        {"species": ["Notechis"]},
        {},
        NOT_MET,
        "Notechis scutatus must not be released",
    ),
    ("species_not_released", {"species": ["Boa"]}, {"scientific_name": ""}, MISSING, "species is not known"),
    (
        "species_not_released",
        {"species": ["Boa"], "origin": ["exotic"]},
        {"origin": UNKNOWN},
        MET,
        "not on the list",
    ),
    ("species_not_released", {"species": ["Notechis"], "origin": ["exotic"]}, {}, MET, "not on the list"),
    ("animal_condition", {"allowed": ["fit"]}, {}, MET, "the animal is fit"),
    ("animal_condition", {"allowed": ["fit"]}, {"condition": "injured"}, NOT_MET, "injured, allowed is fit"),
    (
        "animal_condition",
        {"allowed": ["fit"]},
        {"condition": ""},
        MISSING,
        "condition of the animal is not known",
    ),
    ("animal_condition", {"allowed": list(ANIMAL_CONDITIONS)}, {"condition": UNKNOWN}, MISSING, "condition"),
]


@pytest.mark.parametrize("case", LISTS)
def test_judge_animal(
    desk: Desk, beast: Callable[..., Beast], case: tuple[str, dict[str, Any], dict[str, str], Verdict, str]
) -> None:
    kind, fields, answers, verdict, reason = case
    judged, words = desk.clause(kind, **fields).judge_animal(beast(**answers))
    assert judged is verdict
    assert reason in words


def test_a_clause_that_no_animal_decides_is_never_met_by_one(desk: Desk, beast: Callable[..., Beast]) -> None:
    verdict, words = desk.clause("same_calendar_day").judge_animal(beast())
    assert verdict is MISSING and "not decided by the animal" in words


NAMES = (
    "Notechis scutatus",
    "Notechis ater",
    "Boa constrictor",
    "Morelia spilota imbricata",
    "Morelia spilota",
)
LISTED = ("Notechis", "Notechis scutatus", "Boa spp.", "Morelia spilota", "Morelia spilota imbricata")
KNOWN_ORIGINS = tuple(o for o in ORIGINS if o != UNKNOWN)


class Animal:
    """An animal of three answers; the others do not matter here."""

    danger, life_stage, gravid, found_in, release_month = DANGERS[0], "adult", "no", "yard", 1

    def __init__(self, scientific_name: str, origin: str, condition: str) -> None:
        self.scientific_name, self.origin, self.condition = scientific_name, origin, condition


def _some(words: tuple[str, ...]) -> st.SearchStrategy[tuple[str, ...]]:
    return st.lists(st.sampled_from(words), min_size=1, unique=True).map(tuple)


def _clause(kind: type[Condition], **fields: object) -> Condition:
    return kind.model_validate({"id": "1", **{k: v for k, v in fields.items() if v is not None}})


@st.composite
def animal_clauses(draw: st.DrawFn) -> Condition:
    """Return any clause that an animal decides."""
    if draw(st.booleans()):
        return _clause(AnimalConditionAllowed, allowed=draw(_some(ANIMAL_CONDITIONS)))
    kinds: list[type[Condition]] = [SpeciesListed, SpeciesNotReleased]
    kind = draw(st.sampled_from(kinds))
    species = draw(st.none() | _some(LISTED))
    origins = ORIGINS if kind is SpeciesNotReleased else KNOWN_ORIGINS
    origin = draw(_some(origins) if species is None else st.none() | _some(origins))
    return _clause(kind, species=species, origin=origin)


def _completions(animal: Animal) -> list[Animal]:
    """Return every animal that this one may turn out to be, once all answers are known."""
    names: tuple[str, ...] = NAMES if animal.scientific_name in ("", UNKNOWN) else (animal.scientific_name,)
    if animal.scientific_name == "Notechis sp.":
        names = ("Notechis scutatus", "Notechis ater")
    origins = KNOWN_ORIGINS if animal.origin in ("", UNKNOWN) else (animal.origin,)
    conditions = ANIMAL_CONDITIONS if animal.condition in ("", UNKNOWN) else (animal.condition,)
    return [Animal(*facts) for facts in product(names, origins, conditions)]


@given(
    clause=animal_clauses(),
    name=st.sampled_from((*NAMES, "Notechis sp.", UNKNOWN, "")),
    origin=st.sampled_from((*ORIGINS, "")),
    condition=st.sampled_from((*ANIMAL_CONDITIONS, UNKNOWN, "")),
)
def test_met_only_if_met_whatever_the_unknown_answers_turn_out_to_be(
    clause: Condition, name: str, origin: str, condition: str
) -> None:
    verdict, words = clause.judge_animal(Animal(name, origin, condition))
    later = {clause.judge_animal(one)[0] for one in _completions(Animal(name, origin, condition))}
    assert words
    if verdict is MET:
        assert later == {MET}
    if verdict is MISSING:
        assert {name, origin, condition} & {"", UNKNOWN, "Notechis sp.", "Morelia spilota"}, "all was known"


FIT = {
    "species": ["Notechis"],
    "danger": ["dangerously_venomous"],
    "origin": ["wild_local"],
    "life_stage": ["adult"],
}
FIT |= {"gravid": ["no"], "animal_condition": ["fit"], "found_in": ["yard", "road"]}


@pytest.mark.parametrize(
    ("applies_to", "answers", "reason"),
    [
        (FIT | {"months": [10, 11]}, {}, ""),
        ({"species": ["Pseudonaja spp."]}, {}, "it is for Pseudonaja spp., the animal is Notechis scutatus"),
        ({"species": ["Notechis scutatus"]}, {"scientific_name": "Notechis sp."}, ""),
        (
            {"danger": ["harmless", "mildly_venomous"]},
            {},
            "it is for danger harmless or mildly_venomous, the",
        ),
        ({"origin": ["exotic"]}, {}, "it is for origin exotic, the animal's is wild_local"),
        ({"life_stage": ["neonate"]}, {}, "it is for life stage neonate, the animal's is adult"),
        ({"gravid": ["yes"]}, {}, "it is for gravid yes, the animal's is no"),
        ({"animal_condition": ["sick"]}, {}, "it is for condition sick, the animal's is fit"),
        ({"found_in": ["vehicle"]}, {}, "it is for found in vehicle, the animal's is yard"),
        ({"months": [4, 5]}, {}, "it is for months 4, 5, the release is in month 11"),
        (FIT, {"origin": "exotic"}, "it is for origin wild_local, the animal's is exotic"),
        # what is not known may fit, so the clause applies
        (FIT, {"scientific_name": "", "danger": ""}, ""),
        (FIT, {"origin": UNKNOWN, "life_stage": UNKNOWN, "gravid": UNKNOWN}, ""),
        (FIT, {"condition": "", "found_in": ""}, ""),
        ({"gravid": ["yes"]}, {"gravid": UNKNOWN}, ""),
        ({"gravid": ["no"]}, {"gravid": UNKNOWN}, ""),
    ],
)
def test_applies_to(
    desk: Desk, beast: Callable[..., Beast], applies_to: dict[str, Any], answers: dict[str, str], reason: str
) -> None:
    clause = desk.clause("max_distance_from_capture", limit_m=5, applies_to=applies_to)
    animal = beast(**answers)
    assert clause.misfit(animal).startswith(reason)
    assert clause.applies(animal) is (reason == "")


def test_a_clause_without_applies_to_is_for_every_animal(desk: Desk, beast: Callable[..., Beast]) -> None:
    clause = desk.clause("max_distance_from_capture", limit_m=5)
    assert clause.applies(beast()) and clause.applies(beast(scientific_name="", danger="", origin=UNKNOWN))


ANSWERS: dict[str, tuple[str, ...]] = {
    "danger": DANGERS,
    "origin": KNOWN_ORIGINS,
    "life_stage": LIFE_STAGES[:-1],
    "gravid": GRAVID[:-1],
    "animal_condition": ANIMAL_CONDITIONS,
    "found_in": FOUND_IN,
}


class Answers:
    """An animal whose answers are given by the names that applies_to has for them."""

    scientific_name, release_month = "Notechis scutatus", 1

    def __init__(self, given: dict[str, str]) -> None:
        self.danger, self.origin, self.life_stage = given["danger"], given["origin"], given["life_stage"]
        self.gravid, self.condition, self.found_in = (
            given["gravid"],
            given["animal_condition"],
            given["found_in"],
        )


@given(data=st.data())
def test_a_clause_does_not_apply_only_if_no_answer_could_make_it_apply(data: st.DataObject) -> None:
    wanted = {k: data.draw(_some(words)) for k, words in ANSWERS.items() if data.draw(st.booleans(), label=k)}
    answers = {k: data.draw(st.sampled_from((*words, UNKNOWN, ""))) for k, words in ANSWERS.items()}
    applies_to = AppliesTo.model_validate(wanted) if wanted else None
    clause = MaxDistanceFromCapture(id="1", limit_m=5, applies_to=applies_to)
    animal: AnimalFacts = Answers(answers)
    possible = all(answers[k] in words or answers[k] in ("", UNKNOWN) for k, words in wanted.items())
    assert clause.applies(animal) is possible
