"""``tussock hotspots``: the options as typer reads them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.options import Format

Option = typer.Option


def hotspots(
    *,
    observed: Annotated[
        str, Option(metavar="DATE..DATE", help="The time observed, both days included, as you know it.")
    ],
    logbook: Annotated[
        str | None,
        Option(metavar="FILE|URL", help="The logbook; default logbook.db, or tussock.toml. Or tables."),
    ] = None,
    callouts: Annotated[Path | None, Option(metavar="FILE", help="Table of callouts (CSV, XLSX).")] = None,
    captures: Annotated[
        Path | None, Option(metavar="FILE", help="Table of captures: species, and what was taken where.")
    ] = None,
    releases: Annotated[
        Path | None, Option(metavar="FILE", help="Table of releases: whether calls follow them.")
    ] = None,
    region: Annotated[Path | None, Option(metavar="DIR", help="Folder of the region.")] = None,
    timezone: Annotated[
        str | None, Option(metavar="ZONE", help="Such as Australia/Hobart; default that of the permit.")
    ] = None,
    base: Annotated[str | None, Option(metavar="LAT,LON", help="Where you start from.")] = None,
    standby: Annotated[int, Option(metavar="K", min=0, max=6, help="Find K points to stand by at.")] = 0,
    units: Annotated[
        str | None,
        Option(metavar="FILE[:LAYER]", help="Your own areas to count in, polygons; default hexagons."),
    ] = None,
    units_name: Annotated[
        str | None, Option(metavar="FIELD", help="Field of --units with their names; default name.")
    ] = None,
    surface: Annotated[
        bool, Option("--surface", help="Draw the surface of relative risk too, with its envelope.")
    ] = False,
    replicates: Annotated[
        int, Option(metavar="R", min=99, max=9999, help="Maps made up at random for each test.")
    ] = 999,
    seed: Annotated[int, Option(metavar="N", min=0, help="Of all that is made up at random.")] = 1,
    public: Annotated[
        int | None,
        Option(metavar="YEAR", help="Write only the figures that can be published, of seasons from YEAR on."),
    ] = None,
    now: Annotated[str | None, Option(metavar="ISO", help="Replaces the clock; with offset.")] = None,
    out: Annotated[
        Path | None,
        Option(metavar="NAME", help="Write NAME.html, the page, and tables and places beside it."),
    ] = None,
    output: Annotated[Format, Option("--format", help="What is printed on stdout.")] = Format.TABLE,
    force: Annotated[bool, Option("--force", help="Replace files that Tussock did not write.")] = False,
) -> int:
    """Show where, when and for which species calls cluster, per dwelling, and what the calls cannot say.

    Calls to this logbook, not snakes. Needs the packages of the extra: pip install 'tussock[hotspots]'.
    """
    given = locals()
    from tussock.cli.hotspots_job import run_hotspots
    from tussock.cli.hotspots_options import HotspotsOptions

    return run_hotspots(HotspotsOptions(**given))
