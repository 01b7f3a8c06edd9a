"""``tussock return``: the options, and the return printed and written."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tussock.errors import InputError

if TYPE_CHECKING:
    from tussock.records.returns import Return

Option = typer.Option


def file_return(
    *,
    captures: Annotated[Path, Option(metavar="FILE.csv", help="Table of captures.")],
    releases: Annotated[Path, Option(metavar="FILE.csv", help="Table of how each holding ended.")],
    permit: Annotated[Path, Option(metavar="FILE", help="Permit file.")],
    period_end: Annotated[
        str, Option("--period-end", metavar="DATE", help="Last day of the year that is reported.")
    ],
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
    out: Annotated[
        Path | None, Option(metavar="NAME", help="Write NAME.csv (counts) and NAME-lines.csv.")
    ] = None,
    force: Annotated[bool, Option("--force", help="Replace files that Tussock did not write.")] = False,
) -> int:
    """Count what became of every animal in a period, for the return that a permit asks for.

    Held at start + captured = released + vet or carer + authority + euthanased + died + escaped + held at
    the end.
    """
    from tussock.cli import show
    from tussock.cli.job import written
    from tussock.clock import local_date, parse_date, parse_instant
    from tussock.files import Outbox
    from tussock.permit.permit_file import read_permit
    from tussock.records.book import read_book
    from tussock.records.entries import CAPTURE, DISPOSAL
    from tussock.records.return_tables import counts_csv, gaps_csv, lines_csv, read_columns
    from tussock.records.return_periods import period_ending
    from tussock.records.returns import return_for
    from tussock.records.source import open_book
    from tussock.species.profiles import load_profiles

    asked, form = read_permit(permit), read_columns(columns)
    period = period_ending(asked, parse_date(period_end, where="--period-end"))
    entries = open_book({CAPTURE: captures, DISPOSAL: releases}).entries
    clock = parse_instant(now, where="--now") if now is not None else datetime.now(UTC)
    book = read_book(entries, species=load_profiles(profiles), now=clock)
    today = local_date(clock, asked.zone)
    found = return_for(book.kept, asked, period, today=today, remarks=book.remarks)
    if found.gaps and not incomplete:
        raise InputError(
            f"the return has gaps ({len(found.gaps)}): {' '.join(found.gaps)[:1500]}",
            where=f"{captures.name}, {releases.name}",
            allowed="a book in which every animal of the period has its outcome",
            fix="complete the records, or print it as it is with --incomplete",
        )
    inputs = [p for p in (captures, releases, permit, columns, profiles) if p is not None]
    with Outbox(_is_ours, force=force, inputs=inputs) as outbox:
        files = {".csv": counts_csv(found), "-lines.csv": lines_csv(found, form)}
        files |= {"-incomplete.csv": gaps_csv(found)} if found.gaps else {}
        if out is not None:
            name = out.name.removesuffix(".csv")
            targets = {out.with_name(name + end): text for end, text in files.items()}
            outbox.check(targets)
            for target, text in targets.items():
                outbox.stage(target, text)
        paths = outbox.send()
    show.data("\n".join(_lines(found)))
    written(paths)
    return int(bool(found.gaps))


def _lines(found: Return) -> Iterator[str]:
    """Yield the return as printed."""
    from tussock.records.returns import COLUMNS

    period, permit = found.period, found.permit
    due = f", due {period.due}" if period.due else ""
    mark = "INCOMPLETE: " if found.gaps else ""
    yield f"{mark}Return of {permit.holder}, {permit.id}, to {permit.authority}"
    yield f"{period.first} to {period.last}{due}"
    for gap in found.gaps:
        yield f"  not known: {gap}"
    if found.nil:
        yield "Nil return: no animal was held or taken in this period."
        return
    for name, row in (*found.counts.items(), ("All species", found.total)):
        said = ", ".join(f"{c.replace('_', ' ')} {row[c]}" for c in COLUMNS if row[c])
        yield f"{name}: {said}."
    total = found.total
    before = total[COLUMNS[0]] + total[COLUMNS[1]]
    after = sum(total[c] for c in COLUMNS[2:])
    yield f"{before} animals in, {after} accounted for, {len(found.lines)} lines."


def _is_ours(path: Path) -> bool:
    from tussock.records.return_tables import COUNTS_HEAD, INCOMPLETE

    try:
        head = path.read_bytes()[:4000].decode("utf-8", "replace")
    except OSError:
        return False
    return head.startswith((COUNTS_HEAD, INCOMPLETE, "captureID,captured on,"))
