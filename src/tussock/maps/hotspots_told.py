"""What the map tells of a place that is tapped: the figures of a cell, edge, circle or point in words.

All of it is plain text; the page's script puts it in as text, never as HTML.
"""

from __future__ import annotations

import math

from tussock.hotspots.bands import EdgeEffect
from tussock.hotspots.cell_odds import DISTRICT
from tussock.hotspots.cells import LEAST_KNOWN
from tussock.hotspots.found import ClusterTold, Hotspots, Rates, SpaceTime, StandbyTold
from tussock.maps.hotspots_circles import circle_words, place_words, species_line, sure_words
from tussock.maps.hotspots_clusters import cylinder_letter, period_words
from tussock.maps.hotspots_rates import SURE, cell_place, per_1000, probability, unit_word
from tussock.maps.hotspots_words import (
    NOT_TESTED,
    band_words,
    count,
    edge_sentence,
    edge_verdict,
    figure,
    homes,
    homes_words,
    interval,
    odds_words,
    p_value,
    percent,
    ring_words,
    span,
    time_words,
)
from tussock.maps.words import sentence

Told = tuple[str, list[str]]
"""A title and sentences."""


def cell_told(found: Hotspots, rates: Rates, k: int, i: int) -> Told:
    """Return what is told of a cell.

    Parameters
    ----------
    k
        Its number in the table.
    i
        Its row.
    """
    cells, s, what = rates.cells, rates.smoothed, unit_word(rates)
    own = homes(float(cells.homes_low[i]), float(cells.homes_high[i]))
    lines = [f"{count(int(cells.incidents[i]), 'incident')}; {own} {'home' if own == '1' else 'homes'}."]
    title = f"{what.capitalize()} {k}: {cell_place(found, rates, i)}"
    if not cells.tested[i]:
        return title, [*lines, f"Not tested: {untested_because(rates, i)}."]
    rate, low, high = (float(v[i]) for v in per_1000(found, rates))
    lines.append(
        f"Smoothed rate {figure(rate)} ({span(low, high)}) incidents per 1,000 homes "
        f"{time_words(found.asked)}, "
        f"{figure(float(s.ratio[i]))} ({span(float(s.low[i]), float(s.high[i]))}) times the usual {what}'s."
    )
    lines.append(_above(float(s.above[i])))
    lines.append(ring_words(rates.ring, i, what))
    return title, [*lines, _odds(rates, i)]


def _above(p: float) -> str:
    """Return whether a cell is probably above the usual one's rate."""
    what = "P(RR>1), how probably its rate is above the usual one's"
    if math.isnan(p):
        return f"{what}: not known; cells do not differ, or no building in it is a home for certain."
    return f"{what}: {probability(p)}{', probably above' if p > SURE else ', not shown to be above'}."


def untested_because(rates: Rates, i: int) -> str:
    """Return why a cell is in no test and has no smoothed rate."""
    if rates.cells.homes_high[i] <= 0:
        return "no home stands in it"
    known = percent(float(rates.cells.known[i]))
    return f"homes are known in only {known} of it, less than {percent(LEAST_KNOWN)}"


def _odds(rates: Rates, i: int) -> str:
    one = rates.odds[i]
    if one.area == rates.cells.names[i] or one.reason:
        return sentence(f"Odds: {odds_words(one)}")
    whose = "of the district" if one.area == DISTRICT else "of the larger cell around it"
    return sentence(f"Odds {whose}: {odds_words(one)}")


def edge_told(effect: EdgeEffect) -> list[str]:
    """Return what is told of an edge."""
    lines = [sentence(edge_sentence(effect))]
    if edge_verdict(effect) != NOT_TESTED:
        lines.append(f"One-sided, corrected for all edges: {p_value(effect.p_more_adjusted)}.")
    for b in effect.bands:
        rate = (
            "" if math.isnan(b.rate.value) else f": {interval(b.rate)} per 1,000 homes in the time observed"
        )
        lines.append(
            f"{sentence(band_words(b.near_m, b.far_m)).removesuffix('.')}: "
            f"{count(b.incidents, 'incident')}, {homes_words(b.homes)}{rate}."
        )
    return lines


def cluster_told(k: int, told: ClusterTold) -> Told:
    """Return what is told of a circle of the scan."""
    lines = [
        f"{circle_words(told)}.",
        sure_words(told),
        f"Against chance {p_value(told.p_chance)}, against the usual unevenness {p_value(told.p_uneven)}: "
        f"{'stands out' if told.stands_out else 'not shown'}.",
        species_line(told.species),
        f"{sentence(place_words(told.spot)).removesuffix('.')}: where to look, not where it ends.",
    ]
    title = f"Cluster {k}" if told.stands_out else f"Circle {k}, not shown"
    return title, [line for line in lines if line]


def cylinder_told(k: int, told: SpaceTime) -> Told:
    """Return what is told of an unusual place and months."""
    c = told.scan.cylinders[k]
    lines = [
        f"{count(c.observed, 'incident')} where {figure(c.expected)} were to be expected, "
        f"{period_words(told, c)}; {p_value(c.p)}.",
        sentence(place_words(told.spots[k])),
    ]
    return f"Combination {cylinder_letter(k)}", lines


def point_told(k: int, told: StandbyTold) -> Told:
    """Return what is told of a point to stand by at."""
    lon, lat = told.points[k]
    share = percent(float(told.standby.share[k]))
    lines = [
        f"{share} of the calls to be expected are nearest to this point, in a straight line: no roads.",
        f"{lat:.4f}, {lon:.4f}.",
    ]
    return f"Stand by {k + 1}", lines
