"""Scenes moved, turned, shuffled; places strewn over them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import hypothesis.strategies as st
import numpy as np
import shapely

from tests.support.regions import Thing
from tests.support.scenes import Drawn, moved
from tussock.geodesy import Floats
from tussock.measure.scene import Places, Scene, places

SEEDS = st.integers(0, 2**32 - 1)
NEAR: dict[str, Any] = {"homes": ((0.0, 0.0),), "reach_cells": 12, "known_m": 700.0}
"""Scenes on the plane's axis: there a move of 2 km changes the scale by less than 1e-7."""


def off_grid(made: Drawn) -> Drawn:
    """Return the scene with its capture off every line that features are drawn on: no ties."""
    x, y = made.capture
    earlier = tuple((a + 0.0271, b - 0.0193, *rest) for a, b, *rest in made.earlier)
    return replace(made, capture=(x + 0.0123457, y + 0.0078913), earlier=earlier)  # type: ignore[arg-type]  # six values, which no type can say


def scattered(made: Drawn, seed: int, count: int = 60) -> Floats:
    """Return places strewn over the window, in the plane [m]."""
    rng = np.random.default_rng(seed)
    return np.array(made.capture) + rng.uniform(-made.reach_m, made.reach_m, (count, 2))


def at_plane(scene: Scene, xy: Floats, radius_m: float) -> Places:
    """Return places given in the plane."""
    lon, lat = scene.plane.unproject(xy[:, 0], xy[:, 1])
    return places(lon, lat, radius_m=radius_m, plane=scene.plane)


Move = Callable[[Floats], Floats]


def moving(turn_deg: float, dx: float, dy: float) -> Move:
    """Return the motion that turns about the plane's origin and then shifts [m]."""
    a = math.radians(turn_deg)
    matrix = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    return lambda xy: np.asarray(xy) @ matrix + np.array([dx, dy])


def carried(made: Drawn, move: Move) -> Drawn:
    """Return the whole scene moved."""
    [[x, y]] = move(np.array([made.capture]))
    earlier = [(*move(np.array([r[:2]]))[0], *r[2:]) for r in made.earlier]
    return replace(
        made, ground=moved(made.ground, move), capture=(float(x), float(y)), earlier=tuple(earlier)
    )


MOVES = st.tuples(st.sampled_from((0, 33, 90, 180, 251.7)), st.floats(-1400, 1400), st.floats(-1400, 1400))


def shuffled(made: Drawn, seed: int, *, twice: bool) -> Drawn:
    """Return the scene with the features of each layer in another order, some of them twice."""
    rng = np.random.default_rng(seed)

    def again(things: tuple[Thing, ...]) -> tuple[Thing, ...]:
        order = list(rng.permutation(len(things)))
        order += list(rng.permutation(len(things)))[: len(things) // 2] if twice else []
        return tuple(things[k] for k in order)

    layers = {name: again(tuple(things)) for name, things in made.ground.layers.items()}
    return replace(made, ground=replace(made.ground, layers=layers))


def distinct_habitat(made: Drawn) -> bool:
    """Return whether no two habitat polygons tie: of a tie the later row stands, by design."""
    seen = [(t.priority, round(float(shapely.area(t.geometry)), 3)) for t in made.ground.layers["habitat"]]
    return len(set(seen)) == len(seen)
