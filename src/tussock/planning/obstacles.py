"""When nothing is left: which single clause stands in the way, and by how much.

For a call to the authority, never a suggestion to break the clause.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from tussock.measure.clauses import Clause
from tussock.measure.judging import Measures, judge, met_everywhere
from tussock.measure.scene import candidates
from tussock.measure.screened import Screen
from tussock.measure.timetable import Timetable
from tussock.planning.areas_removed import Ruling
from tussock.planning.record import Obstacle

_BATCH, _MOST = 512, 16_384
"""Cells measured at once: the first batch, and the largest."""


def obstacles(
    screen: Screen, ruled: Ruling, clauses: tuple[Clause, ...], timetable: Timetable
) -> tuple[Obstacle, ...]:
    """Return the clauses without which a place would be left, the least shortfall first.

    A clause that no single place misses alone is left out; the areas ruled out then tell the story.
    """
    deciding = [c for c in clauses if c.decides_place]
    found = [
        _obstacle(screen, ruled, clause, [c for c in deciding if c is not clause], timetable)
        for clause in deciding
    ]
    return tuple(sorted((o for o in found if o is not None), key=lambda o: (_relative(o), o.id)))


def _relative(obstacle: Obstacle) -> float:
    return obstacle.shortfall if obstacle.shortfall is not None else math.inf


def _obstacle(
    screen: Screen, ruled: Ruling, clause: Clause, others: list[Clause], timetable: Timetable
) -> Obstacle | None:
    cells = ruled.open_but_for(clause.key)
    if not len(cells):
        return None
    promise = np.min(
        [screen.bounds(d.quantity, cells).best_margin(d.limit) for d in clause.coarse if d.limit], axis=0
    )
    best = _best(screen, clause, others, cells, promise=promise, timetable=timetable)
    if best is None:
        return None
    measures, at, margin = best
    result = judge(clause, measures, at)
    short = -margin
    return Obstacle(
        id=result.id,
        kind=result.kind,
        text=result.text or result.words,
        source=result.source,
        shortfall=short if math.isfinite(short) else None,
        unit=result.unit,
        longitude=float(measures.at.lon[at]),
        latitude=float(measures.at.lat[at]),
        alone=True,
    )


def _best(
    screen: Screen,
    clause: Clause,
    others: list[Clause],
    cells: npt.NDArray[np.int64],
    *,
    promise: npt.NDArray[np.float32],
    timetable: Timetable,
) -> tuple[Measures, int, float] | None:
    """Return the place that misses the clause least of those that meet every other, and its margin.

    Cells are measured in the order of what their bounds promise, until none can be better.
    """
    order = np.lexsort((cells, -promise))
    found: tuple[Measures, int, float] | None = None
    start, size = 0, _BATCH
    while start < len(order) and (found is None or promise[order[start]] > found[2]):
        row, column = np.divmod(cells[order[start : start + size]], screen.window.columns)
        w = screen.window
        at = candidates(w.x[column], w.y[row], radius_m=screen.radius_m, plane=screen.scene.plane)
        measures = Measures(screen.scene, at)
        left = np.flatnonzero(met_everywhere(others, measures) & timetable.reached(measures))
        if len(left):
            margins = np.min(
                [measures.of(d.quantity).margin(d.limit) for d in clause.demands if d.limit], axis=0
            )
            best = int(left[np.argmax(margins[left])])
            if found is None or margins[best] > found[2]:
                found = measures, best, float(margins[best])
        start, size = start + size, min(2 * size, _MOST)
    return found
