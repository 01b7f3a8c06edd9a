"""How often homes near a mapped edge call, against homes farther off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import numpy.typing as npt

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.hotspots.counts import Estimate, RateRatio, garwood, holm, rate_ratio
from tussock.hotspots.edges import BEYOND, WITHIN, Edge, band_of
from tussock.interval import Interval

LIMITS_M = (0.0, 100.0, 300.0, 1000.0)
"""Where bands begin and end [m] (asked for); a band holds its far end, the first its near end too."""
_PER = 1000.0


class HomeColumns(Protocol):
    """Buildings: places in the plane [m] and least and most homes in each."""

    @property
    def x(self) -> Floats: ...  # noqa: D102 - said by the class
    @property
    def y(self) -> Floats: ...  # noqa: D102 - said by the class
    @property
    def low(self) -> Floats: ...  # noqa: D102 - said by the class
    @property
    def high(self) -> Floats: ...  # noqa: D102 - said by the class


class IncidentColumns(Protocol):
    """Incidents: places in the plane and their radii [m]."""

    @property
    def x(self) -> Floats: ...  # noqa: D102 - said by the class
    @property
    def y(self) -> Floats: ...  # noqa: D102 - said by the class
    @property
    def radius_m(self) -> Floats: ...  # noqa: D102 - said by the class


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
        the upper end over the least; the value is over the most homes. ``nan`` and [0, ∞] where there are
        none.
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
        Nearest over farthest, for whatever the buildings of unknown use are: from all homes near and none
        far to the reverse. Its interval and p-value are the hull of both. Where a band may hold no home
        nothing is known.
    p_adjusted, p_more_adjusted
        Holm over the edges that were tested, two-sided and one-sided; ``nan`` where this was not. That
        homes along an edge call *more* often was asked before the calls were looked at, as the scan and
        the ring test ask it: for the claim that they do, the one-sided value counts.
    tested
        Whether both bands have enough homes for sure, so that there is something to compare.
    within
        Incidents farther inside an area than `edges.INSIDE_M`: no home's.
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
    tested: bool
    within: int
    beyond: int
    vague: int

    def more(self, p: float) -> bool:
        """Return whether homes near call more often: one-sided at most p, and the interval above 1 too."""
        return self.tested and self.p_more_adjusted <= p and self.ratio.low > 1


@dataclass(frozen=True)
class RatioHull:
    """A rate ratio over an interval of homes.

    Attributes
    ----------
    least, most
        The lower ratio, over the most homes near and the fewest far; the higher, over the reverse.
    """

    least: RateRatio
    most: RateRatio

    @property
    def ratio(self) -> tuple[float, float]:
        """The lower and the higher of the two ratios; ``nan`` where one is."""
        ends = self.least.ratio, self.most.ratio
        return (math.nan, math.nan) if any(map(math.isnan, ends)) else ends

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
        """The larger of the two one-sided p-values: that of the lower ratio, 1 where a band may hold none."""
        return max(self.least.p_more, self.most.p_more)


def edge_effects(
    mapped: Sequence[Edge],
    incidents: IncidentColumns,
    homes: HomeColumns,
    *,
    limits_m: Sequence[float] = LIMITS_M,
    least_homes: float = 1.0,
) -> list[EdgeEffect]:
    """Return for each edge what its bands hold, in the order given.

    Parameters
    ----------
    incidents, homes
        Both cut by the same known extent.
    limits_m
        Where bands begin and end [m]: 0 and at least two more, growing.
    least_homes
        Fewest homes in the nearest and the farthest band with which an edge is tested: every edge that is
        makes all others harder to tell. Homes may decide that, calls may not.

    Raises
    ------
    InputError
        For limits that do not grow or give fewer than two bands, and for no homes as the fewest.
    """
    limits = np.asarray(limits_m, dtype=np.float64)
    if len(limits) < 3 or limits[0] != 0 or not (np.diff(limits) > 0).all():
        raise InputError(
            f"limits {list(limits_m)} make no bands", allowed="0 and at least two greater distances, growing"
        )
    if not least_homes > 0:
        raise InputError(
            f"at least {least_homes} homes", allowed="more than 0: without homes there is no rate"
        )
    found = [_effect(edge, incidents, homes, limits=limits, least_homes=least_homes) for edge in mapped]
    both = holm([e.ratio.p if e.tested else math.nan for e in found])
    more = holm([e.ratio.p_more if e.tested else math.nan for e in found])
    return [
        replace(e, p_adjusted=float(p), p_more_adjusted=float(q))
        for e, p, q in zip(found, both, more, strict=True)
    ]


def _effect(
    edge: Edge, incidents: IncidentColumns, homes: HomeColumns, *, limits: Floats, least_homes: float
) -> EdgeEffect:
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
            least=rate_ratio(near.incidents, near.homes.high, far.incidents, far.homes.low),
            most=rate_ratio(near.incidents, near.homes.low, far.incidents, far.homes.high),
        ),
        p_adjusted=math.nan,
        p_more_adjusted=math.nan,
        tested=min(near.homes.low, far.homes.low) >= least_homes,
        within=int((called == WITHIN).sum()),
        beyond=int((called == BEYOND).sum()),
        vague=int(vague.sum()),
    )


def _band(limits: Floats, count: int, homes: HomeColumns, there: npt.NDArray[np.bool_]) -> Band:
    least, most = float(homes.low[there].sum()), float(homes.high[there].sum())
    interval, exact = Interval(least, most, {"layer": most - least}), garwood(count)
    return Band(
        near_m=float(limits[0]),
        far_m=float(limits[1]),
        incidents=count,
        homes=interval,
        rate=Estimate(
            value=_PER * count / most if most else math.nan,
            low=_PER * exact.low / most if most else 0.0,
            high=_PER * exact.high / least if least else math.inf,
        ),
    )
