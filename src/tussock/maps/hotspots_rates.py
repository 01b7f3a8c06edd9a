"""The page's last parts: the rates of cells beside the map, repeats, odds, where to stand by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

import numpy as np

from tussock.geodesy import Floats
from tussock.hotspots.cell_odds import DISTRICT
from tussock.hotspots.cells import LEAST_KNOWN
from tussock.hotspots.found import STANDS_OUT, Hotspots, Rates, RepeatsTold, StandbyTold
from tussock.hotspots.hexagons import LEAST_EXPECTED
from tussock.hotspots.repeats import Repeats
from tussock.hotspots.slices import Slice
from tussock.hotspots.standby import Standby
from tussock.maps.hotspots_circles import counted_in, number_above
from tussock.maps.hotspots_parts import Row, bullets, fold, reruns, table
from tussock.maps.hotspots_svg import finding_mark
from tussock.maps.hotspots_words import (
    count,
    figure,
    homes,
    listed,
    odds_words,
    p_value,
    percent,
    span,
    time_words,
)
from tussock.maps.words import THIN, grouped, metres, sentence
from tussock.names import MONTHS

MOST_NAMED = 8
"""Names of supplied areas in the sentence that says what they are."""
SURE = 0.95
"""P(RR > 1) above which a cell is flagged (asked for)."""


def missing(found: Hotspots, name: str) -> str:
    """Return why a part is not there."""
    why = found.missing.get(name)
    return f"<p>{escape(sentence(f'not looked for: {why}' if why else 'not asked for'))}</p>"


def in_order(rates: Rates) -> list[int]:
    """Return the rows of cells, those most probably above the usual one's rate first."""
    above = np.nan_to_num(rates.smoothed.above, nan=-1.0)
    ratio = np.nan_to_num(rates.smoothed.ratio, nan=-1.0)
    return [int(i) for i in np.lexsort((np.arange(len(above)), -ratio, -above))]


def flagged(rates: Rates) -> list[int]:
    """Return the rows of cells whose rate is probably above the usual cell's, the surest first."""
    return [i for i in in_order(rates) if rates.smoothed.above[i] > SURE]


def unit_word(rates: Rates) -> str:
    """Return what one of the map's units is called: a cell of H3, or an area as supplied."""
    return "area" if rates.choice is None else "cell"


def usual_words(rates: Rates) -> str:
    """Return what the rates of cells are set against: the fitted level, which is not the district's rate.

    The district's rate is of all its homes together; a large cell with many calls weighs more in it.
    """
    return f"the usual {unit_word(rates)}'s rate"


def rates_words(found: Hotspots) -> str:
    """Return what the map says, in words and as a table."""
    told = found.rates
    if told is None:
        return missing(found, "rates")
    what = unit_word(told)
    head = (what.capitalize(), *_HEAD[:3], f"Per 1,000 homes {time_words(found.asked)}", *_HEAD[3:])
    rows = [_cell_row(found, told, k, i) for k, i in enumerate(in_order(told), start=1) if _shown(told, i)]
    figures = table(head, rows) if rows else ""
    listed_all = fold(f"{what.capitalize()}s, those most probably above the usual first", figures)
    return f"{bullets(rates_lines(told))}{reruns(found, 'cells')}{listed_all}"


_HEAD = ("Found", "Incidents", "Homes", "Times the usual", "Odds")


def per_1000(found: Hotspots, told: Rates) -> tuple[Floats, Floats, Floats]:
    """Return the rates of cells per 1,000 homes over the time that `time_words` names, with their ends."""
    return told.smoothed.rate() if found.asked.whole_years is None else told.yearly()


