"""Scores: exact at places, bounded above over cells, rounded by one function."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import reduce

import numpy as np
import numpy.typing as npt

from tussock.geodesy import EARTH_RADIUS_M, METRES_PER_DEGREE, Floats
from tussock.ground.rasters import Raster
from tussock.interval import Interval
from tussock.measure.exact import habitat_class
from tussock.measure.judging import Measures
from tussock.measure.screened import ROUNDING_M, Screen
from tussock.names import UNMAPPED
from tussock.planning.criteria import Criterion, by_species
from tussock.planning.parallel import in_parallel
from tussock.planning.record import CriterionScore

STEPS = 1_000_000
"""Scores are ordered by whole millionths."""
_PIXEL_ERROR = 0.05
"""Error of placing cells between exact ones that is put up with [pixels]; finer steps are taken else."""


def rounded(score: Floats) -> npt.NDArray[np.int64]:
    """Return scores in whole millionths; bounds and exact scores go through this one function."""
    return np.asarray(np.rint(score * STEPS), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class SpeciesScores:
    """Scores at n places for one species; per criterion the measure and suitability intervals, shape (n,)."""

    name: str
    criteria: tuple[Criterion, ...]
    low: Floats
    high: Floats
    values: tuple[tuple[Floats, Floats], ...]
    suitabilities: tuple[tuple[Floats, Floats], ...]


@dataclass(frozen=True, eq=False)
class Scored:
    """Scores at n places for every species the animal may be; the score is the lowest of them.

    Attributes
    ----------
    low, high
        The score's interval, shape (n,).
    """

    species: tuple[SpeciesScores, ...]
    low: Floats
    high: Floats

    def worst(self, i: int) -> SpeciesScores:
        """Return the species that a place suits least; of equals the first by name."""
        return min(self.species, key=lambda s: (s.low[i], s.high[i], s.name))


def score_exactly(criteria: tuple[Criterion, ...], measures: Measures) -> Scored:
    """Return the exact scores at the places measured."""
    species = tuple(_scored_for(name, own, measures) for name, own in by_species(criteria).items())
    return Scored(
        species, reduce(np.minimum, (s.low for s in species)), reduce(np.minimum, (s.high for s in species))
    )


def _scored_for(name: str, criteria: tuple[Criterion, ...], measures: Measures) -> SpeciesScores:
    values = tuple(exact_value(c, measures) for c in criteria)
    parts = tuple(c.scores(low, high) for c, (low, high) in zip(criteria, values, strict=True))
    low, high = (_mean(criteria, [p[k] for p in parts]) for k in (0, 1))
    return SpeciesScores(name, criteria, low, high, values, parts)


def _mean(criteria: tuple[Criterion, ...], parts: list[Floats]) -> Floats:
    """Return the weighted geometric mean."""
    total = sum(c.weight for c in criteria)
    logs = sum(c.weight * np.log(p) for c, p in zip(criteria, parts, strict=True))
    return np.asarray(np.exp(logs / total))


def explained_criteria(scored: Scored, i: int) -> tuple[CriterionScore, ...]:
    """Return the criteria at one of the places, for the species that it suits least."""
    worst = scored.worst(i)
    lost = [
        c.weight * math.log(low[i]) for c, (low, _) in zip(worst.criteria, worst.suitabilities, strict=True)
    ]
    total = sum(lost)
    return tuple(
        CriterionScore(
            name=c.name,
            words=c.words,
            value=None if math.isnan(v[0][i]) else Interval(float(v[0][i]), float(v[1][i])),
            unit=c.unit,
            score=Interval(float(s[0][i]), float(s[1][i])),
            weight=c.weight,
            share=abs(part / total) if total else 0.0,
        )
        for c, v, s, part in zip(worst.criteria, worst.values, worst.suitabilities, lost, strict=True)
    )


def exact_value(criterion: Criterion, measures: Measures) -> tuple[Floats, Floats]:
    """Return the interval that a criterion reads at each place; nan where nothing is known."""
    if criterion.quantity is not None:
        found = measures.of(criterion.quantity)
        return found.low, found.high
    value = _looked_up(criterion, measures)
    return value, value


def _looked_up(criterion: Criterion, measures: Measures) -> Floats:
    scene, at = measures.scene, measures.at
    if criterion.name == "cover":
        return scene.region.raster("cover").sample(at.lon, at.lat)
    liking = criterion.profile.habitat
    here = habitat_class(scene, at)
    return np.array([np.nan if c == UNMAPPED else liking[c] for c in here], dtype=float)


def bound_scores(criteria: tuple[Criterion, ...], screen: Screen, cells: npt.NDArray[np.int64]) -> Floats:
    """Return an upper bound of the exact score at some cells (flat window indices).

    The lowest of the species' bounds: none of their scores is above its own, so the lowest is not above it.
    """
    best = iter(in_parallel(lambda c: _best(c, screen, cells), criteria))
    bounds = (_mean(own, [next(best) for _ in own]) for own in by_species(criteria).values())
    return reduce(np.minimum, bounds)


def _best(criterion: Criterion, screen: Screen, cells: npt.NDArray[np.int64]) -> Floats:
    if criterion.quantity is None:
        look_up = _best_cover if criterion.name == "cover" else _best_habitat
        return look_up(criterion, screen, cells)
    found = screen.bounds(criterion.quantity, cells)
    best = found.low[1] if criterion.farther else found.high[0]
    return criterion.shape(np.maximum(best, 0).astype(np.float64))


def _best_habitat(criterion: Criterion, screen: Screen, cells: npt.NDArray[np.int64]) -> Floats:
    """Bound by the class at the centre, and by every class whose edge passes through the cell.

    A candidate lies up to 8 mm off its centre: in another class only where that class's outline
    passes through the cell.
    """
    found = screen.scene.features("habitat")
    liking = criterion.profile.habitat
    table = np.array([*(liking[c] for c in found.classes), np.nan])
    worth = criterion.scores(table, table)[0]
    best = worth[screen.habitat_labels]
    for name in sorted(set(found.classes)):
        through = screen.outline_cells("habitat", name)
        best[through] = np.maximum(best[through], criterion.shape(np.array(liking[name])))
    return np.asarray(best.ravel()[cells])


def _best_cover(criterion: Criterion, screen: Screen, cells: npt.NDArray[np.int64]) -> Floats:
    raster = screen.scene.region.raster("cover")
    step, off = _grain(raster, screen)
    if off >= 0.5:  # pixels finer than a place is known: any may be the one
        return np.ones(len(cells))
    column, row = (v.ravel()[cells] for v in coarse_pixels(raster, screen, step=step))
    best = np.zeros(len(cells))
    for dx in (-off, off):
        for dy in (-off, off):
            value = raster.at_pixels(column + dx, row + dy)
            best = np.maximum(best, criterion.scores(value, value)[0])
    return best


def _grain(raster: Raster, screen: Screen) -> tuple[int, float]:
    """Return every how many cells pixels are placed exactly, and how far off the others are [pixels]."""
    lean = 1 + abs(math.tan(math.radians(screen.scene.plane.latitude)))
    a, b, _, d, e, _ = raster.inverse
    per_unit = max(math.hypot(a, b), math.hypot(d, e))  # pixels per unit of the raster
    per_metre = per_unit / (METRES_PER_DEGREE / lean) if raster.geographic else per_unit * lean
    for step in (32, 8, 1):
        bend_m = (step * screen.window.cell_m) ** 2 / (4 * EARTH_RADIUS_M) * lean if step > 1 else 0.0
        off = (bend_m + ROUNDING_M) * per_metre
        if off <= _PIXEL_ERROR:
            break
    return step, max(off, 1e-6)


def coarse_pixels(raster: Raster, screen: Screen, *, step: int = 32) -> tuple[Floats, Floats]:
    """Return every cell's fractional raster column and row, exact each ``step`` cells, linear between."""
    w = screen.window
    i = np.unique(np.r_[np.arange(0, w.columns, step), w.columns - 1])
    j = np.unique(np.r_[np.arange(0, w.rows, step), w.rows - 1])
    x, y = np.meshgrid(w.x[i], w.y[j])
    lon, lat = screen.scene.plane.unproject(x.ravel(), y.ravel())
    column, row = raster.pixels(lon, lat)
    return _between(column.reshape(x.shape), i, j, w.shape), _between(row.reshape(x.shape), i, j, w.shape)


def _between(
    grid: Floats, i: npt.NDArray[np.int64], j: npt.NDArray[np.int64], shape: tuple[int, int]
) -> Floats:
    rows, columns = shape
    along = np.array([np.interp(np.arange(columns), i, line) for line in grid])
    k = np.clip(np.searchsorted(j, np.arange(rows), side="right") - 1, 0, max(len(j) - 2, 0))
    if len(j) == 1:
        return np.repeat(along, rows, axis=0)
    t = ((np.arange(rows) - j[k]) / (j[k + 1] - j[k]))[:, None]
    return np.asarray(along[k] * (1 - t) + along[k + 1] * t)
