"""A plan on the terminal: the answer on stdout, everything that is talk on stderr."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable, Sequence
from typing import IO

from tussock.cli.failures import piped, say
from tussock.cli.printable import printable
from tussock.maps.cautions import CAUTIONS
from tussock.maps.consent_block import HEAD, facts_words, ground_words, letter
from tussock.maps.hours import clock, held_words, leave_words, sun_words
from tussock.maps.no_site import obstacle_words, whole_circle
from tussock.maps.several import told_apart
from tussock.maps.share import shareable
from tussock.maps.tally import tally
from tussock.maps.words import clause_name, compass, hectares, metres, position_words, sentence
from tussock.permit.holders import Holders
from tussock.planning.record import Plan, Removed, Site

WIDE = 280
"""Width of tables that no terminal shows [characters]: nothing is broken or cut."""
COLUMNS = (
    "site",
    "latitude, longitude",
    "release",
    "leave by",
    "from capture",
    "nearest home",
    "road",
    "habitat",
    "cover",
    "clauses",
)
LOUD_STARTS = ("NO PROFILE", "Identification probable")
"""How warnings begin that are said before the sites."""
_LOUD = "\x1b[1;97;41m", "\x1b[0m"


def data(text: str) -> None:
    """Print data on stdout."""
    with piped():
        sys.stdout.write(text if text.endswith("\n") else text + "\n")
        sys.stdout.flush()


def cautions() -> None:
    """Print the cautions on stderr."""
    say(" ".join(CAUTIONS))


def stop(plan: Plan, *, share: bool = False) -> None:
    """Print the STOP lines on stderr, loudly; a species without a profile beside them, before any site."""
    shown = shareable(plan) if share else plan
    for words in shown.stop:
        loud(f"STOP. {sentence(words)}")
    for words in shown.warnings:
        if words.startswith(LOUD_STARTS):
            loud(sentence(words))


def loud(text: str) -> None:
    """Print a line on stderr that is not overlooked."""
    plain = printable(text)
    on, off = _LOUD if _coloured(sys.stderr) else ("", "")
    with piped():
        print(f"{on}{plain}{off}", file=sys.stderr, flush=True)


def warnings(plan: Plan, *, share: bool = False) -> None:
    """Print the warnings on stderr."""
    for words in (shareable(plan) if share else plan).warnings:
        if not words.startswith(LOUD_STARTS):  # said before the sites, loudly
            say(f"Note: {sentence(words)}")


def answer(plan: Plan, *, share: bool = False) -> None:
    """Print sites, their hours, the nearest place, what was ruled out, and the way on, on stdout."""
    shown = told_apart(shareable(plan) if share else plan)
    if shown.sites:
        table(COLUMNS, [row(site) for site in shown.sites])
    groups = (
        _hours(shown),
        _way_on(shown),
        _consent(shown, share=share),
        _nearest(shown),
        _obstacles(shown),
        _removed(shown),
    )
    said = "\n\n".join("\n".join(lines) for lines in groups if lines)
    if said:
        data(printable(f"\n{said}" if shown.sites else said))


def whom_to_call(plan: Plan, holders: Holders, *, name: str = "") -> None:
    """Print the holders of ground that lacks only a consent on stderr: they go into no file.

    Parameters
    ----------
    name
        Stands before each line, such as the capture's id.
    """
    parcels = dict.fromkeys(parcel for site in plan.needs_consent for parcel, _ in site.lacking)
    for parcel in parcels if holders.by_ground else ():
        known = "; ".join(map(str, holders.of(parcel)))
        say(printable(f"{name}Whom to call about {parcel}: {known or 'not in the table of holders'}"))


def row(site: Site) -> tuple[str, ...]:
    """Return a site's cells."""
    away = metres(site.distance_m, spread=site.radius_m)
    wind = (
        f" {compass(site.bearing_deg)} ({site.bearing_deg:.0f}°)" if math.isfinite(site.bearing_deg) else ""
    )
    located = math.isfinite(site.latitude)
    return (
        f"{site.rank}",
        position_words(site.longitude, site.latitude) if located else "left out",
        _between(site),
        clock(site.leave_by, beside=site.release_from) if site.leave_by else "",
        away + wind,
        _metres(site.dwelling_m, site.radius_m),
        _metres(site.road_m, site.radius_m),
        site.habitat.replace("_", " "),
        "not known" if site.cover is None else f"{site.cover:.0%}",
        tally(site),
    )


