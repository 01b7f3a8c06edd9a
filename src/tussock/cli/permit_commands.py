"""``tussock permit``: lay a permit file beside the paper, or write one by answering questions."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from tussock.permit.permit_file import Permit
    from tussock.permit.plain.words import PermitWords

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="The permit file, clause by clause.")


class PermitFormat(StrEnum):
    """What is printed on stdout."""

    TABLE = "table"
    JSON = "json"


@app.command("check")
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The permit file.")],
    *,
    region: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Also say what this region holds of each layer.")
    ] = None,
    output: Annotated[
        PermitFormat, typer.Option("--format", help="What is printed on stdout.")
    ] = PermitFormat.TABLE,
) -> int:
    """Print a permit in plain words, to be compared with the paper clause by clause.

    Exit codes: 0 nothing stands out; 1 something needs a second look; 3 the file cannot be used.
    """
    from tussock.permit.permit_file import read_permit

    return show(read_permit(file), file=file, region=region, output=output)


@app.command("new")
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The file to write, or to add to.")] = Path(
        "permit.toml"
    ),
    *,
    force: Annotated[
        bool, typer.Option("--force", help="Add to a permit, or replace a file, that Tussock did not write.")
    ] = False,
) -> int:
    """Write a permit file by answering questions about the paper, clause by clause.

    Exit codes: 0 written and nothing stands out; 1 something needs a second look, or the answers ended;
    2 there is no terminal to ask on; 130 interrupted. Finished clauses are written in any case.
    """
    from tussock.cli.permit_new import new_permit

    permit, code = new_permit(file, force=force)
    if permit is None:
        return code
    return max(code, show(permit, file=file))


def show(
    permit: Permit,
    *,
    file: Path,
    region: Path | None = None,
    output: PermitFormat = PermitFormat.TABLE,
) -> int:
    """Print a permit as read from a file; return 1 where something needs a second look."""
    from tussock.cli import show as printed
    from tussock.cli.permit_show import text_of, width
    from tussock.cli.printable import printable

    words = _words(permit, region)
    if output is PermitFormat.JSON:
        printed.data(_json(words, file))
    else:
        printed.data(printable(text_of(words, columns=width())))
    printed.cautions()
    return 1 if words.warnings else 0


def _words(permit: Permit, region: Path | None) -> PermitWords:
    from tussock.permit.plain.words import in_words

    if region is None:
        return in_words(permit)
    from tussock.cli.permit_region import held_region

    return in_words(permit, region=held_region(region, permit))


def _json(words: PermitWords, file: Path) -> str:
    import hashlib
    import json

    from tussock import __version__
    from tussock.permit.plain.as_data import as_data

    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    made = {"software": f"Tussock {__version__}", "sha256": digest, **as_data(words)}
    return json.dumps(made, ensure_ascii=False, indent=2)
