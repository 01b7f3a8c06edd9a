"""Pieces of the hotspots' page: sentences as a list, tables that stack, what folds on a phone, reruns."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from tussock.hotspots.found import Hotspots, Rerun
from tussock.maps.hotspots_svg import finding_mark
from tussock.maps.words import grouped

MOST_ROWS = 12
"""Rows of a table; all of them are in the files beside the page."""
Row = tuple[str, ...]
"""Cells of a table's row, already HTML."""


def bullets(lines: Sequence[str]) -> str:
    """Return sentences as a list; empty with none. They are plain text."""
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<ul>{items}</ul>" if items else ""


def table(head: Row, rows: Sequence[Row]) -> str:
    """Return a table that stacks on a phone; ``head`` is plain text, cells are HTML."""
    heads = "".join(f'<th scope="col">{escape(h)}</th>' for h in head)
    body = "".join(_tr(head, row) for row in rows[:MOST_ROWS])
    left = len(rows) - MOST_ROWS
    more = f'<p class="note">{grouped(left)} more in the files beside this page.</p>' if left > 0 else ""
    return f'<table class="stack"><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>{more}'


def _tr(head: Row, row: Row) -> str:
    labels = [escape(h) for h in head]
    first = f'<th scope="row" data-label="{labels[0]}"><div>{row[0]}</div></th>'
    rest = "".join(
        f'<td data-label="{h}"><div>{cell}</div></td>' for h, cell in zip(labels[1:], row[1:], strict=True)
    )
    return f"<tr>{first}{rest}</tr>"


def fold(summary: str, inner: str) -> str:
    """Return a part that the page's script folds on a phone and opens in print; empty without content.

    It is open in the file itself, so that nothing is hidden where no script runs. ``summary`` is plain text.
    """
    if not inner:
        return ""
    return f'<details class="fold" open><summary>{escape(summary)}</summary>{inner}</details>'


def reruns(found: Hotspots, what: str) -> str:
    """Return whether the finding stands one step finer and coarser; empty where that was not asked."""
    lines = [_rerun(r) for r in found.reruns if r.what == what]
    return f'<ul class="reruns">{"".join(lines)}</ul>' if lines else ""


def _rerun(one: Rerun) -> str:
    if one.stands is None:
        mark = finding_mark("open", "not rerun")
    else:
        mark = finding_mark("full", "stands") if one.stands else finding_mark("cross", "does not stand")
    return f"<li>{mark} one step {escape(one.step)} ({escape(one.size)}): {escape(one.found)}</li>"
