"""Odds of every cell, each with the cell around it and the whole district to fall back on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from tussock.hotspots.cells import Cells, Whole
from tussock.hotspots.odds import Area, Odds, Prior, odds

DISTRICT = "the district"


def cell_odds(
    cells: Cells, *, around: Cells | None = None, years: float, priors: tuple[Prior | None, Prior | None]
) -> tuple[Odds, ...]:
    """Return the odds of each cell, in their order.

    Parameters
    ----------
    cells
        Those to speak of.
    around
        Coarser cells: the one that holds a cell's centre is its parent. None: the district is.
    years
        Whole years observed, whose incidents the cells hold.
    priors
        Of the cells and of the coarser ones: the gamma–Poisson model fitted to each, in calls per home and
        year.

    Raises
    ------
    InputError
        On years that are none.
    """
    whole = district(cells)
    inner = _areas(cells, priors[0])
    if around is None:
        return tuple(odds(area, years=years, parents=[whole]) for area in inner)
    outer = _areas(around, priors[1])
    parents = [[outer[i], whole] if i >= 0 else [whole] for i in _holding(around, cells)]
    return tuple(odds(area, years=years, parents=p) for area, p in zip(inner, parents, strict=True))


def district(cells: Cells) -> Area:
    """Return all cells as one area, without a prior: it has no like."""
    low, high = float(cells.homes_low.sum()), float(cells.homes_high.sum())
    return Area(DISTRICT, int(cells.incidents[cells.homes_high > 0].sum()), low, high)


def _areas(cells: Cells, prior: Prior | None) -> list[Area]:
    rows = zip(cells.names, cells.incidents, cells.homes_low, cells.homes_high, strict=True)
    bare = [Area(name, int(n), float(low), float(high)) for name, n, low, high in rows]
    return [replace(area, prior=prior) for area in bare]


def _holding(around: Cells, cells: Cells) -> Whole:
    """Return the row of the coarser cell that holds each cell's centre; -1 where none does."""
    centre, row = shapely.STRtree(around.polygons).query(
        shapely.points(*cells.centres), predicate="intersects"
    )
    holding = np.full(len(cells.names), -1, dtype=np.int64)
    # of two that share the point the first: reversed, so that it is written last
    holding[centre[::-1]] = row[::-1]
    return holding
