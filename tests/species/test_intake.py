"""The gate at intake: over the whole product of answers, exactly one kind of animal is let through."""

import itertools
import re
from dataclasses import replace

import pytest

from tussock import names
from tussock.errors import InputError
from tussock.species.intake import (
    QUESTIONS,
    WAY_CODES,
    Admission,
    Animal,
    Condition,
    FoundIn,
    Gravid,
    Identification,
    LifeStage,
    Origin,
    gate,
    parse_answer,
    read_animal,
    unanswered,
)
from tussock.species.profiles import load_profiles
from tussock.species.traits import STRICTNESS, Danger, Range

BOOK = load_profiles()

ANSWERS = {
    "scientificName": "Notechis scutatus",
    "identification": "certain",
    "origin": "wild_local",
    "animalCondition": "fit",
    "individualCount": "1",
    "lifeStage": "adult",
    "gravid": "no",
    "foundIn": "yard",
}
ANIMAL = read_animal(ANSWERS, book=BOOK)


def codes(admission: Admission) -> list[str]:
    return [way.code for way in admission.ways_on]


def test_the_answers_are_the_shared_words() -> None:
    shared = {
        "identification": names.IDENTIFICATIONS,
        "origin": names.ORIGINS,
        "animalCondition": names.ANIMAL_CONDITIONS,
        "lifeStage": names.LIFE_STAGES,
        "gravid": names.GRAVID,
        "foundIn": names.FOUND_IN,
    }
    assert {column: tuple(kind) for column, kind in QUESTIONS.items()} == shared


PRODUCT = list(
    itertools.product(
        Identification,
        Origin,
        Condition,
        LifeStage,
        Gravid,
        FoundIn,
        ("none", "native", "absent"),
        ("AU", "NZ", None),
    )
)
# From memory: both live wild in Australia and neither in New Zealand; Vipera berus in neither.
COMPANIONS = {
    "none": (),
    "native": (BOOK.find("Austrelaps superbus"),),
    "absent": (replace(BOOK.find("Vipera berus"), origin={"AU": Range.ABSENT}),),
}


def test_over_every_combination_of_answers_exactly_one_kind_is_let_through() -> None:
    assert len(PRODUCT) == 3 * 5 * 4 * 6 * 3 * 7 * 3 * 3
    for identification, origin, condition, stage, gravid, found_in, others, country in PRODUCT:
        if identification == "certain" and others != "none":
            continue  # contradicts itself, see below
        animal = replace(
            ANIMAL,
            identification=identification,
            origin=origin,
            condition=condition,
            life_stage=stage,
            gravid=gravid,
            found_in=found_in,
            others=COMPANIONS[others],
        )
        admission = gate(animal, country=country)
        # Design § 8 written out by hand; Notechis scutatus is native in AU and absent in NZ.
        let_through = (
            (identification == "certain" or (identification == "probable" and others != "none"))
            and (origin, condition) == ("wild_local", "fit")
            and stage != "egg"
            and country != "NZ"
            and not (others == "absent" and country == "AU")
        )
        assert admission.site_may_be_shown is let_through
        assert admission.site_may_be_shown is (not admission.ways_on)


def test_of_identification_origin_and_condition_exactly_one_triple_is_let_through() -> None:
    shown = [
        triple
        for triple in itertools.product(Identification, Origin, Condition)
        if gate(
            replace(ANIMAL, identification=triple[0], origin=triple[1], condition=triple[2]), country=None
        ).site_may_be_shown
    ]
    assert shown == [("certain", "wild_local", "fit")]


@pytest.mark.parametrize(
    ("answer", "code", "words"),
    [
        (
            {"scientificName": "Ficticia exempli", "identification": "probable"},
            "identify",
            "(--or, column orScientificName)",
        ),
        ({"identification": "unknown"}, "identify", "identification help"),
        ({"origin": "possible_escapee"}, "authority", "may have escaped"),
        ({"origin": "brought_in"}, "authority", "brought in from elsewhere"),
        ({"origin": "exotic"}, "authority", "exotic"),
        ({"origin": "unknown"}, "authority", "not known"),
        ({"animalCondition": "injured"}, "carer", "vet or a licensed carer"),
        ({"animalCondition": "sick"}, "carer", "vet or a licensed carer"),
        ({"animalCondition": "dead"}, "record", "nothing to release"),
        ({"lifeStage": "egg"}, "authority", "Eggs never get a release site"),
    ],
)
def test_each_answer_has_its_way_on(answer: dict[str, str], code: str, words: str) -> None:
    admission = gate(read_animal({**ANSWERS, **answer}, book=BOOK), country=None)
    assert codes(admission) == [code]
    assert words in admission.ways_on[0].sentence


