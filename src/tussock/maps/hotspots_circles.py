"""What is said of a circle of the scan: its cells, how much more often, over which homes, what was missed."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from tussock.hotspots.cells import LEAST_KNOWN, Cells
from tussock.hotspots.found import STANDS_OUT, Clusters, ClusterTold, Hotspots, Spot
from tussock.hotspots.power import LeastSeen
from tussock.hotspots.scan import Cluster
from tussock.maps.hotspots_words import count, figure, homes, listed, p_value, percent, species_words
from tussock.maps.words import grouped, metres

_CORNER_STEP_M = 10.0


def place_words(spot: Spot) -> str:
    """Return the cells of a circle in words; the distance is rounded up, so that they all lie within it."""
    far = metres(_CORNER_STEP_M * math.ceil(spot.reach_m / _CORNER_STEP_M))
    at = f"round {spot.latitude:.4f}, {spot.longitude:.4f}"
    if spot.cells == 1:
        return f"in one cell {at}, its farthest corner {far} away"
    return f"in {spot.cells} cells {at}, the farthest corner {far} away"


def often_words(circle: Cluster) -> str:
    """Return how much more often homes in a circle called; in words where none elsewhere did."""
    if math.isinf(circle.relative_risk):
        return "no incident came from elsewhere"
    return f"{figure(circle.relative_risk)} times as often as elsewhere"


def often_figure(circle: Cluster) -> str:
    """Return the same for a column of figures."""
    return "none elsewhere" if math.isinf(circle.relative_risk) else figure(circle.relative_risk)


def expected_words(circle: Cluster) -> str:
    """Return how many incidents a circle has, and how many were to be expected."""
    return f"{count(circle.observed, 'incident')} where {figure(circle.expected)} were to be expected"


def circle_words(told: ClusterTold) -> str:
    """Return what is found in a circle, over the most homes."""
    own = homes(*told.homes)
    noun = "home" if own == "1" else "homes"
    return f"{expected_words(told.most)} from {own} {noun}: {often_words(told.most)}"


def sure_words(told: ClusterTold) -> str:
    """Return what is found over the homes that are sure; empty where all are."""
    one = told.least
    if one is None:
        return ""
    if not one.expected > 0:
        return "No building there is a home for certain: without those of unknown use nothing can be said."
    return (
        f"Of homes that are sure alone: {expected_words(one)}, {often_words(one)}, {p_value(one.p)}; "
        f"of all that may be homes {p_value(told.most.p)}."
    )


def ends_words(told: Clusters) -> str:
    """Return that the two ends of the homes disagree about what stands out; empty where they do not."""
    if not told.homes_differ:
        return ""
    if told.least is None:
        return (
            "Too few buildings are homes for certain to set places against each other: without those of "
            "unknown use nothing can be said, so nothing stands out."
        )
    most, least = (len(s.standing_out(p=STANDS_OUT)) for s in (told.scan, told.least))
    if max(most, least) <= len(told.standing_out):
        return ""
    return (
        f"If all buildings of unknown use are homes, {circles_out(most)}; if none is, {circles_out(least)}: "
        "named is only what stands out either way."
    )


def circles_out(number: int) -> str:
    """Return how many circles stand out."""
    return f"{count(number, 'circle')} {'stands' if number == 1 else 'stand'} out" if number else "none does"


def species_line(species: Mapping[str, int]) -> str:
    """Return the species of a circle."""
    return f"Species: {species_words(species)}."


def missed_words(one: LeastSeen) -> str:
    """Return what would have been missed of places of one size, as a noun."""
    size = f"with {percent(one.share)} of the calls expected"
    if one.relative_risk is None:
        return f"a place {size}, however often its homes call"
    return f"a place {size} and less than {one.relative_risk:g} times the usual rate"


def power_sentence(found: Hotspots) -> str:
    """Return what the map would have missed, for the smallest place in which it sees anything."""
    told = found.clusters
    other = "other cluster" if told is not None and told.standing_out else "cluster"
    known = [p for p in told.power if p.relative_risk is not None] if told is not None else []
    if told is None or not known:
        calls = len(found.incidents) if told is None else told.scan.calls
        return f"That there is no {other}: {count(calls, 'incident')} are few to tell one from."
    least = min(known, key=lambda p: p.share)
    return (
        f"That there is no {other}: with {count(told.scan.calls, 'incident')} this map would have missed "
        f"{missed_words(least)} more than one time in five."
    )


def counted_in(cells: Cells, *, what: str, unit: str = "cell") -> str:
    """Return how many incidents take part in what is tested in cells, and why the others do not.

    Empty where all do.

    Parameters
    ----------
    what
        Takes part in what, such as ``the scan``.
    unit
        What a cell is called.
    """
    tally = cells.incident_tally
    tested = int(cells.incidents[cells.tested].sum())
    # a cell with homes and calls that is not tested is known too little
    unknown = int(cells.incidents[~cells.tested & (cells.homes_high > 0)].sum())
    a = f"an {unit}" if unit.startswith("a") else f"a {unit}"
    reasons = {
        f"from {unit}s without a home": tally.without_homes,
        f"from {unit}s known to less than {percent(LEAST_KNOWN)}": unknown,
        f"known to a circle wider than {a}": tally.too_vague,
        "from none of the areas": tally.in_no_cell,
    }
    left = {why: n for why, n in reasons.items() if n}
    if not left:
        return ""
    every = tested + sum(left.values())
    named = [f"{grouped(n)} {why}" for why, n in left.items()]
    return f"In {what} are {grouped(tested)} of {count(every, 'incident')}: not {listed(named)}."


def unsure_words(told: Clusters) -> str:
    """Return how many more incidents are left out where only sure homes count; empty with none."""
    if told.least is None or told.least.calls == told.scan.calls:
        return ""
    more = told.scan.calls - told.least.calls
    part = "takes no part, from a cell" if more == 1 else "take no part, from cells"
    return f"Where only sure homes count, {count(more, 'more incident')} {part} without one."


def number_above(above: np.ndarray, sure: float) -> int:
    """Return how many cells have a probability above a threshold; those not known have none."""
    return int((np.nan_to_num(above, nan=0.0) > sure).sum())
