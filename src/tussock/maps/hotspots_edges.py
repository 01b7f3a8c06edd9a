"""The page's first parts: the claim, edges, and what is counted."""

from __future__ import annotations

from html import escape

from tussock.hotspots.bands import EdgeEffect
from tussock.hotspots.calls import ROUGH_M, WITHIN_DAYS, WITHIN_M
from tussock.hotspots.cells import LEAST_KNOWN
from tussock.hotspots.found import STANDS_OUT, Hotspots
from tussock.maps.hotspots_circles import power_sentence
from tussock.maps.hotspots_parts import Row, bullets, fold, reruns, table
from tussock.maps.hotspots_plots import bands_plot, edges_plot, ranked
from tussock.maps.hotspots_svg import finding_mark
from tussock.maps.hotspots_words import (
    CALLS_NOT_SNAKES,
    FEWER,
    MORE,
    NOT_SHOWN,
    NOT_TESTED,
    band_words,
    count,
    district_words,
    edge_name,
    edge_sentence,
    edge_verdict,
    homes_of,
    homes_words,
    interval,
    listed,
    p_value,
    percent,
    ratio_words,
    share,
    species_words,
    yearly_words,
)
from tussock.maps.words import grouped, metres, sentence

MOST_NAMED = 4
"""Edges named beside the headline's."""
MARKS = {MORE: "full", FEWER: "full", NOT_SHOWN: "half", NOT_TESTED: "open"}
INCIDENT = (
    f"calls within {WITHIN_DAYS:g} days and {metres(WITHIN_M)}, or their radius up to {metres(ROUGH_M)}, "
    "are one"
)
"""What an incident is."""
PRIVATE = "This page shows where people live. It is the holder's own and not for publication."


def claim(found: Hotspots) -> str:
    """Return the headline: what the edges say, or that they say nothing."""
    c = found.counted
    if c.none_of_read:
        return f"None of the {grouped(c.read)} calls read is counted, so nothing is said of edges or places"
    if not c.incidents:
        return "No call is counted, so nothing is said of edges or places"
    if found.headline is not None:
        return edge_sentence(found.headline).removesuffix(".")
    if _mostly_vague(found):
        return (
            f"Whether homes near an edge call more often cannot be asked: {grouped(_vague(found))} of "
            f"{count(found.counted.incidents, 'incident')} are placed too roughly for its bands"
        )
    tested = [e for e in found.edges if edge_verdict(e) != NOT_TESTED]
    if len(tested) == 1:
        return f"It is not shown that homes near {edge_name(tested[0])} called more often"
    if tested:
        return (
            f"At none of {count(len(tested), 'mapped edge')} is it shown that homes nearby called more often"
        )
    why = found.missing.get("edges", "none has homes enough on both sides")
    return f"No mapped edge could be asked about: {why}"


def _vague(found: Hotspots) -> int:
    """Return how many incidents are in no band since their places are known too roughly."""
    return max((e.vague for e in found.edges), default=0)


def _mostly_vague(found: Hotspots) -> bool:
    return 2 * _vague(found) > found.counted.incidents


def edge_drawings(found: Hotspots) -> str:
    """Return the ratios of all edges, and the rates by distance from the headline's edge or the first."""
    if not len(found.incidents) or (found.headline is None and _mostly_vague(found)):
        return ""
    shown = found.headline or next((e for e in ranked(found.edges) if e.tested), None)
    drawn = edges_plot(found.edges) + (bands_plot(shown) if shown is not None else "")
    return f'<div class="first-plots">{drawn}</div>' if drawn else ""


def says(found: Hotspots) -> str:
    """Return what the page claims beside the headline, what it does not, and what is counted."""
    boxes = (
        ("What this page says", _claims(found)),
        ("What it does not say", _limits(found)),
        ("What is counted", [s for s in counted_lines(found) if s != found.counted.warning]),
    )
    drawn = "".join(f"<div><h2>{head}</h2>{bullets(lines)}</div>" for head, lines in boxes)
    return f'<div class="says">{drawn}</div>'


def _claims(found: Hotspots) -> list[str]:
    """Return what is said beside the headline."""
    lines = _other_edges(found)
    if found.clusters is not None:
        out = found.clusters.standing_out
        lines.append(
            f"{count(len(out), 'place')} with more incidents than the number of homes there and chance can "
            "explain."
            if out
            else "No place stands out with more incidents than its number of homes and chance can explain."
        )
    lines.append(f"The district: {district_words(found)}.")
    if found.when is not None and found.when.attempts:
        captured = share(found.when.share_captured)
        lines.append(f"{captured} of {count(found.when.attempts, 'attempt')} have a capture on record.")
    return lines