def test_the_most_pressing_way_comes_first() -> None:
    answers = {**ANSWERS, "identification": "unknown", "origin": "exotic", "animalCondition": "injured"}
    assert codes(gate(read_animal(answers, book=BOOK), country=None)) == ["carer", "authority", "identify"]


# From memory: Boiga irregularis is native in Australia and was brought to Guam; NZ has no land snakes.
@pytest.mark.parametrize(("country", "expected"), [("AU", []), ("GU", ["authority"]), ("NZ", ["authority"])])
def test_origin_by_country(country: str, expected: list[str]) -> None:
    animal = read_animal({**ANSWERS, "scientificName": "Boiga irregularis"}, book=BOOK)
    assert codes(gate(animal, country=country)) == expected
    assert gate(animal, country=None).site_may_be_shown


def test_a_country_not_in_the_profile_leaves_the_answer_standing() -> None:
    admission = gate(ANIMAL, country="FR")
    assert admission.site_may_be_shown
    assert any("native in FR is not in its profile" in note for note in admission.notes)


def test_a_native_country_needs_no_note() -> None:
    assert gate(ANIMAL, country="AU") == Admission()


def test_a_name_without_profile_is_let_through_loudly() -> None:
    animal = read_animal({**ANSWERS, "scientificName": "Ficticia exempli"}, book=BOOK)
    admission = gate(animal, country=None)
    assert admission.site_may_be_shown
    assert admission.notes[0].startswith("NO PROFILE for 'Ficticia exempli'")
    assert "dangerously venomous" in admission.notes[0]


@pytest.mark.parametrize(
    ("found_in", "words"), [("vehicle", "Be sure that it is local"), ("trap_or_netting", "vet")]
)
def test_where_it_was_found_may_be_worth_a_note(found_in: str, words: str) -> None:
    admission = gate(replace(ANIMAL, found_in=FoundIn(found_in)), country=None)
    assert admission.site_may_be_shown
    assert words in admission.notes[0]


def test_contacts_are_carried_along() -> None:
    animal = replace(ANIMAL, condition=Condition.SICK, origin=Origin.EXOTIC)
    ways = gate(animal, country=None, contacts={"carer": "the vet, 555 0100"}).ways_on
    assert [(w.code, w.contact) for w in ways] == [("carer", "the vet, 555 0100"), ("authority", "")]


def test_a_contact_for_no_way_on_and_a_country_that_is_none_are_told_together() -> None:
    with pytest.raises(InputError, match="2 faults") as caught:
        gate(ANIMAL, country="Australia", contacts={"neighbour": "x"})
    assert all(code in str(caught.value) for code in WAY_CODES)
    assert "two capital letters" in str(caught.value)


# Words that would suggest handling by the public, or treatment.
FORBIDDEN = re.compile(
    r"\b(handl\w*|catch\w*|captur\w*|grab\w*|touch\w*|hold\w*|pick\w*|lift\w*|kill\w*|pin\w*|bag\w*|hook\w*|tongs?|"
    r"bandage\w*|tourniquet\w*|treat\w*|wash\w*|ice|antivenom|wound\w*|feed\w*|warm\w*)\b",
    re.IGNORECASE,
)


def test_nothing_said_suggests_handling_or_treatment() -> None:
    said = set()
    named = ("Notechis scutatus", "Ficticia exempli", "Drysdalia coronoides", "Vipera berus")
    for animal in (read_animal({**ANSWERS, "scientificName": name}, book=BOOK) for name in named):
        for identification, origin, condition, stage, found_in, country in itertools.product(
            Identification, Origin, Condition, LifeStage, FoundIn, ("AU", "NZ", "FR")
        ):
            asked = replace(
                animal,
                identification=identification,
                others=() if identification == "certain" else animal.look_alikes,
                origin=origin,
                condition=condition,
                life_stage=stage,
                found_in=found_in,
            )
            admission = gate(asked, country=country)
            said |= {way.sentence for way in admission.ways_on} | set(admission.notes)
    assert len(said) >= 15
    assert not [s for s in said if FORBIDDEN.search(s)]


@pytest.mark.parametrize(
    "text", ["trap_or_netting", "Trap or netting", " TRAP-OR-NETTING ", "trap  or_netting"]
)
def test_answers_in_any_spelling(text: str) -> None:
    assert parse_answer(FoundIn, text) is FoundIn.TRAP_OR_NETTING


@pytest.mark.parametrize("kind", QUESTIONS.values(), ids=QUESTIONS.keys())
def test_an_answer_that_is_none_lists_those_that_are(kind: type[Identification]) -> None:
    with pytest.raises(InputError) as caught:
        parse_answer(kind, "perhaps", where="captures.csv, row 3")
    assert caught.value.allowed == ", ".join(kind)
    assert "captures.csv, row 3" in str(caught.value)


