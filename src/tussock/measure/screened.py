"""Coarse bounds of each quantity at cells of a window: they drop what cannot be met and order the rest.

Each method mirrors an exact measure: it puts the least and the most that its parts can be through
the same arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
import shapely

from tussock.ground.areas import AreaSet, dissolved
from tussock.ground.features import Features, kept_with
from tussock.ground.lattice import Window
from tussock.ground.surfaces import (
    SLACK_HIGH,
    SLACK_LOW,
    Outline,
    Surface,
    burnt,
    distances,
    labels,
    outline,
    touched,
    winding,
)
from tussock.measure.between import ROUND_OUT
from tussock.measure.exact import (
    capture_known,
    class_distances,
    counted_releases,
    cut_high,
    cut_low,
    measure,
    polygons_near_capture,
)
from tussock.measure.measured import Bounds, Ends, Measured, fixed_bounds, hull_of
from tussock.measure.patches import Patches, patch_sets
from tussock.measure.scene import Scene
from tussock.measure.shadow import shadow
from tussock.permit.demands import (
    At,
    BarriersBetween,
    BeyondNearest,
    Depth,
    DistanceFromCapture,
    DistanceTo,
    PatchArea,
    Quantity,
    ReleasesNear,
    SameHabitat,
    SamePolygon,
    layers_of,
)

GROUND_ERROR_M = 0.005
"""Bound on the corrected plane distance [m] (6e-6 measured) and on reading it in 32 bits over 10 km."""
ROUNDING_M = 0.02
"""A candidate's degrees are rounded to 7 decimals: at most 8 mm off its centre."""
Index = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]
_T = TypeVar("_T")


