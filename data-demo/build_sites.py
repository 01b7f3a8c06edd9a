"""Where the invented animals are let go: ground that could do, and ground that surely meets the permit.

The permit's limits are written here once more, with a margin for radii and errors of the layers: the records
are drawn without Tussock, which then has to find what was planted in them and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from build_common import HABITAT_CLASS
from shapely.geometry import LineString, Point
from shapely.ops import unary_union
from shapely.strtree import STRtree

ALLOWED = ("forest", "woodland", "shrubland", "grassland", "wetland")
NATURAL = (*ALLOWED, "rock", "bare")
QUIET_ROADS = ("track", "path", "service")
BURNT = (("2025-11-20", "2026-05-31"), ("2026-02-10", "2027-02-10"))
MARGIN_M = 8.0  # more than the error of any layer, the burnt ground's 10 m apart


class Sites:
    """Ground where an animal could plausibly be let go, on a 40 m grid, for the invented records."""

    def __init__(self, made: dict[str, Any]) -> None:
        axis = np.arange(-4400.0, 4401.0, 40.0)
        x, y = np.meshgrid(axis, axis)
        points = shapely.points(x.ravel(), y.ravel())
        natural = [
            shape
            for kind, shape in made["habitat"]
            if HABITAT_CLASS[kind] in ("forest", "woodland", "shrubland", "wetland")
            or kind == "tussock grassland"
        ]
        ok = np.zeros(len(points), dtype=bool)
        ok[np.unique(STRtree(points).query(natural, predicate="contains")[1])] = True
        for shapes, least in (
            ([home["geometry"] for home in made["homes"]], 212.0),
            ([road for _, kind, road in made["lines"]["roads"] if kind != "track"], 66.0),
        ):
            near = STRtree(shapes).query(points, predicate="dwithin", distance=least)[0]
            ok[np.unique(near)] = False
        areas = made["areas"]
        for shape in (areas["quarry"], areas["airfield"], areas["ridge reserve"], areas["reserve"]):
            ok &= ~shapely.contains(shape.buffer(40), points)
        ok &= shapely.contains(areas["extent"].buffer(-60), points)
        self.xy = np.c_[x.ravel(), y.ravel()][ok]
        self.burnt = [shapely.contains(shape.buffer(40), points[ok]) for shape in areas["burnt"]]
        self.highway = made["lines"]["highway"]
        self.land = made["land"]
        self.land_tree = STRtree([row["geometry"] for row in self.land])

    def parcel(self, at: Any) -> str:
        """Parcel that holds a place, empty where none does."""
        found = self.land_tree.query(Point(at), predicate="intersects")
        return str(self.land[int(found.min())]["parcelID"]) if len(found) else ""

    def near(self, at: Any, *, most_m: float, day: str, least_m: float = 0.0) -> np.ndarray:
        """Sites between two distances of a place, on its side of the highway, on unburnt ground."""
        d = np.hypot(*(self.xy - np.asarray(at)).T)
        ok = (d <= most_m) & (d >= least_m)
        for burnt, (start, end) in zip(self.burnt, BURNT, strict=True):
            if start <= day <= end:
                ok &= ~burnt
        found = self.xy[ok]
        clear = [not LineString([at, point]).intersects(self.highway) for point in found]
        return np.asarray(found[np.asarray(clear, dtype=bool)] if len(found) else found)


@dataclass(frozen=True)
class Limits:
    """The numbers of one version of the permit."""

    far_m: float
    home_m: float
    road_m: float
    patch_ha: float
    near_m: float
    most_near: int
    same_habitat: bool


def limits_on(day: str) -> Limits:
    """Return the limits in force; in the weeks without a permit those before them."""
    if day < "2026-08-05":
        return Limits(3000.0, 150.0, 40.0, 2.0, 100.0, 3, False)
    return Limits(2000.0, 200.0, 50.0, 5.0, 150.0, 2, True)


@dataclass(frozen=True)
class Let:
    """A release as the ground is asked about it."""

    taken: Any
    taken_m: float
    radius_m: float
    day: str
    species: str
    found_in: str = ""
    number: int = 1
    spare: tuple[str, ...] = ()


@dataclass
class Booked:
    """Releases so far, for those that crowd one place."""

    at: list[tuple[float, float, float, str, int]] = field(default_factory=list)

    def near(self, spot: Any, *, within_m: float, day: str) -> int:
        """Return how many animals may have been let go so near in the 28 days before."""
        since = np.datetime64(day) - 29
        return sum(
            n
            for x, y, radius, other, n in self.at
            if np.hypot(x - spot[0], y - spot[1]) <= within_m + radius and np.datetime64(other) >= since
        )


class Ground:
    """The layers as a release is judged by them."""

    def __init__(self, made: dict[str, Any], register: list[dict[str, Any]], booked: Booked) -> None:
        self.booked = booked
        self.kinds = [HABITAT_CLASS[kind] for kind, _ in made["habitat"]]
        self.shapes = [shape for _, shape in made["habitat"]]
        self.habitat = STRtree(self.shapes)
        merged = {
            k: unary_union([s for n, s in zip(self.kinds, self.shapes, strict=True) if n == k])
            for k in ALLOWED
        }
        self.patches = {k: list(getattr(shape, "geoms", [shape])) for k, shape in merged.items()}
        self.trees = {k: STRtree(parts) for k, parts in self.patches.items()}
        roads = made["lines"]["roads"]
        self.roads = unary_union([road for _, kind, road in roads if kind not in QUIET_ROADS])
        self.homes = STRtree([home["geometry"] for home in made["homes"]])
        self.peopled = unary_union([row["geometry"] for row in made["peopled"]])
        areas = made["areas"]
        self.kept_clear = unary_union(
            [areas["quarry"], areas["airfield"], areas["reserve"], areas["ridge reserve"]]
        )
        self.extent, self.burnt, self.highway = areas["extent"], areas["burnt"], made["lines"]["highway"]
        self.land = made["land"]
        self.parcels = STRtree([row["geometry"] for row in self.land])
        self.register = {row["parcelID"]: row for row in register if row["parcelID"]}

    def consent(self, spot: Any, let: Let) -> str:
        """Return the consent that covers the whole disc; empty where none does on that day."""
        disc = Point(spot).buffer(let.radius_m + 4)
        found = {self.land[int(i)]["parcelID"] for i in self.parcels.query(disc, predicate="intersects")}
        row = self.register.get(found.pop()) if len(found) == 1 else None
        holds = any(shape.contains(disc) for shape in self._parcel(row))
        return str(row["consentID"]) if row and holds and _valid(row, let) else ""

    def _parcel(self, row: dict[str, Any] | None) -> list[Any]:
        return [r["geometry"] for r in self.land if row and r["parcelID"] == row["parcelID"]]

    def meets(self, spot: Any, let: Let) -> bool:
        """Return whether a release there meets every clause with room to spare, but for those spared."""
        limits, room = limits_on(let.day), let.radius_m + MARGIN_M
        place, way = Point(spot), LineString([let.taken, spot])
        return (
            ("3(a)" in let.spare or way.length + let.taken_m + room <= limits.far_m)
            and ("3(b)" in let.spare or not self._homes(place, limits.home_m + room))
            and self.roads.distance(place) > limits.road_m + room
            and self.peopled.distance(place) > limits.home_m + room
            and ("3(e)" in let.spare or self.highway.distance(way) > room + let.taken_m)
            and self.kept_clear.distance(place) > 40 + room
            and self.extent.buffer(-60).contains(place)
            and not self._burnt(place, let.day, room + 12)
            and self._habitat(place, let, limits)
            and ("6(a)" in let.spare or self._uncrowded(spot, let, limits))
            and ("8(a)" in let.spare or bool(self.consent(spot, let)))
        )

    def _homes(self, place: Point, within_m: float) -> bool:
        return bool(len(self.homes.query(place, predicate="dwithin", distance=within_m)))

    def _burnt(self, place: Point, day: str, within_m: float) -> bool:
        closed = [shape for shape, (a, b) in zip(self.burnt, BURNT, strict=True) if a <= day <= b]
        return any(shape.distance(place) < within_m for shape in closed)

    def _uncrowded(self, spot: Any, let: Let, limits: Limits) -> bool:
        within = limits.near_m + let.radius_m + 5
        return self.booked.near(spot, within_m=within, day=let.day) <= limits.most_near

    def _habitat(self, place: Point, let: Let, limits: Limits) -> bool:
        """One class alone beneath the disc, a large stretch of it, and that of the capture where asked."""
        found = self.habitat.query(place, predicate="dwithin", distance=let.radius_m + MARGIN_M)
        kinds = {self.kinds[int(i)] for i in found}
        kind = kinds.pop() if len(kinds) == 1 else ""
        if kind not in ALLOWED:
            return False
        asked = limits.same_habitat and let.found_in in ("road", "water", "trap_or_netting", "other")
        if asked and kind not in self.classes_near(let):
            return False
        patch = self.trees[kind].query(place, predicate="intersects")
        return any(self.patches[kind][int(i)].area > 2e4 * limits.patch_ha for i in patch)

    def classes_near(self, let: Let) -> set[str]:
        """Return the natural classes surely as near to the capture as clause 4(b) asks, at its narrowest."""
        place, sure = Point(let.taken), 50.0 - let.taken_m - MARGIN_M
        found = self.habitat.query(place, predicate="dwithin", distance=max(sure, 0.0))
        return {self.kinds[int(i)] for i in found} & set(NATURAL)


def _valid(row: dict[str, Any], let: Let) -> bool:
    """Return whether a consent of the register holds: written, in force, for that species."""
    until = min(row["validTo"] or "9999", row["withdrawnOn"] or "9999")
    named = not row["species"] or let.species in row["species"].split("|")
    # those for a number of animals are left alone
    return bool(
        row["written"] == "yes" and row["validFrom"] <= let.day < until and named and not row["number"]
    )