def test_all_wrong_answers_are_told_at_once() -> None:
    wrong = {
        **ANSWERS,
        "origin": "garden",
        "gravid": "maybe",
        "individualCount": "0",
        "scientificName": "cobra",
    }
    del wrong["foundIn"]
    with pytest.raises(InputError, match=r"^5 faults") as caught:
        read_animal(wrong, book=BOOK, where="captures.csv, row 3")
    for column in ("origin", "gravid", "individualCount", "scientificName", "foundIn"):
        assert f"captures.csv, row 3, {column}: " in str(caught.value)


@pytest.mark.parametrize("count", ["0", "-1", "1.5", "two", "nan", "²"])
def test_a_count_is_a_whole_number_from_one(count: str) -> None:
    with pytest.raises(InputError, match="whole number from 1"):
        read_animal({**ANSWERS, "individualCount": count}, book=BOOK)


def test_an_animal_cannot_be_none() -> None:
    with pytest.raises(InputError, match="whole number from 1"):
        replace(ANIMAL, individual_count=0)


def test_what_is_still_to_be_asked() -> None:
    assert unanswered(ANSWERS) == ()
    assert unanswered({"vernacularName": "dugite"}) == (*QUESTIONS, "individualCount")
    assert unanswered({**ANSWERS, "gravid": " ", "scientificName": ""}) == ("scientificName", "gravid")


def test_a_vernacular_name_will_do() -> None:
    answers = {**ANSWERS, "scientificName": "", "vernacularName": "Tiger Snake"}
    assert read_animal(answers, book=BOOK) == ANIMAL


def test_a_shared_vernacular_name_beside_its_scientific_one_is_no_contradiction() -> None:
    answers = {**ANSWERS, "scientificName": "Austrelaps superbus", "vernacularName": "copperhead"}
    assert read_animal(answers, book=BOOK).scientific_name == "Austrelaps superbus"


def test_two_names_of_different_species_contradict() -> None:
    with pytest.raises(InputError, match=r"different species.*Notechis scutatus"):
        read_animal(
            {**ANSWERS, "scientificName": "Morelia spilota", "vernacularName": "tiger snake"}, book=BOOK
        )


def test_reading_changes_nothing_in_the_answers() -> None:
    given = dict(ANSWERS)
    read_animal(given, book=BOOK)
    assert given == ANSWERS
    assert isinstance(ANIMAL, Animal)
    assert ANIMAL.individual_count == 1
    assert ANIMAL.life_stage is LifeStage.ADULT
    assert ANIMAL.gravid is Gravid.NO


def animal_of(**changed: str) -> Animal:
    return read_animal({**ANSWERS, **changed}, book=BOOK)


@pytest.mark.parametrize("word", ["certain", " Certain "])
def test_certain_beside_other_names_contradicts(word: str) -> None:
    with pytest.raises(InputError, match=r"identification: certain, yet other species are named: .*superbus"):
        animal_of(identification=word, orScientificName="Austrelaps superbus")
    with pytest.raises(InputError, match="certain, yet"):
        replace(ANIMAL, others=(BOOK.find("Austrelaps superbus"),))


def test_the_names_given_stand_in_their_order_each_once() -> None:
    given = "lowland copperhead | Pseudonaja textilis|Austrelaps superbus | Ficticia exempli"
    animal = animal_of(identification="probable", orScientificName=given)
    assert animal.names == (
        "Notechis scutatus",
        "Austrelaps superbus",
        "Pseudonaja textilis",
        "Ficticia exempli",
    )
    assert [p.known for p in animal.profiles] == [True, True, True, False]
    assert animal.profiles[0] is animal.profile


def test_probable_with_nothing_named_stands_for_the_look_alikes_too() -> None:
    animal = animal_of(identification="probable")
    assert animal.names == ("Notechis scutatus", *BOOK.find("Notechis scutatus").look_alikes)
    # Tropidechis carinatus has no profile: the neutral one stands in under its own name
    stranger = next(p for p in animal.others if p.scientific_name == "Tropidechis carinatus")
    assert (stranger.known, stranger.danger) == (False, Danger.DANGEROUSLY_VENOMOUS)
    admission = gate(animal, country="AU")
    assert admission.site_may_be_shown
    assert admission.notes[0].startswith("NO PROFILE for 'Tropidechis carinatus'")
    assert (
        "right for Austrelaps superbus, Tropidechis carinatus, Pseudechis porphyriacus or "
        "Pseudonaja textilis too, the look-alikes of Notechis scutatus." in admission.notes[1]
    )


