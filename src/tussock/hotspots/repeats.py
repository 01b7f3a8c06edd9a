"""Calls again from near the same place, or from near a release, beside what chance alone would give.

What chance gives: the dates of the incidents of each species and season are dealt out anew among their
places. So each place keeps its number of calls and each season its course; only which date belongs to
which place is left to chance. More repeats than that mean calls that follow each other at one place, and
not merely a place that calls often.

A repeat is a call again. That it was the same animal is never said of it: only a mark tells, and
animals with the same mark are counted apart.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

import numpy as np
import numpy.typing as npt

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.hotspots.calls import WITHIN_DAYS, Incident, seconds
from tussock.hotspots.when import SeasonYear
from tussock.interval import TOLERANCE_M

Whole = npt.NDArray[np.int64]
Words = npt.NDArray[np.object_]
REPLICATES = 999
"""How often dates are dealt out (asked for)."""
_DAY_S = 86_400.0


@dataclass(frozen=True)
class Release:
    """An animal let go.

    Attributes
    ----------
    time
        Instant, with its offset.
    x, y
        Place in the region's plane [m].
    organism_id
        Mark of the animal; ``""`` where it bore none.
    """

    id: str
    time: datetime
    x: float
    y: float
    species: str
    organism_id: str = ""


@dataclass(frozen=True)
class Asking:
    """What counts as following, and how chance is dealt.

    Attributes
    ----------
    within_days, within_m
        How far from the earlier in time [d] and space [m].
    season, zone
        Dates are dealt out within species and season year.
    seed
        Of the dealing: the same gives the same figures, whatever the order of the incidents.
    replicates
        How often dates are dealt out.

    Raises
    ------
    InputError
        For limits or replicates that are none.
    """

    within_days: float
    within_m: float
    season: SeasonYear
    zone: tzinfo
    seed: int
    replicates: int = REPLICATES

    def __post_init__(self) -> None:
        if not (0 < self.within_days < math.inf and 0 <= self.within_m < math.inf):
            raise InputError(
                f"within {self.within_days} days and {self.within_m} m",
                allowed="more than 0 days, and 0 m or more",
            )
        if self.replicates < 1:
            raise InputError(f"{self.replicates} replicates", allowed=f"at least 1, usually {REPLICATES}")


@dataclass(frozen=True)
class Repeats:
    """How many followed, and how many do by chance.

    Attributes
    ----------
    of
        How many were looked at: incidents, or releases.
    observed
        Incidents that follow an earlier one, or releases that an incident follows.
    expected
        Mean of the replicates.
    low, high
        2.5 and 97.5 % of the replicates.
    p
        (1 + replicates with at least as many)/(replicates + 1).
    marked
        Of those observed how many are told by the same mark: only they may be called returned.
    left_out
        Incidents, and releases, that name no species or are known to a wider circle than the metres asked.
    """

    of: int
    observed: int
    expected: float
    low: float
    high: float
    p: float
    marked: int
    left_out: int


def repeats(incidents: Iterable[Incident], asking: Asking, *, more_than_days: float = WITHIN_DAYS) -> Repeats:
    """Return how many incidents follow an earlier one of their species near the same place.

    Parameters
    ----------
    more_than_days
        And more than so many days after it [d]: nearer ones were counted as one incident already, which
        dates dealt out by chance do not know.
    """
    every = list(incidents)
    used = _Dated(every, asking)
    i, j = _near(used.places, used.places, within_m=asking.within_m)
    kept = (used.species[i] == used.species[j]) & (i != j)
    i, j = i[kept], j[kept]
    pairs = _Pairs(j, least_s=more_than_days * _DAY_S, most_s=asking.within_days * _DAY_S)
    marked = (used.marks[i] == used.marks[j]) & (used.marks[i] != "")
    left_out = len(every) - len(used)
    return _answer(used, asking, pairs, lambda t: t[j] - t[i], marked=marked, of=len(used), left_out=left_out)


def after_releases(releases: Iterable[Release], incidents: Iterable[Incident], asking: Asking) -> Repeats:
    """Return how many releases an incident of the same species follows near by.

    Releases stay where and when they were; the dates of incidents are dealt out.
    """
    every, given = list(incidents), list(releases)
    used, let_go = _Dated(every, asking), [r for r in given if r.species]
    at = np.array([(r.x, r.y) for r in let_go], dtype=np.float64).reshape(-1, 2)
    since = np.array([seconds(r.time) for r in let_go], dtype=np.float64)
    i, j = _near(at, used.places, within_m=asking.within_m)
    kept = np.array([r.species for r in let_go], dtype=object)[i] == used.species[j]
    i, j = i[kept], j[kept]
    marks = np.array([r.organism_id for r in let_go], dtype=object)[i]
    marked = (marks == used.marks[j]) & (marks != "")
    pairs = _Pairs(i, least_s=0.0, most_s=asking.within_days * _DAY_S)
    left_out = len(every) - len(used) + len(given) - len(let_go)
    return _answer(
        used, asking, pairs, lambda t: t[j] - since[i], marked=marked, of=len(let_go), left_out=left_out
    )


class _Dated:
    """The incidents that can be asked about, as columns in an order of their own."""

    def __init__(self, incidents: Sequence[Incident], asking: Asking) -> None:
        told = [n for n in incidents if n.told.species and n.place.radius_m <= asking.within_m]
        told.sort(key=lambda n: (n.time, n.place.x, n.place.y, n.calls[0].id))
        self.times: Floats = np.array([seconds(n.time) for n in told], dtype=np.float64)
        self.places: Floats = np.array([(n.place.x, n.place.y) for n in told], dtype=np.float64).reshape(
            -1, 2
        )
        self.species: Words = np.array([n.told.species for n in told], dtype=object)
        self.marks: Words = np.array([n.told.organism_id for n in told], dtype=object)
        years = [asking.season.of(n.time, zone=asking.zone) for n in told]
        keys = sorted({*zip(self.species.tolist(), years, strict=True)})
        number = {key: k for k, key in enumerate(keys)}
        groups = [number[key] for key in zip(self.species.tolist(), years, strict=True)]
        self.groups: Whole = np.array(groups, dtype=np.int64)

    def __len__(self) -> int:
        return len(self.times)


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Pairs near in space: which of the subjects each is about, and the gaps that count [s]."""

    subject: Whole
    least_s: float
    most_s: float

    def follows(self, gaps: Floats) -> npt.NDArray[np.bool_]:
        return np.asarray((gaps > self.least_s) & (gaps <= self.most_s))

    def number(self, chosen: npt.NDArray[np.bool_]) -> int:
        return len(np.unique(self.subject[chosen]))


