"""When nothing is left: which single clause stands in the way, and by how much.

For a call to the authority, never a suggestion to break the clause.
"""

from __future__ import annotations

import math

import numpy as np

from tussock.measure.clauses import Clause
from tussock.measure.judging import Measures, judge, met_everywhere
from tussock.measure.scene import candidates
from tussock.measure.screened import Screen
from tussock.planning.areas_removed import Ruling
from tussock.planning.record import Obstacle

_LOOKED_AT = 512
"""Cells measured exactly per clause: those whose bound promises the least shortfall."""


def obstacles(screen: Screen, ruled: Ruling, clauses: tuple[Clause, ...]) -> tuple[Obstacle, ...]:
    """Return the clauses without which a place would be left, the least shortfall first.

    A clause that no single place misses alone is left out; the areas ruled out then tell the story.
    """
    deciding = [c for c in clauses if c.decides_place]
    found = [
        _obstacle(screen, ruled, clause, [c for c in deciding if c is not clause]) for clause in deciding
    ]
    return tuple(sorted((o for o in found if o is not None), key=lambda o: (_relative(o), o.id)))


def _relative(obstacle: Obstacle) -> float:
    return obstacle.shortfall if obstacle.shortfall is not None else math.inf


def _obstacle(screen: Screen, ruled: Ruling, clause: Clause, others: list[Clause]) -> Obstacle | None:
    cells = ruled.open_but_for(clause.key)
    if not len(cells):
        return None
    promise = np.min(
        [screen.bounds(d.quantity, cells).best_margin(d.limit) for d in clause.coarse if d.limit], axis=0
    )
    promised = cells[np.lexsort((cells, -promise))[:_LOOKED_AT]]
    w = screen.window
    row, column = np.divmod(promised, w.columns)
    at = candidates(w.x[column], w.y[row], radius_m=screen.radius_m, plane=screen.scene.plane)
    measures = Measures(screen.scene, at)
    left = np.flatnonzero(met_everywhere(others, measures))
    if not len(left):
        return None
    margins = np.min([measures.of(d.quantity).margin(d.limit) for d in clause.demands if d.limit], axis=0)
    best = int(left[np.argmax(margins[left])])
    result = judge(clause, measures, best)
    short = -float(margins[best])
    return Obstacle(
        id=result.id,
        kind=result.kind,
        text=result.text or result.words,
        source=result.source,
        shortfall=short if math.isfinite(short) else None,
        unit=result.unit,
        longitude=float(at.lon[best]),
        latitude=float(at.lat[best]),
        alone=True,
    )
