"""Which layers a permit reads, and what is said about those that do not exist."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tussock.errors import InputError
from tussock.names import FEATURE_LAYERS
from tussock.permit.house_rules import read_house_rules
from tussock.permit.layers import check_layers, check_rule_layers, layers_needed

if TYPE_CHECKING:
    from tests.permit.conftest import Desk


def test_standard_layers_need_not_be_in_the_region(desk: Desk) -> None:
    clauses = (
        {"id": layer, "kind": "min_distance_from", "layer": layer, "limit_m": 5} for layer in FEATURE_LAYERS
    )
    check_layers(desk.permit(*clauses), [])


def test_a_layer_of_nobody(desk: Desk) -> None:
    permit = desk.permit({"id": "5(c)", "kind": "not_within", "layer": "dwelings"})
    with pytest.raises(
        InputError, match=r"permit.toml, version 2025-07-01, clause 5\(c\): layer 'dwelings'"
    ) as caught:
        check_layers(permit, ["burnt"])
    assert "burnt" in str(caught.value) and "write dwellings, if that is meant" in str(caught.value)


def test_a_layer_of_the_region(desk: Desk) -> None:
    permit = desk.permit({"id": "5(c)", "kind": "not_within", "layer": "burnt"})
    check_layers(permit, {"burnt"})
    with pytest.raises(InputError, match=r"add it to region.toml"):
        check_layers(permit, {"xyz"})


def test_all_versions_and_kinds_are_looked_at(desk: Desk) -> None:
    permit = desk.permit(
        {"id": "1", "kind": "same_polygon_as_capture", "layer": "aaa"},
        {"id": "2", "kind": "no_barrier_between", "layer": "bbb"},
        {"id": "3", "kind": "species_in_range", "layer": "ccc"},
        {"id": "4", "kind": "within", "layer": "ddd"},
    )
    with pytest.raises(InputError, match="4 faults"):
        check_layers(permit, [])
    assert [use.layer for _, use in layers_needed(permit.versions[0])] == ["aaa", "bbb", "ccc", "ddd"]
    assert [use.areas for _, use in layers_needed(permit.versions[0])] == [True, False, True, True]


def test_classes_that_the_crosswalk_cannot_give(desk: Desk) -> None:
    permit = desk.permit(
        {"id": "2", "kind": "min_distance_from", "layer": "dwellings", "classes": ["hoose"], "limit_m": 5}
    )
    check_layers(permit, [])
    check_layers(permit, [], classes={"roads": ["track"]})
    with pytest.raises(InputError, match=r"class 'hoose' is none of layer dwellings.*write house"):
        check_layers(permit, [], classes={"dwellings": ["house", "flat"]})


def test_the_shipped_house_rules_need_standard_layers_only() -> None:
    check_rule_layers(read_house_rules(None).conditions, [], where="house_rules.toml")


def test_a_house_rule_about_a_layer_of_nobody(desk: Desk) -> None:
    text = "[house_rules]\n" + desk.table(
        {"id": "a", "kind": "within", "layer": "xyz"}, key="house_rules.conditions"
    )
    rules = read_house_rules(desk.write(text, "tussock.toml"))
    with pytest.raises(InputError, match=r"tussock\.toml, rule a: layer 'xyz'"):
        check_rule_layers(rules.conditions, [], where=rules.file)