def _answer(
    used: _Dated,
    asking: Asking,
    pairs: _Pairs,
    gaps: Callable[[Floats], Floats],
    *,
    marked: npt.NDArray[np.bool_],
    of: int,
    left_out: int,
) -> Repeats:
    true = pairs.follows(gaps(used.times))
    observed = pairs.number(true)
    rng = np.random.Generator(np.random.PCG64(asking.seed))
    dealt = (_dealt(used.times, used.groups, rng) for _ in range(asking.replicates))
    draws = np.array([pairs.number(pairs.follows(gaps(times))) for times in dealt])
    low, high = np.quantile(draws, [0.025, 0.975])
    return Repeats(
        of=of,
        observed=observed,
        expected=float(draws.mean()),
        low=float(low),
        high=float(high),
        p=(1 + int((draws >= observed).sum())) / (asking.replicates + 1),
        marked=pairs.number(true & marked),
        left_out=left_out,
    )


def _dealt(times: Floats, groups: Whole, rng: np.random.Generator) -> Floats:
    """Return the times dealt out anew within each group."""
    out = np.empty_like(times)
    out[np.argsort(groups, kind="stable")] = times[np.lexsort((rng.random(len(times)), groups))]
    return out


def _near(places: Floats, others: Floats, *, within_m: float) -> tuple[Whole, Whole]:
    """Return the pairs of a place and another at most so far apart [m]."""
    from scipy.spatial import cKDTree

    if not (len(places) and len(others)):
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    found = cKDTree(places).query_ball_tree(cKDTree(others), within_m + TOLERANCE_M)
    i = np.repeat(np.arange(len(places)), [len(f) for f in found])
    return i, np.array([k for f in found for k in f], dtype=np.int64)
