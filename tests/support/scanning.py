"""Scans written down plainly: sets, loops and the formula, no trick. Referees of the fast ones."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

Place = tuple[float, float]


@dataclass(frozen=True)
class Disc:
    """The units within a distance of a centre."""

    units: frozenset[int]
    ratio: float


def ratio(c: float, e: float, total: float) -> float:
    if c <= e or e <= 0:
        return 0.0
    rest = (total - c) * math.log((total - c) / (total - e)) if c < total else 0.0
    return c * math.log(c / e) + rest


def discs(units: Sequence[Place], centres: Sequence[Place]) -> Iterator[frozenset[int]]:
    """Yield the units of every closed disc round every centre."""
    for centre in centres:
        away = [math.dist(centre, unit) for unit in units]
        for radius in sorted(set(away)):
            yield frozenset(u for u, d in enumerate(away) if d <= radius + 1e-9)


def best_disc(
    units: Sequence[Place],
    counts: Sequence[int],
    exposure: Sequence[float],
    expected: Sequence[float],
    *,
    taken: frozenset[int] = frozenset(),
) -> Disc:
    """Return the disc of greatest ratio that holds at most half of the exposure and nothing taken."""
    total, weight = sum(counts), sum(expected)
    best = Disc(frozenset(), 0.0)
    for disc in discs(units, units):
        if sum(exposure[u] for u in disc) <= sum(exposure) / 2 and not disc & taken:
            c, e = sum(counts[u] for u in disc), sum(expected[u] for u in disc) * total / weight
            found = ratio(c, e, total)
            if found > best.ratio * (1 + 1e-9):
                best = Disc(disc, found)
    return best


def best_cylinder(places: Sequence[Place], calls: Sequence[tuple[int, int]], periods: int) -> float:
    """Return the greatest ratio of a circle of units with calls × a run of at most half of the periods."""
    used = sorted({unit for unit, _ in calls})
    units = [places[u] for u in used]
    total, best = len(calls), 0.0
    for disc in discs(units, units):
        inside = {used[u] for u in disc}
        here = sum(unit in inside for unit, _ in calls)
        if here > total / 2:
            continue
        for first in range(periods):
            for last in range(first, min(first + max(periods // 2, 1), periods)):
                then = sum(first <= t <= last for _, t in calls)
                both = sum(unit in inside and first <= t <= last for unit, t in calls)
                best = max(best, ratio(both, here * then / total, total))
    return best


def ascending(values: Sequence[float]) -> bool:
    return all(a <= b for a, b in pairwise(values))
