"""What the ground asks of many records at once: bounds first, vectors where they do not decide.

Distances are worked out for the bare places; each record's own radius widens them afterwards. That is the
definition's arithmetic in another order, equal to a nanometre; what lies nearer to a limit than GUARD_M is
left to the definition itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cached_property

import numpy as np

from tussock.geodesy import Floats
from tussock.ground.region import Region
from tussock.interval import Limit
from tussock.measure.exact import cut_high, cut_low, measure
from tussock.measure.scene import Case, Places, Scene, places
from tussock.permit.demands import At, Depth, DistanceTo
from tussock.position import Position
from tussock.review.bulk_clock import date_of
from tussock.review.bulk_columns import Code, Codes, Index, Mask
from tussock.review.bulk_screen import Ends, Sheets
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
    flat: Index
    beside: Floats
    inside: Mask

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
        rest = (self.radius_m, self.day, self.flat, self.beside, self.inside)
        return Spots(bare, *(one[which] for one in rest))  # type: ignore[arg-type]  # mypy loses the order


@dataclass(eq=False)
class Tally:
    """How many (record, demand) pairs were decided how."""

    by_bounds: int = 0
    by_vectors: int = 0


@dataclass(frozen=True, eq=False)
class Ground:
    """A region made ready for many records.

    ``stand_in`` fills the scenes: nothing that is measured here depends on the animal or the capture.
    """

    region: Region
    stand_in: Animal
    sheets: Sheets
    _scenes: dict[tuple[str, int], Scene] = field(default_factory=dict)

    def spots(self, lon: Floats, lat: Floats, radius_m: Floats, day: Index) -> Spots:
        """Return places [degrees] with their cells."""
        bare = places(lon, lat, radius_m=0.0, plane=self.region.plane)
        return Spots(bare, radius_m, day, *self.sheets.cells(bare))

    def judge(self, asked: DistanceTo | Depth, limit: Limit, spots: Spots, tally: Tally) -> Codes:
        """Return a demand's verdict at each place."""
        out = np.empty(len(spots.day), dtype=np.uint8)
        for scene, rows in self._by_state(asked.layer, spots):
            here = spots if len(rows) == len(out) else spots.taken(rows)
            found = self._screened(asked, limit, scene, here)
            open_ = np.flatnonzero(found == UNDECIDED)
            tally.by_bounds += len(found) - len(open_)
            tally.by_vectors += len(open_)
            if len(open_):
                found[open_] = _exact(asked, limit, scene, here.taken(open_))
            out[rows] = found
        return out

    def _by_state(self, layer: str, spots: Spots) -> list[tuple[Scene, Index]]:
        """Return a scene for every state that the layer has on the days, and which rows are of it."""
        days, which = spots.days
        scenes = [self._scene(layer, int(d)) for d in days]
        different = list(dict.fromkeys(scenes))
        number = np.array([different.index(s) for s in scenes], dtype=np.int64)[which]
        return [(s, np.flatnonzero(number == n)) for n, s in enumerate(different)]

    def _scene(self, layer: str, day: int) -> Scene:
        """Return the scene of a day; one for all days on which the layer is the same."""
        if (layer, day) not in self._scenes:
            nowhere, noon = Position(0.0, 0.0, 1.0), datetime(2000, 1, 1, 12, tzinfo=UTC)
            made = Scene(self.region, Case(nowhere, self.stand_in, noon, date_of(day)))
            same = (
                s for (name, _), s in list(self._scenes.items()) if name == layer and _same(s, made, layer)
            )
            self._scenes[layer, day] = next(same, made)
        return self._scenes[layer, day]

    def _screened(self, asked: DistanceTo | Depth, limit: Limit, scene: Scene, spots: Spots) -> Codes:
        """Return the verdicts that the bounds decide."""
        each = []
        for view in scene.views((asked.layer,)):
            ends = self._distance if isinstance(asked, DistanceTo) else self._depth
            each.append(ends(asked, view, spots))  # type: ignore[arg-type]  # the two go together
        low = tuple(np.min([e[0][k] for e in each], axis=0) for k in (0, 1))
        high = tuple(np.max([e[1][k] for e in each], axis=0) for k in (0, 1))
        u, floor = spots.radius_m, 0.0 if isinstance(asked, DistanceTo) else -np.inf
        least, most = (np.maximum(v - u, floor) for v in low)
        bar = limit.at_least - limit.tolerance
        out = np.full(len(u), UNDECIDED, dtype=np.uint8)
        never = high[1] + u < bar - GUARD_M
        out[never] = Code.NOT_MET
        out[~never & (most < bar - GUARD_M) & (high[0] + u > bar + GUARD_M)] = Code.UNCERTAIN
        out[least > bar + GUARD_M] = Code.MET
        out[~spots.inside] = UNDECIDED
        return out

    def _distance(self, asked: DistanceTo, scene: Scene, spots: Spots) -> tuple[Ends, Ends]:
        groups = scene.features(asked.layer, asked.classes).by_error
        away = [(e, self.sheets.away(group, spots.flat, spots.beside)) for e, group in groups]
        known = self.sheets.signed(scene.extent(asked.layer), spots.flat, spots.beside)
        low = tuple(
            np.minimum(np.minimum.reduce([np.maximum(d[k], 0.0) - e for e, d in away]), known[k])
            for k in (0, 1)
        )
        high = tuple(np.minimum.reduce([np.maximum(d[k], 0.0) + e for e, d in away]) for k in (0, 1))
        return (low[0], low[1]), (high[0], high[1])

    def _depth(self, asked: Depth, scene: Scene, spots: Spots) -> tuple[Ends, Ends]:
        flat, beside = spots.flat, spots.beside
        s = self.sheets.signed(scene.areas(asked.layer, asked.classes), flat, beside)
        known = self.sheets.signed(scene.extent(asked.layer), flat, beside)
        least, most = known
        if asked.layer == "habitat":
            mapped = self.sheets.signed(scene.areas("habitat"), flat, beside)
            least, most = np.minimum(least, mapped[0]), np.minimum(most, mapped[1])
        error = scene.error_m(asked.layer)
        low = cut_low(s[0], known[0]), cut_low(s[1], known[1])
        high = cut_high(s[0], most), cut_high(s[1], least)
        if asked.outside:
            low, high = (-high[1], -high[0]), (-low[1], -low[0])
        return (low[0] - error, low[1] - error), (high[0] + error, high[1] + error)


def _same(one: Scene, other: Scene, layer: str) -> bool:
    mine, theirs = one.states(layer), other.states(layer)
    return len(mine) == len(theirs) and all(a is b for a, b in zip(mine, theirs, strict=True))


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
