"""``tussock log``: the book of what happened; the options as typer reads them."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="The logbook: what happened, with every earlier state kept.",
)
KINDS = "callout, capture, disposal, check, consent, incident or container."
_Kind = Annotated[str, typer.Argument(metavar="KIND", help=KINDS)]
_Name = Annotated[str, typer.Argument(metavar="ID", help="Its id.")]
_Logbook = Annotated[
    str | None,
    typer.Option("--logbook", metavar="FILE|URL", help="The logbook; default logbook.db, or tussock.toml."),
]
_By = Annotated[
    str | None, typer.Option("--by", metavar="NAME", help="Who writes; or [defaults] by in tussock.toml.")
]
_Now = Annotated[str | None, typer.Option("--now", metavar="ISO", help="Replaces the clock; with offset.")]
_Set = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="COLUMN=VALUE", help="A cell; may be given several times."),
]
_Profiles = Annotated[
    Path | None,
    typer.Option("--profiles", metavar="FILE.toml", help="Species profiles of your own (TOML)."),
]
_Force = Annotated[bool, typer.Option("--force", help="Replace files that Tussock did not write.")]


class ExportFormat(StrEnum):
    """What is written."""

    CSV = "csv"
    XLSX = "xlsx"
    GPKG = "gpkg"
    GEOJSON = "geojson"
    DWCA = "dwca"


@app.command("add")
def add(
    kind: _Kind,
    *,
    cells: _Set = None,
    check: Annotated[
        Path | None,
        typer.Option("--from", metavar="FILE", help="A check at the spot, where the release was made."),
    ] = None,
    by: _By = None,
    logbook: _Logbook = None,
    profiles: _Profiles = None,
    now: _Now = None,
) -> int:
    """Log one entry. What is there just so stays as it is; what is there otherwise is amended instead."""
    from tussock.cli.log_entry import run_add
    from tussock.cli.log_job import LogOptions

    return run_add(LogOptions(logbook, by, now, profiles), kind, cells or (), check=check)


@app.command("amend")
def amend(
    kind: _Kind,
    name: _Name,
    *,
    cells: _Set = None,
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="Why it is amended; needed.")] = "",
    by: _By = None,
    logbook: _Logbook = None,
    profiles: _Profiles = None,
    now: _Now = None,
) -> int:
    """Correct an entry; its earlier state is kept, with who, when and why. An empty value empties a cell."""
    from tussock.cli.log_entry import run_amend
    from tussock.cli.log_job import LogOptions

    return run_amend(LogOptions(logbook, by, now, profiles), (kind, name), cells or (), why=why)


@app.command("show")
def show(
    kind: Annotated[
        str | None, typer.Argument(metavar="KIND", help=f"{KINDS} Or return: those that were filed.")
    ] = None,
    name: Annotated[str | None, typer.Argument(metavar="ID", help="Its id.")] = None,
    *,
    logbook: _Logbook = None,
) -> int:
    """Print how many entries there are, those of a kind, or one with what belongs to it."""
    from tussock.cli.log_job import LogOptions
    from tussock.cli.log_show import run_show

    return run_show(LogOptions(logbook), kind, name)


@app.command("history")
def history(kind: _Kind, name: _Name, *, logbook: _Logbook = None) -> int:
    """Print every state an entry had: when, by whom, why, and what changed."""
    from tussock.cli.log_job import LogOptions
    from tussock.cli.log_show import run_history

    return run_history(LogOptions(logbook), kind, name)


@app.command("import")
def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A table: CSV in UTF-8, or XLSX.")],
    *,
    kind: Annotated[
        str | None, typer.Option(metavar="KIND", help="Kind of its entries; default as its columns tell.")
    ] = None,
    keep_good: Annotated[
        bool, typer.Option("--keep-good", help="Take the good rows; the refused go to NAME-refused.csv.")
    ] = False,
    own_columns: Annotated[
        bool,
        typer.Option("--own-columns", help="Keep columns that are nearly known ones, as your own."),
    ] = False,
    by: _By = None,
    logbook: _Logbook = None,
    profiles: _Profiles = None,
    now: _Now = None,
    force: _Force = False,
) -> int:
    """Import a table: all of it or nothing, with each refused row and why. Twice is once.

    Exit codes: 0 all rows are in; 1 with --keep-good, some were refused; 3 nothing was written.
    """
    from tussock.cli.log_import import run_import
    from tussock.cli.log_job import LogOptions

    options = LogOptions(logbook, by, now, profiles)
    return run_import(options, file, kind=kind, keep_good=keep_good, own_columns=own_columns, force=force)


@app.command("export")
def export(
    *,
    kind: Annotated[
        str | None, typer.Option(metavar="KIND", help=f"{KINDS} An archive (dwca) holds captures.")
    ] = None,
    output: Annotated[ExportFormat, typer.Option("--format", help="What is written.")] = ExportFormat.CSV,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Where; CSV and GeoJSON default to stdout.")
    ] = None,
    photos: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write copies of their photos there, pixels alone: no location."),
    ] = None,
    permit: Annotated[
        Path | None, typer.Option(metavar="FILE", help="dwca: whose book it is; or that of tussock.toml.")
    ] = None,
    sensitivity: Annotated[
        Path | None,
        typer.Option(metavar="FILE.toml", help="dwca: how coarsely each species' places are given away."),
    ] = None,
    licence: Annotated[
        str | None, typer.Option(metavar="TEXT", help="dwca: under what it may be used.")
    ] = None,
    title: Annotated[str | None, typer.Option(metavar="TEXT", help="dwca: name of the dataset.")] = None,
    country: Annotated[str | None, typer.Option(metavar="CC", help="dwca: country, ISO 3166.")] = None,
    logbook: _Logbook = None,
    profiles: _Profiles = None,
    now: _Now = None,
    force: _Force = False,
) -> int:
    """Export the entries of a kind as they stand. Residents' details, and folders of photos, stay here."""
    from tussock.cli.log_archive import ArchiveOptions
    from tussock.cli.log_export import Export, run_export
    from tussock.cli.log_job import LogOptions

    about = ArchiveOptions(permit, sensitivity, licence, title, country)
    asked = Export(kind, output.value, out, photos, about, force=force)
    return run_export(LogOptions(logbook, None, now, profiles), asked)


