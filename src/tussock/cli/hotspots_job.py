"""From the options of ``tussock hotspots`` to the page, the tables and the answer."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import shapely
from shapely.geometry.base import BaseGeometry

from tussock.cli.failures import say, written
from tussock.cli.hotspots_options import HotspotsOptions, asked
from tussock.cli.hotspots_public import run_public
from tussock.cli.hotspots_show import show
from tussock.cli.progress import progress
from tussock.cli.settings import read_settings
from tussock.errors import UsageError
from tussock.files import Outbox
from tussock.ground.region import Region, open_region
from tussock.hotspots.exposure import known_extent
from tussock.hotspots.found import Asked, GivenCalls
from tussock.hotspots.supplied_file import UnitsFile, read_units
from tussock.maps.hotspots_files import FILES, is_ours
from tussock.records.calls import calls_of
from tussock.records.source import Book, open_book, open_logged
from tussock.species.profiles import load_profiles

if TYPE_CHECKING:
    from tussock.hotspots.found import Hotspots

_FAR_BASE_M = 30_000.0
"""A base farther from the known ground than this [m] is asked about (judgement)."""
_FARTHEST_BASE_M = 200_000.0
"""Farther from the homes than this no base can be [m]: two hours on the road (choice of this project)."""


def run_hotspots(given: HotspotsOptions) -> int:
    """Carry out ``tussock hotspots``; return its exit code.

    Raises
    ------
    UsageError
        When an option is missing, or none of its sort.
    InputError
        When a file cannot be used, or something is in the way of what is written.
    MissingDataError
        When the region has no dwellings, or the packages of the extra are not installed.
    """
    if given.public is not None:
        return run_public(given, book=_book)
    wanted, drawn, folder = asked(given), given.units_file, given.folder()
    region, book = open_region(folder), _book(given)
    for note in book.notes:
        say(f"Note: {note}.")
    inputs = (*given.books, *region.paths(), *(drawn.paths if drawn else ()))
    with Outbox(is_ours, force=given.force, inputs=inputs) as outbox:
        outbox.check(given.targets())
        found = _found(book, region, wanted, drawn)
        for target, make in zip(given.targets(), FILES.values(), strict=False):
            outbox.stage(target, make(found, region))
        paths = outbox.send()
    show(found, given.output)
    written(paths)
    return 0


def _found(book: Book, region: Region, wanted: Asked, drawn: UnitsFile | None) -> Hotspots:
    from tussock.hotspots.finding import STEPS, find

    known = known_extent(region)
    _check_base(wanted, region, known)
    own = read_settings(Path()).defaults.get("profiles")
    species = load_profiles(own if isinstance(own, Path) else None)
    inputs = {**region.hashes(), **book.inputs}
    calls = calls_of(book.entries, plane=region.plane, inputs=inputs, species=species)
    if drawn is not None:
        calls, wanted = _with_units(calls, wanted, drawn, region, known)
    with progress(STEPS, "looking") as step:
        return find(calls, region, wanted, step=step)


def _with_units(
    calls: GivenCalls, wanted: Asked, drawn: UnitsFile, region: Region, known: BaseGeometry
) -> tuple[GivenCalls, Asked]:
    """Return calls and question with the areas to count in, their hashes and what is to be known of them."""
    read = read_units(drawn, plane=region.plane, known=known, region=region.file.name)
    inputs = {**calls.inputs, **drawn.hashes()}
    notes = (*calls.notes, *(f"Your own areas: {note}." for note in read.notes))
    return replace(calls, inputs=inputs, notes=notes), replace(wanted, units=read.units)


def _check_base(wanted: Asked, region: Region, known: BaseGeometry) -> None:
    """Refuse a base from which no call of the region is answered: its figures would mean nothing."""
    if wanted.base is None:
        return
    x, y = (float(v) for v in region.plane.project(*wanted.base))
    placed = math.isfinite(x) and math.isfinite(y)
    away = float(shapely.distance(known, shapely.Point(x, y))) if placed else math.inf
    if _FAR_BASE_M < away <= _FARTHEST_BASE_M:
        say(f"Note: the base lies {away / 1000:,.0f} km from the nearest known ground: is that so?")
    if away > _FARTHEST_BASE_M:
        far = f"{away / 1000:,.0f} km" if placed else "half the Earth"
        raise UsageError(
            f"it lies {far} from the homes of '{region.file.name}'",
            where="--base",
            allowed=f"LAT,LON within {_FARTHEST_BASE_M / 1000:.0f} km of them",
            fix="check the order of latitude and longitude, and their signs",
        )


def _book(given: HotspotsOptions) -> Book:
    if given.tables and given.logbook is not None:
        raise UsageError("a logbook and tables are both named", where="--logbook", fix="name one")
    if given.tables and given.callouts is None:
        others = {"--captures": given.captures, "--releases": given.releases}
        alone = " and ".join(option for option, path in others.items() if path is not None)
        raise UsageError(f"{alone} alone: no calls", where="--callouts", fix="name the table of callouts")
    return open_book(given.tables) if given.tables else open_logged(given.log.where)