def _other_edges(found: Hotspots) -> list[str]:
    """Return the other edges of which it is shown, and of how many it is not."""
    more = [e for e in ranked(found.edges) if edge_verdict(e) == MORE and e is not found.headline]
    rest = sum(edge_verdict(e) == NOT_SHOWN for e in found.edges)
    lines = []
    if more:
        named = [f"{edge_name(e)} {ratio_words(e.ratio)} times" for e in more[:MOST_NAMED]]
        left = len(more) - MOST_NAMED
        lines.append(f"Also more often: {listed([*named, *([f'{left} more'] if left > 0 else [])])}.")
    if rest and found.headline is not None:
        lines.append(f"Not shown for {count(rest, 'edge')} that {'was' if rest == 1 else 'were'} tested.")
    return lines


def _limits(found: Hotspots) -> list[str]:
    """Return what must not be read into the page."""
    lines = [
        "How many snakes there are: who sees none, knows nobody to call or calls another is not here.",
        "Why: homes near an edge may differ in more than the edge.",
        "That an animal came back, unless it bore a mark.",
        "Anything about ground where homes are not known.",
    ]
    if found.clusters is not None:
        lines += [power_sentence(found)]
    return lines


def counted_lines(found: Hotspots) -> list[str]:
    """Return what is counted, as short as it can be said."""
    c, asked = found.counted, found.asked
    total = found.exposure.total
    sure = "" if total.high > total.low or found.exposure.others_given else ", those tagged as such"
    left = f"; {grouped(c.left_out)} left out" if c.left_out else ""
    return [
        *([c.warning] if c.warning else []),
        f"{count(c.calls, 'call')} of {grouped(c.read)} in the book{left}.",
        f"{sentence(INCIDENT).removesuffix('.')}: {count(c.incidents, 'incident')}. {rough_words(found)}",
        f"{homes_words(total)} in the known extent{sure}; calls beyond it are not counted.",
        f"{asked.first} to {asked.last}, as stated; {yearly_words(asked)}.",
    ]


def rough_words(found: Hotspots) -> str:
    """Return what became of calls whose places are known roughly, with their numbers."""
    by_radius, rough = found.incidents.by_radius, found.incidents.rough
    joined = (
        f"{grouped(by_radius)} were joined by their"
        if by_radius > 1
        else f"{by_radius or 'None'} was joined by its"
    )
    said = f"{joined} radius alone."
    if not rough:
        return said
    placed = f"{count(rough, 'call is', 'calls are')} placed no better than to {metres(ROUGH_M)}"
    return f"{said} {placed}: {'an' if rough == 1 else 'each an'} incident of its own, in no edge's band."


def edges(found: Hotspots) -> str:
    """Return the drawings and the table of edges."""
    if not found.edges:
        return f"<p>{escape(sentence(found.missing.get('edges', 'no edge is mapped')))}</p>"
    order = ranked(found.edges)
    rows = [_edge_cells(e, found.asked.days) for e in order if e.tested]
    untested = [edge_name(e) for e in order if not e.tested]
    head = ("Edge", "Found", "Times as often", "One-sided p, corrected", *_band_heads(found), "Not in a band")
    left = f"Not tested, too few homes near or far: {listed(untested)}." if untested else ""
    figures = (table(head, rows) if rows else "") + (f"<p>{escape(left)}</p>" if left else "")
    return (
        f'<p class="lead"><b>{escape(claim(found))}.</b></p>{reruns(found, "edges")}'
        f"{fold('Figures of all edges', figures)}{fold('How to read this', _note(found))}"
    )


def _note(found: Hotspots) -> str:
    return f'<p class="note">{escape(_edges_note(found))}</p>'


def _band_heads(found: Hotspots) -> Row:
    return tuple(f"Homes {band_words(b.near_m, b.far_m)}" for b in found.edges[0].bands)


def _edge_cells(effect: EdgeEffect, days: int) -> Row:
    verdict = edge_verdict(effect)
    p = effect.p_adjusted if verdict == FEWER else effect.p_more_adjusted
    bands = [
        f"{count(b.incidents, 'incident')}, {homes_words(b.homes)}: {interval(b.rate)} per 1,000 "
        f"in {count(days, 'day')}"
        for b in effect.bands
    ]
    left = f"{effect.within} inside it, {effect.beyond} farther off, {effect.vague} placed too vaguely"
    layer = effect.edge.layer.replace("_", " ")
    return (
        f"<b>{escape(edge_name(effect))}</b> <span class='note'>({escape(layer)})</span>",
        finding_mark(MARKS[verdict], verdict),
        escape(ratio_words(effect.ratio)),
        escape(p_value(p)),
        *(escape(b) for b in bands),
        escape(left),
    )