@app.command("photo")
def photo(
    kind: _Kind,
    name: _Name,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The photo; it stays where it is.")],
    *,
    by: _By = None,
    logbook: _Logbook = None,
    now: _Now = None,
) -> int:
    """Attach a photo to an entry: where it is, and the SHA-256 by which it is known again."""
    from tussock.cli.log_job import LogOptions
    from tussock.cli.log_photos import run_photo

    return run_photo(LogOptions(logbook, by, now), (kind, name), file)


@app.command("photos")
def photos(
    *,
    among: Annotated[
        list[Path] | None,
        typer.Option("--in", metavar="DIR", help="Look there too; may be given several times."),
    ] = None,
    logbook: _Logbook = None,
) -> int:
    """List what is attached, and say of each file whether it is there, changed or missing.

    Exit 1 when any is changed or missing.
    """
    from tussock.cli.log_job import LogOptions
    from tussock.cli.log_photos import run_photos

    return run_photos(LogOptions(logbook), among or ())


@app.command("take")
def take(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="NAME-check-N.json of tussock check.")],
    *,
    capture: Annotated[
        str | None, typer.Option(metavar="ID", help="The capture, where its plan was made without one.")
    ] = None,
    by: _By = None,
    logbook: _Logbook = None,
    profiles: _Profiles = None,
    now: _Now = None,
) -> int:
    """Log a check at the spot from its file; the file and its photo are attached, as log photo does."""
    from tussock.cli.log_job import LogOptions
    from tussock.cli.log_take import run_take

    return run_take(LogOptions(logbook, by, now, profiles), file, capture_id=capture or "")
