"""Clauses of every kind that a place decides, sized for scenes of a few hundred metres."""

from __future__ import annotations

from tussock.names import NATURAL_CLASSES
from tussock.permit.condition import Condition
from tussock.permit.place_kinds import (
    HabitatIn,
    MaxDistanceFromCapture,
    MaxReleasesNear,
    MinDistanceFrom,
    MinPatchArea,
    NoBarrierBetween,
    NotWithin,
    SameHabitatAsCapture,
    SamePolygonAsCapture,
    Within,
)

CLAUSES: tuple[Condition, ...] = (
    MaxDistanceFromCapture(id="near", limit_m=120),
    MinDistanceFrom(id="dwellings", layer="dwellings", limit_m=60),
    MinDistanceFrom(id="roads", layer="roads", classes=("primary", "residential", "track"), limit_m=25),
    HabitatIn(id="habitat", classes=NATURAL_CLASSES),
    SameHabitatAsCapture(id="same habitat"),
    MinPatchArea(id="patch", limit_ha=0.7),
    MinPatchArea(id="property", limit_ha=0.5, of="property"),
    NotWithin(id="excluded", layer="excluded", of="both"),
    NotWithin(id="protected", layer="protected", unless_captured_within=True),
    Within(id="parcels", layer="parcels", of="both"),
    SamePolygonAsCapture(id="zone", layer="zones"),
    NoBarrierBetween(id="barrier", layer="barriers"),
    MaxReleasesNear(id="releases", count=2, within_m=80, within_days=365),
)
KINDS: dict[str, Condition] = {
    "dwellings": MinDistanceFrom(id="dwellings", layer="dwellings", limit_m=60),
    "nearer dwellings": MinDistanceFrom(id="nearer dwellings", layer="dwellings", limit_m=15),
    "roads": MinDistanceFrom(id="roads", layer="roads", classes=("primary", "track", "path"), limit_m=25),
    "habitat": HabitatIn(id="habitat", classes=NATURAL_CLASSES),
    "same habitat": SameHabitatAsCapture(id="same habitat"),
    "patch": MinPatchArea(id="patch", limit_ha=0.7),
    "patch of classes": MinPatchArea(
        id="patch of classes", limit_ha=0.4, classes=("forest", "grassland", "garden")
    ),
    "property": MinPatchArea(id="property", limit_ha=0.5, of="property"),
    "excluded": NotWithin(id="excluded", layer="excluded"),
    "excluded both": NotWithin(id="excluded both", layer="excluded", of="both"),
    "protected": NotWithin(id="protected", layer="protected", unless_captured_within=True),
    "in protected": Within(id="in protected", layer="protected"),
    "both in parcels": Within(id="both in parcels", layer="parcels", of="both"),
    "zone": SamePolygonAsCapture(id="zone", layer="zones"),
    "barrier": NoBarrierBetween(id="barrier", layer="barriers"),
    "river": NoBarrierBetween(id="river", layer="barriers", classes=("river",)),
    "releases": MaxReleasesNear(id="releases", count=2, within_m=80, within_days=365),
    "own kind": MaxReleasesNear(id="own kind", count=3, within_m=50, within_days=700, species="same"),
}
