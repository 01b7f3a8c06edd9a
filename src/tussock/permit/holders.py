"""The table of holders: whom to call about which ground.

Kept apart from everything else: it holds persons. It is read to be printed on a terminal and nowhere else.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tussock.errors import Faults
from tussock.permit.explain import MOST_FAULTS
from tussock.permit.ground_columns import check_columns, check_ground, parcels_in
from tussock.tables import Row, read_table

COLUMNS = ("parcelID", "layer", "featureID", "holder", "contact")
"""Columns that are read; others are left unread."""
PARCELS = "parcels"
Ground = tuple[str, str]
"""Layer and id; a parcel's layer is ``parcels``."""


@dataclass(frozen=True)
class Holder:
    """Who holds ground, and how they are reached; ``where`` is file and row."""

    ground: Ground
    name: str
    contact: str
    where: str

    def __str__(self) -> str:
        return ", ".join(part for part in (self.name, self.contact) if part)


@dataclass(frozen=True)
class Holders:
    """The holders by their ground; several may hold one."""

    by_ground: Mapping[Ground, tuple[Holder, ...]] = field(default_factory=dict)

    def of(self, parcel: str) -> tuple[Holder, ...]:
        """Return the holders of a parcel, in the order of the table."""
        return self.by_ground.get((PARCELS, parcel), ())


def read_holders(path: Path) -> Holders:
    """Return the holders of a CSV file; ids of several parcels in one cell stand apart by ``|``.

    Raises
    ------
    InputError
        When it is no such table; lists every fault with its row, and repeats no name or number.
    """
    table = read_table(path)
    check_columns(table, ("holder", "contact"), known=COLUMNS)
    faults = Faults()
    found: dict[Ground, list[Holder]] = defaultdict(list)
    for row in table.rows:
        for holder in _holders(row, faults=faults):
            if any((h.name, h.contact) == (holder.name, holder.contact) for h in found[holder.ground]):
                faults.add(
                    f"{' '.join(holder.ground)} has this holder twice",
                    where=row.where,
                    fix="leave one row out",
                )
            found[holder.ground].append(holder)
    faults.raise_if_any(most=MOST_FAULTS)
    return Holders({ground: tuple(holders) for ground, holders in found.items()})


def _holders(row: Row, *, faults: Faults) -> list[Holder]:
    grounds = _grounds(row, faults=faults)
    name, contact = row.get("holder"), row.get("contact")
    if not name and not contact:
        faults.add(
            "it names nobody",
            where=row.where,
            allowed="a holder, a contact, or both",
            fix="fill in one, or leave the row out",
        )
    return [Holder(ground, name, contact, row.where) for ground in grounds]


def _grounds(row: Row, *, faults: Faults) -> list[Ground]:
    if not check_ground(row, faults=faults):
        return []
    if row.get("layer"):
        return [(row.get("layer"), row.get("featureID"))]
    ids = parcels_in(row.get("parcelID"))
    if not ids:
        faults.add("parcelID names no parcel", where=row.where, allowed="ids separated by |", fix="name one")
    return [(PARCELS, name) for name in ids]
