"""Clusters on the finest cells, what the map could have seen, and what cells of another size say."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from tussock.geodesy import Floats
from tussock.hotspots.base_effect import fitted_by_distance
from tussock.hotspots.both_ends import BothScans, Circle, End, least_end, scan_ends
from tussock.hotspots.calls import Incidents
from tussock.hotspots.cells import NOWHERE, CallPlaces, Cells, Ground, HomePlaces, Whole, too_vague
from tussock.hotspots.counts import Estimate
from tussock.hotspots.found import Asked, BaseEffect, Clusters, ClusterTold, Rerun, Spot
from tussock.hotspots.hexagons import COARSEST, FINEST, hexagon_cells
from tussock.hotspots.power import LeastSeen, least_seen
from tussock.hotspots.scan import Cluster
from tussock.hotspots.windows import Windows, circular_windows

MOST_UNITS = 2000
"""Cells that are scanned: of more, coarser ones are taken (choice of this project, for time)."""
SIZES = (0.05, 0.1, 0.25)
"""Shares of the expected calls for which it is said what could have been seen (choice of this project)."""
POWER_MAPS = 512
"""Maps with a planted cluster at most, for each relative risk tried (choice of this project): of 80 % found,
by a 95 % interval of 3.5 % to either side."""
RERUN_REPLICATES = 199
"""Maps made up when cells of another size are scanned (choice of this project)."""
WIDEST = 8
"""H3 resolution, about a kilometre, beyond which cells grow no wider for calls placed roughly (choice of this
project)."""
_CORNER_M = 1.0
_GRID_M = 0.001


@dataclass(frozen=True, eq=False)
class Scanned:
    """Places that are scanned, as of `find`."""

    calls: CallPlaces
    homes: HomePlaces
    ground: Ground


def finest_units(places: Scanned) -> Cells:
    """Return the finest H3 cells that are few enough to be scanned, and no finer than most places are known.

    Up to a width of a kilometre: where most places are known still worse, the others are scanned alone.

    Raises
    ------
    MissingDataError
        Without the package h3.
    """
    finest: Cells | None = None
    for resolution in range(FINEST, COARSEST - 1, -1):
        cells = units_at(places, resolution)
        if np.count_nonzero(cells.tested) > MOST_UNITS and resolution > COARSEST:
            continue
        finest = finest or cells
        if not cells.incident_tally.mostly_vague:
            return cells
        if resolution <= WIDEST:
            break
    assert finest is not None  # the coarsest is taken whatever their number
    return finest


def units_at(places: Scanned, resolution: int) -> Cells:
    """Return the cells of a resolution."""
    return hexagon_cells(places.calls, places.homes, ground=places.ground, resolution=resolution)


def found_clusters(units: Cells, incidents: Incidents, places: Scanned, *, asked: Asked) -> Clusters:
    """Return the scan of some units over both ends of the homes, with and without the distance from the base.

    Raises
    ------
    MissingDataError
        Without the package numba.
    """
    windows = _windows(units)
    most, least = End.of(units, units.homes_high), least_end(units)
    plain = scan_ends(most, least, windows, seed=asked.seed, replicates=asked.replicates)
    row = rows_of_incidents(units, incidents)
    teller = _Teller(units, incidents, row, places.ground)
    power = tuple(_power(plain, (most, least), windows, share=s, seed=asked.seed) for s in SIZES)
    told = Clusters(units, plain.most, teller.told(plain), power, least=plain.least)
    if asked.base is None:
        return told
    x, y = (float(v) for v in places.ground.plane.project(*asked.base))
    away = np.hypot(windows.x - x, windows.y - y)
    far = [None if e is None or not e.usable else _fitted(e, away) for e in (most, least)]
    if far[0] is None:
        return told
    # without a fit over the least homes nothing can be said of them: no circle stands out
    others = None if least is None else End(least.counts, far[1][0] if far[1] else np.zeros(len(away)))
    based = scan_ends(
        End(most.counts, far[0][0]), others, windows, seed=asked.seed, replicates=asked.replicates
    )
    effect = hull_of([e for _, e in filter(None, far)])
    return replace(told, base=effect, with_base=based.most, told_with_base=teller.told(based))


def _fitted(end: End, away_m: Floats) -> tuple[Floats, BaseEffect] | None:
    found = fitted_by_distance(end.counts, end.weights, away_m)
    return None if found is None else (found.expected, found.effect)


def hull_of(effects: Sequence[BaseEffect]) -> BaseEffect:
    """Return one effect for both ends of the homes: the geometric mean, and the hull of the intervals."""
    each = [e.per_km for e in effects]
    middle = math.exp(sum(math.log(e.value) for e in each) / len(each))
    value = each[0].value if len(each) == 1 else middle
    return BaseEffect(Estimate(value, min(e.low for e in each), max(e.high for e in each)))


def _windows(units: Cells) -> Windows:
    """Return the circles over the most homes of the units that are tested."""
    homes = np.where(units.tested, units.homes_high, 0.0)
    x, y = units.centres
    return circular_windows(x, y, homes, centres=_centres(units))


def _centres(units: Cells) -> tuple[Floats, Floats]:
    """Return the centres and corners of the cells, each once."""
    corners = shapely.get_coordinates(units.polygons)
    every = np.vstack([np.column_stack(units.centres), corners])
    _, first = np.unique(np.round(every / _CORNER_M), axis=0, return_index=True)
    kept = every[np.sort(first)]
    return kept[:, 0].copy(), kept[:, 1].copy()


def _power(
    found: BothScans, ends: tuple[End, End | None], windows: Windows, *, share: float, seed: int
) -> LeastSeen:
    """Return what could have been seen over the end of the homes that shows less."""
    pairs = ((found.most, ends[0]), (found.least, ends[1]))
    seen = [
        least_seen(s, windows, share=share, seed=seed, expected=e.weights, replicates=POWER_MAPS)
        for s, e in pairs
        if s is not None and e is not None
    ]
    if found.least is None and ends[1] is not None:  # no home is sure: nothing can stand out
        return replace(seen[0], relative_risk=None, found=0.0)
    return max(seen, key=lambda one: (one.relative_risk or math.inf, -one.found))


def rows_of_incidents(units: Cells, incidents: Incidents) -> Whole:
    """Return the row of the unit of each incident; `NOWHERE` where its place is too vague for that too."""
    row = rows_of(units, incidents.x, incidents.y)
    return np.where(too_vague(units.polygons, row, incidents.radius_m), NOWHERE, row)


def rows_of(units: Cells, x: Floats, y: Floats) -> Whole:
    """Return the row of the unit that holds each place; `NOWHERE` where none does."""
    point, row = shapely.STRtree(units.polygons).query(shapely.points(x, y), predicate="intersects")
    rows = np.full(len(x), len(units.names), dtype=np.int64)
    np.minimum.at(rows, point, row)
    return np.where(rows == len(units.names), NOWHERE, rows)


@dataclass(frozen=True, eq=False)
class _Teller:
    """Says what is beside a cluster's figures."""

    units: Cells
    incidents: Incidents
    row: Whole
    ground: Ground

    def told(self, found: BothScans) -> tuple[ClusterTold, ...]:
        return tuple(self._one(circle) for circle in found.circles)

    def _one(self, circle: Circle) -> ClusterTold:
        cluster = circle.most
        # a circle may hold cells that are not tested: their homes and calls took no part in the scan
        rows = cluster.units[self.units.tested[cluster.units]]
        homes = self.units.homes_low[rows].sum(), self.units.homes_high[rows].sum()
        inside = np.flatnonzero(np.isin(self.row, rows)).tolist()
        species = species_of(self.incidents, inside)
        low, high = (float(v) for v in homes)
        spot = spot_of(self.units, rows, cluster.centre, ground=self.ground)
        return ClusterTold(most=cluster, least=circle.least, spot=spot, homes=(low, high), species=species)


