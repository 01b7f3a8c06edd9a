"""What a plan says of the animal: names without a profile, unknown home ranges, criteria without use."""

from __future__ import annotations

from dataclasses import replace

import shapely

from tests.support import cases
from tests.support.regions import Ground, Thing, made_region
from tussock.permit.animal_kinds import SpeciesListed
from tussock.permit.condition import AppliesTo, Condition
from tussock.permit.place_kinds import MaxDistanceFromCapture
from tussock.planning.plan import plan
from tussock.planning.record import Plan
from tussock.species.profiles import load_profiles
from tussock.species.traits import Profile

NEAR = MaxDistanceFromCapture(id="3(a)", limit_m=300)
STRANGER = load_profiles().of_species("Ficticia exempli")
HOMELESS = cases.profile(scientific_name="Homeless species", home_range_ha=None)
GROUND = Ground(
    {
        "habitat": [Thing(shapely.box(-2000, -2000, 2000, 2000), "woodland")],
        "water": [Thing(shapely.Point(0, 0))],
    }
)


def _planned(*profiles: Profile, clauses: tuple[Condition, ...] = ()) -> Plan:
    region = made_region(GROUND)
    where = cases.position(region, 5.0, 5.0)
    return plan(cases.capture(where, *profiles), cases.setting(region, NEAR, *clauses))


def _said(found: Plan, words: str) -> list[str]:
    return [w for w in found.warnings if words in w]


def test_a_list_that_covers_a_name_without_a_profile_is_named() -> None:
    listed = SpeciesListed(id="1(b)", species=("Invented species", "Ficticia exempli"))
    found = _planned(STRANGER, clauses=(listed,))
    assert found.sites, found.stop
    assert found.warnings[0].startswith("NO PROFILE for 'Ficticia exempli'")
    assert _said(found, "lists") == ["P-1, 1(b), lists 'Ficticia exempli', which has no profile here."]


def test_a_genus_on_the_list_covers_it_and_another_list_does_not() -> None:
    genus = SpeciesListed(id="1", species=("Ficticia spp.",))
    others = SpeciesListed(id="2", species=("Vipera berus",), mandatory=False)
    elsewhere = SpeciesListed(id="3", species=("Ficticia exempli",), applies_to=AppliesTo(found_in=("road",)))
    found = _planned(STRANGER, clauses=(genus, others, elsewhere))
    assert _said(found, "lists") == ["P-1, 1, lists 'Ficticia exempli', which has no profile here."]


def test_a_known_species_on_the_list_needs_no_word() -> None:
    listed = SpeciesListed(id="1", species=("Invented species",))
    assert not _said(_planned(cases.profile(), clauses=(listed,)), "lists")


def test_every_species_without_a_home_range_is_named() -> None:
    found = _planned(HOMELESS, replace(HOMELESS, scientific_name="Roaming species"), cases.profile())
    assert _said(found, "No home range") == [
        "No home range is known for Homeless species and Roaming species: a stand-in is used for the scores."
    ]
    assert not _said(_planned(cases.profile()), "No home range")


def test_a_criterion_is_said_to_be_left_out_for_what_is_the_reason() -> None:
    dry = cases.profile(water_affinity=0.0)
    said = _said(_planned(dry), "is left out")
    assert "Criterion water is left out: it does not matter to Invented species." in said
    assert "Criterion dwellings is left out: the region has no such layer." in said
    assert not [w for w in said if "patch" in w or "habitat" in w]
    wet = replace(dry, scientific_name="Wet species", water_affinity=1.0)
    assert not [w for w in _said(_planned(dry, wet), "is left out") if "water" in w]


def test_the_note_of_an_unsure_identification_is_said_once() -> None:
    found = _planned(cases.profile(), HOMELESS)
    assert len(_said(found, "right for Homeless species too")) == 1
