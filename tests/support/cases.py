"""Animals, permits and plans for tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import assume

from tussock.ground.region import Region
from tussock.measure.scene import Case, EarlierRelease, Scene
from tussock.names import HABITAT_CLASSES
from tussock.permit.condition import Condition
from tussock.permit.consents import Consent
from tussock.permit.permit_file import Permit, Version
from tussock.planning.criteria import Weights, read_weights
from tussock.planning.plan import plan
from tussock.planning.record import Plan
from tussock.planning.setting import Capture, Setting
from tussock.position import Position
from tussock.species.animal import (
    Animal,
    FoundIn,
    Gravid,
    Identification,
    LifeStage,
    Origin,
)
from tussock.species.animal import Condition as State
from tussock.species.traits import Danger, Profile

RELEASED = datetime(2026, 11, 21, 5, 0, tzinfo=UTC)
DAY = date(2026, 11, 21)
ZONE = ZoneInfo("UTC")
LIKING = dict(zip(HABITAT_CLASSES, (0.9, 1.0, 0.7, 0.6, 0.8, 0.5, 0.2, 0.3, 0.15, 0.01, 0.05), strict=True))


def profile(**changes: Any) -> Profile:
    """Return an invented species; changes by keyword."""
    base = Profile(
        scientific_name="Invented species",
        danger=Danger.MILDLY_VENOMOUS,
        habitat=LIKING,
        cover_preference=0.6,
        water_affinity=0.4,
        home_range_ha=2.0,
    )
    return replace(base, **changes)


def animal(of: Profile | None = None, *others: Profile) -> Animal:
    """Return a fit, wild adult, identified where no other species is named."""
    of = of or profile()
    return Animal(
        of.scientific_name,
        of,
        Identification.PROBABLE if others else Identification.CERTAIN,
        Origin.WILD_LOCAL,
        State.FIT,
        1,
        LifeStage.ADULT,
        Gravid.NO,
        FoundIn.YARD,
        others,
    )


def position(region: Region, x: float, y: float, *, radius_m: float = 5.0) -> Position:
    """Return a position given in the region's plane [m]."""
    lon, lat = region.plane.unproject(x, y)
    return Position(float(lon), float(lat), radius_m)


def scene(
    region: Region,
    x: float,
    y: float,
    *,
    radius_m: float = 5.0,
    of: Profile | None = None,
    day: date = DAY,
    earlier: Sequence[EarlierRelease] = (),
    consents: Sequence[Consent] = (),
) -> Scene:
    """Return the scene of a capture at a place in the plane [m]."""
    released = RELEASED.replace(year=day.year, month=day.month, day=day.day)
    where = position(region, x, y, radius_m=radius_m)
    return Scene(region, Case(where, animal(of), released, day, tuple(earlier), tuple(consents)))


def capture(where: Position, of: Profile | None = None, *others: Profile) -> Capture:
    """Return a capture at a position."""
    return Capture("c1", where, RELEASED, animal(of, *others), {})


def permit(*conditions: Condition, id: str = "P-1") -> Permit:  # noqa: A002 - the permit's own word
    """Return an open-ended permit of those clauses."""
    return Permit(id, "N", "A", ZONE, (), (Version(date(2000, 1, 1), None, tuple(conditions)),))


def setting(region: Region, *conditions: Condition, weights: Weights | None = None, **more: Any) -> Setting:
    """Return what a plan stands on: one permit, no house rules, released at RELEASED."""
    base: dict[str, Any] = {
        "house_rules": (),
        "weights": weights or read_weights(),
        "now": RELEASED,
        "release_at": RELEASED,
        "top": 3,
        "separation_m": 60.0,
        "rasters": False,
    }
    return Setting(region, (permit(*conditions),), **{**base, **more})


def planned(capture: Capture, setting: Setting) -> Plan:
    """Return the plan; a drawn capture that lies outside the region is no example."""
    x, y = (
        float(v) for v in setting.region.plane.project(capture.position.longitude, capture.position.latitude)
    )
    west, south, east, north = setting.region.bounds
    assume(west <= x <= east and south <= y <= north)
    # a region smaller than its cells keeps one of them, by design
    assume(min(east - west, north - south) > 2 * setting.region.cell_m)
    return plan(capture, setting)


def consent(name: str, *, parcels: str = "", layer: str = "", feature: str = "") -> Consent:
    """Return a written consent in force for years."""
    return Consent(
        name, parcels, layer, feature, "", "", True, date(2000, 1, 1), None, (), None, None, f"consent {name}"
    )
