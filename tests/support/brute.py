"""The referee of the search: every cell of the circle measured and judged exactly, then sorted.

It shares the exact measures with the planner, and nothing of bounds, surfaces, windows or heaps.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats, distance_m
from tussock.interval import Verdict
from tussock.measure.clauses import HOUSE_RULE, Clause, bind
from tussock.measure.judging import Measures, judge
from tussock.measure.scene import Case, Places, Scene, candidates
from tussock.planning.criteria import criteria_for
from tussock.planning.scoring import score_exactly
from tussock.planning.setting import Capture, Setting

RIM_M = 0.02
"""Cells whose centre lies this near to the circle's rim may count as in or out."""
Degrees = tuple[float, float]


STAY = timedelta(minutes=45)
"""How long after arriving the release may be."""


@dataclass(frozen=True)
class Areas:
    """Cells that a clause does not meet, and those that it alone does not meet; ± cells on the rim."""

    unmet: int
    only: int
    on_rim: int


@dataclass(frozen=True)
class Brute:
    """What measuring everything comes to.

    Attributes
    ----------
    sites, nearest
        Degrees, in order.
    keys
        Every cell that meets all clauses: (−millionths of score, centimetres, row, column), sorted.
    areas
        Clause key → cells.
    shortfalls
        Clause key → by how much the best place that meets all others misses it; only where there is one.
    """

    sites: tuple[Degrees, ...]
    nearest: Degrees | None
    keys: tuple[tuple[int, int, int, int], ...]
    areas: Mapping[str, Areas]
    shortfalls: Mapping[str, float]
    cells: int


def brute_force(
    capture: Capture, setting: Setting, *, circle_m: float, setbacks: Mapping[str, float]
) -> Brute:
    """Return the plan that exhaustive measuring gives, for one permit of one version."""
    case = Case(
        capture.position,
        capture.animal,
        setting.start,
        setting.start.date(),
        tuple(r for r in setting.counted if r.instant <= setting.start + STAY),
        setting.consents,
        until=setting.start + STAY,
        until_day=(setting.start + STAY).date(),
    )
    scene = Scene(setting.region, case)
    clauses = bind(setting.permits[0].versions[0].conditions, scene, source=setting.permits[0].id)
    clauses += bind(setting.house_rules, scene, source=HOUSE_RULE)
    x, y, on_rim = _circle(scene, circle_m)
    at = candidates(x, y, radius_m=setting.site_radius_m, plane=scene.plane)
    measures = Measures(scene, at)
    met = {c.key: _met(c, measures) for c in clauses if c.decides_place}
    missed = np.sum([~m for m in met.values()], axis=0)
    score = np.rint(_worst_scores(scene, at, setting, circle_m=circle_m, setbacks=setbacks) * 1e6).astype(int)
    where = capture.position
    away = distance_m(where.longitude, where.latitude, at.lon, at.lat)
    cell = scene.region.cell_m
    keys = np.column_stack(
        [-score, np.rint(away * 100), np.rint(y / cell - 0.5), np.rint(x / cell - 0.5)]
    ).astype(int)[missed == 0]
    lon, lat = at.lon[missed == 0], at.lat[missed == 0]
    order = np.lexsort(keys.T[::-1])
    near = np.lexsort(keys.T[:0:-1])
    return Brute(
        _greedy(lon[order], lat[order], setting),
        (float(lon[near[0]]), float(lat[near[0]])) if len(near) else None,
        tuple(tuple(int(v) for v in keys[i]) for i in order),  # type: ignore[misc]  # four columns, which no type can say
        {k: Areas(int((~m).sum()), int((~m & (missed == 1)).sum()), on_rim) for k, m in met.items()},
        {c.key: s for c in clauses if c.decides_place and (s := _shortfall(c, met, measures)) is not None},
        len(x),
    )


def _worst_scores(
    scene: Scene, at: Places, setting: Setting, *, circle_m: float, setbacks: Mapping[str, float]
) -> Floats:
    """Return the lowest score over the species it may be, each scored as if the animal surely were of it."""
    least = np.full(len(at), np.inf)
    for profile in scene.case.animal.profiles:
        surely = replace(scene.case.animal, profile=profile, others=())
        alone = Scene(scene.region, replace(scene.case, animal=surely))
        criteria = criteria_for(alone, setting.weights, circle_m=circle_m, setbacks=setbacks)
        least = np.minimum(least, score_exactly(criteria, Measures(alone, at)).low)
    return least


def _circle(scene: Scene, circle_m: float) -> tuple[Floats, Floats, int]:
    """Return the centres of all cells in the circle, and how many lie on its rim."""
    cell = scene.region.cell_m
    x0, y0 = float(scene.capture.x[0]), float(scene.capture.y[0])
    reach = circle_m * 1.001 + 2 * cell
    columns = np.arange(math.floor((x0 - reach) / cell), math.ceil((x0 + reach) / cell) + 1)
    rows = np.arange(math.floor((y0 - reach) / cell), math.ceil((y0 + reach) / cell) + 1)
    x, y = (v.ravel() for v in np.meshgrid((columns + 0.5) * cell, (rows + 0.5) * cell))
    west, south, east, north = scene.region.bounds
    inside = (west <= x) & (x <= east) & (south <= y) & (y <= north)
    lon, lat = scene.plane.unproject(x, y)
    where = scene.case.capture
    d = distance_m(where.longitude, where.latitude, lon, lat)
    inside &= d <= circle_m
    return x[inside], y[inside], int((np.abs(d - circle_m) < RIM_M).sum())


def _met(clause: Clause, measures: Measures) -> npt.NDArray[np.bool_]:
    found = [judge(clause, measures, i).verdict is Verdict.MET for i in range(len(measures.at))]
    return np.array(found, dtype=bool)


def _shortfall(clause: Clause, met: Mapping[str, npt.NDArray[np.bool_]], measures: Measures) -> float | None:
    others = np.ones(len(measures.at), dtype=bool)
    for key, mask in met.items():
        if key != clause.key:
            others &= mask
    if not others.any():
        return None
    margins = [measures.of(d.quantity).margin(d.limit) for d in clause.demands if d.limit]
    return -float(np.min(margins, axis=0)[others].max())


def _greedy(lon: Floats, lat: Floats, setting: Setting) -> tuple[Degrees, ...]:
    chosen: list[Degrees] = []
    clear = np.ones(len(lon), dtype=bool)
    while len(chosen) < setting.top and clear.any():
        k = int(np.argmax(clear))
        chosen.append((float(lon[k]), float(lat[k])))
        clear[k] = False
        clear &= distance_m(lon[k], lat[k], lon, lat) >= setting.separation_m
    return tuple(chosen)
