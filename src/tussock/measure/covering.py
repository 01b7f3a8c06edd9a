"""Which consents a place lies under, for a person to look up."""

from __future__ import annotations

from tussock.measure.consent import PARCELS, accepted, parcel_ids
from tussock.measure.scene import Places, Scene
from tussock.permit.consents import Consent
from tussock.permit.record_kinds import ConsentRecorded


def covering_at(condition: ConsentRecorded, scene: Scene, at: Places, i: int) -> tuple[tuple[str, str], ...]:
    """Return the consents on whose ground a place's disc may lie, as (consent id, ground id), by id.

    Only consents that satisfy the clause; whether together they cover the whole disc is the clause's verdict.
    """
    found = set()
    good = accepted(condition, scene)
    for layer in sorted({PARCELS, *(c.layer for c in good if c.layer)}):
        if not scene.region.has(layer):
            continue
        features = scene.features(layer)
        reach = at.radius_m + scene.error_m(layer)
        near = features.tree.query(at.points[i], predicate="dwithin", distance=reach)
        ids = {str(features.ids[k]) for k in near}
        found |= {(c.id, ground) for c in good for ground in _ground_of(c, layer) & ids}
    return tuple(sorted(found))


def _ground_of(consent: Consent, layer: str) -> frozenset[str]:
    if layer == PARCELS:
        return parcel_ids(consent)
    return frozenset({consent.feature_id}) if consent.layer == layer else frozenset()
