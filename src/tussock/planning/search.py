"""The search: every cell of the circle is examined, few are measured exactly, and the result is
that of measuring them all.

Order of sites: score in whole millionths, highest first; distance from the capture in whole
centimetres; row; column. Sites are taken greedily in that order, skipping cells nearer than the
separation to one already taken. Cells wait in the order of the *upper bound* of their score, rounded
by the same function and with the same tie keys; a cell is settled when its exact key comes before
every waiting bound.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from tussock.errors import TussockError
from tussock.geodesy import Floats, distance_m
from tussock.measure.clauses import Clause
from tussock.measure.judging import Measures, met_everywhere
from tussock.measure.measured import Bounds, Measured
from tussock.measure.scene import Places, Scene, candidates
from tussock.measure.screened import GROUND_ERROR_M, ROUNDING_M, Screen
from tussock.measure.timetable import Timetable
from tussock.permit.demands import DistanceFromCapture, Quantity
from tussock.planning.criteria import Criterion
from tussock.planning.scoring import bound_scores, rounded, score_exactly

Index = npt.NDArray[np.int64]
_BATCH = 128
_FIRST = 4096
Key = tuple[int, int, int, int]
Found = tuple[Key, float, float]
"""A place that meets every clause: key, longitude, latitude."""


class BoundError(TussockError, AssertionError):
    """An exact measure lay outside its coarse bounds: no result can be trusted."""


@dataclass(frozen=True, eq=False)
class Field:
    """Cells that may still be offered, with what orders them.

    Attributes
    ----------
    flat
        Flat window indices, shape (n,).
    score
        Upper bound of the score, shape (n,).
    bounds
        Coarse bounds at these cells, per quantity: exact measures are held against them.
    """

    screen: Screen
    flat: Index
    score: Floats
    bounds: dict[Quantity, Bounds]

    def __len__(self) -> int:
        return len(self.flat)

    def at(self, index: Index) -> Field:
        """Return some of the cells."""
        bounds = {q: b.at(index) for q, b in self.bounds.items()}
        return Field(self.screen, self.flat[index], self.score[index], bounds)

    @cached_property
    def rows(self) -> Index:
        """Window rows, shape (n,)."""
        return self.flat // self.screen.window.columns

    @cached_property
    def columns(self) -> Index:
        """Window columns, shape (n,)."""
        return self.flat % self.screen.window.columns

    @cached_property
    def centimetres_below(self) -> Index:
        """The least whole centimetres that each cell's exact distance from the capture can have, (n,)."""
        w, scene = self.screen.window, self.screen.scene
        x, y = float(scene.capture.x[0]), float(scene.capture.y[0])
        d = scene.plane.ground_m(x, y, w.x[self.columns], w.y[self.rows])
        return np.rint((d - GROUND_ERROR_M - ROUNDING_M) * 100).astype(np.int64)