def _edges_note(found: Hotspots) -> str:
    tested = sum(edge_verdict(e) != NOT_TESTED for e in found.edges)
    return (
        "Times as often: incidents per home in the nearest band over those in the farthest, with the exact "
        "95 % interval, over the whole interval of homes. p: that homes along an edge call more often was "
        f"asked before the calls were looked at; corrected (Holm) for {count(tested, 'edge')}. More often is "
        f"said where p is at most {STANDS_OUT:g} and the interval does not hold 1, so a small p alone may be "
        "not shown. Distances are straight lines to what is drawn of the edge. Edges are not independent: a "
        "home may lie near several."
    )


def counted(found: Hotspots) -> str:
    """Return what is counted and what is not: totals that add up, homes, time."""
    asked, c = found.asked, found.counted
    total, outside = found.exposure.total, found.exposure.outside
    others = (
        "At least: tagged as dwellings. At most: with the buildings of unknown use."
        if total.high > total.low or found.exposure.others_given
        else "There is no layer of buildings of unknown use: homes that are not tagged as such are missing."
    )
    facts = (
        ("Counted", f"{count(c.calls, 'call')}, which are {count(c.incidents, 'incident')}"),
        (
            "An incident",
            f"{INCIDENT}. {rough_words(found)}",
        ),
        (
            "Time observed",
            f"{asked.first} to {asked.last}, {grouped(asked.days)} days, as stated; {yearly_words(asked)}",
        ),
        ("Clock", f"{asked.zone}{f', {asked.zone_words}' if asked.zone_words else ''}"),
        ("Homes", f"{homes_of(total)} in the known extent. {others}"),
        ("Homes left out", f"{homes_of(outside)} beyond the known extent"),
        ("Rate", district_words(found)),
        ("Species", species_words(found.by_species)),
    )
    items = "".join(f"<div><dt>{escape(k)}</dt><dd>{escape(v)}</dd></div>" for k, v in facts)
    notes = f'<dl class="facts">{items}</dl>{bullets(found.notes)}{_missing(found)}'
    sums = (
        f'<div class="aside">{_totals(found)}</div>'
        f'<div class="aside">{fold("More on what is counted", notes)}</div>'
    )
    return (
        f'<p class="lead"><b>{escape(CALLS_NOT_SNAKES)}</b> A place without calls may be a place where '
        f'nobody calls.</p><div class="beside">{sums}</div>'
    )


def _totals(found: Hotspots) -> str:
    """Return where every callout read ended up; the sums are those of the result."""
    c = found.counted
    gone = (
        ("without a place", c.without_place),
        ("dated in the future", c.future),
        ("before or after the time observed", c.other_times),
        ("the same row twice", c.duplicates),
        ("outside the region", c.outside_region),
        ("where homes are not known", c.outside_extent),
    )
    of_incidents = (
        (f"from {_a(found)} without homes", c.without_homes),
        ("from none of the areas supplied", c.in_no_unit),
        (f"known to a circle wider than {_a(found)}: in none", c.too_vague),
        (f"from {_a(found)} less than {percent(LEAST_KNOWN)} known: in no test", c.untested),
    )
    rows = _sum("Callouts in the book", c.read, head=True)
    rows += "".join(_sum(f"left out: {k}", n) for k, n in gone if n)
    rows += _sum("Calls counted", c.calls, head=True)
    rows += _sum("Incidents", c.incidents, head=True)
    rows += "".join(_sum(f"of these {k}", n) for k, n in of_incidents if n)
    return f'<table class="sums"><caption>Where every call went</caption><tbody>{rows}</tbody></table>'


def _a(found: Hotspots) -> str:
    return "an area" if found.rates is not None and found.rates.choice is None else "a cell"


def _sum(words: str, number: int, *, head: bool = False) -> str:
    kind = ' class="head"' if head else ""
    return f'<tr{kind}><th scope="row">{escape(words)}</th><td class="figure">{grouped(number)}</td></tr>'


def _missing(found: Hotspots) -> str:
    lines = [f"{name.replace('_', ' ')}: {why}" for name, why in found.missing.items()]
    return f"<h3>Not on this page</h3>{bullets(lines)}" if lines else ""
