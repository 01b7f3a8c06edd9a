"""What the ground asks of many records at once: bounds first, vectors where they do not decide.

Distances are worked out for the bare places; each record's own radius widens them afterwards. That is the
definition's arithmetic in another order, equal to a nanometre; what lies nearer to a limit than GUARD_M is
left to the definition itself.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property
from typing import Any

import numpy as np

from tussock.geodesy import Floats
from tussock.ground.features import Features
from tussock.ground.region import Layer, Region
from tussock.interval import Limit
from tussock.measure.exact import cut_high, cut_low, measure
from tussock.measure.scene import Case, Places, Scene, places
from tussock.permit.demands import At, Depth, DistanceTo
from tussock.position import Position
from tussock.review.bulk_clock import date_of, day_number
from tussock.review.bulk_columns import Code, Codes, Index, Mask
from tussock.review.bulk_screen import BEYOND_M, Cells, Ends, Sheets
from tussock.species.animal import Animal

GUARD_M = 1e-6
"""Rows whose distance lies nearer to the turn of a verdict than that are judged one by one [m]."""
UNDECIDED = 255


@dataclass(frozen=True, eq=False)
class Spots:
    """Places of one batch with their days.

    Attributes
    ----------
    bare
        Degrees and plane coordinates, radius 0.
    radius_m
        Each place's own [m].
    day
        Days since 1970-01-01, of the ground to read.
    """

    bare: Places
    radius_m: Floats
    day: Index
    cells: Cells

    @cached_property
    def days(self) -> tuple[Index, Index]:
        """The different days, and which of them each place has."""
        first = int(self.day.min(initial=0))
        there, which = np.unique((self.day - first).astype(np.int32), return_inverse=True)
        return there.astype(np.int64) + first, which

    def taken(self, which: Mask | Index) -> Spots:
        """Return some of the places."""
        b = self.bare
        bare = Places(b.lon[which], b.lat[which], b.x[which], b.y[which], 0.0)
        return Spots(bare, self.radius_m[which], self.day[which], self.cells.taken(which))


@dataclass(eq=False)
class Tally:
    """How many (record, demand) pairs were decided how."""

    by_bounds: int = 0
    by_vectors: int = 0


class Ground:
    """A region made ready for many records.

    Parameters
    ----------
    region
        The ground.
    stand_in
        Fills the scenes: nothing that is measured here depends on the animal or the capture.
    first, last
        Earliest and latest day asked about, as days since 1970-01-01.
    """

    def __init__(self, region: Region, stand_in: Animal, *, first: int, last: int) -> None:
        self.region, self.stand_in, self.sheets = region, stand_in, Sheets(region)
        self._first, self._last = first, last
        self._layers: dict[str, Layer] = {}
        self._scenes: dict[Any, Scene] = {}
        self._ends: dict[tuple[str, bool], tuple[Scene, Scene] | None] = {}
        self._lock = threading.Lock()

    def spots(self, lon: Floats, lat: Floats, radius_m: Floats, day: Index) -> Spots:
        """Return places [degrees] with their cells."""
        bare = places(lon, lat, radius_m=0.0, plane=self.region.plane)
        return Spots(bare, radius_m, day, self.sheets.cells(bare))

    def judge(self, asked: DistanceTo | Depth, limit: Limit, spots: Spots, tally: Tally) -> Codes:
        """Return a demand's verdict at each place."""
        out = self._bounded(asked, limit, spots)
        open_ = np.flatnonzero(out == UNDECIDED)
        tally.by_bounds += len(out) - len(open_)
        tally.by_vectors += len(open_)
        if len(open_):
            here, found = spots.taken(open_), np.empty(len(open_), dtype=np.uint8)
            for scene, rows in self._by_state(asked.layer, here):
                found[rows] = _exact(asked, limit, scene, here.taken(rows))
            out[open_] = found
        return out

    def _by_state(self, layer: str, spots: Spots) -> list[tuple[Scene, Index]]:
        """Return a scene for every state that the layer has on the days, and which rows are of it."""
        days, which = spots.days
        scenes = [self._scene(layer, int(d)) for d in days]
        different = {scene: n for n, scene in enumerate(dict.fromkeys(scenes))}
        number = np.array([different[s] for s in scenes], dtype=np.int64)[which]
        order = np.argsort(number, kind="stable")
        rows = np.split(order, np.searchsorted(number[order], np.arange(1, len(different))))
        return list(zip(different, rows, strict=True))

    def _scene(self, layer: str, day: int) -> Scene:
        """Return the scene of a day; one for all days on which the layer is the same."""
        with self._lock:
            if (layer, day) not in self._scenes:
                made = self._made(day)
                states = (layer, *map(id, made.states(layer)))  # they are kept with the layer
                self._scenes[layer, day] = self._scenes.setdefault(states, made)
            return self._scenes[layer, day]

    def _made(self, day: int, states: Mapping[str, Features] | None = None) -> Scene:
        nowhere, noon = Position(0.0, 0.0, 1.0), datetime(2000, 1, 1, 12, tzinfo=UTC)
        case = Case(nowhere, self.stand_in, noon, date_of(day))
        return Scene(self.region, case, {}, states or {}, self._layers)

    def _as_of(self, layer: str) -> int:
        """Return from which day on undated features are known to stand, as days since 1970-01-01."""
        as_of = self.region.file.layers[layer].as_of
        return self._first if as_of is None else day_number(as_of)

    def ends(self, layer: str, *, before: bool) -> tuple[Scene, Scene] | None:
        """Return scenes with the most and the least that may have stood in a layer on any of the days.

        Of the days before its as-of date, or of the others. What stood on one day lies between: distances
        and depths do as well. ``None`` where that is not so: of overlapping habitats one hides another.
        """
        with self._lock:
            if (layer, before) not in self._ends:
                self._ends[layer, before] = self._made_ends(layer, before=before)
            return self._ends[layer, before]

    def _made_ends(self, layer: str, *, before: bool) -> tuple[Scene, Scene] | None:
        as_of = self._as_of(layer)
        start, end = (self._first, as_of - 1) if before else (max(self._first, as_of), self._last)
        plain = self._made(start)
        plain.states(layer)  # so that it is read
        every = self._layers[layer].features
        first, last = np.datetime64(start, "D"), np.datetime64(end, "D")
        ever = (every.valid_from <= last) & (every.valid_to >= first)
        always = (every.valid_from <= first) & (every.valid_to >= last)
        if before:
            always &= every.dated
        if (ever == always).all():
            return plain, plain
        if layer == "habitat":
            return None
        wide, narrow = (self._made(start, {layer: every.taken(one)}) for one in (ever, always))
        return wide, narrow

    def _bounded(self, asked: DistanceTo | Depth, limit: Limit, spots: Spots) -> Codes:
        """Return the verdicts that the bounds decide, on days before the layer's as-of date and after."""
        early = spots.day < self._as_of(asked.layer)
        if early.all() or not early.any():
            return self._screened(asked, limit, spots, before=bool(early.any()))
        out = np.empty(len(early), dtype=np.uint8)
        for before, rows in ((True, early), (False, ~early)):
            out[rows] = self._screened(asked, limit, spots.taken(rows), before=before)
        return out

    def _screened(self, asked: DistanceTo | Depth, limit: Limit, spots: Spots, *, before: bool) -> Codes:
        out = np.full(len(spots.day), UNDECIDED, dtype=np.uint8)
        scenes = self.ends(asked.layer, before=before)
        if scenes is None:
            return out
        if isinstance(asked, DistanceTo):
            (low, high), floor = self._distance(asked, *scenes, spots.cells), 0.0
        else:
            (low, high), floor = self._depth(asked, *scenes, spots.cells), -np.inf
        u, bar = spots.radius_m, limit.at_least - limit.tolerance
        least, most = (np.maximum(v - u, floor) for v in low)
        never = high[1] + u < bar - GUARD_M
        out[never] = Code.NOT_MET
        out[~never & (most < bar - GUARD_M) & (high[0] + u > bar + GUARD_M)] = Code.UNCERTAIN
        out[least > bar + GUARD_M] = Code.MET
        out[spots.cells.beyond > BEYOND_M] = UNDECIDED
        return out

    def _distance(self, asked: DistanceTo, wide: Scene, narrow: Scene, at: Cells) -> tuple[Ends, Ends]:
        nearest, farthest = self._away(asked, wide, at, 0), self._away(asked, narrow, at, 1)
        known = self.sheets.signed(wide.extent(asked.layer), at)
        low = np.minimum(nearest[0], known[0]), np.minimum(farthest[0], known[1])
        return low, (nearest[1], farthest[1])

    def _away(self, asked: DistanceTo, scene: Scene, at: Cells, end: int) -> Ends:
        """Return the least (0) or the most (1) distance to features, less and more their errors."""
        groups = scene.features(asked.layer, asked.classes).by_error
        each = [(e, np.maximum(self.sheets.away(group, at)[end], 0.0)) for e, group in groups]
        return np.minimum.reduce([d - e for e, d in each]), np.minimum.reduce([d + e for e, d in each])

    def _depth(self, asked: Depth, wide: Scene, narrow: Scene, at: Cells) -> tuple[Ends, Ends]:
        least_s = self.sheets.signed(narrow.areas(asked.layer, asked.classes), at)[0]
        most_s = self.sheets.signed(wide.areas(asked.layer, asked.classes), at)[1]
        known = self.sheets.signed(wide.extent(asked.layer), at)
        least, most = known
        if asked.layer == "habitat":
            mapped = self.sheets.signed(wide.areas("habitat"), at)
            least, most = np.minimum(least, mapped[0]), np.minimum(most, mapped[1])
        error = wide.error_m(asked.layer)
        low = cut_low(least_s, known[0]), cut_low(most_s, known[1])
        high = cut_high(least_s, most), cut_high(most_s, least)
        if asked.outside:
            low, high = (-high[1], -high[0]), (-low[1], -low[0])
        return (low[0] - error, low[1] - error), (high[0] + error, high[1] + error)


