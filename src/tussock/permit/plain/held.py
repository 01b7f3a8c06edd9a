"""What a region holds of what a clause names. The counts are handed in; nothing here reads ground data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from tussock.names import STANDARD_LAYERS
from tussock.permit.condition import Condition, LayerUse
from tussock.permit.explain import did_you_mean, nearest

_FIXED = ("habitat", "roads")
"""Layers whose classes the reader of permits knows, so that no class of theirs can be misspelt."""


@dataclass(frozen=True)
class HeldLayer:
    """How many features a layer holds.

    Attributes
    ----------
    by_class
        Class → features; ``""`` those without one, which count for every class.
    crosswalk
        Classes that its crosswalk can give, whether a feature has them or not.
    dated
        Features in force only from or to some day.
    """

    by_class: Mapping[str, int]
    crosswalk: frozenset[str] = frozenset()
    dated: int = 0

    @property
    def total(self) -> int:
        """How many features there are."""
        return sum(self.by_class.values())


@dataclass(frozen=True)
class HeldRegion:
    """What a region holds, as far as a permit asks.

    Attributes
    ----------
    layers
        Of the layers named in the permit those that the region has.
    names
        Every layer of the region.
    tenures
        Tenure → parcels.
    """

    name: str
    layers: Mapping[str, HeldLayer]
    names: frozenset[str] = frozenset()
    tenures: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Holding:
    """What the region holds of one layer that a clause reads; ``counts`` is ``None`` where it lacks it."""

    layer: str
    words: str
    counts: Mapping[str, int] | None
    warnings: tuple[str, ...] = ()


def holdings(clause: Condition, region: HeldRegion) -> tuple[Holding, ...]:
    """Return what a region holds of each layer that a clause reads, and of the tenures it names."""
    found = tuple(_holding(use, region) for use in clause.layers())
    tenures: tuple[str, ...] = getattr(clause, "tenures", None) or ()
    return (*found, _tenures(tenures, region)) if tenures else found


def _holding(use: LayerUse, region: HeldRegion) -> Holding:
    if use.layer not in region.layers:
        lack = f"the region has no layer {use.layer}, so this clause cannot be judged there"
        return Holding(use.layer, f"{use.layer}: not in the region", None, (lack,))
    layer = region.layers[use.layer]
    counts = {c: layer.by_class.get(c, 0) for c in use.classes} if use.classes else {"": layer.total}
    return Holding(use.layer, _words(use, layer, counts), counts, tuple(_unknown(use, layer)))


def _words(use: LayerUse, layer: HeldLayer, counts: Mapping[str, int]) -> str:
    said = f"{_features(layer.total)}{_dated(layer)}"
    if use.classes:
        said = ", ".join(f"{name} {count or 'none'}" for name, count in counts.items())
        unclassed = layer.by_class.get("", 0)
        said += f"; {unclassed} without a class, which count for every class" if unclassed else ""
    return f"{use.layer}: {said}"


def _features(count: int) -> str:
    return f"{count or 'no'} feature{'' if count == 1 else 's'}"


def _dated(layer: HeldLayer) -> str:
    return f", {layer.dated} of them with dates in force" if layer.dated else ""


def _unknown(use: LayerUse, layer: HeldLayer) -> Iterator[str]:
    if use.layer in _FIXED:
        return
    words = sorted({c for c in layer.by_class if c} | layer.crosswalk)
    for name in use.classes or ():
        if name not in words:
            hint = did_you_mean(name, words) or f"there are {', '.join(words[:12]) or 'no classes'}"
            yield f"layer {use.layer} has no class '{name}'; it may be misspelt: {hint}"


def _tenures(wanted: tuple[str, ...], region: HeldRegion) -> Holding:
    counts = {t: region.tenures.get(t, 0) for t in wanted}
    said = ", ".join(f"{name} {count or 'none'}" for name, count in counts.items())
    near = [
        f"no parcel has the tenure '{t}'; it may be misspelt: {hint}"
        for t, count in counts.items()
        if not count and (hint := did_you_mean(t, [n for n in region.tenures if n]))
    ]
    return Holding("parcels", f"parcels by tenure: {said}", counts, tuple(near))


def doubtful_layers(clause: Condition) -> tuple[str, ...]:
    """Return layers that are not standard but are called nearly like one."""
    return tuple(
        f"layer '{use.layer}' is not a standard layer; {did_you_mean(use.layer, STANDARD_LAYERS)}"
        for use in clause.layers()
        if use.layer not in STANDARD_LAYERS and nearest(use.layer, STANDARD_LAYERS)
    )
