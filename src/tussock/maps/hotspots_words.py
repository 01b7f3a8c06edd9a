"""What hotspots say, in words: rates, ratios, p-values, edges, months; nothing here decides anything."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from tussock.hotspots.bands import EdgeEffect, RatioHull
from tussock.hotspots.counts import Estimate
from tussock.hotspots.found import STANDS_OUT, Asked, Hotspots
from tussock.hotspots.odds import Odds
from tussock.hotspots.ring import Ring
from tussock.interval import Interval
from tussock.maps.words import THIN, grouped, metres, plainly
from tussock.names import MONTHS

CALLS_NOT_SNAKES = "Calls to this logbook, not snakes."
"""Stands on every page, on screen and printed."""
MORE, FEWER, NOT_SHOWN, NOT_TESTED = "more often", "less often", "not shown", "not tested"
"""What is found of an edge."""


def figure(value: float) -> str:
    """Return a ratio or a rate with two digits that mean something, never more than that.

    Examples
    --------
    >>> figure(3.14159), figure(0.04321), figure(31.4), figure(math.inf)
    ('3.1', '0.043', '31', '∞')
    """
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "∞"
    if value >= 9.95 or value == 0:
        return grouped(value)
    digits = 1 if value >= 0.995 else min(6, 1 - math.floor(math.log10(value)))
    return grouped(value, digits)


def interval(estimate: Estimate, *, unit: str = "") -> str:
    """Return a value with its interval: ``3.1 (2.2–4.3)``."""
    after = f"{THIN}{unit}" if unit else ""
    return f"{figure(estimate.value)}{after} ({span(estimate.low, estimate.high)})"


def span(low: float, high: float) -> str:
    """Return the two ends of an interval; one figure where both read the same."""
    a, b = figure(low), figure(high)
    return a if a == b else f"{a}–{b}"


def percent(share: float) -> str:
    """Return a share in whole per cent; never 0 or 100 that is not."""
    if math.isnan(share):
        return "not known"
    if 0 < share < 0.005:
        return f"under 1{THIN}%"
    if 0.995 <= share < 1:
        return f"over 99{THIN}%"
    return f"{100 * share:.0f}{THIN}%"


def share(estimate: Estimate) -> str:
    """Return a share with its interval in per cent."""
    if math.isnan(estimate.value):
        return "not known"
    return f"{percent(estimate.value)} ({100 * estimate.low:.0f}–{100 * estimate.high:.0f}{THIN}%)"


def p_value(p: float) -> str:
    """Return a p-value with its sign.

    Examples
    --------
    >>> p_value(0.0004), p_value(0.012), p_value(0.4), p_value(math.nan)
    ('p < 0.001', 'p = 0.012', 'p = 0.40', 'not tested')
    """
    if math.isnan(p):
        return NOT_TESTED
    if p < 0.001:
        return "p < 0.001"
    return f"p = {p:.3f}" if p < 0.1 else f"p = {p:.2f}"


def homes(low: float, high: float) -> str:
    """Return a number of homes as the interval it is."""
    a, b = grouped(low), grouped(high)
    return a if a == b else f"{a}–{b}"


def homes_of(value: Interval) -> str:
    """Return an interval of homes."""
    return homes(value.low, value.high)


def homes_words(value: Interval) -> str:
    """Return an interval of homes with its noun."""
    said = homes_of(value)
    return f"{said} home" if said == "1" else f"{said} homes"


def species_words(species: Mapping[str, int]) -> str:
    """Return species with their numbers, in the order given; those not recorded last."""
    named = [f"{word(name)} {grouped(n)}" for name, n in species.items() if name]
    return listed([*named, *(f"not recorded {grouped(n)}" for name, n in species.items() if not name)])


def count(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun."""
    return f"{grouped(number)} {one if number == 1 else many or one + 's'}"


def listed(words: Iterable[str], *, none: str = "none") -> str:
    """Return words as a list a person reads: ``a, b and c``."""
    found = list(words)
    if len(found) < 2:
        return found[0] if found else none
    return f"{', '.join(found[:-1])} and {found[-1]}"


def edge_name(effect: EdgeEffect) -> str:
    """Return what an edge is called; its layer where it bears no name."""
    layer = effect.edge.layer.replace("_", " ")
    return effect.edge.name or f"the {layer} without a name"


def band_words(near_m: float, far_m: float) -> str:
    """Return a band of distance: ``within 100 m``, ``300–1 000 m``."""
    return f"within {metres(far_m)}" if near_m == 0 else f"{grouped(near_m)}–{metres(far_m)}"


def ratio_words(hull: RatioHull) -> str:
    """Return a rate ratio with its interval; over an interval of homes the middle of two ratios.

    The interval is the hull over all homes. The middle is that of factors: between 2 and 8 it is 4.
    """
    low, _ = hull.ratio
    if math.isnan(low):
        return "not known"
    return f"{figure(middle(hull))} ({beside_one(hull.low)}–{beside_one(hull.high)})"