def rates_lines(told: Rates) -> list[str]:
    """Return which cells stand out, and what the cells are."""
    sure, what, usual = flagged(told), unit_word(told), usual_words(told)
    tested, all_of = int(told.cells.tested.sum()), len(told.cells.names)
    if not tested:
        return [f"No rate by place: no {what} with homes is known to {percent(LEAST_KNOWN)}."]
    if told.cells.incident_tally.mostly_vague:
        few = f"No rate by place: most incidents are placed too roughly for {what}s."
        return [few, counted_in(told.cells, what="the map", unit=what), size_words(told)]
    ring = int(told.ring.flagged.sum())
    above = count(ring, what) if ring else f"no {what}"
    lines = [
        f"{count(len(sure), what)} of {tested} probably above {usual} (P(RR>1) over {SURE:g}), each "
        "taken by itself."
        if sure
        else f"None of {count(tested, what)} is probably above {usual} (P(RR>1) over {SURE:g}): "
        "that is a result.",
        f"Ring test: {above} of {told.ring.tested} called more often than the {what}s around let one expect "
        "(Benjamini–Hochberg 0.05).",
        size_words(told),
    ]
    more = (_ends(told, len(sure), what), counted_in(told.cells, what="the map", unit=what))
    lines += [words for words in more if words]
    if all_of > tested:
        lines.append(
            f"{count(all_of - tested, what)} in no test and without a smoothed rate: no home stands "
            f"there, or homes are known in less than {percent(LEAST_KNOWN)} of it."
        )
    if not all_of or math.isinf(told.smoothed.model.shape):
        lines.append(f"{what.capitalize()}s differ no more than chance has it: all are given {usual}.")
    return lines


def _ends(told: Rates, sure: int, what: str) -> str:
    """Return that more are above the usual cell's rate at one end of the homes; empty where none is."""
    if told.above_ends is None:
        return ""
    most, least = (number_above(above, SURE) for above in told.above_ends)
    if max(most, least) <= sure:
        return ""
    return (
        f"If all buildings of unknown use are homes, {count(most, what)} probably above; if none is, "
        f"{least}: named is only what is above either way."
    )


def _shown(told: Rates, i: int) -> bool:
    return bool(told.smoothed.above[i] > SURE or told.ring.flagged[i] or told.cells.incidents[i] > 0)


def size_words(told: Rates) -> str:
    """Return what the cells are, and why they are of this size."""
    if told.choice is None:
        names = told.cells.names
        more = [f"{len(names) - MOST_NAMED} more"] if len(names) > MOST_NAMED else []
        return (
            f"{count(len(names), 'area')} as supplied, not H3 cells: {listed([*names[:MOST_NAMED], *more])}. "
            "Whoever drew them chose their size and bounds; other bounds may find otherwise."
            f"{_small_words(told)}"
        )
    r, known = told.choice.resolution, told.choice.expected
    expected = figure(known.get(r, told.cells.mean_expected))
    size = f"H3 cells of resolution {r}"
    if not told.choice.reached:
        return f"{size}, the coarsest: even there a home's cell expects only {expected} incidents, not 5."
    finer = f"; one step finer it would be {figure(known[r + 1])}" if r + 1 in known else ""
    return f"{size}: the finest in which a home's cell expects 5 incidents or more, here {expected}{finer}."


def _small_words(told: Rates) -> str:
    """Return that areas as supplied expect too little, where they do: hexagons are made large enough."""
    expected = told.cells.mean_expected
    if not expected < LEAST_EXPECTED:
        return ""
    return (
        f" They are small: a home's area expects {figure(expected)} incidents, and with less than "
        f"{LEAST_EXPECTED:g} little can be told apart."
    )


def cell_signs(told: Rates, i: int) -> list[tuple[str, str]]:
    """Return what is found of a cell, as shape and words."""
    if not told.cells.tested[i]:
        part = percent(float(told.cells.known[i]))
        why = "no homes" if told.cells.homes_high[i] <= 0 else f"{part} known, in no test"
        return [("open", why)]
    signs = []
    if told.smoothed.above[i] > SURE:
        signs.append(("full", "above the usual"))
    if told.ring.flagged[i]:
        signs.append(("full", "above its ring"))
    return signs or [("half", "not shown")]


def _cell_row(found: Hotspots, told: Rates, k: int, i: int) -> Row:
    s, cells = told.smoothed, told.cells
    rate, low, high = (float(v[i]) for v in per_1000(found, told))
    above = float(s.above[i])
    sure = "" if math.isnan(above) else f", P(RR>1) {probability(above)}"
    return (
        f"<b>{k}</b> {escape(cell_place(found, told, i))}",
        " ".join(finding_mark(*sign) for sign in cell_signs(told, i)),
        escape(grouped(int(cells.incidents[i]))),
        escape(homes(float(cells.homes_low[i]), float(cells.homes_high[i]))),
        escape(f"{figure(rate)} ({span(low, high)})"),
        escape(f"{figure(float(s.ratio[i]))} ({span(float(s.low[i]), float(s.high[i]))}){sure}"),
        escape(_odds(told, i)),
    )


