"""A place as it may be given away: rounded to a grid, never randomised, its radius raised by the cell.

Source: Chapman 2020, *Current Best Practices for Generalizing Sensitive Species Occurrence Data*, GBIF,
doi 10.15468/doc-5jp4-5g10: round to a grid, say how coarse what is given and what is held are; Darwin Core,
coordinateUncertaintyInMeters: empty where unknown, 0 is no value. Checked in tests/external.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from tussock.geodesy import distance_m, half_diagonal_m
from tussock.position import Position
from tussock.records.sensitivity import DECIMALS

WITHHELD = "The place is withheld: species of category {}; ask the holder."


@dataclass(frozen=True)
class Generalised:
    """A place as text, by the names of Darwin Core's terms; all empty where it is withheld.

    Attributes
    ----------
    uncertainty
        Radius [m] of a disc that holds the true place, up to the next whole metre; empty where the radius
        was not recorded.
    precision
        Side of the cell [degrees].
    """

    latitude: str = ""
    longitude: str = ""
    uncertainty: str = ""
    precision: str = ""
    generalizations: str = ""
    withheld: str = ""


def generalise(position: Position, category: int, *, held: int) -> Generalised:
    """Return a place as coarsely as its category asks.

    Parameters
    ----------
    category
        One of :data:`tussock.records.sensitivity.DECIMALS`.
    held
        Decimals of a degree that the record itself has.
    """
    decimals = DECIMALS[category]
    if decimals is None:
        return Generalised(withheld=WITHHELD.format(category))
    latitude, longitude = (_rounded(d, decimals) for d in (position.latitude, position.longitude))
    cell = cell_radius_m(float(longitude), float(latitude), decimals)
    step = Decimal(1).scaleb(-decimals)
    raised = "raised by" if not position.assumed else "not recorded, and not given: it would be raised by"
    said = (
        f"Coordinates are rounded to a grid of {step} degrees (held to {max(held, decimals)} decimals); "
        f"the radius is {raised} half the diagonal of a cell ({math.ceil(cell)} m)."
    )
    total = "" if position.assumed else str(math.ceil(position.radius_m + cell))
    return Generalised(str(latitude), str(longitude), total, str(step), said)


def cell_radius_m(longitude: float, latitude: float, decimals: int) -> float:
    """Return how far [m] a place may be from the centre of the cell that it was rounded to.

    Half the diagonal, and no less than the way to the farthest corner on the ellipsoid: degrees of latitude
    are longer towards the poles, those of longitude towards the equator.
    """
    half = 0.5 * 10.0**-decimals
    corners = [(longitude + half * x, latitude + half * y) for x in (-1, 1) for y in (-1, 1)]
    inside = [(x, min(max(y, -90.0), 90.0)) for x, y in corners]
    farthest = max(float(distance_m(longitude, latitude, x, y)) for x, y in inside)
    return max(half_diagonal_m(decimals, latitude=latitude), farthest)


def _rounded(degrees: float, decimals: int) -> Decimal:
    """Return degrees on the grid; a half goes to the even neighbour, and zero has no sign."""
    value = Decimal(repr(degrees)).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN)
    return abs(value) if value == 0 else value