def spot_of(units: Cells, rows: Whole, centre: tuple[float, float], *, ground: Ground) -> Spot:
    """Return where some units round a centre [m] are."""
    # neighbours' corners differ by roundings: on a grid of millimetres they are the same
    outline = shapely.union_all(units.polygons[rows], grid_size=_GRID_M)
    corners = shapely.get_coordinates(outline)
    reach = float(np.hypot(corners[:, 0] - centre[0], corners[:, 1] - centre[1]).max(initial=0.0))
    lon, lat = (float(v) for v in ground.plane.unproject(*centre))
    return Spot(lon, lat, len(rows), outline, reach)


def species_of(incidents: Incidents, which: Sequence[int]) -> Mapping[str, int]:
    """Return species → how many of these incidents, the commonest first, then in order of the alphabet."""
    found = Counter(incidents.items[i].told.species for i in which)
    return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))


def cluster_reruns(clusters: Clusters, places: Scanned, *, asked: Asked) -> Iterator[Rerun]:
    """Yield the scan once more on cells one step finer and coarser, or why it could not be rerun."""
    here = clusters.units.resolution
    assert here is not None  # they are H3 cells
    for step, resolution in (("finer", here + 1), ("coarser", here - 1)):
        size = f"H3 resolution {resolution}"
        units = units_at(places, resolution)
        if why := _not_rerun(units):
            yield Rerun("clusters", step, size, why, None)
            continue
        most, maps = End.of(units, units.homes_high), min(RERUN_REPLICATES, asked.replicates)
        again = scan_ends(most, least_end(units), _windows(units), seed=asked.seed, replicates=maps)
        yield _compared(clusters, again, step=step, size=size, slack_m=_across_m(units))


