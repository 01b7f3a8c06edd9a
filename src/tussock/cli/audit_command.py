"""``tussock audit``: the options as typer reads them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.options import Format

Option = typer.Option


def audit(
    *,
    captures: Annotated[Path, Option(metavar="FILE.csv", help="Table of captures.")],
    releases: Annotated[Path, Option(metavar="FILE.csv", help="Table of how each holding ended.")],
    permit: Annotated[
        list[Path] | None, Option(metavar="FILE", help="Permit file; several are audited one by one.")
    ] = None,
    region: Annotated[
        Path | None,
        Option(metavar="DIR", help="Folder of the region; without it what asks for ground is missing."),
    ] = None,
    consents: Annotated[Path | None, Option(metavar="FILE.csv", help="Consent register.")] = None,
    checks: Annotated[
        Path | None, Option(metavar="FILE.csv", help="When held animals were looked at.")
    ] = None,
    incidents: Annotated[Path | None, Option(metavar="FILE.csv", help="Bites, escapes, deaths.")] = None,
    containers: Annotated[
        Path | None, Option(metavar="FILE.csv", help="When containers were cleaned.")
    ] = None,
    profiles: Annotated[
        Path | None, Option(metavar="FILE.toml", help="Species profiles of your own (TOML).")
    ] = None,
    under: Annotated[
        str | None,
        Option(
            metavar="VERSION|FILE",
            help="Judge all under one version, or under the only version of another permit file.",
        ),
    ] = None,
    now: Annotated[str | None, Option(metavar="ISO", help="Replaces the clock; with offset.")] = None,
    out: Annotated[
        Path | None,
        Option(
            metavar="NAME",
            help="Write NAME.csv, .xlsx, .geojson (a row a record), NAME-clauses.csv and .parquet.",
        ),
    ] = None,
    output: Annotated[Format, Option("--format", help="What is printed on stdout.")] = Format.TABLE,
    force: Annotated[bool, Option("--force", help="Replace files that Tussock did not write.")] = False,
) -> int:
    """Hold past captures and releases against the permit in force on their days, clause by clause.

    Arithmetic over what is mapped and recorded, not a legal finding. Exit 1 when something needs explaining.
    """
    given = locals()
    from tussock.cli.audit_job import AuditOptions, run_audit

    return run_audit(AuditOptions(**{**given, "permit": tuple(permit or ())}))
