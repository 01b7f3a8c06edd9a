"""What a region holds of the layers that a permit names, counted for ``tussock permit check``."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from tussock.ground.features import OPEN_FROM, OPEN_TO
from tussock.ground.region import Region, open_region
from tussock.permit.layers import check_layers, layers_needed
from tussock.permit.permit_file import Permit
from tussock.permit.plain.held import HeldLayer, HeldRegion


def held_region(folder: Path, permit: Permit) -> HeldRegion:
    """Return what a region holds of a permit's layers; only those are read.

    Raises
    ------
    InputError
        When the region cannot be used, or a clause names a layer that is neither standard nor there.
    """
    region = open_region(folder)
    check_layers(permit, region.layer_names)
    named = {use.layer for v in permit.versions for _, use in layers_needed(v)}
    tenured = any(getattr(c, "tenures", None) for v in permit.versions for c in v.conditions)
    tenures = _counted(region.layer("parcels").features.tenures) if tenured and region.has("parcels") else {}
    layers = {name: _held(region, name) for name in sorted(named) if region.has(name)}
    return HeldRegion(region.file.name, layers, region.layer_names, tenures)


def _held(region: Region, name: str) -> HeldLayer:
    features = region.layer(name).features
    dated = (features.valid_from != OPEN_FROM) | (features.valid_to != OPEN_TO)
    crosswalk = frozenset(region.file.layers[name].crosswalk.values())
    return HeldLayer(_counted(features.classes), crosswalk, int(dated.sum()))


def _counted(words: Iterable[object]) -> dict[str, int]:
    return dict(Counter(str(w) for w in words))
