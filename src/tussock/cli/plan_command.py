"""``tussock plan``: the options as typer reads them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.options import Format, PlanOptions

Option = typer.Option
ONE, MANY, ANIMAL, FILES, OUTPUT = "One capture", "Many captures", "The animal", "Files", "Output"


def plan(
    *,
    region: Annotated[
        Path | None, Option(metavar="DIR", help="Folder of the region (holds region.toml).")
    ] = None,
    permit: Annotated[
        list[Path] | None, Option(metavar="FILE", help="Permit file; may be given several times.")
    ] = None,
    at: Annotated[str | None, Option(metavar="LAT,LON", help="Place of capture, decimal degrees.")] = None,
    uncertainty: Annotated[
        float | None, Option(metavar="M", help="Radius of that place in metres; needed with --at.")
    ] = None,
    captures: Annotated[
        Path | None,
        Option(metavar="FILE.csv", help="Table of captures (CSV) to plan for, one after the other."),
    ] = None,
    logbook: Annotated[
        str | None,
        Option(
            metavar="FILE|URL",
            help="Logbook: its releases and consents count, those of logbook.db or tussock.toml without "
            "being named; without --at or --captures, planned for every capture still held.",
        ),
    ] = None,
    capture: Annotated[
        list[str] | None,
        Option(metavar="ID", help="Plan for this capture of the logbook; may be given several times."),
    ] = None,
    species: Annotated[str | None, Option(metavar="NAME", help="Scientific or vernacular name.")] = None,
    others: Annotated[
        list[str] | None,
        Option(
            "--or",
            metavar="NAME",
            help="Another species it may be, with --identification probable; may be given several times.",
        ),
    ] = None,
    identification: Annotated[
        str | None, Option(metavar="ANSWER", help="certain, probable or unknown.")
    ] = None,
    origin: Annotated[
        str | None,
        Option(metavar="ANSWER", help="wild_local, possible_escapee, brought_in, exotic or unknown."),
    ] = None,
    condition: Annotated[str | None, Option(metavar="ANSWER", help="fit, injured, sick or dead.")] = None,
    life_stage: Annotated[
        str | None, Option(metavar="ANSWER", help="egg, neonate, juvenile, subadult, adult or unknown.")
    ] = None,
    gravid: Annotated[str | None, Option(metavar="ANSWER", help="yes, no or unknown.")] = None,
    count: Annotated[str | None, Option(metavar="N", help="How many animals were taken together.")] = None,
    found_in: Annotated[
        str | None,
        Option(metavar="ANSWER", help="building, yard, road, water, trap_or_netting, vehicle or other."),
    ] = None,
    time: Annotated[
        str | None, Option(metavar="ISO", help="Instant of capture, with offset; default now.")
    ] = None,
    trap_checked: Annotated[
        str | None,
        Option(metavar="ISO", help="When the trap was checked, with offset; only if there was one."),
    ] = None,
    release_at: Annotated[
        str | None,
        Option(
            metavar="ISO",
            help="Planned release, with offset; default as soon as a site can be reached.",
        ),
    ] = None,
    now: Annotated[
        str | None,
        Option(metavar="ISO", help="Replaces the clock (a table: default each capture's own time)."),
    ] = None,
    capture_id: Annotated[str | None, Option(metavar="ID", help="Your own number of the capture.")] = None,
    releases: Annotated[
        Path | None, Option(metavar="FILE.csv", help="Table of earlier releases (CSV).")
    ] = None,
    consents: Annotated[Path | None, Option(metavar="FILE.csv", help="Consent register (CSV).")] = None,
    holders: Annotated[
        Path | None,
        Option(
            metavar="FILE.csv",
            help="Whom to call about which parcel (CSV); printed on the terminal only, never written.",
        ),
    ] = None,
    profiles: Annotated[
        Path | None, Option(metavar="FILE.toml", help="Species profiles of your own (TOML).")
    ] = None,
    weights: Annotated[Path | None, Option(metavar="FILE.toml", help="Weights of your own (TOML).")] = None,
    top: Annotated[int | None, Option(metavar="N", help="How many sites at most; default 5.")] = None,
    out: Annotated[
        Path | None,
        Option(
            metavar="NAME",
            help="Write NAME.html, .geojson, .gpx and .json (a table: NAME-captureID.* and NAME.csv).",
        ),
    ] = None,
    output: Annotated[Format, Option("--format", help="What is printed on stdout.")] = Format.TABLE,
    share: Annotated[
        bool, Option("--share", help="Leave out positions, ids and names, to pass it on.")
    ] = False,
    force: Annotated[bool, Option("--force", help="Replace files that Tussock did not write.")] = False,
) -> int:
    """Plan release sites for one capture, for a table of captures, or for those held by the logbook.

    Questions about the animal that no option answers are asked on a terminal; in a script that is exit 2.
    Defaults come from tussock.toml in the working folder.
    """
    given = locals()
    from tussock.cli.job import run_plan

    many = {
        "permit": tuple(permit or ()),
        "others": tuple(others or ()),
        "capture": tuple(dict.fromkeys(capture or ())),
    }
    return run_plan(PlanOptions(**{**given, **many}))
