"""Hotspots on the terminal: one claim, what is counted, then the rest as the page says it."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator

from tussock.cli import show as plan_show
from tussock.cli.failures import say
from tussock.cli.hotspots_json import as_json
from tussock.cli.options import Format
from tussock.cli.permit_show import width
from tussock.cli.printable import printable
from tussock.hotspots.bands import EdgeEffect
from tussock.hotspots.found import STANDS_OUT, Clusters, ClusterTold, Hotspots, StandbyTold, When
from tussock.hotspots.slices import LEAST_IN_SLICE
from tussock.hotspots.when import ALL
from tussock.maps.hotspots_circles import (
    expected_words,
    often_words,
    place_words,
    power_sentence,
    sure_words,
)
from tussock.maps.hotspots_clusters import (
    base_lead,
    base_words,
    clusters_lead,
    period_words,
    scanned_lines,
    space_time_lead,
)
from tussock.maps.hotspots_edges import claim, counted_lines
from tussock.maps.hotspots_files import edges_csv
from tussock.maps.hotspots_plots import LEAST_IN_CALENDAR, ranked
from tussock.maps.hotspots_rates import (
    rates_lines,
    repeats_lines,
    slice_words,
    standby_lines,
    standby_verdict,
)
from tussock.maps.hotspots_surface import surface_lead
from tussock.maps.hotspots_when import MANY_AT_MIDNIGHT, hours_claim, months_claim, unseen_line
from tussock.maps.hotspots_words import (
    CALLS_NOT_SNAKES,
    FEWER,
    MORE,
    NOT_SHOWN,
    NOT_TESTED,
    count,
    district_words,
    edge_name,
    edge_sentence,
    edge_verdict,
    figure,
    listed,
    odds_words,
    p_value,
    percent,
    ratio_words,
    share,
)
from tussock.maps.words import sentence

MOST_EDGES = 5
"""Edges with a line of their own; all are in the tables and on the page."""
_HANG = "    "


def show(found: Hotspots, output: Format) -> None:
    """Print a result: the answer on stdout, the caution on stderr."""
    say(CALLS_NOT_SNAKES)
    if found.counted.warning:
        say(found.counted.warning)
    match output:
        case Format.CSV:
            plan_show.data(edges_csv(found))
        case Format.JSON:
            plan_show.data(as_json(found))
        case Format.TABLE:
            plan_show.data("\n".join(lines(found, columns=width())))


def lines(found: Hotspots, *, columns: int = 80) -> Iterator[str]:
    """Yield what is printed of a result, line by line, none wider than ``columns``."""
    yield from _wrapped(_claim(found), columns, indent="")
    for head, said in _parts(found):
        if not said:
            continue
        yield ""
        yield head
        for one in said:
            yield from _wrapped(one, columns, indent="  ")


def _wrapped(text: str, columns: int, *, indent: str) -> list[str]:
    """Return a text broken at the width; a thin space stays within its line."""
    rows = textwrap.wrap(
        text,
        columns,
        initial_indent=indent,
        subsequent_indent=_HANG if indent else "",
        break_on_hyphens=False,
    )
    return [printable(row) for row in rows]


def _parts(found: Hotspots) -> Iterator[tuple[str, list[str]]]:
    yield "What is counted", [*counted_lines(found), *_left_out(found)]
    yield "Edges", list(_edges(found))
    yield "Clusters", list(_clusters(found))
    yield "When", list(_when(found))
    yield "Rates on the map", list(_rates(found))
    yield "Calls again", list(_repeats(found))
    yield "Odds", [] if found.district_odds is None else [_odds(found)]
    yield "Where to stand by", list(_standby(found))
    yield "To know", [f"{note.removesuffix('.')}." for note in found.notes]
    yield (
        "Not found out",
        [sentence(f"{name.replace('_', ' ')}: {why}") for name, why in found.missing.items()],
    )


def _claim(found: Hotspots) -> str:
    head = found.headline
    return f"{claim(found)}." if head is None else f"{claim(found)} ({_p(head)})."


def _p(effect: EdgeEffect) -> str:
    p = effect.p_adjusted if edge_verdict(effect) == FEWER else effect.p_more_adjusted
    return f"corrected {p_value(p)}"


def _left_out(found: Hotspots) -> Iterator[str]:
    c = found.counted
    gone = {
        "without a place": c.without_place,
        "in the future": c.future,
        "at other times": c.other_times,
        "the same row twice": c.duplicates,
        "outside the region": c.outside_region,
        "where homes are not known": c.outside_extent,
    }
    if c.left_out:
        yield f"Left out: {', '.join(f'{n} {words}' for words, n in gone.items() if n)}."
    if c.in_no_unit:
        yield f"{count(c.in_no_unit, 'incident')} from none of the areas supplied: in no rate."
    yield f"The district: {district_words(found)}."


def _edges(found: Hotspots) -> Iterator[str]:
    if not found.counted.incidents:
        return
    by_verdict: dict[str, list[EdgeEffect]] = {}
    for effect in ranked(found.edges):
        by_verdict.setdefault(edge_verdict(effect), []).append(effect)
    told = [e for e in (*by_verdict.get(MORE, ()), *by_verdict.get(FEWER, ())) if e is not found.headline]
    for effect in told[:MOST_EDGES]:
        yield f"{edge_sentence(effect).removesuffix('.')} ({_p(effect)})."
    if len(told) > MOST_EDGES:
        yield f"{len(told) - MOST_EDGES} more in the tables and on the page."
    unshown = by_verdict.get(NOT_SHOWN, [])
    if others := [e for e in unshown if not math.isnan(e.ratio.least.ratio)]:
        left = len(others) - MOST_EDGES
        named = [f"{edge_name(e)} {ratio_words(e.ratio)}" for e in others[:MOST_EDGES]]
        named += [f"{left} more"] if left > 0 else []
        yield f"Not shown to be more than chance: {listed(named)}."
    if bare := len(unshown) - len(others):
        yield f"No call placed well enough from near or far, so nothing to compare: {count(bare, 'edge')}."
    if few := by_verdict.get(NOT_TESTED):
        yield f"Not tested, too few homes near or far: {count(len(few), 'edge')}."
    yield from _reruns(found, "edges")


def _clusters(found: Hotspots) -> Iterator[str]:
    if found.clusters is not None:
        yield clusters_lead(found.clusters)
        yield from (_circle(c) for c in found.clusters.standing_out)
        yield from scanned_lines(found.clusters)
        yield from _with_base(found.clusters)
        unseen = power_sentence(found)
        yield f"It does not say {unseen[:1].lower()}{unseen[1:]}"
        yield from _reruns(found, "clusters")
    if (told := found.space_time) is not None:
        yield space_time_lead(told)
        for c, at in zip(told.scan.cylinders, told.spots, strict=True):
            if c.p <= STANDS_OUT:
                there = f"{period_words(told, c)}, {place_words(at)}"
                yield f"{there}: {_expected(c.observed, c.expected)}, {p_value(c.p)}."


def _circle(told: ClusterTold) -> str:
    c = told.most
    at = sentence(place_words(told.spot)).removesuffix(".")
    more = f" {sure}" if (sure := sure_words(told)) else ""
    return f"{at}: {expected_words(c)}, {often_words(c)}, {p_value(told.p)}.{more}"


def _expected(observed: int, expected: float) -> str:
    return f"{count(observed, 'incident')} where {figure(expected)} were to be expected"


def _with_base(told: Clusters) -> Iterator[str]:
    if told.base is None:
        return
    yield base_words(told.base)
    yield base_lead(told)
    same = {c.most.units.tobytes() for c in told.standing_out}
    for one in told.told_with_base:
        if one.stands_out and one.most.units.tobytes() not in same:
            yield _circle(one)


def _when(found: Hotspots) -> Iterator[str]:
    told = found.when
    if told is None:
        return
    if (n := told.calendars[ALL].n) < LEAST_IN_CALENDAR:
        yield f"{count(n, 'incident')}: too few to say when."
    else:
        yield f"{months_claim(told)}."
        if unseen := unseen_line(told):
            yield unseen
        yield f"{hours_claim(told)}.{_busiest(told)}"
    if told.attempts:
        yield f"Of {count(told.attempts, 'attempt')}, {share(told.share_captured)} have a capture on record."


def _busiest(told: When) -> str:
    """Return the three hours running that most incidents fall in; nothing where dates lack a time."""
    every = told.calendars[ALL]
    hours, n = every.hours, every.n
    if every.midnight > MANY_AT_MIDNIGHT * n:
        return ""
    running = [int(sum(hours[(h + k) % 24] for k in range(3))) for h in range(24)]
    first = max(range(24), key=running.__getitem__)
    return f" Most between {first}:00 and {(first + 3) % 24}:00: {running[first]} of {n}."


def _rates(found: Hotspots) -> Iterator[str]:
    if found.rates is not None:
        yield from rates_lines(found.rates)
        if found.rates.cells.tested.any():
            yield from _reruns(found, "cells")
    if found.surface is not None:
        yield f"Smooth surface: {surface_lead(found.surface)}"


def _repeats(found: Hotspots) -> Iterator[str]:
    told = found.repeats
    if told is None:
        return
    yield from repeats_lines(told)
    if not told.at_place.of:
        return
    marked = told.at_place.marked + (told.after_release.marked if told.after_release else 0)
    yield (
        f"{marked} of them by the same mark: only these came back."
        if marked
        else "None bears the mark of the one before: none is said to have come back."
    )


def _odds(found: Hotspots) -> str:
    odds = found.district_odds
    assert odds is not None
    return sentence(f"The district: {odds_words(odds)}")


def _standby(found: Hotspots) -> Iterator[str]:
    told = found.standby
    if told is None:
        return
    s = told.standby
    yield sentence(standby_verdict(s))
    for (longitude, latitude), part in zip(told.points, s.share.tolist(), strict=True):
        yield f"{latitude:.4f}, {longitude:.4f}: {percent(part)} of the calls are nearest to it."
    yield from standby_lines(s)
    yield from _slices(told)


def _slices(told: StandbyTold) -> Iterator[str]:
    for part, cut, _ in told.slices:
        if cut.interaction:
            yield f"{slice_words(part)}: {cut.reason}; see the page."
    if any(cut.interaction for _, cut, _ in told.slices):
        return
    if any(cut.calls >= LEAST_IN_SLICE for _, cut, _ in told.slices):
        yield "The same for all times of day: places are not shown to differ by the hour."
    else:
        yield f"For all times of day: no part of it has {LEAST_IN_SLICE} calls, to look at it apart."


def _reruns(found: Hotspots, what: str) -> Iterator[str]:
    """Yield whether the finding stands one step finer and coarser."""
    for one in found.reruns:
        if one.what == what:
            stands = {True: "stands", False: "does not stand", None: "not rerun"}[one.stands]
            yield f"One step {one.step} ({one.size}): {stands}. {sentence(one.found)}"
