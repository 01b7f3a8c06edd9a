"""The rates map: cells, smoothed rates, the ring test, odds."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from tussock.geodesy import Floats
from tussock.hotspots.calls import Incidents
from tussock.hotspots.cell_odds import cell_odds
from tussock.hotspots.cells import NOWHERE, CallPlaces, Cells, Ground, HomePlaces
from tussock.hotspots.find_clusters import rows_of_incidents
from tussock.hotspots.found import Asked, Rates, Rerun
from tussock.hotspots.hexagons import Choice, hexagon_steps
from tussock.hotspots.odds import Prior
from tussock.hotspots.ring import Ring, ring_test
from tussock.hotspots.smoothing import Smoothed, gamma_poisson
from tussock.hotspots.supplied import polygon_cells


def found_rates(
    calls: CallPlaces, homes: HomePlaces, *, incidents: Incidents, ground: Ground, asked: Asked
) -> tuple[Rates, tuple[Rerun, ...]]:
    """Return the rates map, and what the ring test says one step finer and coarser.

    Polygons supplied by the user have no finer or coarser ones.

    Parameters
    ----------
    incidents
        What the calls are: those of whole years bear the yearly figures.

    Raises
    ------
    InputError
        On polygons that cannot be used.
    MissingDataError
        Without the package h3, unless polygons are supplied.
    """
    if asked.units is not None:
        drawn = asked.units
        cells = polygon_cells(calls, homes, ground=ground, polygons=drawn.polygons, names=drawn.names)
        return _rates(cells, None, None, incidents, asked), ()
    steps = hexagon_steps(calls, homes, ground=ground)
    rates = _rates(steps.chosen, steps.coarser, steps.choice, incidents, asked)
    return rates, tuple(_reruns(rates, {"finer": steps.finer, "coarser": steps.coarser}))


def smoothed_of(cells: Cells, *, years: float) -> Smoothed:
    """Return the rates per most homes and year of cells; ``nan`` where a cell is not tested."""
    return _smoothed(cells, cells.homes_high, years)


def above_ends(cells: Cells, *, years: float) -> tuple[Floats, Floats] | None:
    """Return P(RR > 1) of cells over the most and over the least homes; ``None`` where those are the same.

    ``nan`` where a cell has no home for certain, or where cells differ no more than chance has it.
    """
    told = cells.tested
    if np.array_equal(cells.homes_low[told], cells.homes_high[told]):
        return None
    most, least = (_smoothed(cells, homes, years).above for homes in (cells.homes_high, cells.homes_low))
    return most, least


def _smoothed(cells: Cells, homes: Floats, years: float) -> Smoothed:
    told = cells.tested & (homes > 0)
    return gamma_poisson(np.where(told, cells.incidents, 0), np.where(told, homes * years, 0.0))


def in_whole_years(cells: Cells, incidents: Incidents, *, asked: Asked) -> Cells:
    """Return the same cells with the incidents of the whole years alone; tallies stay those of all."""
    row = rows_of_incidents(cells, incidents)
    timely = np.array([asked.in_whole_years(i.time) for i in incidents.items], dtype=np.bool_)
    there = row[timely & (row != NOWHERE)]
    return replace(cells, incidents=np.bincount(there, minlength=len(cells.names)).astype(np.int64))


def ring_of(cells: Cells) -> Ring:
    """Return the ring test of cells."""
    return ring_test(
        cells.incidents,
        homes_low=cells.homes_low,
        homes_high=cells.homes_high,
        starts=cells.starts,
        neighbours=cells.neighbours,
        tested=cells.tested,
    )


def _rates(
    cells: Cells, around: Cells | None, choice: Choice | None, incidents: Incidents, asked: Asked
) -> Rates:
    inner = in_whole_years(cells, incidents, asked=asked)
    outer = None if around is None else in_whole_years(around, incidents, asked=asked)
    priors = _prior(inner, asked), None if outer is None else _prior(outer, asked)
    odds = cell_odds(inner, around=outer, years=asked.years, priors=priors)
    smoothed, ends = smoothed_of(cells, years=1.0), above_ends(cells, years=1.0)
    # whatever the buildings of unknown use are: what is not known at one end is not known
    told = smoothed if ends is None else replace(smoothed, above=np.minimum(*ends))
    return Rates(cells, choice, told, _a_year(cells, inner, asked), ring_of(cells), odds, ends)


def _a_year(cells: Cells, inner: Cells, asked: Asked) -> float:
    """Return from calls in the time observed to calls in a year.

    ``nan`` where no whole year was observed, or where none came in those that were: 0 times an interval would
    be an interval from 0 to 0.
    """
    every, timely = (int(c.incidents[c.tested].sum()) for c in (cells, inner))
    return math.nan if asked.whole_years is None or not timely else timely / every / asked.years


def _prior(cells: Cells, asked: Asked) -> Prior | None:
    model = smoothed_of(cells, years=asked.years).model
    return Prior(model.shape, model.level) if model.level > 0 else None


def _reruns(rates: Rates, others: dict[str, Cells]) -> Iterator[Rerun]:
    flagged = int(rates.ring.flagged.sum())
    for step, cells in others.items():
        ring, size = ring_of(cells), f"H3 resolution {cells.resolution}"
        if not ring.tested:  # so coarse, or so far from homes, that no cell has a ring to be set against
            yield Rerun("cells", step, size, "not tested: no cell has homes in and round it", None)
            continue
        if cells.incident_tally.mostly_vague:
            found = "not tested: most places are known too roughly for such cells"
            yield Rerun("cells", step, size, found, None)
            continue
        number = int(ring.flagged.sum())
        found = f"{number} of {ring.tested} cells stand out from their neighbours"
        stands = bool(flagged) == bool(number)
        yield Rerun("cells", step, size, found, stands)