class Screen:
    """Surfaces over one window of a scene, and bounds made from them at cells.

    Cells are named by their flat index in the window (row × columns + column).
    """

    def __init__(self, scene: Scene, window: Window, *, radius_m: float) -> None:
        self.scene, self.window, self.radius_m = scene, window, radius_m
        self._made: dict[object, Any] = {}
        west, south, east, north = window.bounds
        stretch = float(np.max(scene.plane.scale(np.array([west, east])))) - 1
        more = stretch * float(np.hypot(east - west, north - south)) + ROUNDING_M
        self.plane_error = np.float32(more)
        self.below = np.float32(SLACK_LOW * window.cell_m + more)
        self.above = np.float32(SLACK_HIGH * window.cell_m + more)

    def bounds(self, quantity: Quantity, cells: Index) -> Bounds:
        """Return bounds on the exact interval of a quantity at some cells."""
        if isinstance(quantity, Depth) and quantity.at is At.CAPTURE:
            return self._same_everywhere(measure(quantity, self.scene, self.scene.capture), cells)
        views = self.scene.views(layers_of(quantity))
        return hull_of([self._over(view)._bounds(quantity, cells) for view in views])

    def _over(self, view: Scene) -> Screen:
        """Return the screen over another state of the ground."""
        if view is self.scene:
            return self
        return self._kept(("view", id(view)), lambda: Screen(view, self.window, radius_m=self.radius_m))

    def _bounds(self, quantity: Quantity, cells: Index) -> Bounds:
        match quantity:
            case DistanceFromCapture():
                return self._from_capture(cells)
            case BeyondNearest(nearest_m=nearest):
                beyond = self.from_capture.ravel()[cells] - np.float32(nearest)
                error = np.float32(GROUND_ERROR_M + ROUNDING_M)
                return fixed_bounds(beyond - error, beyond + error, beyond - error, beyond + error)
            case DistanceTo(layer=layer, classes=classes):
                return self._distance_to(layer, classes, cells)
            case Depth():
                return self._depth(quantity, cells)
            case SameHabitat():
                return self._same_habitat(cells)
            case PatchArea():
                return self._patch_area(quantity, cells)
            case SamePolygon(layer=layer):
                return self._same_polygon(layer, cells)
            case BarriersBetween(layer=layer, classes=classes):
                return self._barriers(layer, classes, cells)
            case ReleasesNear():
                return self._releases(quantity, cells)

    @property
    def from_capture(self) -> Surface:
        """The distance capture–cell [m], good to GROUND_ERROR_M."""
        return self._kept("from capture", self._capture_distance)

    @property
    def habitat_labels(self) -> npt.NDArray[np.int64]:
        """For each centre the index of its habitat feature, −1 where unmapped."""
        return self._kept("habitat", self._labelled)

    def outline_cells(self, layer: str, class_name: str) -> Mask:
        """Return the cells that an outline of a class of a layer passes through."""
        found = self.scene.features(layer, frozenset([class_name]))
        return touched(self._outline_of(found, found.geometries), self.window)

    def inside_extent(self, layer: str) -> Mask:
        """Return which centres lie inside a layer's known extent."""
        return np.asarray(self._signed(self.scene.extent(layer)) > 0)

    def _kept(self, key: object, make: Callable[[], _T]) -> _T:
        if key not in self._made:
            self._made.setdefault(key, make())
        made: _T = self._made[key]
        return made

    def _capture_distance(self) -> Surface:
        x, y = float(self.scene.capture.x[0]), float(self.scene.capture.y[0])
        ground = self.scene.plane.ground_m(x, y, self.window.x[None, :], self.window.y[:, None])
        return ground.astype(np.float32)

    def _labelled(self) -> npt.NDArray[np.int64]:
        found = self.scene.features("habitat")
        parts, owner = shapely.get_parts(found.geometries, return_index=True)
        return np.append(owner, -1)[labels(parts, self.window)]

    def _from_capture(self, cells: Index) -> Bounds:
        d = self.from_capture.ravel()[cells]
        widened = np.float32(self.scene.case.capture.radius_m + self.radius_m)
        error = np.float32(GROUND_ERROR_M + ROUNDING_M)
        low, high = d - widened, d + widened
        floor = np.float32(0)
        return Bounds(
            lambda: (np.maximum(low - error, floor), np.maximum(low + error, floor)),
            lambda: (high - error, high + error),
        )

    def _outline_of(self, holder: Features | AreaSet, geometries: npt.NDArray[np.object_]) -> Outline:
        cell = self.window.cell_m
        shape: Outline = kept_with(holder, ("outline", cell), lambda: outline(geometries, cell_m=cell))
        return shape

    def _away(self, found: Features) -> Surface:
        """Return the transform to features as drawn [m]."""
        return self._kept(
            id(found),
            lambda: distances(
                burnt(self._outline_of(found, found.geometries), self.window), cell_m=self.window.cell_m
            ),
        )

    def _signed(self, areas: AreaSet) -> Surface:
        """Return the signed transform to the edge of areas [m], inside positive."""
        return self._kept(id(areas), lambda: self._signed_made(areas))

    def _signed_made(self, areas: AreaSet) -> Surface:
        shape = self._outline_of(areas, areas.parts)
        edge = distances(touched(shape, self.window), cell_m=self.window.cell_m)
        if not len(shape.edges):
            return -edge
        return np.where(winding(shape.edges, self.window) > 0, edge, -edge)

    @property
    def _rim(self) -> Surface:
        """How far each centre surely lies from the window's edge [m]: beyond it nothing was burnt."""
        return self._kept("rim", self._to_rim)

    def _to_rim(self) -> Surface:
        w = self.window
        across = np.minimum(np.arange(w.columns), np.arange(w.columns)[::-1]) + 0.5
        along = np.minimum(np.arange(w.rows), np.arange(w.rows)[::-1]) + 0.5
        rim = (np.minimum(across[None, :], along[:, None]) * w.cell_m).astype(np.float32)
        return np.asarray(np.maximum(rim - self.plane_error, np.float32(0)))

    def _signed_ends(self, areas: AreaSet, cells: Index) -> Ends:
        """Return the least and the most that the exact signed depth can be."""
        return self._kept(("ends", id(areas), id(cells)), lambda: self._ends_made(areas, cells))

    def _ends_made(self, areas: AreaSet, cells: Index) -> Ends:
        self._made[("cells", id(cells))] = cells  # so that its identity is not given to another
        s, rim = self._signed(areas).ravel()[cells], self._rim_at(cells)
        return np.minimum(s - self.below, rim), np.maximum(s + self.below, -rim)

    def _rim_at(self, cells: Index) -> Surface:
        self._made[("cells", id(cells))] = cells
        return self._kept(("rim", id(cells)), lambda: self._rim.ravel()[cells])

    def _distance_to(self, layer: str, classes: frozenset[str] | None, cells: Index) -> Bounds:
        groups = self.scene.features(layer, classes).by_error
        u, floor = np.float32(self.radius_m), np.float32(0)

        def nearest(sign: float) -> Surface:
            each = [self._away(group).ravel()[cells] + np.float32(sign * e) for e, group in groups]
            return each[0] if len(each) == 1 else np.minimum.reduce(each)

        def low() -> Ends:
            near, rim = nearest(-1), self._rim_at(cells) - np.float32(self.scene.error_m(layer))
            known = self._signed_ends(self.scene.extent(layer), cells)
            least = np.minimum(np.minimum(near - self.below, rim), known[0])
            return np.maximum(least - u, floor), np.maximum(
                np.minimum(near + self.above, known[1]) - u, floor
            )

        def high() -> Ends:
            near = nearest(1)
            return np.maximum(
                np.minimum(near - self.below, self._rim_at(cells)), floor
            ) + u, near + self.above + u

        return Bounds(low, high)

    def _depth(self, asked: Depth, cells: Index) -> Bounds:
        if asked.maybe_spared:
            held = self._depth(replace(asked, maybe_spared=frozenset()), cells)
            both = replace(asked, spared=asked.spared | asked.maybe_spared, maybe_spared=frozenset())
            spared = self._depth(both, cells)
            return Bounds(lambda: held.low, lambda: _most([held.high, spared.high]))
        areas = self.scene.areas(asked.layer, asked.classes, asked.spared)
        found = self._cut_depth(areas, asked.layer, cells, as_mapped=asked.as_mapped)
        if not asked.outside:
            return found
        return Bounds(lambda: (-found.high[1], -found.high[0]), lambda: (-found.low[1], -found.low[0]))

    def _same_everywhere(self, there: Measured, cells: Index) -> Bounds:
        low, high = (np.broadcast_to(v[0], len(cells)) for v in (there.low, there.high))
        return fixed_bounds(low, low, high, high)

    def _cut_depth(self, areas: AreaSet, layer: str, cells: Index, *, as_mapped: bool = False) -> Bounds:
        depths = self._signed_ends(areas, cells)
        widened = np.float32(self.scene.error_m(layer) + self.radius_m)
        if as_mapped:
            return fixed_bounds(*(d - widened for d in depths), *(d + widened for d in depths))
        known = self._signed_ends(self.scene.extent(layer), cells)

        def low() -> Ends:
            return cut_low(depths[0], known[0]) - widened, cut_low(depths[1], known[1]) - widened

        def high() -> Ends:
            least, most = known
            if layer == "habitat":
                mapped = self._signed_ends(self.scene.areas("habitat"), cells)
                least, most = np.minimum(least, mapped[0]), np.minimum(most, mapped[1])
            return cut_high(depths[0], most) + widened, cut_high(depths[1], least) + widened

        return Bounds(low, high)

    def _same_habitat(self, cells: Index) -> Bounds:
        """Bound by the class at the centre, which the exact hull over the disc holds."""
        sure = self._kept("class distance", self._class_distance)[self.habitat_labels.ravel()[cells]]
        nothing, anything = np.zeros_like(sure), np.full_like(sure, np.inf)
        return fixed_bounds(nothing, anything, sure, anything)

    def _class_distance(self) -> Surface:
        """Return, per habitat feature and last for none, the least that the high end can be there."""
        found = self.scene.features("habitat")
        if self.radius_m <= ROUNDING_M:  # the place may lie just beyond its centre's class
            return np.zeros(len(found) + 1, dtype=np.float32)
        by_class = self.scene.made("class distances", lambda: class_distances(self.scene))
        far = np.full(len(found) + 1, np.inf, dtype=np.float32)
        for name, there in by_class.items():
            far[:-1][found.classes == name] = there.high[0] - 0.01
        return far

    def _patch_area(self, asked: PatchArea, cells: Index) -> Bounds:
        reach = self.radius_m + self.scene.error_m("habitat" if asked.of == "habitat" else "parcels")
        sets = [self._in_set(found, reach, cells) for found in patch_sets(self.scene, asked)]
        return Bounds(lambda: _most([b.low for b in sets]), lambda: _most([b.high for b in sets]))

    def _in_set(self, found: Patches, reach: float, cells: Index) -> Bounds:
        parts = found.areas.parts
        label = self._kept(("patch", id(found)), lambda: labels(parts, self.window)).ravel()[cells]
        area = np.append(found.hectares, 0.0).astype(np.float32)[label]
        top = np.append(np.where(found.open_ended, np.inf, found.hectares), 0.0).astype(np.float32)[label]
        edge = np.minimum(np.abs(self._signed(found.areas).ravel()[cells]), self._rim_at(cells)) - self.below
        clear, sure, most = edge > reach, edge > 0, np.float32(found.hectares.max(initial=0.0) * (1 + 1e-6))
        slip = np.float32(1e-3) + area * np.float32(1e-6)
        none, all_of_it = np.float32(0), np.float32(np.inf)
        return Bounds(
            lambda: (np.where(clear, area - slip, none), np.where(sure, area, most) + slip),
            lambda: (np.where(sure, top, none) - slip, np.where(clear, top + slip, all_of_it)),
        )

    def _same_polygon(self, layer: str, cells: Index) -> Bounds:
        below = np.full(len(cells), -np.inf, dtype=np.float32)
        if not capture_known(self.scene, layer):
            return fixed_bounds(below, below, -below, -below)
        near = polygons_near_capture(self.scene, layer)
        if not len(near):
            return fixed_bounds(below, below, below, below)
        areas = self.scene.made(("near", layer), lambda: dissolved(near))
        # several polygons, or a capture near an edge, only lower the ends
        together = self._cut_depth(areas, layer, cells)
        return Bounds(lambda: (below, together.low[1]), lambda: (below, together.high[1]))

    def _barriers(self, layer: str, classes: frozenset[str] | None, cells: Index) -> Bounds:
        reached, clear = self._kept(("barriers", layer, classes), lambda: self._between(layer, classes))
        none, one = np.zeros(len(cells), dtype=np.float32), np.ones(len(cells), dtype=np.float32)
        return fixed_bounds(none, one, reached.ravel()[cells].astype(np.float32), one - clear.ravel()[cells])

    def _between(self, layer: str, classes: frozenset[str] | None) -> tuple[Mask, Mask]:
        """Return where a barrier surely touches the hull of the discs, and where surely none does."""
        found, capture = self.scene.features(layer, classes), self.scene.capture
        x, y = float(capture.x[0]), float(capture.y[0])
        widest = (max(capture.radius_m, self.radius_m) + self.scene.error_m(layer)) * ROUND_OUT
        all_known = self._all_known(layer, x, y, widest + 1.0)
        if not len(found) and all_known:
            return np.zeros(self.window.shape, dtype=bool), np.ones(self.window.shape, dtype=bool)
        reached = shadow(found.geometries, x, y, self.window)
        reached |= self._away(found) + self.above < self.radius_m
        clear = self._clear_of(found.geometries, x, y, widest + 1.0)
        if not all_known:
            extent = self.scene.extent(layer)
            clear &= self._clear_of(extent.edge, x, y, widest + 1.0) & (self._signed(extent) > self.below)
        return reached, clear

    def _clear_of(self, lines: npt.NDArray[np.object_], x: float, y: float, reach: float) -> Mask:
        """Return the cells whose straight way to a point stays farther than ``reach`` from all lines [m]."""
        corners = 4  # per quarter turn; pushed out, so that the buffer holds the true one
        wide = shapely.buffer(lines, reach / math.cos(math.pi / (4 * corners)), quad_segs=corners)
        if shapely.intersects(wide, shapely.Point(x, y)).any():
            return np.zeros(self.window.shape, dtype=bool)
        return ~shadow(wide, x, y, self.window)

    def _all_known(self, layer: str, x: float, y: float, reach: float) -> bool:
        """Return whether the layer is known wherever a hull of cell and capture (x, y) can reach [m]."""
        w, s, e, n = self.window.bounds
        box = shapely.box(min(w, x) - reach, min(s, y) - reach, max(e, x) + reach, max(n, y) + reach)
        return bool(shapely.covers(shapely.union_all(self.scene.extent(layer).parts), box))

    def _releases(self, asked: ReleasesNear, cells: Index) -> Bounds:
        ends = self._kept(("releases", asked), lambda: self._counted(asked))
        return fixed_bounds(*(end.ravel()[cells] for end in ends))

    def _counted(self, asked: ReleasesNear) -> tuple[Surface, Surface, Surface, Surface]:
        ends = tuple(np.zeros(self.window.shape, dtype=np.float32) for _ in range(4))
        for r, counts in counted_releases(self.scene, asked):
            x, y = (float(v) for v in self.scene.plane.project(r.longitude, r.latitude))
            widened = r.radius_m + self.radius_m
            block = self._block(x, y, asked.within_m + widened + 1.0)
            d = self.scene.plane.ground_m(
                x, y, self.window.x[block[1]][None, :], self.window.y[block[0]][:, None]
            )
            sure = r.individual_count * counts
            for end, shift, count in zip(
                ends,
                (ROUNDING_M + widened, widened - ROUNDING_M, ROUNDING_M - widened, -widened - ROUNDING_M),
                (sure, sure, r.individual_count, r.individual_count),
                strict=True,
            ):
                end[block] += (d + shift <= asked.within_m) * count
        return ends[0], ends[1], ends[2], ends[3]

    def _block(self, x: float, y: float, reach: float) -> tuple[slice, slice]:
        """Return the rows and columns within reach of a point [m]."""
        w = self.window
        left, right = (int(np.floor((x + s * reach) / w.cell_m)) - w.column for s in (-1, 1))
        low, top = (int(np.floor((y + s * reach) / w.cell_m)) - w.row for s in (-1, 1))
        return (
            slice(max(low, 0), max(min(top + 1, w.rows), 0)),
            slice(max(left, 0), max(min(right + 1, w.columns), 0)),
        )


def _most(ends: list[Ends]) -> Ends:
    """Return the larger ends, set by set."""
    least, most = zip(*ends, strict=True)
    return np.maximum.reduce(least), np.maximum.reduce(most)
