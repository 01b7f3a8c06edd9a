"""Many records measured together: the same exact measures, at all their places in one call.

The definition stays the one of a single record. What it asks for at one place, and will ask for at the
places of others on the same ground, is measured for all of them and handed out one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from tussock.ground.region import Layer, Region
from tussock.measure.exact import class_distances, loosened, measure
from tussock.measure.judging import Measures
from tussock.measure.measured import Measured
from tussock.measure.scene import Case, Places, Scene, discs
from tussock.permit.demands import (
    BarriersBetween,
    Depth,
    DistanceFromCapture,
    DistanceTo,
    PatchArea,
    Quantity,
    SameHabitat,
    layers_of,
)
from tussock.position import Position
from tussock.review.judged import measures_at

MOST_TOGETHER = 2048
"""Records measured in one call at most: as many as memory hardly notices."""
_SHARE = 64


@dataclass(eq=False)
class Outlook:
    """What all records of one audit see: one state of the files, and what was made from it."""

    region: Region
    layers: dict[str, Layer] = field(default_factory=dict)
    shared: dict[Any, Any] = field(default_factory=dict)

    def scene(self, case: Case, **more: Any) -> Scene:
        """Return the scene of a case."""
        return Scene(self.region, case, {}, {}, self.layers, self.shared, **more)


@dataclass(eq=False)
class _Group:
    """Records on the same ground: their places, and a scene in which each has its own capture.

    ``nth`` gives a record's index among them.
    """

    scene: Scene
    at: Places
    nth: dict[int, int]
    classes: dict[str, Measured] | None = None


_Ground = tuple[tuple[int, ...], str]
"""What makes two records measure alike: the states of some layers, and the reason of the captures' radii."""


class Together:
    """Some records of an audit.

    Parameters
    ----------
    cases
        What each is judged about, in order.
    places
        Where each is measured.
    """

    def __init__(self, outlook: Outlook, cases: Sequence[Case], places: Sequence[Position]) -> None:
        self._outlook, self._cases = outlook, cases
        plane = outlook.region.plane
        self._at = discs(places, plane=plane)
        self._captures = discs([case.capture for case in cases], plane=plane)
        self._asked: dict[Any, int] = {}
        self._found: dict[Any, Measured] = {}
        self._grounds: dict[Any, list[_Ground]] = {}
        self._groups: dict[Any, _Group] = {}

    def measures(self, i: int) -> Measures:
        """Return the measures of one record."""
        scene = self._outlook.scene(
            self._cases[i],
            _captures=self._captures.one(i),
            _ahead={"class distances": lambda: self._classes_of(i)},
        )
        return measures_at(self._at.one(i), scene, ahead=lambda quantity: self.of(i, quantity))

    def of(self, i: int, quantity: Quantity) -> Measured | None:
        """Return a quantity for one record; ``None`` where it is to be measured alone."""
        if not _can_be_shared(quantity):
            return None
        layers, taking = layers_of(quantity), isinstance(quantity, Depth) and quantity.taking
        group, ground = self._group(i, layers, taking=taking)
        if isinstance(quantity, SameHabitat) and quantity.loosened_m:
            base = self.of(i, SameHabitat()) if len(ground[0]) == 1 else None
            return base and loosened(base, quantity.loosened_m, reason=ground[1])
        key = (quantity, ground)
        found = self._found.get(key)
        if found is None:
            asked = self._asked[key] = self._asked.get(key, 0) + 1
            # what only a few records ask for is not worth measuring for all
            if asked < (2 + len(group.nth) // _SHARE if _is_rare(quantity) else 2):
                return None
            found = self._found[key] = measure(quantity, group.scene, group.at)
        return found.alone(group.nth[i])

    def _classes_of(self, i: int) -> dict[str, Measured]:
        """Return the distances from a capture to each natural class, as :func:`class_distances` does."""
        group, _ = self._group(i, ("habitat",), taking=False)
        if group.classes is None:
            group.classes = class_distances(group.scene)
        return {name: there.alone(group.nth[i]) for name, there in group.classes.items()}

    def _group(self, i: int, layers: tuple[str, ...], *, taking: bool) -> tuple[_Group, _Ground]:
        """Return the records on the same ground as one, as far as some layers go."""
        if (layers, taking) not in self._grounds:
            self._sort(layers, taking=taking)
        ground = self._grounds[layers, taking][i]
        return self._groups[layers, taking, ground], ground

    def _sort(self, layers: tuple[str, ...], *, taking: bool) -> None:
        held = tuple(name for name in layers if self._outlook.region.has(name))
        days = [(c.capture_day or c.day) if taking else c.day for c in self._cases]
        states = {day: self._states(held, day) for day in dict.fromkeys(days)}
        grounds = [(states[d], c.capture.reason) for d, c in zip(days, self._cases, strict=True)]
        self._grounds[layers, taking] = grounds
        members: dict[_Ground, list[int]] = {}
        for i, ground in enumerate(grounds):
            members.setdefault(ground, []).append(i)
        for ground, rows in members.items():
            mask = np.zeros(len(self._cases), dtype=bool)
            mask[rows] = True
            scene = self._outlook.scene(self._cases[rows[0]], _captures=self._captures.taken(mask))
            nth = {i: n for n, i in enumerate(rows)}
            self._groups[layers, taking, ground] = _Group(scene, self._at.taken(mask), nth)

    def _states(self, layers: tuple[str, ...], day: date) -> tuple[int, ...]:
        """Return what tells the states of layers on a day from others; layers are kept, and so are those."""
        case = self._cases[0]
        scene = self._outlook.scene(Case(case.capture, case.animal, case.released, day))
        each = [scene.states(name) for name in layers]
        ids: list[int] = []
        for states in each:
            ids += [len(states)] * (len(layers) > 1) + [id(state) for state in states]
        return tuple(ids)


def _can_be_shared(quantity: Quantity) -> bool:
    """Return whether a quantity depends on ground, place and capture alone, not on the rest of the case."""
    match quantity:
        case Depth():
            return not quantity.maybe_spared
        case PatchArea():
            return quantity.of == "habitat"
        case DistanceFromCapture() | DistanceTo() | SameHabitat() | BarriersBetween():
            return True
        case _:
            return False


def _is_rare(quantity: Quantity) -> bool:
    return isinstance(quantity, Depth) and bool(quantity.spared)
