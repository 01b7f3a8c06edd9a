"""Whose leave covers which ground: the parcels that lack a consent, and the ground that has one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import cast

import numpy as np
import numpy.typing as npt
import shapely

from tussock.ground.features import Features
from tussock.interval import Limit
from tussock.measure.scene import Places, Scene
from tussock.permit.consents import Consent
from tussock.permit.demands import Demand, Depth
from tussock.permit.ground_columns import parcels_in
from tussock.permit.record_kinds import ConsentRecorded

PARCELS = "parcels"
CRACK_M = 0.05
"""A parcel may stick out so far [m] of a consented area that covers it (as for gaps between areas)."""
OWNER_UNKNOWN = "owner unknown: no parcel is mapped here; find out whose ground it is and get the consent"


_Demands = tuple[tuple[Demand, ...], tuple[Demand, ...]]


def consent_demands(condition: ConsentRecorded, scene: Scene) -> _Demands:
    """Return what a place must meet so that no consent is lacking, and what proves that one covers it.

    The first: the disc touches no mapped parcel that needs a consent and has none. The second, of which
    one must be met: the disc lies wholly on consented ground. Where the first is met and the second is
    not, part of the disc lies on no mapped parcel: a person has to find out whose ground it is.
    """
    good = accepted(condition, scene)
    read = (PARCELS, *sorted(_areas(good)))
    states = tuple(id(scene.features(layer)) for layer in read if scene.region.has(layer))
    key = ("consent", id(condition), tuple(map(id, good)), states)
    # what the key names by identity is kept with it
    return cast(_Demands, scene.shared(key, lambda: (_demands(condition, scene, good), condition, good))[0])


def _demands(condition: ConsentRecorded, scene: Scene, good: tuple[Consent, ...]) -> _Demands:
    inside = Limit(at_least=0.0)
    proofs = [
        Demand(Depth(layer, spared=_others(scene, layer, ids), as_mapped=True), inside)
        for layer, ids in sorted(_areas(good).items())
        if scene.region.has(layer)
    ]
    if not scene.region.has(PARCELS):
        return (), tuple(proofs)
    settled = frozenset(settled_parcels(condition, scene))
    lacking = Demand(Depth(PARCELS, outside=True, spared=settled, as_mapped=True), inside)
    proofs.append(Demand(Depth(PARCELS, spared=_others(scene, PARCELS, settled), as_mapped=True), inside))
    return (lacking,), tuple(proofs)


def accepted(condition: ConsentRecorded, scene: Scene) -> tuple[Consent, ...]:
    """Return the consents that satisfy the clause: in force, written where asked, with animals left."""
    found: tuple[Consent, ...] = scene.made(("accepted", id(condition)), lambda: _accepted(condition, scene))
    return found


def _accepted(condition: ConsentRecorded, scene: Scene) -> tuple[Consent, ...]:
    return tuple(
        c
        for c in scene.case.consents_in_force()
        if (c.written or not condition.written) and _has_room(c, scene)
    )


def _has_room(consent: Consent, scene: Scene) -> bool:
    if consent.number is None:
        return True
    used = sum(r.individual_count for r in scene.case.earlier if consent.id in named(r.consent_reference))
    return used + scene.case.animal.individual_count <= consent.number


def named(reference: str) -> frozenset[str]:
    """Return the consents that a release names: several are separated by ``|``."""
    return frozenset(name.strip() for name in (reference, *reference.split("|")))


def _areas(consents: Iterable[Consent]) -> dict[str, frozenset[str]]:
    """Return layer → ids of its consented features, parcels apart."""
    out: dict[str, frozenset[str]] = {}
    for c in consents:
        if c.layer and c.layer != PARCELS:
            out[c.layer] = out.get(c.layer, frozenset()) | {c.feature_id}
    return out


def parcel_ids(consent: Consent) -> frozenset[str]:
    """Return the parcels that a consent names, separated by ``|`` in the register."""
    named = consent.parcel_id if consent.parcel_id else consent.feature_id * (consent.layer == PARCELS)
    return frozenset(parcels_in(named))


def settled_parcels(condition: ConsentRecorded, scene: Scene) -> set[str]:
    """Return the ids of parcels that have a consent, or need none by their tenure."""
    found: set[str] = scene.made(("settled", condition), lambda: _settled(condition, scene))
    return found


def _settled(condition: ConsentRecorded, scene: Scene) -> set[str]:
    good, parcels = accepted(condition, scene), scene.features(PARCELS)
    ids = parcels.text("ids")
    settled = {str(i) for c in good for i in parcel_ids(c)} & set(ids)
    if condition.tenures is not None:
        free = ~np.isin(parcels.text("tenures"), ["", *condition.tenures])
        settled |= set(ids[free])
    settled |= set(ids[_covered(parcels, scene, _areas(good))])
    return settled - {""}


def _covered(parcels: Features, scene: Scene, areas: dict[str, frozenset[str]]) -> npt.NDArray[np.bool_]:
    """Return which parcels lie wholly in a consented feature of another layer."""
    covered = np.zeros(len(parcels), dtype=bool)
    for layer, ids in areas.items():
        if scene.region.has(layer):
            found = scene.features(layer)
            for area in found.geometries[np.isin(found.text("ids"), sorted(ids))]:
                covered |= shapely.covers(shapely.buffer(area, CRACK_M), parcels.geometries)
    return covered


def _others(scene: Scene, layer: str, ids: frozenset[str]) -> frozenset[str]:
    """Return the ids of a layer's other features."""
    return frozenset(scene.features(layer).text("ids")) - ids


def lacking_at(condition: ConsentRecorded, scene: Scene, at: Places, i: int) -> tuple[tuple[str, str], ...]:
    """Return the parcels without consent that a place's disc may touch, as (parcel id, tenure), by id."""
    if not scene.region.has(PARCELS):
        return ()
    parcels = scene.features(PARCELS)
    reach = at.radius_m + scene.error_m(PARCELS)
    near = parcels.tree.query(at.points[i], predicate="dwithin", distance=reach)
    settled = settled_parcels(condition, scene)
    found = {(str(parcels.ids[k]), str(parcels.tenures[k])) for k in near}
    return tuple(sorted(f for f in found if f[0] not in settled))


def reference_holds(name: str, condition: ConsentRecorded, scene: Scene) -> bool:
    """Return whether a consent that a record names satisfies the clause where no parcel is mapped.

    A consent for mapped parcels or features is proven by the map or not at all.
    """
    for consent in accepted(condition, scene):
        if consent.id == name:
            mapped = frozenset(scene.features(PARCELS).text("ids")) if scene.region.has(PARCELS) else ()
            return bool(parcel_ids(consent)) and not parcel_ids(consent) & frozenset(mapped)
    return False
