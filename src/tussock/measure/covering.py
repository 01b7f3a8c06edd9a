"""Which consents a place lies under, for a person to look up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from tussock.measure.consent import PARCELS, accepted, parcel_ids
from tussock.measure.scene import Places, Scene
from tussock.permit.condition import Condition
from tussock.permit.consents import Consent
from tussock.permit.record_kinds import ConsentRecorded
from tussock.permit.taxon import any_covers


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


def may_be_used_up(condition: Condition, scene: Scene, at: Places, i: int) -> tuple[str, ...]:
    """Return the consents for a number of animals that alone cover some of a place's ground, not counted.

    Empty where a book of earlier releases is given: then they are counted.
    """
    if not scene.case.no_book or not isinstance(condition, ConsentRecorded):
        return ()
    number = {c.id: c.number for c in accepted(condition, scene)}
    by_ground: dict[str, list[str]] = {}
    for name, ground in covering_at(condition, scene, at, i):
        by_ground.setdefault(ground, []).append(name)
    counted = [n for names in by_ground.values() if all(number[x] is not None for x in names) for n in names]
    return tuple(sorted(set(counted)))


def _ground_of(consent: Consent, layer: str) -> frozenset[str]:
    if layer == PARCELS:
        return parcel_ids(consent)
    return frozenset({consent.feature_id}) if consent.layer == layer else frozenset()


def not_counting(condition: ConsentRecorded, scene: Scene, parcels: Iterable[str]) -> Iterator[str]:
    """Yield why consents on record for parcels do not satisfy the clause, a sentence each."""
    good = {c.id for c in accepted(condition, scene)}
    for parcel in parcels:
        for consent in scene.case.consents:
            if parcel in parcel_ids(consent) and consent.id not in good:
                yield f"Consent {consent.id} for {parcel} does not count: {_why(consent, condition, scene)}."


def _why(consent: Consent, condition: ConsentRecorded, scene: Scene) -> str:
    first, last = scene.case.days[0], scene.case.days[-1]
    if consent.withdrawn_on is not None and last >= consent.withdrawn_on:
        return f"it was withdrawn on {consent.withdrawn_on}"
    if consent.valid_to is not None and last > consent.valid_to:
        return f"it ran out on {consent.valid_to}"
    if first < consent.valid_from:
        return f"it begins on {consent.valid_from}"
    if consent.species and not all(any_covers(consent.species, n) is True for n in scene.case.animal.names):
        return f"it is for {', '.join(consent.species)}"
    if condition.written and not consent.written:
        return "it is not in writing"
    return f"it is for {consent.number} animals, and they are used up"
