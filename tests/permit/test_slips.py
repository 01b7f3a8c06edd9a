"""A slip of the pen in a permit's list must not free the animal it means."""

from __future__ import annotations

from itertools import combinations

import pytest

from tussock.interval import Verdict
from tussock.measure.clauses import Facts
from tussock.names import ALIKE
from tussock.permit.animal_kinds import SpeciesListed, SpeciesNotReleased
from tussock.permit.taxon import covers
from tussock.species.profiles import load_profiles

NAMES = sorted(p.scientific_name for p in load_profiles().profiles)


def facts(name: str) -> Facts:
    return Facts(name, "dangerously_venomous", "wild_local", "adult", "no", "fit", "yard", 6)


def dropped(name: str) -> str:
    """Return the name with its last letter but two left out."""
    return name[:-3] + name[-2:]


@pytest.mark.parametrize("name", NAMES)
def test_a_letter_left_out_on_either_side_settles_nothing(name: str) -> None:
    assert covers(dropped(name), name) is None
    assert covers(name, dropped(name)) is None
    clause = SpeciesNotReleased(id="2", species=(dropped(name),))
    verdict, reason = clause.judge_animal(facts(name))
    assert verdict is Verdict.MISSING
    assert dropped(name) in reason


def test_no_two_real_species_are_taken_for_one() -> None:
    assert all(covers(a, b) is False for a, b in combinations(NAMES, 2))
    assert 0.77 < ALIKE < 0.94


def test_the_right_name_beside_a_slip_settles_it() -> None:
    clause = SpeciesListed(id="1", species=("Vipera brus", "Vipera berus"))
    assert clause.judge_animal(facts("Vipera berus"))[0] is Verdict.MET
