"""Distances on the ellipsoid, containing radii, and the region's plane."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from pyproj import CRS, Geod, Transformer

from tussock.errors import InputError

Floats = npt.NDArray[np.float64]

WGS84 = Geod(ellps="WGS84")
R95_OVER_R68 = 1.62
"""Ratio of the 95 % to the 68 % radius of a circular normal error (source: √(ln 0.05 / ln 0.32) = 1.6215)."""
ASSUMED_RADIUS_M = 30.0
"""Radius of a position without a recorded one (Darwin Core, coordinateUncertaintyInMeters: typical GPS)."""
ASSUMED_RADIUS_BEFORE_2000_M = 100.0
"""The same before 2000-05-01, when selective availability ended (Darwin Core, same term)."""
EARTH_RADIUS_M = 6_371_008.8
"""Mean radius; used only for plane scale and its bounds, never for a legal distance."""
METRES_PER_DEGREE = WGS84.a * math.pi / 180


def distance_m(
    lon1: Floats | float, lat1: Floats | float, lon2: Floats | float, lat2: Floats | float
) -> Floats:
    """Return the geodesic distance [m] on WGS 84 between points in degrees; broadcasts.

    Source: Karney 2013 through PROJ; checked against the Flinders Peak–Buninyong line of the GDA
    technical manual in tests/external.
    """
    a, b, c, d = np.broadcast_arrays(lon1, lat1, lon2, lat2)
    return np.asarray(WGS84.inv(a, b, c, d)[2], dtype=np.float64)


def bearing_deg(lon1: float, lat1: float, lon2: float, lat2: float) -> float:
    """Return the azimuth [0, 360) from the first point to the second, clockwise from north."""
    return float(WGS84.inv(lon1, lat1, lon2, lat2)[0]) % 360.0


def half_diagonal_m(decimals: int, *, latitude: float = 0.0) -> float:
    """Return half the diagonal [m] of the cell that coordinates with so many decimals stand for.

    Parameters
    ----------
    decimals
        Digits after the point, 0 or more.
    latitude
        Degrees; 3 decimals give 78.7 m at the equator (a sphere of GBIF's table: 79).
    """
    step = 10.0**-decimals * METRES_PER_DEGREE
    return 0.5 * math.hypot(step, step * math.cos(math.radians(latitude)))


@dataclass(frozen=True)
class Plane:
    """The one plane of a region: transverse Mercator on WGS 84, scale 1 on its axis.

    Attributes
    ----------
    longitude, latitude
        Centre in degrees; easting and northing 0 there, and the lattice's origin.
    """

    longitude: float
    latitude: float

    @cached_property
    def crs(self) -> CRS:
        """The plane's coordinate system."""
        return CRS.from_proj4(
            f"+proj=tmerc +lat_0={self.latitude!r} +lon_0={self.longitude!r} +k=1 +x_0=0 +y_0=0"
            " +ellps=WGS84 +units=m +no_defs"
        )

    @cached_property
    def _there(self) -> Transformer:
        return Transformer.from_crs(self.crs.geodetic_crs, self.crs, always_xy=True)

    def project(self, lon: Floats | float, lat: Floats | float) -> tuple[Floats, Floats]:
        """Return easting, northing [m] of degrees."""
        x, y = self._there.transform(np.asarray(lon, float), np.asarray(lat, float))
        return np.asarray(x), np.asarray(y)

    def unproject(self, x: Floats | float, y: Floats | float) -> tuple[Floats, Floats]:
        """Return longitude, latitude [degrees] of easting and northing [m]."""
        lon, lat = self._there.transform(np.asarray(x, float), np.asarray(y, float), direction="INVERSE")
        return np.asarray(lon), np.asarray(lat)

    @cached_property
    def _gauss_radius_m(self) -> float:
        """Mean radius of curvature at the centre's latitude [m]."""
        s = math.sin(math.radians(self.latitude))
        e2 = WGS84.es
        return float(WGS84.a * math.sqrt(1 - e2) / (1 - e2 * s * s))

    def scale(self, x: Floats | float) -> Floats:
        """Return the point scale factor at easting x [m]: 1 + x²/2R² + x⁴/24R⁴."""
        q = np.square(np.asarray(x, float) / self._gauss_radius_m)
        return np.asarray(1 + q / 2 + q * q / 24)

    def ground_m(self, x1: float, y1: float, x2: Floats, y2: Floats) -> Floats:
        """Return plane distances turned into ground distances [m] by Simpson's mean of the scale.

        Good to a millimetre over 10 km within 75 km of the axis (checked in the tests); a bound for
        ordering cells, never a legal distance.
        """
        inverse = (1 / self.scale(x1) + 4 / self.scale((x1 + x2) / 2) + 1 / self.scale(x2)) / 6
        return np.asarray(np.hypot(x2 - x1, y2 - y1) * inverse)


def transformer_to_wgs84(crs: CRS, *, where: str) -> tuple[Transformer | None, float]:
    """Return the transformation of a layer's coordinates to WGS 84 degrees and its accuracy [m].

    Parameters
    ----------
    crs
        The layer's coordinate system.
    where
        Named in the error.

    Returns
    -------
    tuple
        ``None`` when the coordinates are WGS 84 degrees already. The accuracy is 0 for the same
        datum; an ensemble's own accuracy is ignored.

    Raises
    ------
    InputError
        When only a ballpark transformation is available.
    """
    target = CRS.from_epsg(4326)
    geodetic = crs.geodetic_crs
    if geodetic is None:
        raise InputError(
            f"the coordinate system '{crs.name}' has no tie to the Earth",
            where=where,
            allowed="a geographic or projected coordinate system",
            fix="save the layer in EPSG:4326",
        )
    if crs.is_geographic and _same_datum(geodetic, target):
        return None, 0.0
    from pyproj.transformer import TransformerGroup

    with warnings.catch_warnings():
        # a better grid that is not installed: the accuracy of what is there widens the measures instead
        warnings.simplefilter("ignore", UserWarning)
        group = TransformerGroup(crs, target, always_xy=True, allow_ballpark=False)
    if not group.transformers:
        raise InputError(
            f"no exact transformation from '{crs.name}' to WGS 84 is installed, only a ballpark one",
            where=where,
            allowed="a coordinate system with a known datum",
            fix="save the layer in EPSG:4326 with a tool that has the datum's grid",
        )
    if _same_datum(geodetic, target):
        return group.transformers[0], 0.0
    accuracy = group.transformers[0].accuracy
    return group.transformers[0], max(float(accuracy), 0.0) if accuracy is not None else 0.0


def _same_datum(a: CRS, b: CRS) -> bool:
    """Return whether two geographic systems share ellipsoid and datum (WGS 84's ensemble counts as one)."""
    names = {str(c.datum.name if c.datum else c.name).replace(" ensemble", "") for c in (a, b)}
    unknown = "Unknown based on WGS 84 ellipsoid"
    return len({n.replace(unknown, "World Geodetic System 1984") for n in names}) == 1