def cell_place(found: Hotspots, told: Rates, i: int) -> str:
    """Return where a cell is: the name of a supplied area, or its middle to about a hundred metres."""
    if told.choice is None:
        return told.cells.names[i]
    x, y = told.cells.centres
    lon, lat = found.lonlat(x[i : i + 1], y[i : i + 1])
    return f"round {float(lat[0]):.3f}, {float(lon[0]):.3f}"


def probability(p: float) -> str:
    """Return a probability; never 0, 1, or on a threshold that it is not on.

    Examples
    --------
    >>> probability(0.9512), probability(0.999), probability(0.5), probability(0.0)
    ('0.951', 'over 0.99', '0.50', 'under 0.01')
    """
    if p > 0.99:
        return "over 0.99"
    if p < 0.01:
        return "under 0.01"
    return f"{p:.3f}" if abs(p - SURE) < 0.01 else f"{p:.2f}"


def _odds(told: Rates, i: int) -> str:
    """Return a cell's odds; those of a larger area where its own homes are too few to bear any."""
    one = told.odds[i]
    said = odds_words(one)
    if one.area == told.cells.names[i] or one.reason:
        return sentence(said)
    if one.area == DISTRICT:
        return "As the district: see below."
    return f"Of the larger cell around it: {said}."


def repeats(found: Hotspots) -> str:
    """Return calls again at a place and after releases, each beside what chance gives."""
    told = found.repeats
    if told is None:
        return missing(found, "repeats")
    head = ("What", "Found", "Number", "By chance", "p", "By the same mark")
    rows = [_repeat_row(again_words(told), told.at_place)]
    if told.after_release is not None:
        rows.append(_repeat_row(after_words(told), told.after_release))
    note = (
        "By chance: the dates of each species and season dealt out anew among their places. A call "
        "again is not "
        "the same animal: only those told by a mark came back."
    )
    left = told.at_place.left_out
    more = (
        f" Left out: {count(left, 'incident')} without a species or known to a wider circle." if left else ""
    )
    return (
        f"{bullets(repeats_lines(told))}{fold('Figures', table(head, rows))}"
        f'<p class="note">{escape(note + more)}</p>'
    )


def repeats_lines(told: RepeatsTold) -> list[str]:
    """Return whether calls again stand out from chance; what does not must say so."""
    lines = [_stands(again_words(told), told.at_place, "incidents")]
    if told.after_release is not None:
        lines.append(_stands(after_words(told), told.after_release, "releases"))
    return lines


def _stands(what: str, r: Repeats, of: str) -> str:
    if not r.of:
        return f"{what}: not asked, none names a species and is known to within so many metres."
    figures = (
        f"{r.observed} of {grouped(r.of)} {of}; by chance {figure(r.expected)} ({r.low:.0f}–{r.high:.0f})"
    )
    verdict = "more than chance" if r.p <= STANDS_OUT else "does not stand out from chance"
    return f"{what}: {figures}, {p_value(r.p)}: {verdict}."


def after_words(told: RepeatsTold) -> str:
    """Return what counts as a call after a release."""
    within = f"{metres(told.release_within_m)} and {told.within_days:g} days"
    return f"Releases followed by a call for the species within {within}"


def again_words(told: RepeatsTold) -> str:
    """Return what counts as a call again."""
    near = f"{metres(told.within_m)} and {told.within_days:g} days"
    return f"Incidents within {near} of an earlier one of the species"


def _repeat_row(what: str, r: Repeats) -> Row:
    more = r.p <= STANDS_OUT
    mark = (
        finding_mark("full", "more than chance")
        if more
        else finding_mark("half", "does not stand out from chance")
    )
    return (
        escape(what),
        mark,
        escape(f"{r.observed} of {r.of}"),
        escape(f"{figure(r.expected)} ({r.low:.0f}–{r.high:.0f})"),
        escape(p_value(r.p)),
        escape(grouped(r.marked)),
    )


