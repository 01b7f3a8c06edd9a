"""A scan over both ends of the homes: a place must stand out whatever the buildings of unknown use are.

Over the most homes alone, sheds beside the homes of one quarter make every other quarter seem to call more
often; over the least alone, a quarter that nobody has tagged does. So the same circles are looked through
over both, and of a circle the larger p speaks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.geodesy import Floats
from tussock.hotspots.cells import Cells
from tussock.hotspots.scan import Cluster, Scan, judged, scan
from tussock.hotspots.windows import Whole, Windows

MOST_CIRCLES = 10
"""Circles that are told at most (choice of this project)."""


@dataclass(frozen=True, eq=False)
class Circle:
    """A circle over the most and over the least homes.

    Attributes
    ----------
    most
        With buildings of unknown use counted as homes.
    least
        Without them; ``None`` where that is the same. Its calls are those in cells that surely have homes.
    """

    most: Cluster
    least: Cluster | None = None

    @property
    def p_chance(self) -> float:
        """Against chance, the larger of both ends."""
        return max(c.p_chance for c in self._ends)

    @property
    def p_uneven(self) -> float:
        """Against the usual unevenness, the larger of both ends."""
        return max(c.p_uneven for c in self._ends)

    @property
    def p(self) -> float:
        """The larger of these: the one to speak of."""
        return max(self.p_chance, self.p_uneven)

    @property
    def llr(self) -> float:
        """The lesser logarithm of the likelihood ratio."""
        return min(c.llr for c in self._ends)

    @property
    def _ends(self) -> tuple[Cluster, ...]:
        return (self.most,) if self.least is None else (self.most, self.least)


@dataclass(frozen=True, eq=False)
class End:
    """One end of the homes: calls, and what is to be expected in each unit, in any unit."""

    counts: Whole
    weights: Floats

    @classmethod
    def of(cls, units: Cells, homes: Floats) -> End:
        """Return the calls and homes of the units that are tested; calls where no home is are left out."""
        told = units.tested & (homes > 0)
        return cls(np.where(told, units.incidents, 0), np.where(told, homes, 0.0))

    @property
    def usable(self) -> bool:
        """Whether there are calls, and two units to set against each other."""
        return bool(self.counts.sum() > 0 and np.count_nonzero(self.weights) > 1)


@dataclass(frozen=True, eq=False)
class BothScans:
    """The scan over the most homes, over the least, and the circles judged by both.

    Attributes
    ----------
    least
        ``None`` where the homes are the same, or none is sure.
    circles
        Least p first, of the same p the greatest lesser ratio; no two share a unit.
    """

    most: Scan
    least: Scan | None
    circles: tuple[Circle, ...]

    def standing_out(self, *, p: float = 0.05) -> tuple[Circle, ...]:
        """Return the circles whose largest p is at most this; often none, and that is a result."""
        return tuple(c for c in self.circles if c.p <= p)


def least_end(units: Cells) -> End | None:
    """Return the least homes, where any cell that is tested has fewer than at most."""
    told = units.tested
    if np.array_equal(units.homes_low[told], units.homes_high[told]):
        return None
    return End.of(units, units.homes_low)


def scan_ends(most: End, least: End | None, windows: Windows, *, seed: int, replicates: int) -> BothScans:
    """Return the circles that are striking over the most and the least homes.

    Parameters
    ----------
    most, least
        The two ends; without the second the scan is made once.
    windows
        Of the most homes: over the least the same circles are looked through, though one that holds half of
        the most may hold more of the least.

    Raises
    ------
    InputError, MissingDataError
        As `scan`.
    """
    high = scan(most.counts, windows, seed=seed, expected=most.weights, replicates=replicates)
    if least is None:
        return BothScans(high, None, tuple(Circle(c) for c in high.clusters))
    if not least.usable:
        return BothScans(high, None, tuple(Circle(c, _nothing(c)) for c in high.clusters))
    low = scan(least.counts, windows, seed=seed, expected=least.weights, replicates=replicates)
    found = [Circle(c, judged(c, least.counts, least.weights, beside=low)) for c in high.clusters]
    found += [Circle(judged(c, most.counts, most.weights, beside=high), c) for c in low.clusters]
    return BothScans(high, low, _apart(found))


def _nothing(circle: Cluster) -> Cluster:
    """Return a circle of which nothing can be said: it has no home for certain."""
    return Cluster(circle.units, circle.centre, circle.radius_m, 0, 0.0, float("nan"), 0.0, 1.0, 1.0)


def _apart(found: list[Circle]) -> tuple[Circle, ...]:
    """Return the most striking circles that share no unit."""
    kept: list[Circle] = []
    taken: set[int] = set()
    for one in sorted(found, key=lambda c: (c.p, -c.llr)):
        units = set(one.most.units.tolist())
        if len(kept) < MOST_CIRCLES and not taken & units:
            kept.append(one)
            taken |= units
    return tuple(kept)
