"""What a scan of this map could have seen at all: clusters are planted in made-up maps and looked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import Faults
from tussock.geodesy import Floats
from tussock.hotspots.scan import Scan
from tussock.hotspots.search import MAPS, Search
from tussock.hotspots.windows import Flags, Whole, Windows

RISKS = (*(r / 10 for r in range(11, 31)), *(r / 4 for r in range(13, 21)), *(r / 2 for r in range(11, 21)))
"""Relative risks that are tried, by halving: 1.1 to 3 in tenths, to 5 in quarters, to 10 in halves."""
SURE_ENOUGH = 0.005
"""Binomial chance below which no more maps are made: whether it is found often enough is then settled."""
_AT_A_TIME = 2 * MAPS


@dataclass(frozen=True)
class LeastSeen:
    """The weakest cluster of one size that the scan would have found most of the time.

    Attributes
    ----------
    share
        Of the expected calls that the planted circles held, on average: as near to what was asked for as the
        units allow, and with few units not very near.
    expected
        Calls there if it were no cluster.
    relative_risk
        The least of those tried at which it is found often enough; None if not even at the greatest.
    found
        Share of planted clusters found at it, or at the greatest tried.
    """

    share: float
    expected: float
    relative_risk: float | None
    found: float


def least_seen(
    scan: Scan,
    windows: Windows,
    *,
    share: float,
    seed: int,
    expected: Floats | None = None,
    p: float = 0.05,
    often: float = 0.8,
    risks: Sequence[float] = RISKS,
    replicates: int = 512,
    threads: int | None = None,
) -> LeastSeen:
    """Return the least relative risk of a compact cluster that this scan would have found.

    Parameters
    ----------
    scan, windows, expected
        What was scanned, and with which windows and expectations.
    share
        Of the expected calls that the planted circle holds, as nearly as its units allow.
    seed
        Of the planted maps.
    p
        Found means: the larger p is at most this, and the most striking circle holds at least half of what
        was expected in the planted one.
    often
        Share of planted clusters that must be found.
    risks
        Relative risks to try, ascending.
    replicates
        Planted maps per risk, at most: fewer where it is soon settled whether it is found often enough.
        Centres are drawn evenly from those of the windows.

    Raises
    ------
    InputError
        On a share or risks out of range.

    Source
    ------
    Beside a simulation of 2,000 runs on 200 cells in tests/property/test_scan_simulated.py.
    """
    _check(share, risks)
    if not len(windows.members):
        return LeastSeen(share, share * scan.calls, None, 0.0)  # no circle is small enough to be scanned
    planted = Planted(scan, windows, share=share, seed=seed, expected=expected, maps=replicates)
    low, high = 0, len(risks)
    seen: dict[int, float] = {}
    while low < high:  # the share found rises with the risk, on the same random numbers
        middle = (low + high) // 2
        seen[middle] = planted.found(risks[middle], p=p, often=often, threads=threads)
        low, high = (low, middle) if seen[middle] >= often else (middle + 1, high)
    # on all maps: a search that stops early stops at lucky shares
    while low < len(risks) and (at := planted.found(risks[low], p=p, threads=threads)) < often:
        low += 1
    enough = low < len(risks)
    at = at if enough else planted.found(risks[-1], p=p, threads=threads)
    held = planted.share
    return LeastSeen(held, held * scan.calls, risks[low] if enough else None, at)


class Planted:
    """Made-up maps of a scan's calls with one circle of a given size in each."""

    def __init__(
        self,
        scan: Scan,
        windows: Windows,
        *,
        share: float,
        seed: int,
        expected: Floats | None,
        maps: int,
    ) -> None:
        weights = windows.exposure if expected is None else expected
        self.scan, self.windows, self.seed = scan, windows, seed
        self.chances = weights / weights.sum()
        rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(3,))))
        with_units = np.flatnonzero(np.diff(windows.starts))
        self.inside = self._circles(rng.choice(with_units, maps), share)
        self.rates = np.ones((maps, len(weights)))
        if np.isfinite(scan.unevenness.shape):
            shape = scan.unevenness.shape
            self.rates = np.maximum(rng.gamma(shape, 1 / shape, self.rates.shape), np.finfo(float).tiny)

    @property
    def share(self) -> float:
        """Share of the expected calls that a planted circle holds, on average."""
        return float((self.inside @ self.chances).mean())

    def _circles(self, centres: Whole, share: float) -> Flags:
        """Return, per map, which units lie in the circle whose share of the calls is nearest."""
        shares = self.windows.summed(self.chances)
        inside = np.zeros((len(centres), len(self.chances)), dtype=np.bool_)
        for one, centre in enumerate(centres):
            first, stop = self.windows.starts[centre], self.windows.starts[centre + 1]
            nearest = first + int(np.argmin(np.abs(shares[first:stop] - share)))
            inside[one, self.windows.units(int(centre), self.windows.ends(int(nearest)))] = True
        return inside

    def found(
        self, risk: float, *, p: float, often: float | None = None, threads: int | None = None
    ) -> float:
        """Return the share of maps in which the planted circle, at this relative risk, is found.

        Parameters
        ----------
        often
            Where given, no more maps are searched once it is settled whether the share is as great.
        """
        rates = self.rates * np.where(self.inside, risk, 1.0) * self.chances
        rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(self.seed, spawn_key=(4,))))
        maps = rng.multinomial(self.scan.calls, rates / rates.sum(axis=1, keepdims=True)).astype(np.int64)
        search = Search(self.windows, self.chances * self.scan.calls, self.scan.calls, threads)
        least, hits, done = least_ratio(self.scan, p=p), 0, 0
        while done < len(maps) and not (done and often is not None and _settled(hits, done, often)):
            greatest = search.greatest(maps[done : done + _AT_A_TIME])
            struck = np.flatnonzero(greatest.ratio > least)
            hits += sum(self._covered(done + int(one), int(greatest.place[one])) for one in struck)
            done += len(greatest.ratio)
        return hits / done

    def _covered(self, one: int, place: int) -> bool:
        """Return whether the circle that ends at a place holds half of the planted one."""
        end = self.windows.ends(place)
        units = self.windows.units(int(self.windows.centre_of(np.array([end]))[0]), end)
        both = self.chances[units][self.inside[one, units]].sum()
        return bool(both >= self.chances[self.inside[one]].sum() / 2)


def _settled(hits: int, maps: int, often: float) -> bool:
    """Return whether so many hits would be very rare, were a hit as likely as `often`."""
    from scipy.stats import binom

    fewer, more = binom.cdf(hits, maps, often), binom.sf(hits - 1, maps, often)
    return bool(min(fewer, more) < SURE_ENOUGH)


def least_ratio(scan: Scan, *, p: float) -> float:
    """Return the logarithm of the likelihood ratio above which both p of a cluster are at most p."""
    maps = len(scan.greatest_by_chance)
    rank = maps - int(p * (maps + 1) + 1e-9)
    if rank >= maps:
        return float("inf")
    return float(max(scan.greatest_by_chance[rank], scan.greatest_if_uneven[rank]))


def _check(share: float, risks: Sequence[float]) -> None:
    faults = Faults()
    if not 0 < share <= 0.5:
        faults.add(f"a cluster that holds {share:g} of the expected calls", allowed="above 0, at most 0.5")
    if not risks or risks[0] <= 1 or list(risks) != sorted(risks):
        faults.add("relative risks to try", allowed="above 1, ascending")
    faults.raise_if_any()
