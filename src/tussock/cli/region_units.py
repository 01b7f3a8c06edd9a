"""``tussock region units``: the units of a region's published figures, made once from its dwellings alone.

What counts as a home: a building of the dwellings layer that is surely one, with the homes that its layer
states, inside the ground on which homes are known. Not the buildings of unknown use: a unit that holds 500 of
them may hold few homes, and a figure of few homes points at one. The homes are those of the day in the middle
of the first block of seasons, so that the same region and choices make the same file whenever it is made.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from tussock.cli import show
from tussock.cli.failures import written
from tussock.cli.hotspots_options import zone_of
from tussock.cli.printable import printable
from tussock.errors import InputError, UsageError
from tussock.ground.region import Region, open_region
from tussock.hotspots.exposure import DWELLINGS, Exposure, exposure
from tussock.hotspots.public_choice import PublicChoice
from tussock.hotspots.public_partition import Partition
from tussock.hotspots.public_store import refuse_second, store_partition
from tussock.hotspots.public_units import units_from_homes


@dataclass(frozen=True)
class UnitsOptions:
    """The options of ``tussock region units``."""

    folder: Path
    by: str
    season_starts: int
    first_season: int
    seasons: int
    timezone: str | None
    least: int


def run_units(given: UnitsOptions) -> int:
    """Make and store the units of a region; return the exit code.

    Raises
    ------
    UsageError
        When a choice cannot be made.
    InputError
        When the region has its units, holds too few homes, or cannot be read or written to.
    MissingDataError
        When the region has no dwellings.
    """
    choice = _choice(given)
    region = open_region(given.folder)
    refuse_second(given.folder)
    first, last = choice.days(choice.first_season)
    middle = first + (last - first) // 2
    homes = exposure(region, day=middle)
    partition = _partition(region, homes, choice, least=given.least)
    path = store_partition(given.folder, partition)
    show.data(printable("\n".join(_lines(partition, homes, middle, region=given.folder))))
    written((path,))
    return 0


def _choice(given: UnitsOptions) -> PublicChoice:
    zone, _ = zone_of(given.timezone)
    try:
        return PublicChoice(
            dimension=given.by,
            first_season=given.first_season,
            start_month=given.season_starts,
            zone=zone.key,
            seasons=given.seasons,
        )
    except InputError as error:
        raise UsageError(error.found, where=error.where, allowed=error.allowed, fix=error.fix) from None


def _partition(region: Region, homes: Exposure, choice: PublicChoice, *, least: int) -> Partition:
    surely = homes.low > 0
    if np.any(homes.low[surely] % 1):
        raise InputError(
            "some buildings hold a number of homes that is not whole",
            where=f"layer {DWELLINGS}, homes_field",
            allowed="whole numbers",
            fix="correct them: units are made by counting homes",
        )
    made = Partition(
        region=region.file.name,
        plane=region.plane,
        choice=choice,
        units=units_from_homes(homes.x[surely], homes.y[surely], homes=homes.low[surely], least=least),
        least=least,
        attribution=region.file.layers[DWELLINGS].attribution,
    )
    return made.with_perhaps(homes.x, homes.y, homes=np.ceil(homes.high - homes.low).astype(np.int64))


def _lines(partition: Partition, homes: Exposure, day: date, *, region: Path) -> Iterator[str]:
    """Yield what was made, what was settled for ever, and what can be published first, and when."""
    choice = partition.choice
    sizes = [unit.dwellings for unit in partition.units]
    yield (
        f"{_units(len(sizes))}, from {min(sizes):,} to {max(sizes):,} dwellings in each, "
        f"{partition.dwellings:,} in all, as they stand on {day}."
    )
    yield from _left_out(homes)
    first, last = choice.days(choice.first_season)
    names = choice.season_names(choice.first_season)
    yield (
        f"Settled for ever: these units; figures by {choice.dimension}; {_seasons(len(names))} in a file; "
        f"a season begins on the 1st of {first:%B} ({choice.zone}); the first is {names[0]}."
    )
    block = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
    yield f"Can be published first: {block}, from {choice.opens(first.year)} on, with"
    yield f"  tussock hotspots … --region {region} --public {first.year} --observed {first}..{last}"


def _left_out(homes: Exposure) -> Iterator[str]:
    unsure = int(np.sum(homes.low == 0))
    if unsure:
        buildings = "1 building" if unsure == 1 else f"{unsure:,} buildings"
        yield (
            f"Perhaps homes: {buildings} of which it is not known that people live there. They make no unit "
            "and lower the low end of a rate; if you know that they are homes, say so in region.toml first: "
            '[layers.dwellings.crosswalk] unknown = "house".'
        )
    if beyond := int(homes.outside.low):
        outside = "1 home" if beyond == 1 else f"{beyond:,} homes"
        yield f"Not counted: {outside} beyond the ground on which all homes are known."


def _units(count: int) -> str:
    return "1 unit" if count == 1 else f"{count:,} units"


def _seasons(count: int) -> str:
    return "1 season" if count == 1 else f"{count} seasons"
