"""Edges: how often homes near a mapped edge call, against homes farther off.

Distances are straight lines in the region's plane, to what is drawn of the edge. They sort homes into
bands of hundreds of metres and are no legal distances.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Protocol

import numpy as np
import numpy.typing as npt
import shapely
from shapely import STRtree

from tussock.errors import InputError
from tussock.geodesy import ASSUMED_RADIUS_M, Floats
from tussock.ground.areas import chunks
from tussock.ground.features import Features, Geometries, polygons_of
from tussock.ground.region import Region
from tussock.hotspots.counts import Estimate, RateRatio, garwood, holm, rate_ratio
from tussock.interval import Interval

LIMITS_M = (0.0, 100.0, 300.0, 1000.0)
"""Where bands begin and end [m] (asked for); a band holds its far end, the first its near end too."""
INSIDE_M = ASSUMED_RADIUS_M
"""What lies farther inside an area than this [m] is not at its edge (the radius assumed of a position)."""
_PER = 1000.0


class HomePlaces(Protocol):
    """Buildings: places in the plane [m] and least and most homes in each."""

    @property
    def x(self) -> Floats: ...  # noqa: D102
    @property
    def y(self) -> Floats: ...  # noqa: D102
    @property
    def low(self) -> Floats: ...  # noqa: D102
    @property
    def high(self) -> Floats: ...  # noqa: D102


class CallPlaces(Protocol):
    """Incidents: places in the plane and their radii [m]."""

    @property
    def x(self) -> Floats: ...  # noqa: D102
    @property
    def y(self) -> Floats: ...  # noqa: D102
    @property
    def radius_m(self) -> Floats: ...  # noqa: D102


@dataclass(frozen=True, eq=False)
class Edge:
    """Something mapped that animals may come from.

    Attributes
    ----------
    layer, name
        Where it is drawn, and what it is called there; ``""`` for all that bear no name.
    geometries
        Points, lines and areas in the plane [m].
    """

    layer: str
    name: str
    geometries: Geometries


@dataclass(frozen=True)
class Band:
    """Homes and incidents between two distances from an edge.

    Attributes
    ----------
    near_m, far_m
        Distances [m].
    incidents
        How many.
    homes
        Least and most.
    rate
        Incidents per 1,000 homes in the time observed: from Garwood's lower end over the most homes to
        the upper end over the least; the value is over the middle of the homes. ``nan`` and [0, ∞]
        where there may be none.
    """

    near_m: float
    far_m: float
    incidents: int
    homes: Interval
    rate: Estimate


@dataclass(frozen=True)
class EdgeEffect:
    """What an edge does to the calls of the homes along it.

    Attributes
    ----------
    bands
        From the nearest to the farthest; the last is what the first is set against.
    ratio
        Nearest over farthest at the least and the most homes; its interval and p-value are the hull of
        both. The hull holds what any other share of the unknown buildings would give, the same near and
        far. Where a band may hold no home nothing is known.
    p_adjusted, p_more_adjusted
        Holm over the edges that were tested, two-sided and one-sided; ``nan`` where this was not. That
        homes along an edge call *more* often was asked before the calls were looked at, as the scan and
        the ring test ask it: for the claim that they do, the one-sided value counts.
    within
        Incidents farther inside an area than `INSIDE_M`: no home's.
    beyond
        Incidents farther off than the last band.
    vague
        Incidents known to a wider circle than the nearest band: in no band.
    """

    edge: Edge
    bands: tuple[Band, ...]
    ratio: RatioHull
    p_adjusted: float
    p_more_adjusted: float
    within: int
    beyond: int
    vague: int

    @property
    def tested(self) -> bool:
        """Whether both bands have homes for sure, so that there is something to compare."""
        return self.bands[0].homes.low > 0 and self.bands[-1].homes.low > 0


@dataclass(frozen=True)
class RatioHull:
    """A rate ratio over an interval of homes.

    Attributes
    ----------
    least, most
        Over the least and the most homes.
    """

    least: RateRatio
    most: RateRatio

    @property
    def ratio(self) -> tuple[float, float]:
        """The lower and the higher of the two ratios; ``nan`` where one is."""
        ends = self.least.ratio, self.most.ratio
        return (math.nan, math.nan) if any(map(math.isnan, ends)) else (min(ends), max(ends))

    @property
    def low(self) -> float:
        """Lower end of the hull."""
        return min(self.least.low, self.most.low)

    @property
    def high(self) -> float:
        """Upper end of the hull."""
        return max(self.least.high, self.most.high)

    @property
    def p(self) -> float:
        """The larger of the two p-values; 1 where one ratio is below 1 and the other above: a share
        between makes the rates equal."""
        low, high = self.ratio
        return 1.0 if low < 1 < high else max(self.least.p, self.most.p)

    @property
    def p_more(self) -> float:
        """The larger of the two one-sided p-values; between the ends it lies between them."""
        return max(self.least.p_more, self.most.p_more)


def edges_of(region: Region, layer: str, *, day: date, classes: Iterable[str] | None = None) -> list[Edge]:
    """Return the edges that a layer draws on a day: one for each name, and one for all without a name.

    Parameters
    ----------
    classes
        Only features surely of these, such as ``("wetland",)`` of habitat; ``None`` takes all.

    Raises
    ------
    InputError
        When its files cannot be used.
    """
    found = region.layer(layer).on(day)
    return edges(found if classes is None else found.surely_of(frozenset(classes)))


def edges(found: Features) -> list[Edge]:
    """Return features as edges, one for each name in order of the alphabet, those without one last."""
    names = found.names.astype(str)
    ordered = sorted(set(names.tolist()), key=lambda n: (n == "", n))
    return [Edge(found.name, name, found.geometries[names == name]) for name in ordered]


def edge_effects(
    mapped: Sequence[Edge],
    incidents: CallPlaces,
    homes: HomePlaces,
    *,
    limits_m: Sequence[float] = LIMITS_M,
) -> list[EdgeEffect]:
    """Return for each edge what its bands hold, in the order given.

    Parameters
    ----------
    incidents, homes
        Both cut by the same known extent.
    limits_m
        Where bands begin and end [m]: 0 and at least two more, growing.

    Raises
    ------
    InputError
        For limits that do not grow or give fewer than two bands.
    """
    limits = np.asarray(limits_m, dtype=np.float64)
    if len(limits) < 3 or limits[0] != 0 or not (np.diff(limits) > 0).all():
        raise InputError(
            f"limits {list(limits_m)} make no bands", allowed="0 and at least two greater distances, growing"
        )
    found = [_effect(edge, incidents, homes, limits=limits) for edge in mapped]
    both = holm([e.ratio.p if e.tested else math.nan for e in found])
    more = holm([e.ratio.p_more if e.tested else math.nan for e in found])
    return [
        replace(e, p_adjusted=float(p), p_more_adjusted=float(q))
        for e, p, q in zip(found, both, more, strict=True)
    ]


def _effect(edge: Edge, incidents: CallPlaces, homes: HomePlaces, *, limits: Floats) -> EdgeEffect:
    vague = incidents.radius_m > limits[1] - limits[0]
    called = band_of(edge.geometries, incidents.x[~vague], incidents.y[~vague], limits_m=limits)
    lived = band_of(edge.geometries, homes.x, homes.y, limits_m=limits)
    bands = tuple(
        _band(limits[i : i + 2], int((called == i).sum()), homes, lived == i) for i in range(len(limits) - 1)
    )
    near, far = bands[0], bands[-1]
    return EdgeEffect(
        edge=edge,
        bands=bands,
        ratio=RatioHull(
            *(
                rate_ratio(near.incidents, getattr(near.homes, end), far.incidents, getattr(far.homes, end))
                for end in ("low", "high")
            )
        ),
        p_adjusted=math.nan,
        p_more_adjusted=math.nan,
        within=int((called == _INSIDE).sum()),
        beyond=int((called == _BEYOND).sum()),
        vague=int(vague.sum()),
    )


def _band(limits: Floats, count: int, homes: HomePlaces, there: npt.NDArray[np.bool_]) -> Band:
    least, most = float(homes.low[there].sum()), float(homes.high[there].sum())
    interval, exact = Interval(least, most, {"layer": most - least}), garwood(count)
    middle = (least + most) / 2
    return Band(
        near_m=float(limits[0]),
        far_m=float(limits[1]),
        incidents=count,
        homes=interval,
        rate=Estimate(
            value=_PER * count / middle if middle else math.nan,
            low=_PER * exact.low / most if most else 0.0,
            high=_PER * exact.high / least if least else math.inf,
        ),
    )


_INSIDE, _BEYOND = -1, -2


def band_of(geometries: Geometries, x: Floats, y: Floats, *, limits_m: Floats) -> npt.NDArray[np.int64]:
    """Return the band of each place: 0 upwards, −1 well inside an area, −2 beyond the last band.

    The distance is to the outline of an area, from either side: a garden may lie a little inside what is
    drawn of a reserve.
    """
    out = np.full(len(x), _BEYOND, dtype=np.int64)
    if not len(geometries):
        return out
    areas, drawn = _areas_and_outlines(geometries)
    reach = float(limits_m[-1])
    west, south, east, north = shapely.total_bounds(geometries)
    boxed = (x >= west - reach) & (x <= east + reach) & (y >= south - reach) & (y <= north + reach)
    near = np.flatnonzero(boxed)
    points = np.asarray(shapely.points(x[near], y[near]), dtype=object)
    (which, _), found = STRtree(drawn).query_nearest(
        points, max_distance=reach, return_distance=True, all_matches=False
    )
    apart = np.full(len(near), np.inf)
    apart[which] = found
    out[near[which]] = np.maximum(np.searchsorted(limits_m, found, side="left") - 1, 0)
    out[near[(apart > INSIDE_M) & _inside(areas, points)]] = _INSIDE
    return out


def _areas_and_outlines(geometries: Geometries) -> tuple[Geometries, Geometries]:
    """Return the areas, and what distances are to: points, lines and the rings of areas, in pieces.

    Areas are joined first: the border between two halves of a reserve is no edge of it.
    """
    parts: Geometries = shapely.get_parts(shapely.get_parts(geometries))
    kinds = shapely.get_dimensions(parts)
    areas = polygons_of(np.array([shapely.union_all(parts[kinds == 2])], dtype=object))
    rings = shapely.get_rings(areas)
    return areas, np.concatenate([parts[kinds == 0], chunks(parts[kinds == 1]), chunks(rings)])


def _inside(areas: Geometries, points: Geometries) -> npt.NDArray[np.bool_]:
    out = np.zeros(len(points), dtype=np.bool_)
    if len(areas):
        shapely.prepare(areas)
        out[STRtree(areas).query(points, predicate="intersects")[0]] = True
    return out