def beside_one(end: float) -> str:
    """Return the end of a ratio's interval, with as many digits as tell it from 1.

    Examples
    --------
    >>> beside_one(1.04), beside_one(1.003), beside_one(0.996), beside_one(1.0), beside_one(1.06)
    ('1.04', '1.003', '0.996', '1.0', '1.1')
    """
    said = figure(end)
    for digits in (2, 3, 4) if end != 1 else ():
        if said not in ("1.0", "1.00", "1.000"):
            break
        said = grouped(end, digits)
    return said


def middle(hull: RatioHull) -> float:
    """Return the geometric mean of a ratio over the least and the most homes."""
    low, high = hull.ratio
    return low if low == high else math.sqrt(low) * math.sqrt(high)


def edge_verdict(effect: EdgeEffect) -> str:
    """Return what is found of an edge: more often, less often, not shown, not tested.

    More often is the question asked beforehand, so its one-sided p counts, and its interval must not hold
    1, lest the page contradict itself; less often is told by the two-sided one.
    """
    if not effect.tested or math.isnan(effect.p_more_adjusted):
        return NOT_TESTED
    if effect.more(STANDS_OUT):
        return MORE
    if effect.p_adjusted <= STANDS_OUT and effect.ratio.ratio[1] < 1:
        return FEWER
    return NOT_SHOWN


def edge_sentence(effect: EdgeEffect) -> str:
    """Return what is found of an edge, as a sentence."""
    near, far = effect.bands[0], effect.bands[-1]
    beside = f"Homes {band_words(near.near_m, near.far_m)} of {edge_name(effect)}"
    against = f"homes {band_words(far.near_m, far.far_m)} away"
    verdict = edge_verdict(effect)
    if verdict == NOT_TESTED:
        few = f"{homes_of(near.homes)} homes near and {homes_of(far.homes)} far"
        return f"{beside}: not tested, with {few} there is nothing to compare."
    if verdict == NOT_SHOWN:
        said = f"{ratio_words(effect.ratio)} times as often as {against}"
        return f"{beside} called {said}: not shown to be more than chance."
    if math.isinf(middle(effect.ratio)):
        least = figure(effect.ratio.low)
        return f"{beside} called at least {least} times as often as {against}, none of which called."
    return f"{beside} called {ratio_words(effect.ratio)} times as often as {against}."


def word(text: str) -> str:
    """Return a word of the user's files as a person writes it; ``not recorded`` for none."""
    return plainly(text).replace("_", " ") if text else "not recorded"


def months_words(first: int, last: int) -> str:
    """Return a run of months of the year, 1 to 12."""
    a, b = MONTHS[first - 1], MONTHS[last - 1]
    return a if a == b else f"{a} to {b}"


def odds_words(one: Odds) -> str:
    """Return odds as two figures with what they rest on; the reason where there are none.

    They rest on incidents, each counted once, as everything else on the page.
    """
    over = f"{one.years:.3g} year{'s' if one.years != 1 else ''}"
    if one.fewer_than_one_in is not None:
        most = grouped(one.fewer_than_one_in)
        fewest = homes(one.homes[0], one.homes[0])
        return f"none from {fewest} homes in {over}: fewer than one home in {most} a year"
    if one.one_in is None:
        return f"none given: {one.reason}"
    near, far = (f"{v:.10g}" if v < 100 else grouped(v) for v in one.one_in)
    basis = f"{count(one.incidents, 'incident')} from {homes(*one.homes)} homes in {over}"
    return f"between one home in {near} and one in {far} a year ({basis})"


def time_words(asked: Asked) -> str:
    """Return what a rate of the district is over: a year, or the days there were."""
    if asked.whole_years is not None:
        return "a year"
    return f"in the time observed ({count(asked.days, 'day')})"


def yearly_words(asked: Asked) -> str:
    """Return which time yearly figures are of."""
    if asked.whole_years is None:
        return "no yearly figures, for less than a whole year was observed"
    return f"yearly figures are of {asked.whole_years.first} to {asked.whole_years.last}"


def district_words(found: Hotspots) -> str:
    """Return the district's rate with the time it is over."""
    if found.district_rate is None:
        return "no rate, for none of the calls read is counted"
    return f"{interval(found.district_rate)} incidents per 1,000 homes {time_words(found.asked)}"


def ring_words(ring: Ring, i: int, what: str) -> str:
    """Return whether a cell stands out from those around it; why not where it was not asked."""
    p = float(ring.p_adjusted[i])
    if math.isnan(p):
        return f"Ring test: not made; the {what}, or all around it, may hold no home."
    low, high = (float(e[i]) for e in ring.expected)
    said = f"{span(low, high)} incidents to be expected from the {what}s around it, corrected {p_value(p)}"
    verdict = "above them" if ring.flagged[i] else "not shown to be above them"
    return f"Ring test: {said}: {verdict}."
