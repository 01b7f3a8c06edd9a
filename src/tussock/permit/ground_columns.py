"""The columns that name ground in a table: a parcel, or a feature of a layer."""

from __future__ import annotations

from collections.abc import Sequence

from tussock.errors import Faults, InputError
from tussock.permit.explain import shown
from tussock.tables import Row, Table

GROUND = ("parcelID", "layer", "featureID")


def check_columns(table: Table, needed: Sequence[str], *, known: Sequence[str]) -> None:
    """Refuse a table without a column that it needs, or without one that names ground.

    Raises
    ------
    InputError
        Naming what is missing, what was found and what is known.
    """
    missing = [c for c in needed if c not in table.columns]
    if "parcelID" not in table.columns and not {"layer", "featureID"} <= set(table.columns):
        missing.append("parcelID (or layer and featureID)")
    if missing:
        raise InputError(
            f"missing column {', '.join(missing)}; found {', '.join(map(shown, table.columns))[:300]}",
            where=table.path.name,
            allowed=", ".join(known),
            fix="rename or add the column",
        )


def check_ground(row: Row, *, faults: Faults) -> bool:
    """Return whether a row names ground in one of the two ways; note it where it does not."""
    given = [c for c in GROUND if row.get(c)]
    if given in (["parcelID"], ["layer", "featureID"]):
        return True
    faults.add(
        f"it gives {' and '.join(given) or 'no ground'}",
        where=row.where,
        allowed="parcelID alone, or layer and featureID",
        fix="name the ground in one of the two ways; two grounds take two rows",
    )
    return False


def parcels_in(text: str) -> tuple[str, ...]:
    """Return the parcels that a cell names, separated by ``|``, each once."""
    return tuple(dict.fromkeys(p.strip() for p in text.split("|") if p.strip()))