def _metres(value: float | None, spread: float) -> str:
    return "not known" if value is None else metres(value, spread=spread)


def _between(site: Site) -> str:
    if not site.release_from:
        return "not planned"
    return f"{clock(site.release_from)}–{clock(site.release_to, beside=site.release_from)}"


def _hours(plan: Plan) -> list[str]:
    """Return the hours of site 1 in words: the last moment, how long held, the sun."""
    if not plan.sites:
        return []
    first = plan.sites[0]
    sun = sun_words(plan.clock, beside=first.release_from) if first.release_from else ""
    said = [w for w in (leave_words(first), *held_words(first), sun) if w]
    travel = " Drive and walk are assumed." if first.leave_by else ""
    return [f"Site 1: {'. '.join(said)}.{travel}"] if said else []


def _consent(plan: Plan, *, share: bool) -> list[str]:
    """Return the places that lack only a consent, lettered as on the map."""
    if not plan.needs_consent:
        return []
    lines = [f"{HEAD}, never offered before it is on record:"]
    for k, site in enumerate(plan.needs_consent):
        ground = "" if share else f" {ground_words(site)}:"
        facts = facts_words(site, beside=plan.release_at, share=share)
        at = "" if share else f" At {position_words(site.longitude, site.latitude)}."
        lines.append(" ".join([f"  {letter(k)}{ground} {facts}{at}", *site.notes]))
    return lines


def _way_on(plan: Plan) -> list[str]:
    if plan.sites:
        return []
    return ["No site is offered.", *(f"The way on: {sentence(w)}" for w in plan.way_on)]


def _nearest(plan: Plan) -> list[str]:
    return [sentence(plan.nearest_words)] if plan.nearest_words else []


def _obstacles(plan: Plan) -> list[str]:
    if not plan.obstacles:
        return []
    head = "What stands in the way (for a call to the authority, never a suggestion):"
    return [head, *(f"  - {obstacle_words(o)}" for o in plan.obstacles)]


def _removed(plan: Plan) -> list[str]:
    live = [r for r in plan.removed if r.high_ha > 0]
    if not live:
        return []
    circle = plan.circle_ha
    head = f"Ruled out of {hectares(circle, circle)} within {metres(plan.circle_m)} ({plan.circle_label}):"
    said = [f"  - {_ruled(r)}" for r in sorted(live, key=lambda r: (-r.high_ha, r.id))]
    if plan.unmapped_ha > 0:
        said.append(f"  - habitat not mapped: {hectares(plan.unmapped_ha, plan.unmapped_ha)}, never offered")
    return [head, *whole_circle(plan), *said]


def _ruled(removed: Removed) -> str:
    alone = (
        f", only it {hectares(removed.only_low_ha, removed.only_high_ha)}" if removed.only_high_ha > 0 else ""
    )
    text = f" ({removed.text.rstrip('.')})" if removed.text else ""
    return (
        f"{clause_name(removed.source, removed.id)}: {hectares(removed.low_ha, removed.high_ha)}{alone}{text}"
    )


def table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print a table on stdout; on a terminal it is fitted to its width."""
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    seen = sys.stdout.isatty()
    console = Console(
        file=sys.stdout,
        width=None if seen else WIDE,
        highlight=False,
        markup=False,
        emoji=False,
        no_color=not _coloured(sys.stdout),
        legacy_windows=False,
    )
    made = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for n, column in enumerate(columns):
        made.add_column(column, no_wrap=n <= 1)  # a coordinate cut short is of no use
    for cells in rows:
        made.add_row(*(Text(printable(c)) for c in cells))
    with console.capture() as captured:  # so that we write it, and notice ourselves when nobody reads it
        console.print(made)
    data("\n".join(line.rstrip() for line in captured.get().splitlines()))


def _coloured(stream: IO[str]) -> bool:
    import os

    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
