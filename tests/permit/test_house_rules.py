"""House rules: the shipped ones, and the user's own."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from tussock.errors import InputError
from tussock.interval import Limit
from tussock.names import NATURAL_CLASSES
from tussock.permit.demands import Depth, DistanceTo, Quantity
from tussock.permit.house_rules import SHIPPED, read_house_rules
from tussock.permit.place_kinds import NotWithin

if TYPE_CHECKING:
    from tests.permit.conftest import Beast, Desk


def _asked(animal: Beast) -> list[tuple[Quantity, Limit | None]]:
    rules = [c for c in read_house_rules(None).conditions if c.applies(animal)]
    return [(d.quantity, d.limit) for c in rules for d in c.demands()]


@pytest.mark.parametrize(
    ("danger", "setback"),
    [("harmless", 100), ("mildly_venomous", 100), ("constrictor_large", 100), ("dangerously_venomous", 200)],
)
def test_the_shipped_values(beast: Callable[..., Beast], danger: str, setback: float) -> None:
    """The manual's list: natural, 10 m, excluded, protected, 100 m, 200 m when dangerously venomous."""
    assert _asked(beast(danger=danger)) == [
        (Depth("habitat", frozenset(NATURAL_CLASSES)), Limit(at_least=0)),
        (DistanceTo("roads"), Limit(at_least=10)),
        (DistanceTo("railways"), Limit(at_least=10)),
        (Depth("excluded", outside=True), Limit(at_least=0)),
        (Depth("protected", outside=True), Limit(at_least=0)),
        (DistanceTo("dwellings"), Limit(at_least=setback)),
        (DistanceTo("peopled_places"), Limit(at_least=setback)),
    ]


def test_an_animal_of_unknown_danger_keeps_the_larger_setback(beast: Callable[..., Beast]) -> None:
    limits = [limit for quantity, limit in _asked(beast(danger="")) if quantity == DistanceTo("dwellings")]
    assert Limit(at_least=200) in limits


def test_protected_land_only_where_it_came_from() -> None:
    spared = {
        c.layer: c.unless_captured_within
        for c in read_house_rules(None).conditions
        if isinstance(c, NotWithin)
    }
    assert spared == {"excluded": False, "protected": True}


def test_every_shipped_rule_says_that_it_has_no_source() -> None:
    assert all("Judgement, no source" in c.text for c in read_house_rules(None).conditions)
    assert "has no source" in SHIPPED.read_text(encoding="utf-8")


def test_the_users_own_replace_the_shipped(desk: Desk) -> None:
    rule = {"id": "mine", "kind": "min_distance_from", "layer": "roads", "limit_m": 25}
    text = 'region = "x"\n[house_rules]\n' + desk.table(rule, key="house_rules.conditions")
    rules = read_house_rules(desk.write(text, "tussock.toml"))
    assert (rules.shipped, rules.file, [c.id for c in rules.conditions]) == (False, "tussock.toml", ["mine"])


@pytest.mark.parametrize(
    ("text", "shipped", "count"), [("", True, 9), ("[house_rules]\nconditions = []", False, 0)]
)
def test_none_of_ones_own(desk: Desk, text: str, shipped: bool, count: int) -> None:
    rules = read_house_rules(desk.write(text, "tussock.toml"))
    assert (rules.shipped, len(rules.conditions)) == (shipped, count)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("house_rules = 5", "tussock.toml: house_rules is 5"),
        ("[house_rules]", "conditions is missing.*leave house_rules out to use the shipped ones"),
        ("[house_rules]\ncondition = []", "unknown key 'condition'.*write conditions"),
        ("[house_rules]\nconditions = 1", "tussock.toml, house_rules: conditions is 1"),
        (
            "[[house_rules.conditions]]\nid = 'a'\nkind = 'min_distance_from'\nlayer = 'roads'\nlimit_m = 0",
            "limit_m = 0",
        ),
        (
            "[[house_rules.conditions]]\nid = 'a'\nkind = 'nice'",
            "tussock.toml, house_rules, clause a: unknown kind",
        ),
        ("[house_rules", "tussock.toml: it is not TOML"),
    ],
)
def test_faults(desk: Desk, text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_house_rules(desk.write(text, "tussock.toml"))
