"""Which layers a permit reads, and whether the region can have them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from tussock.errors import Faults
from tussock.names import STANDARD_LAYERS
from tussock.permit.condition import Condition, LayerUse
from tussock.permit.explain import MOST_FAULTS, did_you_mean
from tussock.permit.permit_file import Permit, Version


def layers_needed(version: Version) -> tuple[tuple[Condition, LayerUse], ...]:
    """Return every layer that the version's clauses read, clause by clause."""
    return tuple((clause, use) for clause in version.conditions for use in clause.layers())


def check_layers(
    permit: Permit,
    known: Collection[str],
    *,
    classes: Mapping[str, Collection[str]] | None = None,
) -> None:
    """Refuse clauses about layers that do not exist.

    Parameters
    ----------
    permit
        Every version of it is checked.
    known
        Names of the region's layers. A standard layer need not be among them: a clause that needs
        one the region lacks is *missing*, not a fault of the file.
    classes
        Layer → the classes its crosswalk can give, where that is known; a class in none of them
        would match nothing.

    Raises
    ------
    InputError
        Listing every layer or class that is neither standard nor the region's.
    """
    faults = Faults()
    for version in permit.versions:
        where = f"{permit.file}, version {version.name}"
        for clause, use in layers_needed(version):
            _check(use, known, classes or {}, where=f"{where}, clause {clause.id}", faults=faults)
    faults.raise_if_any(most=MOST_FAULTS)


def check_rule_layers(
    conditions: Iterable[Condition],
    known: Collection[str],
    *,
    where: str,
) -> None:
    """Refuse house rules about layers that do not exist.

    Raises
    ------
    InputError
        Listing every layer that is neither standard nor the region's.
    """
    faults = Faults()
    for clause in conditions:
        for use in clause.layers():
            _check(use, known, {}, where=f"{where}, rule {clause.id}", faults=faults)
    faults.raise_if_any(most=MOST_FAULTS)


def _check(
    use: LayerUse,
    known: Collection[str],
    classes: Mapping[str, Collection[str]],
    *,
    where: str,
    faults: Faults,
) -> None:
    names = sorted({*STANDARD_LAYERS, *known})
    if use.layer not in names:
        faults.add(
            f"layer '{use.layer[:60]}' is neither a standard layer nor one of the region",
            where=where,
            allowed=", ".join(names),
            fix=did_you_mean(use.layer, names) or "add it to region.toml",
        )
        return
    for word in use.classes or ():
        if use.layer in classes and word not in classes[use.layer]:
            faults.add(
                f"class '{word[:60]}' is none of layer {use.layer}, so the clause would match nothing",
                where=where,
                allowed=", ".join(sorted(classes[use.layer])),
                fix=did_you_mean(word, classes[use.layer]) or "correct the class, or the layer's crosswalk",
            )
