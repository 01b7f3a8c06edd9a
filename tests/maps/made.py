"""A plan made for tests of maps: distances come from a distance transform, names and numbers are invented.

It is no planner: only the shapes of the records are those of ``tussock.planning.record``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from rasterio.features import rasterize
from rasterio.transform import Affine
from scipy.ndimage import distance_transform_edt
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from tussock.geodesy import Plane, bearing_deg, distance_m
from tussock.ground.lattice import Window, window_around
from tussock.interval import Interval, Verdict
from tussock.maps.ground_sketch import GroundSketch, sketch
from tussock.planning.record import (
    HOUSE_RULE,
    CaptureFacts,
    ClauseResult,
    CriterionScore,
    Obstacle,
    PermitFacts,
    Plan,
    Rasters,
    Removed,
    Site,
)

Layers = Mapping[str, Sequence[tuple[str, BaseGeometry]]]
Grid = npt.NDArray[np.float64]
PERMIT = "PX-0042"
PLANE = Plane(147.3, -42.9)
EVIL = '<script>alert("x")</script>{{7*7}}</details>'
NATURAL = ("forest", "woodland", "shrubland", "grassland", "wetland", "rock", "bare")


def invented_layers(
    *, buildings: int = 600, reach_m: float = 2600.0
) -> dict[str, list[tuple[str, BaseGeometry]]]:
    """Return a town in the south-west, a river, roads, and habitat, in degrees."""
    rng = np.random.default_rng(7)
    r = reach_m
    plain: dict[str, list[tuple[str, BaseGeometry]]] = {
        "habitat": [
            ("grassland", box(-r, -r, r, r)),
            ("built", box(-r, -r, 0.1 * r, -0.1 * r)),
            ("woodland", box(-r, 0.05 * r, -0.2 * r, r)),
            ("forest", Point(0.5 * r, 0.5 * r).buffer(0.42 * r)),
            ("wetland", Point(0.55 * r, -0.45 * r).buffer(0.22 * r)),
            ("cropland", box(0.35 * r, -r, r, -0.6 * r)),
            ("rock", Point(-0.6 * r, 0.75 * r).buffer(0.12 * r)),
        ],
        "water": [
            (
                "river",
                LineString(
                    [(-r, 0.1 * r), (-0.2 * r, -0.02 * r), (0.3 * r, -0.1 * r), (r, -0.35 * r)]
                ).buffer(18),
            )
        ],
        "roads": [
            ("primary", LineString([(-r, -0.5 * r), (r, 0.15 * r)])),
            ("track", LineString([(0, 0), (0.7 * r, 0.9 * r)])),
        ],
        "railways": [("rail", LineString([(-r, -0.9 * r), (0.2 * r, r)]))],
        "peopled_places": [
            ("school", box(-0.4 * r, -0.4 * r, -0.35 * r, -0.36 * r)),
            ("campground", Point(0.3 * r, 0.2 * r)),
        ],
        "protected": [("reserve", Point(0.6 * r, 0.6 * r).buffer(0.25 * r))],
        "parcels": [("private", box(-0.1 * r, 0.3 * r, 0.2 * r, 0.6 * r))],
        "barriers": [("highway", LineString([(-r, -0.95 * r), (r, -0.8 * r)]))],
    }
    street = np.arange(-0.95, -0.1, 0.09) * r
    plain["roads"] += [("residential", LineString([(-0.95 * r, y), (0.05 * r, y)])) for y in street]
    x = rng.uniform(-0.95 * r, 0.05 * r, buildings)
    y = rng.choice(street, buildings) + rng.choice([-22.0, 22.0], buildings)
    w, h = rng.uniform(8, 16, buildings), rng.uniform(7, 12, buildings)
    plain["dwellings"] = [("house", g) for g in shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)]
    return {k: [(c, _degrees(g)) for c, g in v] for k, v in plain.items()}


def _degrees(geometry: BaseGeometry, plane: Plane = PLANE) -> BaseGeometry:
    return shapely.transform(geometry, lambda p: np.column_stack(plane.unproject(p[:, 0], p[:, 1])))


def make_ground(layers: Layers | None = None, *, known: BaseGeometry | None = None) -> GroundSketch:
    """Return the sketch; the known extent ends inside the square in the east unless another is given."""
    layers = invented_layers() if layers is None else layers
    extent = known if known is not None else _degrees(box(-2600, -2600, 1750, 2600))
    return sketch(layers, known=extent, attributions=["Invented ground, drawn for tests"])


def make_plan(
    layers: Layers | None = None,
    *,
    plane: Plane = PLANE,
    at: tuple[float, float] | None = None,
    circle_m: float = 2000.0,
    known: BaseGeometry | None = None,
    count: int = 5,
    evil: bool = False,
    cell_m: float = 10.0,
) -> Plan:
    """Return a plan with up to ``count`` sites, found on a grid."""
    layers = invented_layers() if layers is None else layers
    lon, lat = at or tuple(float(v) for v in plane.unproject(-300.0, -150.0))
    cx, cy = (float(v) for v in plane.project(lon, lat))
    window = window_around(cx, cy, reach_m=circle_m + 250, cell_m=cell_m)
    fields = _Fields(layers, plane, window, at=(cx, cy), circle_m=circle_m, known=known)
    places = fields.best(count)
    text = EVIL if evil else ""
    sites = tuple(fields.site(k, j, i, text) for k, (j, i) in enumerate(places, start=1))
    capture = CaptureFacts(
        f"C-17{text}",
        "2026-11-21T16:20+11:00",
        lon,
        lat,
        20.0,
        False,
        f"Notechis scutatus{text}",
        f"tiger snake{text}",
        "dangerously_venomous",
        {"identification": "certain", "origin": "wild_local"},
    )
    return Plan(
        capture=capture,
        permits=(
            PermitFacts(
                PERMIT + text, f"Ada Quern{text}", "Office of Invented Wildlife", "2026-07-01", "permit.toml"
            ),
        ),
        region="Invented ground",
        release_at="2026-11-21T18:10+11:00",
        now="2026-11-21T16:45+11:00",
        circle_m=circle_m,
        circle_label="3(a)",
        sites=sites,
        nearest=sites[1] if len(sites) > 1 else None,
        nearest_words="Site 2 is the nearest; going there gives up 0.08 of suitability, mainly cover"
        if sites
        else "",
        removed=fields.removed(text),
        obstacles=(),
        animal_clauses=(
            ClauseResult(
                "1",
                "species_listed",
                "Only the species listed may be released.",
                PERMIT,
                True,
                Verdict.MET,
                words="listed",
                reason="Notechis scutatus is listed",
            ),
        ),
        stop=(),
        way_on=(),
        warnings=(
            "The dwellings layer is as of 2026-03-01, 265 days before the release",
            f"Layer railways has no date{text}",
        ),
        unmapped_ha=fields.unknown_ha,
        sources=(
            f"dwellings: invented, as of 2026-03-01, completeness not checked{text}",
            "habitat: invented",
        ),
        parameters={"separation_m": 150.0, "top": count, "weights": {"habitat": 3.0, "cover": 2.0}},
        inputs={"permit.toml": "sha256:" + "ab" * 32, "ground.gpkg": "sha256:" + "cd" * 32},
        counts={"cells": int(fields.inside.sum()), "exact": 448},
        rasters=fields.rasters(),
    )


def without_sites(plan: Plan) -> Plan:
    """Return the same plan with nothing left, and what stands in the way."""
    lon, lat = plan.capture.longitude, plan.capture.latitude
    return replace(
        plan,
        sites=(),
        nearest=None,
        nearest_words="",
        stop=("No site meets every clause within 2 000 m. Do not release",),
        way_on=(
            "Call the Office of Invented Wildlife and read out the obstacles below",
            "Hold the animal as your permit says until they answer",
        ),
        obstacles=(
            Obstacle(
                "3(b)",
                "min_distance_from",
                "Release no nearer than 200 metres to a dwelling.",
                PERMIT,
                37.4,
                "m",
                lon + 0.004,
                lat + 0.003,
                True,
            ),
            Obstacle(
                "3(c)",
                "min_patch_area",
                "At least 4 hectares of habitat.",
                PERMIT,
                1.26,
                "ha",
                lon - 0.004,
                lat,
                False,
            ),
            Obstacle("house: excluded land", "not_within", "", HOUSE_RULE, None, "m", None, None, False),
        ),
    )


class _Fields:
    """Distances and classes on the window's cells."""

    def __init__(
        self,
        layers: Layers,
        plane: Plane,
        window: Window,
        *,
        at: tuple[float, float],
        circle_m: float,
        known: BaseGeometry | None,
    ) -> None:
        self.plane, self.window, self.at, self.circle_m = plane, window, at, circle_m
        self.layers = {k: [(c, self._flat(g)) for c, g in v] for k, v in layers.items()}
        x, y = np.meshgrid(window.x, window.y)
        self.from_capture = np.hypot(x - at[0], y - at[1])
        self.inside = self.from_capture <= circle_m
        self.dwelling, self.road, self.peopled = (
            self._away(n) for n in ("dwellings", "roads", "peopled_places")
        )
        self.classes = ["unmapped", *sorted({c for c, _ in self.layers.get("habitat", [])})]
        shapes = [(g, self.classes.index(c)) for c, g in self.layers.get("habitat", [])]
        self.habitat = self._burn(shapes, touched=False)
        extent = (
            known
            if known is not None
            else (_degrees(box(-2600, -2600, 1750, 2600)) if plane is PLANE else None)
        )
        beyond = (
            np.zeros(window.shape, bool)
            if extent is None
            else self._burn([(self._flat(extent), 1)], touched=False) == 0
        )
        self.unknown = beyond | (self.habitat == 0)
        natural = np.array([c in NATURAL for c in self.classes])[self.habitat] & ~self.unknown
        rng = np.random.default_rng(3)
        coarse = rng.uniform(0.2, 0.95, (9, 9))
        j, i = np.ogrid[0 : window.rows, 0 : window.columns]
        self.cover = coarse[(j * 9 // window.rows), (i * 9 // window.columns)]
        self.masks: dict[str, npt.NDArray[np.uint8]] = {
            f"{PERMIT}|3(b)": self._least(self.dwelling, 200),
            f"{PERMIT}|3(d)": self._least(self.road, 40),
            f"{HOUSE_RULE}|house: natural ground": np.where(natural, 0, 2).astype(np.uint8),
            f"{HOUSE_RULE}|house: peopled places, dangerous": self._least(self.peopled, 200),
        }
        ruled = np.zeros(window.shape, np.uint8)
        for m in self.masks.values():
            ruled = np.maximum(ruled, m)
        self.open = self.inside & (ruled == 0)
        preference = {
            "woodland": 1.0,
            "wetland": 0.9,
            "forest": 0.8,
            "shrubland": 0.8,
            "grassland": 0.6,
            "rock": 0.5,
        }
        self.fit = np.array([preference.get(c, 0.1) for c in self.classes])[self.habitat]
        near = np.clip(1.2 - self.from_capture / max(circle_m, 1), 0.2, 1)
        self.score = np.where(self.open, np.cbrt(self.fit * self.cover * near), np.nan)

    def _flat(self, geometry: BaseGeometry) -> BaseGeometry:
        return shapely.transform(geometry, lambda p: np.column_stack(self.plane.project(p[:, 0], p[:, 1])))

    def _burn(self, shapes: list[tuple[BaseGeometry, int]], *, touched: bool) -> npt.NDArray[np.uint8]:
        w, s, _, _ = self.window.bounds
        c = self.window.cell_m
        if not shapes:
            return np.zeros(self.window.shape, np.uint8)
        made: npt.NDArray[np.uint8] = rasterize(
            shapes, self.window.shape, transform=Affine(c, 0, w, 0, c, s), all_touched=touched, dtype="uint8"
        )
        return made

    def _away(self, layer: str) -> Grid:
        burnt = self._burn([(g, 1) for _, g in self.layers.get(layer, [])], touched=True)
        if not burnt.any():
            return np.full(self.window.shape, np.inf)
        return np.asarray(distance_transform_edt(burnt == 0), float) * self.window.cell_m

    @staticmethod
    def _least(away: Grid, limit: float) -> npt.NDArray[np.uint8]:
        return np.select([away < limit - 8, away < limit + 38], [2, 1], 0).astype(np.uint8)

    @property
    def unknown_ha(self) -> float:
        return float((self.unknown & self.inside).sum()) * self.window.cell_m**2 / 1e4

    def best(self, count: int) -> list[tuple[int, int]]:
        score = np.nan_to_num(self.score, nan=-1.0).copy()
        chosen: list[tuple[int, int]] = []
        while len(chosen) < count and score.max() > 0:
            j, i = (int(v) for v in np.unravel_index(int(score.argmax()), score.shape))
            chosen.append((j, i))
            r = int(150 / self.window.cell_m)
            score[max(0, j - r) : j + r, max(0, i - r) : i + r] = -1
        return chosen

    def site(self, rank: int, j: int, i: int, text: str) -> Site:
        lon, lat = (round(float(v), 7) for v in self.plane.unproject(self.window.x[i], self.window.y[j]))
        clon, clat = (float(v) for v in self.plane.unproject(*self.at))
        away = float(distance_m(clon, clat, lon, lat))
        home, road, people = (float(f[j, i]) for f in (self.dwelling, self.road, self.peopled))
        score = float(self.score[j, i])
        habitat = self.classes[int(self.habitat[j, i])]
        walk = min(road, 900.0) if math.isfinite(road) else None
        return Site(
            rank,
            lon,
            lat,
            30.0,
            score,
            min(1.0, score + 0.04),
            away,
            bearing_deg(clon, clat, lon, lat),
            _finite(home),
            _finite(people),
            _finite(road),
            habitat,
            float(self.cover[j, i]),
            4.2,
            23.7,
            212.0,
            lon - 0.002,
            lat - 0.001,
            walk,
            Verdict.MET,
            self._clauses(away, home, road, people, text),
            self._criteria(score, j, i),
            (f"Written consent of the owner{text}", "Record the release within 24 h"),
        )

    def _clauses(
        self, away: float, home: float, road: float, people: float, text: str
    ) -> tuple[ClauseResult, ...]:
        def span(d: float, u: float) -> Interval:
            return (
                Interval(max(0.0, d - u), d + u, {"position": u})
                if math.isfinite(d)
                else Interval(700.0, math.inf, {"edge of data": math.inf})
            )

        def least(name: str, layer: str, d: float, *, limit: float, source: str, words: str) -> ClauseResult:
            v = span(d, 32.0)
            return ClauseResult(
                name,
                "min_distance_from",
                words,
                source,
                True,
                Verdict.MET,
                v,
                limit,
                v.low - limit,
                "m",
                v.widest_reason,
                f"The distance to the nearest of layer {layer} is at least {limit:g} m.",
            )

        v = span(away, 50.0)
        circle = ClauseResult(
            "3(a)",
            "max_distance_from_capture",
            f"Release within {self.circle_m:g} metres of the place of capture.{text}",
            PERMIT,
            True,
            Verdict.MET,
            v,
            self.circle_m,
            self.circle_m - v.high,
            "m",
            "position",
            "at most",
        )
        house = "house: natural ground"
        return (
            circle,
            least(
                "3(b)",
                "dwellings",
                home,
                limit=200,
                source=PERMIT,
                words="No nearer than 200 metres to a dwelling.",
            ),
            least(
                "3(d)", "roads", road, limit=40, source=PERMIT, words="No nearer than 40 metres to a road."
            ),
            ClauseResult(
                house,
                "habitat_in",
                "Release on natural ground. Judgement, no source.",
                HOUSE_RULE,
                True,
                Verdict.MET,
                Interval(44.0, 104.0, {"position": 30.0}),
                0.0,
                44.0,
                "m",
                "position",
                "The release lies in layer habitat.",
            ),
            least(
                "house: peopled places, dangerous",
                "peopled_places",
                people,
                limit=200,
                source=HOUSE_RULE,
                words="Farther from peopled places.",
            ),
            ClauseResult(
                "3(c)",
                "min_patch_area",
                "At least 4 hectares of habitat.",
                PERMIT,
                True,
                Verdict.MET,
                Interval(23.7, math.inf, {"edge of data": math.inf}),
                4.0,
                19.7,
                "ha",
                "edge of data",
                "patch",
            ),
            ClauseResult(
                "4(a)",
                "max_holding_hours",
                "Released within 12 hours of capture.",
                PERMIT,
                True,
                None,
                None,
                None,
                None,
                "",
                "not checked: it needs the times of capture and release",
            ),
            ClauseResult(
                "5",
                "consent_recorded",
                "Written consent of the landholder.",
                PERMIT,
                True,
                None,
                None,
                None,
                None,
                "",
                "not checked: it needs the parcel of the release and the consent register",
            ),
            ClauseResult(
                "6",
                "max_distance_from_capture",
                "Harmless snakes: 5 km.",
                PERMIT,
                True,
                None,
                reason="does not apply: danger is dangerously_venomous",
            ),
            ClauseResult(
                "7",
                "min_distance_from",
                "Preferably 1000 m from a dwelling.",
                PERMIT,
                False,
                Verdict.UNCERTAIN,
                span(home, 32.0),
                round(home),
                -32.0,
                "m",
                "position",
                "The distance to layer dwellings is long.",
            ),
        )

    def _criteria(self, score: float, j: int, i: int) -> tuple[CriterionScore, ...]:
        fit, cover, near = (
            float(self.fit[j, i]),
            float(self.cover[j, i]),
            min(1.0, score**3 / float(self.fit[j, i] * self.cover[j, i])),
        )
        lost = [-math.log(max(v, 0.01)) for v in (fit, cover, near)]
        total = sum(lost) or 1.0
        values: list[tuple[Any, ...]] = [
            ("habitat", "how the habitat suits the species", None, "", fit),
            ("cover", "cover on the ground", Interval(cover, cover), "", cover),
            ("closeness", "closeness to the capture", Interval(400.0, 460.0), "m", near),
        ]
        return tuple(
            CriterionScore(n, w, v, u, Interval(s, min(1.0, s + 0.03)), 1.0, k / total)
            for (n, w, v, u, s), k in zip(values, lost, strict=True)
        )

    def removed(self, text: str) -> tuple[Removed, ...]:
        ha = self.window.cell_m**2 / 1e4
        made = []
        for key, mask in self.masks.items():
            source, _, name = key.rpartition("|")
            low, high = (float(((mask >= k) & self.inside).sum()) * ha for k in (2, 1))
            made.append(
                Removed(
                    name,
                    "min_distance_from",
                    f"The text of {name}.{text}",
                    source,
                    low,
                    high,
                    0.21 * low,
                    0.3 * high,
                )
            )
        return tuple(made)

    def rasters(self) -> Rasters:
        return Rasters(
            self.window, self.plane, self.inside, self.masks, self.score.astype(np.float32), self.unknown
        )


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
