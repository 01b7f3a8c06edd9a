"""The homes that calls are set against: what is tagged as a dwelling, and what may be one.

Of most buildings of a real map the use is not known. For letting an animal go they count as dwellings, as
they should; here they are between none and one, and the interval is wide. Whoever knows better says so in
region.toml: a crosswalk of the dwellings with ``unknown = "house"``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.errors import MissingDataError
from tussock.geodesy import Floats
from tussock.ground.features import Features
from tussock.ground.region import Region
from tussock.interval import Interval
from tussock.names import UNKNOWN

DWELLINGS, OTHERS = "dwellings", "other_buildings"
BORDER_M = 0.001
"""By how much the known extent is widened [m], so that its border is in it."""
PERHAPS = (UNKNOWN, "public", "commercial")
"""Classes of dwellings that need not be homes: people are about, which is all that a release asks."""


@dataclass(frozen=True, eq=False)
class Exposure:
    """Buildings and the homes in each, as an interval: homes surely, buildings of unknown use perhaps.

    Attributes
    ----------
    x, y
        Middle of each building in the plane [m], shape (n,).
    low, high
        Homes in it; ``low`` is 0 where the building's use is not known, or is not to live in.
    outside
        Homes left out because they lie outside the known extent.
    others_given
        Whether there is a layer of buildings of unknown use; without one the interval has no width,
        which does not make it sure.
    """

    x: Floats
    y: Floats
    low: Floats
    high: Floats
    outside: Interval
    others_given: bool

    def __len__(self) -> int:
        return len(self.x)

    @property
    def total(self) -> Interval:
        """All homes."""
        return _interval(self.low, self.high)

    def where(self, mask: npt.NDArray[np.bool_]) -> Interval:
        """Return the homes where a mask is true."""
        return _interval(self.low[mask], self.high[mask])


def _interval(low: Floats, high: Floats) -> Interval:
    ends = float(low.sum()), float(high.sum())
    return Interval(*ends, {"layer": ends[1] - ends[0]})


def known_extent(region: Region) -> BaseGeometry:
    """Return the ground [m] on which homes are known: what every building layer covers, a millimetre wider.

    Calls must be cut by the same ground, or a rate sets calls against homes that nobody has mapped. The
    millimetre is for what lies on its border: a call at a corner, in the digits of the extent's own file,
    came out of the projection 0.04 mm beyond it (seen on the demonstration's extent).

    Raises
    ------
    MissingDataError
        When the region has no layer of dwellings.
    """
    parts = [shapely.union_all(region.layer(name).extent.parts) for name in _layers(region)]
    known = shapely.intersection_all(parts)
    return shapely.buffer(known, BORDER_M, join_style="mitre")


def exposure(region: Region, *, day: date | None = None) -> Exposure:
    """Return the homes of a region inside the known extent.

    Parameters
    ----------
    day
        Only what stood then; ``None`` takes everything drawn. A period of years is set against one
        day, best its middle: the growth of a suburb is not followed.

    Raises
    ------
    MissingDataError
        When the region has no layer of dwellings.
    InputError
        When its files cannot be used.
    """
    known = known_extent(region)
    parts = [_homes(region, name, day=day) for name in _layers(region)]
    x, y, low, high = (np.concatenate(column) for column in zip(*parts, strict=True))
    shapely.prepare(known)
    inside = np.asarray(shapely.intersects_xy(known, x, y), dtype=np.bool_)
    return Exposure(
        x=x[inside],
        y=y[inside],
        low=low[inside],
        high=high[inside],
        outside=_interval(low[~inside], high[~inside]),
        others_given=region.has(OTHERS),
    )


def _layers(region: Region) -> tuple[str, ...]:
    if not region.has(DWELLINGS):
        raise MissingDataError(
            "there is no layer of dwellings: calls cannot be set against homes",
            where="region.toml",
            allowed="[layers.dwellings]",
            fix="add the homes, for example with 'tussock region from-osm'",
        )
    return (DWELLINGS, OTHERS) if region.has(OTHERS) else (DWELLINGS,)


def _homes(region: Region, name: str, *, day: date | None) -> tuple[Floats, Floats, Floats, Floats]:
    """Return x, y, and least and most homes of each building of a layer."""
    drawn: Features = region.layer(name).features
    found = drawn if day is None else drawn.on(day)
    middles = shapely.centroid(found.geometries)
    most = found.homes.astype(np.float64)
    surely = ~np.isin(found.classes.astype(str), PERHAPS) if name == DWELLINGS else np.zeros(len(found), bool)
    least = np.where(surely, most, 0.0)
    return np.asarray(shapely.get_x(middles)), np.asarray(shapely.get_y(middles)), least, most
