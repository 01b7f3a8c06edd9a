"""``tussock demo``: the whole job on the invented district."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def demo(
    data: Annotated[Path, typer.Option(metavar="DIR", help="Folder of the invented district.")] = Path(
        "data-demo"
    ),
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder to write into.")] = Path("maps"),
    force: Annotated[bool, typer.Option("--force", help="Replace files that Tussock did not write.")] = False,
) -> int:
    """Do the whole job on the invented district, saying what happens at each step."""
    from tussock import demo as job
    from tussock.cli import show
    from tussock.cli.printable import printable

    def say(text: str) -> None:
        show.data(printable(text))

    show.cautions()
    job.run(data, out=out, force=force, say=say, show=show.answer)
    return 0