def odds_and_standby(found: Hotspots) -> str:
    """Return the odds of the district, and where to stand by."""
    odds = found.district_odds
    said = (
        f"<p><b>{escape(sentence(f'{odds.area}: {odds_words(odds)}'))}</b></p>"
        if odds
        else missing(found, "district_odds")
    )
    note = (
        "Odds are two figures, the ends of a 95 % interval; those of cells stand in the table above. "
        "Odds are of a call to this logbook, not of a snake at a home; a home that calls twice counts twice. "
        "Never from less than a year, from fewer than 100 homes, or from one or two incidents: then the "
        "larger area speaks."
    )
    by = _standby(found.standby) if found.standby else missing(found, "standby")
    return f'{said}<p class="note">{escape(note)}</p><h3>Where to stand by</h3>{by}'


def _standby(told: StandbyTold) -> str:
    s = told.standby
    rows = [
        (f"<b>{k}</b>", escape(f"{lat:.4f}, {lon:.4f}"), escape(percent(float(share))))
        for k, ((lon, lat), share) in enumerate(zip(told.points, s.share, strict=True), start=1)
    ]
    head = ("Point", "Latitude, longitude", "Calls nearest to it")
    extra = "".join(_slice(*one) for one in told.slices)
    return (
        f"<p><b>{escape(sentence(standby_verdict(s)))}</b></p>{table(head, rows)}"
        f"{bullets(standby_lines(s))}{fold('By time of day', f'<ul>{extra}</ul>' if extra else '')}"
    )


def standby_verdict(s: Standby) -> str:
    """Return whether the points beat the base."""
    if s.compared is None:
        return f"not tried against your base: {s.reason}"
    if not s.compared.better:
        return s.compared.verdict + ("" if ":" in s.compared.verdict else ": that is a result")
    mean, low, high = (grouped(10 * round(v / 10)) for v in s.compared.saved)
    return f"nearer than your base by {mean}{THIN}m a call ({low} to {high}), in a straight line"


def standby_lines(s: Standby) -> list[str]:
    """Return how far the next call is, and what the points would have saved."""
    lines = [
        f"Expected distance to the next call {metres(s.expected, spread=20)}, in a straight line: no roads"
        f"{f', if someone waits at each of the {len(s.x)} points' if len(s.x) > 1 else ''}."
    ]
    if s.base is not None:
        lines.append(f"From the present base {metres(s.base, spread=20)}.")
    if s.compared is not None:
        c = s.compared
        mean, low, high = c.saved
        lines.append(
            f"Tried on {count(c.calls, 'call')} of the last season, fitted on those before: "
            f"{metres(c.base, spread=20)} from the base, {metres(c.points, spread=20)} from the "
            "points; saved "
            f"{grouped(mean)} m ({grouped(low)} to {grouped(high)})."
        )
    lines.append(
        "No better points of those weighed exist."
        if s.exact
        else "Near the best, not surely the best: exchanging any one point makes it no better."
    )
    return lines


def _slice(when: Slice, demand: object, points: Standby) -> str:
    from tussock.hotspots.slices import Sliced

    assert isinstance(demand, Sliced)
    away = metres(points.expected, spread=20)
    return f"<li>{escape(slice_words(when))}: {escape(demand.reason)}; expected distance {away}.</li>"


def slice_words(when: Slice) -> str:
    """Return a slice of hours and months in words."""
    months = listed(MONTHS[m - 1] for m in when.months) if when.months else "all months"
    return f"{when.hours[0]}:00 to {when.hours[1]}:00, {months}"


def steps_of(ratio: Sequence[float]) -> list[int]:
    """Return the step of each ratio on the map's scale, 0 to 4; -1 where there is none."""
    edges = np.array(STEPS)
    return [-1 if math.isnan(r) else int(np.searchsorted(edges, r, side="right")) for r in ratio]


STEPS = (0.5, 0.8, 1.25, 2.0)
"""Where the map's five steps of rate over the usual part."""
STEP_WORDS = ("under half", "half to 0.8 times", "about the usual", "1.25 to 2 times", "over twice")
LEAST_KNOWN_WORDS = f"less than {percent(LEAST_KNOWN)} known: in no test"
