"""OpenStreetMap elements → the layers of a region, by the crosswalk."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from tussock.ground.osm_crosswalk import LayerRules, OsmCrosswalk
from tussock.ground.osm_geometry import Geometries, areas_only, simplest
from tussock.ground.osm_pbf import PbfFile
from tussock.ground.osm_read import RELATION, WAY, Elements, joined
from tussock.ground.osm_report import Mend
from tussock.ground.osm_write import OutLayer
from tussock.names import AREA_LAYERS

Rows = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class BuiltLayer:
    """A layer, and what happened to its features on the way."""

    layer: OutLayer
    repaired: tuple[Mend, ...]
    dropped: tuple[Mend, ...]
    cut: tuple[Mend, ...]


def build_layer(rules: LayerRules, elements: Iterable[Elements], file: PbfFile) -> BuiltLayer:
    """Return one layer, in the order of OpenStreetMap kinds (node, way, relation) and ids."""
    parts = [
        (e, *rules.classified(e.tags, len(e), shape=e.shape)) for e in elements if e.shape in rules.shapes
    ]
    whole = joined([e for e, _, _ in parts], keys=("name", *rules.fields))
    klass, priority = (np.concatenate([p[i] for p in parts]) for i in (1, 2))
    picked = np.flatnonzero(np.array([k is not None for k in klass], dtype=bool) & ~_lost(whole, file))
    order = picked[np.lexsort((whole.number[picked], whole.kind[picked]))]
    some, klass, priority = whole.taken(order), klass[order], priority[order]
    geometry = areas_only(some.geometry) if rules.name in AREA_LAYERS else simplest(some.geometry)
    cut = _clipped(some, file) & np.array([k in rules.whole_only for k in klass], dtype=bool)
    unusable = shapely.is_missing(geometry) & ~cut
    kept = ~(cut | unusable)
    columns = {"osm_id": some.ids(), "class": klass, **some.tags}
    columns |= {"priority": priority} if any(rule.priority for rule in rules.rules) else {}
    return BuiltLayer(
        OutLayer(rules.name, geometry[kept], {k: v[kept] for k, v in columns.items()}),
        repaired=_mends(some, rules.name, some.note, kept & (some.note != "")),
        dropped=_mends(some, rules.name, np.where(some.note == "", "no area", some.note), unusable),
        cut=_mends(some, rules.name, klass, cut),
    )


def _lost(elements: Elements, file: PbfFile) -> Rows:
    """Areas that this GDAL leaves out anyway; another might close them by straight lines."""
    lost: Rows = (elements.kind == RELATION) & np.isin(elements.number, list(file.lost_areas))
    return lost


def _clipped(elements: Elements, file: PbfFile) -> Rows:
    ways = (elements.kind == WAY) & np.isin(elements.number, list(file.clipped_ways))
    areas = (elements.kind == RELATION) & np.isin(elements.number, list(file.clipped_relations))
    clipped: Rows = ways | areas
    return clipped


def _mends(elements: Elements, layer: str, what: Any, rows: Rows) -> tuple[Mend, ...]:
    return tuple(
        Mend(str(i), layer, str(w)) for i, w in zip(elements.taken(rows).ids(), what[rows], strict=True)
    )


def lost_areas(file: PbfFile, crosswalk: OsmCrosswalk) -> tuple[Mend, ...]:
    """Return the areas some of whose ways are not in the file, with the layer they would be in."""
    found = []
    for number, tags in sorted(file.lost_areas.items()):
        one = {k: np.array([v], dtype=object) for k, v in tags.items()}
        for rules in crosswalk.layers:
            klass = rules.classified(one, 1, shape="areas")[0][0] if "areas" in rules.shapes else None
            if klass is not None:
                found.append(
                    Mend(f"relation/{number}", rules.name, f"{klass} {tags.get('name', '')}".rstrip())
                )
    return tuple(found)


def all_buildings(elements: Iterable[Elements]) -> Geometries:
    """Return every building that stands, dwelling or not, in degrees."""
    no_more = {None, "no", "demolished", "razed", "removed", "destroyed", "proposed", "planned", "entrance"}
    parts = [
        e.geometry[np.array([v not in no_more for v in e.column("building")], dtype=bool)]
        for e in elements
        if e.shape != "routes"
    ]
    found: Geometries = np.concatenate(parts)
    return found[~shapely.is_missing(found)]
