# ruff: noqa: D102 - these methods are documented where Condition declares them
"""Clauses that a place decides: each says which quantity it needs and the range it must lie in."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from tussock.interval import Limit
from tussock.names import HABITAT_CLASSES, RASTER_LAYERS, ROAD_CLASSES
from tussock.permit.condition import Condition, Decided, LayerUse
from tussock.permit.demands import (
    At,
    BarriersBetween,
    Demand,
    Depth,
    DistanceFromCapture,
    DistanceTo,
    PatchArea,
    ReleasesNear,
    SameHabitat,
    SamePolygon,
)
from tussock.permit.fields import Count, Days, HabitatClasses, Hectares, Line, Lines, Metres, NotOneOfError

_CLASSES_OF = {"habitat": HABITAT_CLASSES, "roads": ROAD_CLASSES}
_LINES = ("roads", "railways")
_Layer = Annotated[Line, Field(description="a layer of the region that holds features")]
_AreaLayer = Annotated[Line, Field(description="a layer of the region that holds areas (polygons)")]
_Of = Annotated[Literal["site", "capture", "both"], Field(description="site, capture or both")]
AREA_TOLERANCE_HA = 1e-6
"""Areas are compared to a hundredth of a square metre (choice of this project)."""
_INSIDE = Limit(at_least=0.0)


def _feature_layer(layer: str) -> str:
    if layer in RASTER_LAYERS:
        raise ValueError(f"'{layer}' is a raster, it has no features")
    return layer


def _area_layer(layer: str) -> str:
    if layer in _LINES:
        raise ValueError(f"'{layer}' holds lines, nothing lies inside them")
    return _feature_layer(layer)


def _listed(words: tuple[str, ...]) -> str:
    """Return words as people write a list: 'a', 'a or b', 'a, b or c'."""
    return " or ".join(", ".join(words).rsplit(", ", 1)) if len(words) > 1 else "".join(words)


def _of_classes(classes: tuple[str, ...] | None) -> str:
    return f" of class {_listed(classes)}" if classes else ""


class PlaceCondition(Condition):
    """A clause that the place decides."""

    decided: ClassVar[Decided] = Decided.PLACE


class _FeatureCondition(PlaceCondition):
    """A clause about the features of a layer, all of them or some classes."""

    layer: _Layer
    classes: Lines | None = None

    @field_validator("layer")
    @classmethod
    def _has_features(cls, layer: str) -> str:
        return _feature_layer(layer)

    @field_validator("classes")
    @classmethod
    def _classes_exist(cls, classes: tuple[str, ...] | None, info: ValidationInfo) -> tuple[str, ...] | None:
        # a misspelt class matches nothing, and nothing is always far enough away
        words = _CLASSES_OF.get(str(info.data.get("layer")))
        for word in classes or ():
            if words is not None and word not in words:
                raise NotOneOfError(word, words)
        return classes

    def layers(self) -> tuple[LayerUse, ...]:
        return (LayerUse(self.layer, self.classes),)

    def _class_set(self) -> frozenset[str] | None:
        return frozenset(self.classes) if self.classes else None


class _AreaCondition(PlaceCondition):
    """A clause about the polygons of a layer."""

    layer: _AreaLayer

    @field_validator("layer")
    @classmethod
    def _has_areas(cls, layer: str) -> str:
        return _area_layer(layer)

    def layers(self) -> tuple[LayerUse, ...]:
        return (LayerUse(self.layer, areas=True),)


class MaxDistanceFromCapture(PlaceCondition):
    """Release no farther than that from the capture."""

    kind: Literal["max_distance_from_capture"] = "max_distance_from_capture"
    limit_m: Metres

    def demands(self) -> tuple[Demand, ...]:
        return (Demand(DistanceFromCapture(), Limit(at_most=self.limit_m)),)

    def words(self) -> str:
        return f"The distance on the ellipsoid from capture to release is at most {self.limit_m:g} m."


class MinDistanceFrom(_FeatureCondition):
    """Release no nearer than that to the features of a layer."""

    kind: Literal["min_distance_from"] = "min_distance_from"
    limit_m: Metres

    def demands(self) -> tuple[Demand, ...]:
        return (Demand(DistanceTo(self.layer, self._class_set()), Limit(at_least=self.limit_m)),)

    def words(self) -> str:
        return (
            f"The distance from the release to the nearest feature of layer {self.layer}"
            f"{_of_classes(self.classes)} is at least {self.limit_m:g} m."
        )


class HabitatIn(PlaceCondition):
    """Release in one of those habitats."""

    kind: Literal["habitat_in"] = "habitat_in"
    classes: HabitatClasses

    def layers(self) -> tuple[LayerUse, ...]:
        return (LayerUse("habitat", self.classes, areas=True),)

    def demands(self) -> tuple[Demand, ...]:
        return (Demand(Depth("habitat", frozenset(self.classes)), _INSIDE),)

    def words(self) -> str:
        return f"The release lies in layer habitat where its class is {_listed(self.classes)}."


class SameHabitatAsCapture(PlaceCondition):
    """Release in the kind of habitat it was caught in, or next to."""

    kind: Literal["same_habitat_as_capture"] = "same_habitat_as_capture"

    def layers(self) -> tuple[LayerUse, ...]:
        return (LayerUse("habitat", areas=True),)

    def demands(self) -> tuple[Demand, ...]:
        return (Demand(SameHabitat(), None),)

    def words(self) -> str:
        return (
            "The release lies in a natural class of layer habitat that also lies within 50 m of the capture, "
            "or within the species' home-range radius where no natural ground is that near."
        )


class MinPatchArea(PlaceCondition):
    """Release on a large enough stretch of habitat, or of property under one consent."""

    kind: Literal["min_patch_area"] = "min_patch_area"
    limit_ha: Hectares
    of: Annotated[Literal["habitat", "property"], Field(description="habitat or property")] = "habitat"
    classes: HabitatClasses | None = None

    @model_validator(mode="after")
    def _classes_are_of_habitat(self) -> MinPatchArea:
        if self.of == "property" and self.classes:
            raise ValueError("classes are given, but of = property counts parcels, whatever grows there")
        return self

    def layers(self) -> tuple[LayerUse, ...]:
        if self.of == "property":
            return (LayerUse("parcels", areas=True),)
        return (LayerUse("habitat", self.classes, areas=True),)

    def demands(self) -> tuple[Demand, ...]:
        classes = frozenset(self.classes) if self.classes else None
        return (
            Demand(
                PatchArea(self.of, classes), Limit(at_least=self.limit_ha, tolerance=AREA_TOLERANCE_HA), "ha"
            ),
        )

    def words(self) -> str:
        what = f"unbroken {_listed(self.classes) if self.classes else 'natural ground'} of layer habitat"
        if self.of == "property":
            what = "adjoining parcels of layer parcels under one consent"
        return f"The {what} round the release cover at least {self.limit_ha:g} ha."


class Within(_AreaCondition):
    """Release (or take) inside the polygons of a layer."""

    kind: Literal["within"] = "within"
    of: _Of = "site"

    @property
    def of_taking(self) -> bool:
        return self.of == "capture"

    def demands(self) -> tuple[Demand, ...]:
        taking = self.of_taking
        return tuple(Demand(Depth(self.layer, at=at, taking=taking), _INSIDE) for at in _places(self.of))

    def words(self) -> str:
        return f"{_SUBJECT[self.of]} inside a polygon of layer {self.layer}."


class NotWithin(_AreaCondition):
    """Release (or take) outside the polygons of a layer.

    ``unless_captured_within`` spares those that the animal came from, where a consent names layer
    and feature; the measuring room finds them.
    """

    kind: Literal["not_within"] = "not_within"
    of: _Of = "site"
    unless_captured_within: Annotated[bool, Field(description="true or false")] = False

    @model_validator(mode="after")
    def _spares_sites_only(self) -> NotWithin:
        if self.unless_captured_within and self.of != "site":
            raise ValueError(f"unless_captured_within contradicts of = {self.of}; it goes with of = site")
        return self

    @property
    def of_taking(self) -> bool:
        return self.of == "capture"

    def demands(self) -> tuple[Demand, ...]:
        taking = self.of_taking
        return tuple(
            Demand(Depth(self.layer, outside=True, at=at, taking=taking), _INSIDE) for at in _places(self.of)
        )

    def words(self) -> str:
        spared = ""
        if self.unless_captured_within:
            spared = ", save one it was caught in and for which a consent names this layer and feature"
        return f"{_SUBJECT[self.of]} outside every polygon of layer {self.layer}{spared}."


_SUBJECT = {
    "site": "The release lies",
    "capture": "The capture lies",
    "both": "Capture and release both lie",
}


def _places(of: str) -> tuple[At, ...]:
    return (At.CAPTURE, At.SITE) if of == "both" else (At(of),)


class SamePolygonAsCapture(_AreaCondition):
    """Release in the same county, catchment or zone."""

    kind: Literal["same_polygon_as_capture"] = "same_polygon_as_capture"

    def demands(self) -> tuple[Demand, ...]:
        return (Demand(SamePolygon(self.layer), _INSIDE),)

    def words(self) -> str:
        return f"Capture and release lie in the same polygon of layer {self.layer}."


class NoBarrierBetween(_FeatureCondition):
    """No barrier between capture and release."""

    kind: Literal["no_barrier_between"] = "no_barrier_between"

    def demands(self) -> tuple[Demand, ...]:
        return (Demand(BarriersBetween(self.layer, self._class_set()), Limit(at_most=0.0), ""),)

    def words(self) -> str:
        return (
            f"No feature of layer {self.layer}{_of_classes(self.classes)} lies between capture and release."
        )


class MaxReleasesNear(PlaceCondition):
    """Not too many animals on one spot."""

    kind: Literal["max_releases_near"] = "max_releases_near"
    count: Count
    within_m: Metres
    within_days: Days
    # a clause that names no species counts every animal
    species: Annotated[Literal["same", "any"], Field(description="same or any")] = "any"

    def demands(self) -> tuple[Demand, ...]:
        near = ReleasesNear(self.within_m, self.within_days, self.species == "same")
        return (Demand(near, Limit(at_most=self.count - 1.0), "individuals"),)

    def words(self) -> str:
        whose = "of the same species" if self.species == "same" else "of any species"
        return (
            f"Fewer than {self.count} individuals {whose} were released within {self.within_m:g} m of the "
            f"release in the {self.within_days:g} days before it, by the book named."
        )


class NearestSuitable(PlaceCondition):
    """Release at the nearest suitable place."""

    kind: Literal["nearest_suitable"] = "nearest_suitable"
    judged: ClassVar[bool] = False
    not_checked: ClassVar[str] = "not checked: it is judged when the plan is made, and no plan is named"
    tolerance_m: Metres

    def words(self) -> str:
        return (
            f"No place that met all other clauses was nearer to the capture by over {self.tolerance_m:g} m."
        )
