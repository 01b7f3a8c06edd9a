"""What a small map of the audit shows, and the ground in it as paths of whole tenths of a pixel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.geodesy import Plane
from tussock.maps.ground_sketch import GroundSketch, layer_names
from tussock.maps.ground_style import Style, style_of

WIDE, HIGH = 320, 240
"""Of a small map [pixels]."""
TENTHS = 10
_FINER_PX = 0.4
"""Vertices that move an outline by less are left out [pixels]."""
_DOT_PX = 1.6
PARCELS = "parcels"
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Frame:
    """What a small map shows: a box of the plane [m], its sides as :data:`WIDE` to :data:`HIGH`."""

    x: float
    y: float
    reach_m: float

    @property
    def box(self) -> Box:
        """West, south, east, north [m]."""
        wide = self.reach_m * WIDE / HIGH
        return self.x - wide, self.y - self.reach_m, self.x + wide, self.y + self.reach_m

    @property
    def beyond(self) -> Box:
        """A box a little larger: outlines cut at its sides stay out of sight."""
        return Frame(self.x, self.y, 1.05 * self.reach_m).box

    @property
    def per_metre(self) -> float:
        """Tenths of a pixel a metre."""
        return HIGH * TENTHS / (2 * self.reach_m)

    def at(self, xy: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Return plane coordinates as those of the drawing."""
        west, _, _, north = self.box
        return np.column_stack([(xy[:, 0] - west) * self.per_metre, (north - xy[:, 1]) * self.per_metre])


def ground_paths(
    ground: GroundSketch,
    plane: Plane,
    frame: Frame,
    *,
    named: Callable[[Style, str], str],
    with_parcels: bool,
) -> str:
    """Return the ground's paths from the bottom up; what is not known stays hatched."""
    unknown = f'<rect class="unknown" width="{WIDE * TENTHS}" height="{HIGH * TENTHS}"/>'
    known = _path(_projected(ground.known, plane, frame), closed=True)
    drawn = [unknown, f'<path class="known" d="{known}"/>']
    for name in layer_names(ground):
        if name == PARCELS and not with_parcels:
            continue
        for kind, geometry in ground.layers[name]:
            style = style_of(name, kind)
            drawn.append(_styled(_projected(geometry, plane, frame), style, named(style, name)))
    return "".join(drawn)


def _styled(flat: npt.NDArray[np.object_], style: Style, name: str) -> str:
    """Return areas, their pattern and lines of one style."""
    dimension = shapely.get_dimensions(flat)
    areas = _path(flat[dimension == 2], closed=True) + _dots(flat[dimension == 0])
    lines = _path(flat[dimension == 1], closed=False)
    out = f'<path class="{name}" d="{areas}"/>' if areas else ""
    out += f'<path class="o-{name}" d="{areas}"/>' if areas and style.pattern else ""
    return out + (f'<path class="{name} line" d="{lines}"/>' if lines else "")


def _projected(geometry: BaseGeometry, plane: Plane, frame: Frame) -> npt.NDArray[np.object_]:
    """Return the parts of a geometry in the drawing's coordinates, without what nobody would see."""
    parts = shapely.get_parts(shapely.get_parts(np.array([geometry], dtype=object)))
    degrees = shapely.get_coordinates(parts)
    if not len(degrees):
        return np.array([], dtype=object)
    x, y = plane.project(degrees[:, 0], degrees[:, 1])
    flat = shapely.set_coordinates(parts, frame.at(np.column_stack([x, y])))
    plain = shapely.simplify(flat, _FINER_PX * TENTHS, preserve_topology=False)
    gone = shapely.is_empty(plain) & (shapely.get_dimensions(flat) == 2)
    plain[gone] = shapely.centroid(flat[gone])  # a house from far is a dot
    return np.asarray(plain[~shapely.is_empty(plain)], dtype=object)


def _path(parts: npt.NDArray[np.object_], *, closed: bool) -> str:
    if not len(parts):
        return ""
    singles = shapely.get_parts(parts)
    rings = shapely.get_rings(singles[shapely.get_dimensions(singles) == 2]) if closed else singles
    return "".join(_run(shapely.get_coordinates(ring), closed=closed) for ring in rings)


def _run(xy: npt.NDArray[np.float64], *, closed: bool) -> str:
    whole = np.rint(xy).astype(int)
    steps = np.diff(whole, axis=0)
    steps = steps[np.any(steps != 0, axis=1)]
    if not len(steps):
        return ""
    moves = " ".join(f"{dx} {dy}" for dx, dy in steps[: -1 if closed and len(steps) > 1 else None])
    return f"M{whole[0, 0]} {whole[0, 1]}l{moves}{'z' if closed else ''}"


def _dots(points: npt.NDArray[np.object_]) -> str:
    size = round(_DOT_PX * TENTHS)
    spots = np.unique(np.rint(shapely.get_coordinates(points)).astype(int), axis=0)
    return "".join(f"M{x - size // 2} {y - size // 2}h{size}v{size}h-{size}z" for x, y in spots)
