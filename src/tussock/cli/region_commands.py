"""``tussock region``: check a region, build one from OpenStreetMap, settle how its figures are published."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Ground data of a district.")


class By(StrEnum):
    """What published figures are given for."""

    UNIT = "unit"
    SEASON = "season"


@app.command("check")
def check(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder that holds region.toml.")],
) -> int:
    """Read every layer of a region; print what was repaired, and every fault at once (exit 3)."""
    from tussock.cli import show
    from tussock.cli.printable import printable
    from tussock.ground.region import open_region

    region = open_region(folder)
    notes = region.check()
    lines = [f"{region.file.name}: {len(region.file.layers)} layers read", *(f"  - {n}" for n in notes)]
    show.data(printable("\n".join(lines)))
    return 0


@app.command("from-osm")
def from_osm(
    extract: Annotated[Path, typer.Argument(metavar="FILE.osm.pbf", help="The extract.")],
    *,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder to write.")],
    extent: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Polygons inside which the extract is complete.")
    ] = None,
    as_of: Annotated[
        str | None, typer.Option(metavar="DATE", help="Date of the data, such as 2026-03-01.")
    ] = None,
    country: Annotated[
        str | None, typer.Option(metavar="CC", help="Country code (ISO 3166), such as AU.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over what Tussock did not write.")] = False,
) -> int:
    """Build a region from an OpenStreetMap extract."""
    from tussock.cli import show
    from tussock.cli.printable import printable
    from tussock.clock import parse_date
    from tussock.ground.osm import region_from_osm

    day = None if as_of is None else parse_date(as_of, where="--as-of")
    report = region_from_osm(extract, out=out, extent=extent, as_of=day, country=country, force=force)
    show.data(printable("\n".join(report.lines())))
    return 0


@app.command("units")
def units(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder that holds region.toml.")],
    *,
    by: Annotated[By, typer.Option(help="What each published figure is of, for ever.")],
    season_starts: Annotated[
        int,
        typer.Option(metavar="MONTH", min=1, max=12, help="Month that a season begins with: the quiet one."),
    ],
    first_season: Annotated[
        int, typer.Option(metavar="YEAR", help="Year in which the first season begins that is published.")
    ],
    seasons: Annotated[
        int, typer.Option(metavar="N", min=1, max=20, help="Seasons in one file; 2 or more by unit.")
    ] = 3,
    timezone: Annotated[
        str | None,
        typer.Option(metavar="ZONE", help="Such as Australia/Hobart; default that of the permit."),
    ] = None,
    least: Annotated[
        int, typer.Option(metavar="N", help="Dwellings in each unit at least, 100 or more.")
    ] = 500,
) -> int:
    """Settle, once and for ever, by which units and seasons figures of this region are published.

    The units are made from the dwellings alone and stored beside the region; 'tussock hotspots --public'
    makes the figures.
    """
    from tussock.cli.region_units import UnitsOptions, run_units

    return run_units(
        UnitsOptions(
            folder=folder,
            by=by.value,
            season_starts=season_starts,
            first_season=first_season,
            seasons=seasons,
            timezone=timezone,
            least=least,
        )
    )