# From memory: the first is mildly venomous, the tiger snake dangerously, the rock python a large constrictor.
@pytest.mark.parametrize(
    ("names", "expected"),
    [
        ("Drysdalia coronoides", "mildly_venomous"),
        ("Drysdalia coronoides | Notechis scutatus", "dangerously_venomous"),
        ("Notechis scutatus | Drysdalia coronoides", "dangerously_venomous"),
        ("Python natalensis | Drysdalia coronoides", "constrictor_large"),
        ("Drysdalia coronoides | Python natalensis | Ficticia exempli", "dangerously_venomous"),
    ],
)
def test_the_strictest_danger_stands_for_all(names: str, expected: str) -> None:
    first, *others = names.split(" | ")
    animal = animal_of(
        scientificName=first,
        orScientificName="|".join(others),
        identification="probable" if others else "certain",
    )
    assert animal.danger == expected


def test_every_danger_has_its_strictness() -> None:
    assert set(STRICTNESS) == set(Danger)


@pytest.mark.parametrize("identification", ["certain", "unknown"])
def test_only_probable_stands_for_the_look_alikes(identification: str) -> None:
    assert animal_of(identification=identification).names == ("Notechis scutatus",)


def test_the_names_given_stand_instead_of_the_look_alikes() -> None:
    animal = animal_of(identification="probable", orScientificName="Pseudonaja textilis")
    assert animal.names == ("Notechis scutatus", "Pseudonaja textilis")
    [note] = gate(animal, country="AU").notes
    assert "right for Pseudonaja textilis too." in note


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Pseudonaja textilus", "a name very like it"),
        ("copperhead", "may be any of"),
        ("tiger snake", "is the species named already"),
        ("Austrelaps superbus | ", "no name in ''"),
    ],
)
def test_another_name_is_refused_as_the_first_is(name: str, words: str) -> None:
    with pytest.raises(InputError, match="row 3, orScientificName: ") as caught:
        read_animal(
            {**ANSWERS, "identification": "probable", "orScientificName": name},
            book=BOOK,
            where="captures.csv, row 3",
        )
    assert words in str(caught.value)


def test_every_wrong_name_at_once() -> None:
    with pytest.raises(InputError, match=r"^4 faults") as caught:
        animal_of(orScientificName="copperhead | Pseudonaja textilus", scientificName="cobra")
    assert str(caught.value).count("orScientificName: ") == 2
    assert "identification: certain, yet" in str(caught.value)


# From memory: Vipera aspis does not live wild in Great Britain, Vipera berus and Natrix helvetica do.
def test_one_that_is_absent_among_those_it_may_be_is_enough() -> None:
    named = animal_of(
        scientificName="Vipera berus", orScientificName="Vipera aspis", identification="probable"
    )
    [way] = gate(named, country="GB").ways_on
    assert way.code == "authority"
    assert way.sentence.startswith("One of the species it may be, Vipera aspis, does not live wild in GB")
    assert "look-alike" not in way.sentence
    taken = animal_of(scientificName="Vipera berus", identification="probable")
    [way] = gate(taken, country="GB").ways_on
    assert "Vipera aspis is a look-alike that nobody named" in way.sentence
    other = animal_of(
        scientificName="Vipera berus", orScientificName="Natrix helvetica", identification="probable"
    )
    assert gate(other, country="GB").site_may_be_shown


# From memory: the white-lipped snake is mildly venomous; copperheads and tiger snakes are dangerously so.
def test_a_dangerous_look_alike_is_named() -> None:
    animal = animal_of(scientificName="Drysdalia coronoides")
    [note] = gate(animal, country="AU").notes
    assert note.startswith(
        "Drysdalia coronoides is easily taken for Austrelaps superbus or Notechis scutatus (dangerously v"
    )
    probable = animal_of(
        scientificName="Drysdalia coronoides",
        identification="probable",
        orScientificName="Austrelaps superbus",
    )
    assert "taken for Notechis scutatus (dangerously" in gate(probable, country="AU").notes[1]
    assert gate(ANIMAL, country="AU").notes == ()


def test_a_dangerous_look_alike_is_named_only_where_it_lives() -> None:
    smooth = animal_of(scientificName="Coronella austriaca")
    assert "Vipera berus or Vipera aspis" in gate(smooth, country="FR").notes[0]
    assert "Vipera aspis" not in gate(smooth, country="GB").notes[0]


def test_notes_of_several_species_are_one_sentence() -> None:
    animal = animal_of(identification="probable", orScientificName="Ficticia exempli | Ficticia altera")
    notes = gate(animal, country="FR").notes
    assert notes[0].startswith("NO PROFILE for 'Ficticia exempli' and 'Ficticia altera': they are taken as")
    assert notes[-1].startswith(
        "Whether Notechis scutatus, Ficticia exempli and Ficticia altera are native in FR is not in their"
    )