def _not_rerun(units: Cells) -> str:
    """Return why cells of another size are not scanned; empty where they are."""
    number = int(np.count_nonzero(units.tested))
    if not units.incidents.sum():
        return "not scanned: no incident is counted"
    if number > 2 * MOST_UNITS:
        return f"not scanned: {number:,} cells, and at most {2 * MOST_UNITS:,} are scanned"
    if number < 2:
        left = f"{number} cell" if number else "no cell"
        return f"not scanned: {left} with homes lies in the known extent to 95 %, and it takes 2"
    if not units.incidents[units.tested].sum():
        return "not scanned: no incident lies in the cells that are tested"
    return ""


def _compared(clusters: Clusters, again: BothScans, *, step: str, size: str, slack_m: float) -> Rerun:
    before, after = clusters.standing_out, again.standing_out()
    if not before:
        found = "nothing stands out" if not after else _words(after[0])
        return Rerun("clusters", step, size, found, not after)
    same = [c for c in after if _overlap(c.most, before[0].most, slack_m)]
    shown = same or list(again.circles[:1])
    found = _words(shown[0]) if shown else "nothing stands out"
    return Rerun("clusters", step, size, found, bool(same))


def _words(circle: Circle) -> str:
    cluster = circle.most
    risk = (
        "none outside it"
        if math.isinf(cluster.relative_risk)
        else f"{cluster.relative_risk:.1f} times as often"
    )
    return (
        f"{cluster.observed} incidents where {cluster.expected:.1f} were expected, {risk}, p {circle.p:.3f}"
    )


def _overlap(one: Cluster, other: Cluster, slack_m: float) -> bool:
    """Return whether two clusters are of one place: the centre of one is in the other, but for a cell."""
    apart = math.dist(one.centre, other.centre)
    return apart <= max(one.radius_m, other.radius_m) + slack_m


def _across_m(units: Cells) -> float:
    return math.sqrt(float(np.mean(shapely.area(units.polygons))))
