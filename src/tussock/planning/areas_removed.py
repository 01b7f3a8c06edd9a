"""What each clause rules out of the circle, and what stands in the way when nothing is left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tussock.measure.clauses import Clause
from tussock.measure.screened import Screen
from tussock.measure.timetable import Timetable
from tussock.planning.parallel import in_parallel
from tussock.planning.record import Removed

States = npt.NDArray[np.uint8]
MET, UNDECIDED, RULED_OUT = 0, 1, 2
HOUSE_CLOCK = "the clock"
"""Stands where a clause's source stands, for what the clauses of the clock rule out together."""
CLOCK_KEY = f"{HOUSE_CLOCK}|reached in time"


@dataclass(frozen=True, eq=False)
class Ruling:
    """Per clause the state of every cell of the circle: 0 surely met, 1 undecided, 2 surely not met.

    Attributes
    ----------
    cells
        Flat window indices of the circle's cells, shape (n,).
    states
        Clause key → states, shape (n,).
    sure, possible
        How many clauses surely / possibly rule each cell out, shape (n,).
    """

    cells: npt.NDArray[np.int64]
    states: Mapping[str, States]
    sure: States
    possible: States

    @property
    def open_cells(self) -> npt.NDArray[np.int64]:
        """Cells that no clause surely rules out."""
        return np.asarray(self.cells[self.sure == 0])

    def open_but_for(self, key: str) -> npt.NDArray[np.int64]:
        """Return the cells that no *other* clause surely rules out."""
        return np.asarray(self.cells[self.sure - (self.states[key] == RULED_OUT) == 0])


def ruling(
    screen: Screen, clauses: tuple[Clause, ...], cells: npt.NDArray[np.int64], timetable: Timetable
) -> Ruling:
    """Return what the clauses that decide places, and the clock, say of every cell of the circle."""
    deciding = [c for c in clauses if c.decides_place]
    each = in_parallel(lambda clause: _states(screen, clause, cells), deciding)
    states = {c.key: s for c, s in zip(deciding, each, strict=True)}
    late = timetable.states(screen.from_capture.ravel()[cells])
    if late.any():
        states[CLOCK_KEY] = late
    sure, possible = (np.zeros(len(cells), dtype=np.uint8) for _ in range(2))
    for state in states.values():
        sure += state == RULED_OUT
        possible += state != MET
    return Ruling(cells, states, sure, possible)


def _states(screen: Screen, clause: Clause, cells: npt.NDArray[np.int64]) -> States:
    state = np.zeros(len(cells), dtype=np.uint8)
    for demand in clause.coarse:
        assert demand.limit is not None  # bound clauses have one
        np.maximum(state, screen.bounds(demand.quantity, cells).states(demand.limit), out=state)
    return state


def removed(ruled: Ruling, clauses: tuple[Clause, ...], *, cell_m: float) -> tuple[Removed, ...]:
    """Return per clause the area it rules out and the area only it rules out, [low, high] ha."""
    ha = cell_m * cell_m / 10_000
    out = []
    named = {c.key: (c.condition.id, c.condition.kind, c.condition.text or c.condition.words(), c.source)
             for c in clauses}  # fmt: skip
    read_as = {c.key: c.condition.words() for c in clauses}
    named[CLOCK_KEY] = (
        "reached in time",
        "clock",
        "Too far to reach while the clock allows it.",
        HOUSE_CLOCK,
    )
    for key, words in named.items():
        state = ruled.states.get(key)
        if state is None:
            continue
        own_sure, own_possible = state == RULED_OUT, state != MET
        counts = (
            own_sure,
            own_possible,
            own_sure & (ruled.possible - own_possible == 0),
            own_possible & (ruled.sure - own_sure == 0),
        )
        low, high, only_low, only_high = (float(np.count_nonzero(c)) * ha for c in counts)
        out.append(Removed(*words, low, high, only_low, only_high, words=read_as.get(key, "")))
    return tuple(out)