@dataclass
class Search:
    """One search over a field of cells."""

    scene: Scene
    clauses: tuple[Clause, ...]
    criteria: tuple[Criterion, ...]
    cells: Field
    separation_m: float
    timetable: Timetable
    lacked: tuple[Clause, ...] = ()
    """Clauses of which a place must not meet all: what it is listed apart for."""
    exact: int = 0
    _chosen: list[tuple[float, float]] = field(default_factory=list)

    def sites(self, most: int) -> list[tuple[Key, float, float]]:
        """Return up to ``most`` sites in order, as (key, longitude, latitude)."""
        ready: list[tuple[Key, float, float]] = []
        waiting = self._waiting()
        ahead = next(waiting, None)
        found: list[tuple[Key, float, float]] = []
        while len(found) < most and (ready or ahead is not None):
            if ready and (ahead is None or ready[0][0] <= ahead[0]):
                key, lon, lat = heapq.heappop(ready)
                if self._clear(np.array([lon]), np.array([lat]))[0]:
                    found.append((key, lon, lat))
                    self._chosen.append((lon, lat))
                continue
            batch: list[int] = []
            while ahead is not None and len(batch) < _BATCH:
                batch.append(ahead[1])
                ahead = next(waiting, None)
            for settled in self._evaluated(np.array(batch)):
                heapq.heappush(ready, settled)
        return found

    def nearest_few(self, most: int) -> list[tuple[Key, float, float]]:
        """Return up to ``most`` places that meet every clause, the nearest to the capture first, apart."""
        found: list[tuple[Key, float, float]] = []
        while len(found) < most:
            close = self.nearest()
            if close is None:
                break
            found.append(close)
            at = self._places(np.arange(len(self.cells)))
            clear = distance_m(close[1], close[2], at.lon, at.lat) >= self.separation_m
            self.cells = self.cells.at(np.flatnonzero(clear))
        return found

    def nearest(self) -> tuple[Key, float, float] | None:
        """Return the place nearest to the capture that meets every clause, whatever its score."""
        order = np.lexsort((self.cells.columns, self.cells.rows, self.cells.centimetres_below))
        size = _BATCH // 2
        best: tuple[Key, float, float] | None = None
        start = 0
        while start < len(order):
            batch = order[start : start + size]
            if best is not None and int(self.cells.centimetres_below[batch[0]]) > best[0][1]:
                break
            best = min(
                [*self._evaluated(batch), *([best] if best else [])], key=lambda s: s[0][1:], default=None
            )
            start, size = start + size, min(size * 2, 4096)
        return best

    def _waiting(self) -> Iterator[tuple[Key, int]]:
        """Yield bound keys and cells in order; cells near a chosen site leave unmeasured."""
        bound, near = rounded(self.cells.score), self.cells.centimetres_below
        left = np.arange(len(self.cells))
        take = _FIRST
        while len(left):
            if take < len(left):
                least = np.partition(bound[left], len(left) - take)[len(left) - take]
                part, left = left[bound[left] >= least], left[bound[left] < least]
            else:
                part, left = left, left[:0]
            order = np.lexsort((self.cells.columns[part], self.cells.rows[part], near[part], -bound[part]))
            yield from self._in_order(part[order], bound, near)
            take *= 4

    def _in_order(self, part: Index, bound: Index, near: Index) -> Iterator[tuple[Key, int]]:
        at = self._places(part)
        known, clear = 0, np.ones(len(part), dtype=bool)
        for n, cell in enumerate(part):
            if len(self._chosen) > known:
                for lon, lat in self._chosen[known:]:
                    clear[n:] &= distance_m(lon, lat, at.lon[n:], at.lat[n:]) >= self.separation_m
                known = len(self._chosen)
            if clear[n]:
                yield (-int(bound[cell]), int(near[cell]), *self._row_column(int(cell))), int(cell)

    def _row_column(self, cell: int) -> tuple[int, int]:
        w = self.cells.screen.window
        return int(self.cells.rows[cell]) + w.row, int(self.cells.columns[cell]) + w.column

    def _places(self, cells: Index) -> Places:
        w = self.cells.screen.window
        return candidates(
            w.x[self.cells.columns[cells]],
            w.y[self.cells.rows[cells]],
            radius_m=self.cells.screen.radius_m,
            plane=self.scene.plane,
        )

    def _clear(self, lon: Floats, lat: Floats) -> npt.NDArray[np.bool_]:
        clear = np.ones(len(lon), dtype=bool)
        for there in self._chosen:
            clear &= distance_m(there[0], there[1], lon, lat) >= self.separation_m
        return clear

    def _evaluated(self, cells: Index) -> list[tuple[Key, float, float]]:
        """Measure cells exactly; return the keys of those that meet every clause."""
        self.exact += len(cells)
        at = self._places(cells)
        measures = Measures(self.scene, at)
        met = met_everywhere(self.clauses, measures) & self.timetable.reached(measures)
        if self.lacked:
            met &= ~met_everywhere(self.lacked, measures)
        scores = score_exactly(self.criteria, measures)
        self._hold_bounds(cells, measures, scores.low)
        d = measures.of(DistanceFromCapture()).value
        centimetres = np.rint(d * 100).astype(np.int64)
        order = rounded(scores.low)
        return [
            (
                (-int(order[n]), int(centimetres[n]), *self._row_column(int(cells[n]))),
                float(at.lon[n]),
                float(at.lat[n]),
            )
            for n in np.flatnonzero(met)
        ]

    def _hold_bounds(self, cells: Index, measures: Measures, score: Floats) -> None:
        """Raise BoundError where an exact measure or score lies outside its coarse bounds."""
        for quantity, bounds in self.cells.bounds.items():
            hold(quantity, bounds.at(cells), measures.of(quantity))
        over = rounded(score) > rounded(self.cells.score[cells])
        if over.any():
            raise BoundError(
                f"internal check failed: a score of {score[over][0]:.7f} above its bound "
                f"{self.cells.score[cells][over][0]:.7f}; no site is shown",
                fix="report it with the region and capture",
            )


def hold(quantity: Quantity, bounds: Bounds, found: Measured) -> None:
    """Raise BoundError where exact ends lie outside their bounds by more than a millimetre."""
    out = bounds.outside_of(found, slip=1e-3)
    if out.any():
        n = int(np.argmax(out))
        raise BoundError(
            f"internal check failed: {quantity} measured [{found.low[n]:.3f}, {found.high[n]:.3f}], its ends "
            f"bounded by {[float(e[n]) for e in (*bounds.low, *bounds.high)]}; no site is shown",
            fix="report it with the region and capture",
        )


def field_of(
    screen: Screen, clauses: tuple[Clause, ...], criteria: tuple[Criterion, ...], cells: Index
) -> Field:
    """Return cells (flat window indices) with all that the search needs of them."""
    quantities = {d.quantity for c in clauses if c.decides_place for d in (*c.coarse, *c.demands)}
    quantities |= {c.quantity for c in criteria if c.quantity is not None}
    bounds = {q: screen.bounds(q, cells) for q in sorted(quantities, key=repr)}
    return Field(screen, cells, bound_scores(criteria, screen, cells), bounds)
