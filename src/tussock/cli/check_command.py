"""``tussock check``: the options as typer reads them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.check_options import CheckFormat

Option = typer.Option


def check(
    *,
    plan: Annotated[Path | None, Option(metavar="NAME.json", help="The plan's decision record.")] = None,
    site: Annotated[int | None, Option(metavar="N", help="Number of the site in the plan.")] = None,
    at: Annotated[
        str | None, Option(metavar="LAT,LON", help="Where you stand, decimal degrees, from your device.")
    ] = None,
    uncertainty: Annotated[
        float | None, Option(metavar="M", help="Radius that your device shows, in metres.")
    ] = None,
    now: Annotated[str | None, Option(metavar="ISO", help="Replaces the clock.")] = None,
    answer: Annotated[
        list[str] | None,
        Option(metavar="KEY=ANSWER", help="yes, no or unclear to a question; give it once for each (below)."),
    ] = None,
    why: Annotated[str | None, Option(metavar="TEXT", help="Why a question was answered with no.")] = None,
    photo: Annotated[Path | None, Option(metavar="FILE", help="Photo of the spot.")] = None,
    temperature: Annotated[float | None, Option(metavar="C", help="Air temperature in °C.")] = None,
    region: Annotated[Path | None, Option(metavar="DIR", help="Folder of the region.")] = None,
    permit: Annotated[
        list[Path] | None, Option(metavar="FILE", help="Permit file; may be given several times.")
    ] = None,
    consents: Annotated[Path | None, Option(metavar="FILE.csv", help="Consent register (CSV).")] = None,
    releases: Annotated[
        Path | None, Option(metavar="FILE.csv", help="Table of earlier releases (CSV).")
    ] = None,
    logbook: Annotated[
        str | None,
        Option(metavar="FILE|URL", help="Logbook, in place of the tables of consents and releases."),
    ] = None,
    by: Annotated[
        str | None,
        Option(metavar="NAME", help="Log the check in that logbook, written by you; without it, it is not."),
    ] = None,
    profiles: Annotated[
        Path | None, Option(metavar="FILE.toml", help="Species profiles of your own (TOML).")
    ] = None,
    out: Annotated[
        Path | None,
        Option(metavar="FILE", help="The file to write; default NAME-check-N.json beside the plan."),
    ] = None,
    output: Annotated[CheckFormat, Option("--format", help="What is printed on stdout.")] = CheckFormat.TABLE,
    force: Annotated[bool, Option("--force", help="Replace the file that --out names.")] = False,
) -> int:
    """Check a planned site on the spot: every clause again where you stand, now, and what no map shows.

    Questions that --answer leaves open are asked on a terminal; in a script that is exit 2. Their keys:

    refuge: a log, burrow, crevice, dense grass or deep litter within 5 m.

    ground: shaded, neither hot nor cold to the hand.

    quiet: clear of people, dogs, stock, vehicles, works, fire, flood, signs of baiting.

    map: no building or yard is missing from it.

    property: the right one, and its consent stands.

    animal: alert and moving normally.

    way_back: clear.

    A clause that a person answers has its own number for a key, such as "8(b)=yes".

    A yes is always the good news. Exit codes: 0 all met and every answer yes; 1 rejected, uncertain or
    missing; 2 usage; 3 bad input. Region, permits, consents, releases and profiles default to tussock.toml;
    a logbook is read, and written in, only where it is named here.
    """
    given = locals()
    from tussock.cli.check_job import run_check
    from tussock.cli.check_options import CheckOptions

    lists = {"permit": tuple(permit or ()), "answer": tuple(answer or ())}
    return run_check(CheckOptions(**{**given, **lists}))
