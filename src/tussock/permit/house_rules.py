"""House rules: the user's own stricter conditions, of the same kinds as a permit's; never shown as law."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tussock.errors import Faults
from tussock.permit.clauses import read_clauses
from tussock.permit.condition import Condition
from tussock.permit.explain import MOST_FAULTS, did_you_mean, shown
from tussock.permit.toml_file import read_toml

SHIPPED = Path(__file__).with_name("house_rules.toml")
"""The values that come with Tussock: judgement, no source."""


@dataclass(frozen=True)
class HouseRules:
    """The rules in use.

    Attributes
    ----------
    shipped
        Whether they are the values that come with Tussock; those are printed when they are used.
    file
        Name of the file they come from.
    """

    conditions: tuple[Condition, ...]
    shipped: bool
    file: str


def read_house_rules(path: Path | None) -> HouseRules:
    """Return the house rules of a tussock.toml, or the shipped ones where it has none.

    An empty list there (``conditions = []``) means no house rules.

    Parameters
    ----------
    path
        A tussock.toml; ``None`` where there is none. Its other tables are left alone.

    Raises
    ------
    InputError
        When the file or a rule cannot be used; lists every fault.
    """
    table = None if path is None else read_toml(path).get("house_rules")
    if path is None or table is None:
        return HouseRules(_rules(read_toml(SHIPPED)["house_rules"], file=SHIPPED.name), True, SHIPPED.name)
    return HouseRules(_rules(table, file=path.name), False, path.name)


def _rules(table: Any, *, file: str) -> tuple[Condition, ...]:
    faults = Faults()
    where = f"{file}, house_rules"
    if not isinstance(table, dict):
        faults.add(f"house_rules is {shown(table)}", where=file, allowed="a table [house_rules]")
        table = {"conditions": []}
    for key in table:
        if key != "conditions":
            faults.add(
                f"unknown key {shown(key)}",
                where=where,
                allowed="conditions",
                fix=did_you_mean(key, ["conditions"]) or "remove it",
            )
    if "conditions" not in table:
        faults.add(
            "conditions is missing",
            where=where,
            allowed="[[house_rules.conditions]] tables, or conditions = [] for none",
            fix="add them, or leave house_rules out to use the shipped ones",
        )
    conditions = read_clauses(table.get("conditions", []), where=where, faults=faults)
    faults.raise_if_any(most=MOST_FAULTS)
    return conditions
