"""The rates map: cells, smoothed rates, the ring test, odds."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tussock.hotspots.cell_odds import cell_odds
from tussock.hotspots.cells import CallPlaces, Cells, Ground, HomePlaces
from tussock.hotspots.found import Asked, Rates, Rerun
from tussock.hotspots.hexagons import Choice, hexagon_steps
from tussock.hotspots.odds import Prior
from tussock.hotspots.ring import Ring, ring_test
from tussock.hotspots.smoothing import Smoothed, gamma_poisson
from tussock.hotspots.supplied import polygon_cells


def found_rates(
    calls: CallPlaces, homes: HomePlaces, *, ground: Ground, asked: Asked
) -> tuple[Rates, tuple[Rerun, ...]]:
    """Return the rates map, and what the ring test says one step finer and coarser.

    Polygons supplied by the user have no finer or coarser ones.

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
        return _rates(cells, None, None, asked), ()
    steps = hexagon_steps(calls, homes, ground=ground)
    rates = _rates(steps.chosen, steps.coarser, steps.choice, asked)
    return rates, tuple(_reruns(rates, {"finer": steps.finer, "coarser": steps.coarser}))


def smoothed_of(cells: Cells, *, years: float) -> Smoothed:
    """Return the rates per home and year of cells; ``nan`` where a cell is not tested."""
    told = cells.tested
    return gamma_poisson(np.where(told, cells.incidents, 0), np.where(told, cells.homes * years, 0.0))


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


def _rates(cells: Cells, around: Cells | None, choice: Choice | None, asked: Asked) -> Rates:
    smoothed = smoothed_of(cells, years=asked.years)
    outer = None if around is None else smoothed_of(around, years=asked.years)
    priors = _prior(smoothed), None if outer is None else _prior(outer)
    odds = cell_odds(cells, around=around, years=asked.years, priors=priors)
    return Rates(cells, choice, smoothed, ring_of(cells), odds)


def _prior(smoothed: Smoothed) -> Prior | None:
    model = smoothed.model
    return Prior(model.shape, model.level) if model.level > 0 else None


def _reruns(rates: Rates, others: dict[str, Cells]) -> Iterator[Rerun]:
    flagged = int(rates.ring.flagged.sum())
    for step, cells in others.items():
        ring, size = ring_of(cells), f"H3 resolution {cells.resolution}"
        if not ring.tested:  # so coarse, or so far from homes, that no cell has a ring to be set against
            yield Rerun("cells", step, size, "not tested: no cell has homes in and round it", None)
            continue
        number = int(ring.flagged.sum())
        found = f"{number} of {ring.tested} cells stand out from their neighbours"
        stands = bool(flagged) == bool(number)
        yield Rerun("cells", step, size, found, stands)
