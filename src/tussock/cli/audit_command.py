"""``tussock audit``: the options as typer reads them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.options import Format

Option = typer.Option


def audit(
    *,
    logbook: Annotated[
        str | None,
        Option(metavar="FILE|URL", help="The logbook; default logbook.db, or tussock.toml. Or tables."),
    ] = None,
    captures: Annotated[Path | None, Option(metavar="FILE", help="Table of captures (CSV, XLSX).")] = None,
    releases: Annotated[Path | None, Option(metavar="FILE", help="Table of how each holding ended.")] = None,
    callouts: Annotated[Path | None, Option(metavar="FILE", help="Table of callouts.")] = None,
    permit: Annotated[
        list[Path] | None, Option(metavar="FILE", help="Permit file; several are audited one by one.")
    ] = None,
    region: Annotated[
        Path | None,
        Option(metavar="DIR", help="Folder of the region; without it what asks for ground is missing."),
    ] = None,
    consents: Annotated[Path | None, Option(metavar="FILE", help="Consent register.")] = None,
    checks: Annotated[Path | None, Option(metavar="FILE", help="When held animals were looked at.")] = None,
    incidents: Annotated[Path | None, Option(metavar="FILE", help="Bites, escapes, deaths.")] = None,
    containers: Annotated[Path | None, Option(metavar="FILE", help="When containers were cleaned.")] = None,
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
            help="Write NAME.html (prints on A4), NAME-map.html, NAME.csv, .xlsx, .geojson, "
            "NAME-clauses.csv and .parquet.",
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
