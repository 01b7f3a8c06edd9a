"""Figures about calls that can be published without pointing at a home.

A file gives, for each unit or each season of a block of whole ended seasons, its dwellings, the band that
the calls lie in, and the rate that the band implies. It holds no count, place, time, id or hash.

What is held, by tests: a call that moves anywhere within its unit and season leaves the file as it was to the
byte, so there are none by month; and all files that can ever be released for a region leave every count a
range whose most is 4 or more above its least. Beyond that reach are figures given away by other means, such
as a total in a return, and other units made in a copy of the region.

Calls are taken as they were logged, neither merged into incidents nor cut by a known extent: both would let
the place of a single call show in a band.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt

from tussock.errors import Faults, InputError
from tussock.geodesy import Floats, Plane
from tussock.hotspots.public_partition import Partition
from tussock.hotspots.public_store import PUBLISHED_FOLDER, stored_partition, write_once
from tussock.hotspots.public_units import Whole, tell

BANDS: tuple[tuple[int, int | None], ...] = ((0, 4), (5, 9), (10, 19), (20, 49), (50, None))
"""Least and most calls of each band; the last is open."""
_WHAT = (
    "Calls to one logbook, not snakes; calls whose place is not known are left out. Bands, not counts; each "
    "rate is the range that its band implies, in calls per 1,000 dwellings and season. Open at the top where "
    "no highest is given: such lines cannot be ranked, as their lowest rates differ by dwellings alone. "
    "perhaps_dwellings are buildings of which it is not known that people live there."
)
_TENTHS = 10
_PER = 1000


@dataclass(frozen=True, eq=False)
class PublicCalls:
    """Calls as they were logged.

    Attributes
    ----------
    x, y
        Places in the region's plane [m], shape (calls,).
    time
        Instants [POSIX s].
    """

    x: Floats
    y: Floats
    time: Floats

    def __post_init__(self) -> None:
        faults = Faults()
        shapes = {np.shape(a) for a in (self.x, self.y, self.time)}
        if len(shapes) != 1 or len(next(iter(shapes))) != 1:
            fix = "give one of each per call"
            faults.add("places and times differ in number", where="calls", fix=fix)
            faults.raise_if_any()
        wrong = ~(np.isfinite(self.x) & np.isfinite(self.y) & np.isfinite(self.time))
        tell(faults, wrong, what="has no place or no time", allowed="numbers", thing="call")
        faults.raise_if_any()


@dataclass(frozen=True)
class PublicFigure:
    """One line of a published file.

    Attributes
    ----------
    of
        Id of the unit, or name of the season.
    low, high
        Band of the calls; `high` is ``None`` where it is open.
    rate_low, rate_high
        Calls per 1,000 dwellings and season, to one decimal, rounded outwards: the least of the band over
        all that may be a home, the most over those that surely are.
    """

    of: str
    dwellings: int
    perhaps: int
    low: int
    high: int | None
    rate_low: float
    rate_high: float | None

    @property
    def band(self) -> str:
        """The band in words, such as ``5–9`` or ``50+``."""
        return f"{self.low}+" if self.high is None else f"{self.low}–{self.high}"


@dataclass(frozen=True)
class PublicFigures:
    """What one file says, and what only its maker is told.

    Attributes
    ----------
    seasons
        Names of the seasons, the first to the last.
    counted, beyond_units, other_seasons
        Calls in the figures, outside all units, and in a unit but of other seasons: for the maker alone.
    """

    region: str
    dimension: str
    seasons: tuple[str, ...]
    figures: tuple[PublicFigure, ...]
    attribution: str
    counted: int
    beyond_units: int
    other_seasons: int

    @property
    def name(self) -> str:
        """Name of the file."""
        return f"calls-by-{self.dimension}-{self.seasons[0]}-to-{self.seasons[-1]}.json"

    def text(self) -> str:
        """Return the file: every key in it is written out here, and no other can come in."""
        document = {
            "what": _WHAT,
            "region": self.region,
            "by": self.dimension,
            "seasons": list(self.seasons),
            "figures": [
                {
                    self.dimension: figure.of,
                    "dwellings": figure.dwellings,
                    "perhaps_dwellings": figure.perhaps,
                    "calls": figure.band,
                    "rate_low": figure.rate_low,
                    "rate_high": figure.rate_high,
                }
                for figure in self.figures
            ],
            "dwellings_from": self.attribution,
        }
        return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


@dataclass(frozen=True)
class Released:
    """A published file; `fresh` where it was not there before."""

    path: Path
    figures: PublicFigures
    fresh: bool


def public_figures(
    partition: Partition, calls: PublicCalls, *, dimension: str, first_season: int, now: datetime
) -> PublicFigures:
    """Return the figures of one block of seasons.

    Parameters
    ----------
    dimension
        Must be the one that was chosen for the region.
    first_season
        Year in which the block's first season begins; must begin a block.
    now
        Instant with its offset: no season may end after it.

    Raises
    ------
    UsageError
        When another dimension, other seasons or unfinished ones are asked for.
    """
    choice = partition.choice
    choice.refuse_another(dimension, first_season=first_season, now=now)
    season = np.searchsorted(choice.edges(first_season), calls.time, side="right") - 1
    unit = partition.unit_index(calls.x, calls.y)
    within, ended = unit >= 0, (season >= 0) & (season < choice.seasons)
    taken = within & ended
    counts, names, dwellings = _counted(partition, first_season, unit=unit[taken], season=season[taken])
    seasons_each = 1 if dimension == "season" else choice.seasons
    return PublicFigures(
        region=partition.region,
        dimension=dimension,
        seasons=choice.season_names(first_season),
        figures=tuple(
            _figure(name, int(count), homes=homes, seasons=seasons_each)
            for name, count, homes in zip(names, counts, dwellings, strict=True)
        ),
        attribution=partition.attribution,
        counted=int(taken.sum()),
        beyond_units=int((~within).sum()),
        other_seasons=int((within & ~ended).sum()),
    )


def release_figures(
    folder: Path, calls: PublicCalls, *, plane: Plane, dimension: str, first_season: int, now: datetime
) -> Released:
    """Write the figures of one block of seasons, by the stored partition; return the file and what it says.

    A file that is there stays. When it is the same nothing is done.

    Parameters
    ----------
    folder
        Folder of the region; the file goes into its ``published``.

    Raises
    ------
    UsageError
        When other figures are asked for than those chosen for the region.
    InputError
        When the partition is not there, was changed, or is of another plane; when a file of the same seasons
        says other things; or when it cannot be written.
    """
    partition = stored_partition(folder, plane=plane)
    figures = public_figures(partition, calls, dimension=dimension, first_season=first_season, now=now)
    target = folder / PUBLISHED_FOLDER / figures.name
    if target.is_file():
        _refuse_another(target, figures.text())
        return Released(target, figures, fresh=False)
    write_once(target, figures.text())
    return Released(target, figures, fresh=True)


def _refuse_another(target: Path, text: str) -> None:
    if target.read_bytes() != text.encode("utf-8"):
        raise InputError(
            "other figures of the same seasons were released before",
            where=str(target),
            allowed="one release of a season: two that differ tell what was added between them",
            fix="leave the released file as it is; later entries of these seasons stay unpublished",
        )


def _counted(
    partition: Partition, first_season: int, *, unit: Whole, season: npt.NDArray[np.intp]
) -> tuple[Whole, list[str], list[tuple[int, int]]]:
    """Return the calls, the name, and the dwellings sure and perhaps of each line: one a unit or season."""
    choice = partition.choice
    if choice.dimension == "unit":
        names = [u.id for u in partition.units]
        return (
            np.bincount(unit, minlength=len(names)),
            names,
            [(u.dwellings, u.perhaps) for u in partition.units],
        )
    names = list(choice.season_names(first_season))
    return (
        np.bincount(season, minlength=len(names)),
        names,
        [(partition.dwellings, partition.perhaps)] * len(names),
    )


def _figure(name: str, count: int, *, homes: tuple[int, int], seasons: int) -> PublicFigure:
    low, high = next((a, b) for a, b in reversed(BANDS) if count >= a)
    sure, perhaps = homes
    least, most = sure * seasons, (sure + perhaps) * seasons
    return PublicFigure(
        of=name,
        dwellings=sure,
        perhaps=perhaps,
        low=low,
        high=high,
        rate_low=low * _PER * _TENTHS // most / _TENTHS,
        rate_high=None if high is None else -(-high * _PER * _TENTHS // least) / _TENTHS,
    )
