"""``tussock return``: the options as typer reads them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.options import Format

Option = typer.Option


def file_return(
    *,
    logbook: Annotated[
        str | None,
        Option(metavar="FILE|URL", help="The logbook; default logbook.db, or tussock.toml. Or two tables."),
    ] = None,
    captures: Annotated[Path | None, Option(metavar="FILE.csv", help="Table of captures.")] = None,
    releases: Annotated[
        Path | None, Option(metavar="FILE.csv", help="Table of how each holding ended.")
    ] = None,
    permit: Annotated[
        Path | None, Option(metavar="FILE", help="Permit file; default the one of tussock.toml.")
    ] = None,
    period_end: Annotated[
        str | None,
        Option("--period-end", metavar="DATE", help="Last day of the period; default the last that is over."),
    ] = None,
    columns: Annotated[
        Path | None, Option(metavar="FILE.toml", help="Columns of the lines, to match your authority's form.")
    ] = None,
    profiles: Annotated[
        Path | None, Option(metavar="FILE.toml", help="Species profiles of your own (TOML).")
    ] = None,
    now: Annotated[str | None, Option(metavar="ISO", help="Replaces the clock; with offset.")] = None,
    incomplete: Annotated[
        bool, Option("--incomplete", help="Print it with gaps, marked INCOMPLETE.")
    ] = False,
    file: Annotated[
        bool, Option("--file", help="Keep it in the logbook as filed; what changes later is shown beside it.")
    ] = False,
    by: Annotated[
        str | None, Option(metavar="NAME", help="Who files; or [defaults] by in tussock.toml.")
    ] = None,
    out: Annotated[
        Path | None, Option(metavar="NAME", help="Write NAME.csv (counts), NAME-lines.csv and NAME.xlsx.")
    ] = None,
    output: Annotated[Format, Option("--format", help="What is printed on stdout.")] = Format.TABLE,
    force: Annotated[bool, Option("--force", help="Replace files that Tussock did not write.")] = False,
) -> int:
    """Count what became of every animal in a period, for the return that a permit asks for.

    Held at start + captured = released + vet or carer + authority + euthanased + died + escaped + held at
    the end. Exit 1 when it is INCOMPLETE, or when the book has changed since it was filed.
    """
    given = locals()
    from tussock.cli.return_job import ReturnOptions, run_return

    return run_return(ReturnOptions(**given))