def _exact(asked: DistanceTo | Depth, limit: Limit, scene: Scene, spots: Spots) -> Codes:
    """Return verdicts by the exact measure of the bare places, each widened by its own radius."""
    if isinstance(asked, Depth):
        asked = replace(asked, taking=False, at=At.SITE)  # place and day are those of the spots
    found = measure(asked, scene, spots.bare)
    low, high = found.low - spots.radius_m, found.high + spots.radius_m
    if isinstance(asked, DistanceTo):
        low = np.maximum(low, 0.0)
    return verdicts(limit, low, high, guard=GUARD_M)


def verdicts(limit: Limit, low: Floats, high: Floats, *, guard: float = 0.0) -> Codes:
    """Return the verdicts of intervals; those within ``guard`` of a turn are left."""
    slip = limit.tolerance
    margin = np.full(len(low), np.inf)
    if np.isfinite(limit.at_least):  # infinite ends of both have no difference
        margin = np.minimum(margin, low - limit.at_least)
    if np.isfinite(limit.at_most):
        margin = np.minimum(margin, limit.at_most - high)
    met, never = margin >= -slip, (high < limit.at_least - slip) | (low > limit.at_most + slip)
    out = np.where(met, Code.MET, np.where(never, Code.NOT_MET, Code.UNCERTAIN)).astype(np.uint8)
    if guard:
        for end, bar in ((low, limit.at_least - slip), (high, limit.at_least - slip),
                         (low, limit.at_most + slip), (high, limit.at_most + slip)):  # fmt: skip
            if np.isfinite(bar):
                out[np.abs(end - bar) <= guard] = Code.LEFT
    return out
