"""The edges that are looked at: reserves, waters, and each kind of natural ground."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date

from tussock.ground.region import Region
from tussock.hotspots.bands import LIMITS_M, EdgeEffect, edge_effects
from tussock.hotspots.calls import Incidents
from tussock.hotspots.edges import Edge, edges_of, once
from tussock.hotspots.exposure import Exposure
from tussock.hotspots.found import STANDS_OUT, Rerun
from tussock.names import NATURAL_CLASSES

NAMED_LAYERS = ("protected", "water")
"""Layers of which each name is an edge."""
LEAST_EDGE_HOMES = 20.0
"""Homes that the nearest and the farthest band need for an edge to be tested (choice of this project)."""
STEPS_M = {"finer": (0.0, 50.0, 150.0, 500.0), "coarser": (0.0, 200.0, 600.0, 2000.0)}
"""The bands of the headline once more [m], half and twice as wide."""


def mapped_edges(region: Region, *, day: date) -> tuple[Edge, ...]:
    """Return the edges of a region on a day; what two layers draw alike is one.

    Raises
    ------
    InputError
        When its files cannot be used.
    """
    return tuple(once(_mapped(region, day)))


def _mapped(region: Region, day: date) -> Iterator[Edge]:
    for layer in NAMED_LAYERS:
        if region.has(layer):
            yield from edges_of(region, layer, day=day)
    if not region.has("habitat"):
        return
    ground = region.layer("habitat").on(day)
    for kind in NATURAL_CLASSES:
        found = ground.surely_of(frozenset((kind,)))
        if len(found):
            yield Edge("habitat", kind, found.geometries)


def found_edges(
    mapped: tuple[Edge, ...], incidents: Incidents, homes: Exposure, *, limits_m: tuple[float, ...] = LIMITS_M
) -> tuple[EdgeEffect, ...]:
    """Return what each edge does: those tested first, the smallest one-sided adjusted p first."""
    found = edge_effects(mapped, incidents, homes, limits_m=limits_m, least_homes=LEAST_EDGE_HOMES)
    return tuple(sorted(found, key=_order))


def _order(effect: EdgeEffect) -> tuple[bool, float, float, str, str]:
    p = effect.p_more_adjusted
    ratio = effect.ratio.low
    return not effect.tested, math.inf if math.isnan(p) else p, -ratio, effect.edge.layer, effect.edge.name


def edge_reruns(
    headline: EdgeEffect | None, mapped: tuple[Edge, ...], incidents: Incidents, homes: Exposure
) -> Iterator[Rerun]:
    """Yield the headline with bands half and twice as wide."""
    for step, limits in STEPS_M.items():
        again = found_edges(mapped, incidents, homes, limits_m=limits)
        size = f"0–{limits[1]:g} m against {limits[2]:g}–{limits[3]:,g} m"
        if 2 * max((e.vague for e in again), default=0) > len(incidents):
            yield Rerun("edges", step, size, "most places are known too roughly for such bands", None)
            continue
        more = [e for e in again if e.more(STANDS_OUT)]
        if not any(e.tested and (headline is None or _is(e, headline)) for e in again):
            yield Rerun("edges", step, size, "too few homes to test it", None)
            continue
        if headline is None:
            found = "no edge stands out" if not more else f"{edge_name(more[0].edge)} stands out"
            yield Rerun("edges", step, size, found, not more)
            continue
        same = next(e for e in again if _is(e, headline))
        stands = any(_is(e, headline) for e in more)
        low, high = same.ratio.ratio
        ratio = _figure(low) if low == high else f"{_figure(low)} to {_figure(high)}"
        told = f"{ratio} times as often ({_figure(same.ratio.low)}–{_figure(same.ratio.high)})"
        yield Rerun("edges", step, size, told, stands)


def _is(effect: EdgeEffect, other: EdgeEffect) -> bool:
    return (effect.edge.layer, effect.edge.name) == (other.edge.layer, other.edge.name)


def _figure(ratio: float) -> str:
    if ratio >= 10:
        return "∞" if math.isinf(ratio) else f"{ratio:,.0f}"
    # the end of an interval that leaves out 1 must not read as 1
    return f"{ratio:.1f}" if abs(ratio - 1) >= 0.05 or ratio == 1 else f"{ratio:.3g}"


def edge_name(edge: Edge) -> str:
    """Return what an edge is called: its name, else what it is."""
    return edge.name or f"unnamed {edge.layer}"
