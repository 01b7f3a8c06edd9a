"""Coarse bounds contain the exact values: every quantity, every cell of a window, scenes made to break it."""

from __future__ import annotations

import pytest
from hypothesis import given

from tests.support.bounds import hold_everywhere
from tests.support.profiles import examples
from tests.support.scenes import Drawn, drawn
from tussock.measure.scene import NATURAL
from tussock.permit.demands import (
    At,
    BarriersBetween,
    Depth,
    DistanceFromCapture,
    DistanceTo,
    PatchArea,
    Quantity,
    ReleasesNear,
    SameHabitat,
    SamePolygon,
)

QUANTITIES: dict[str, Quantity] = {
    "from capture": DistanceFromCapture(),
    "to dwellings": DistanceTo("dwellings"),
    "to some roads": DistanceTo("roads", frozenset({"primary", "residential", "track", "path", "motorway"})),
    "in natural habitat": Depth("habitat", NATURAL),
    "in some habitats": Depth("habitat", frozenset({"forest", "rock", "water"})),
    "out of excluded": Depth("excluded", outside=True),
    "out of protected but one": Depth("protected", outside=True, spared=frozenset({"a"})),
    "capture in protected": Depth("protected", at=At.CAPTURE),
    "capture out of protected": Depth("protected", outside=True, at=At.CAPTURE),
    "same habitat": SameHabitat(),
    "natural patch": PatchArea(),
    "patch of classes": PatchArea(classes=frozenset({"forest", "grassland", "garden"})),
    "property": PatchArea("property"),
    "same zone": SamePolygon("zones"),
    "barriers": BarriersBetween("barriers"),
    "rivers": BarriersBetween("barriers", frozenset({"river"})),
    "releases": ReleasesNear(100.0, 365.0, same_species=False),
    "releases of the species": ReleasesNear(60.0, 700.0, same_species=True),
}


def hold(made: Drawn, quantity: Quantity) -> None:
    """Assert that at every cell of the window the exact ends lie within their bounds."""
    hold_everywhere(made.scene(), made.window(), quantity, radius_m=made.site_radius_m)


@pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=QUANTITIES)
@examples(12)
@given(made=drawn())
def test_bounds_contain_the_exact_values(quantity: Quantity, made: Drawn) -> None:
    hold(made, quantity)


@pytest.mark.slow
@pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=QUANTITIES)
@examples(400)
@given(made=drawn())
def test_bounds_contain_the_exact_values_in_full(quantity: Quantity, made: Drawn) -> None:
    hold(made, quantity)
