"""The card of one site, in the order a person on a driveway needs it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape

from tussock.interval import Interval, Verdict
from tussock.maps.details import clause_table, score_table
from tussock.maps.hours import hours_lines, open_hours, travel_words
from tussock.maps.marks import verdict_mark
from tussock.maps.tally import tally
from tussock.maps.words import (
    THIN,
    between,
    clause_name,
    compass,
    half_width,
    limit_words,
    margin_words,
    metres,
    position_words,
    reason_words,
    sentence,
    to_confirm,
)
from tussock.planning.record import ClauseResult, ClockFacts, Site

NEAR = (
    ("nearest home", "dwellings", "dwelling_m"),
    ("nearest peopled place", "peopled_places", "peopled_m"),
    ("nearest road", "roads", "road_m"),
)
"""What stands near a site: words, layer, attribute of the site."""
QUESTIONS = (
    "A refuge within about 5 m: a log, burrow, crevice, dense grass or deep litter?",
    "The ground shaded, neither hot nor cold to the hand?",
    "No people, dogs, stock, vehicles, works, fire, flood or bait signs?",
    "No building or yard that the map does not show?",
    "The right property, and its consent?",
    "The animal alert and moving normally?",
    "The way back clear?",
)
NEAREST_SIGN = "N"
"""Of the nearest place that meets every clause, where it is none of the offered sites."""
CONSENT_KINDS = frozenset({"consent_recorded"})
COUNTING = frozenset({"max_releases_near"})
TIME_KINDS = frozenset({"max_holding_hours", "same_calendar_day", "release_window"})


def site_card(
    site: Site,
    *,
    card: str,
    total: int,
    runner_up: Site | None,
    first: bool,
    facts: ClockFacts | None = None,
    share: bool = False,
) -> str:
    """Return a site's card, folded except the first; user text escaped.

    Parameters
    ----------
    card
        Id of the card in the page.
    total
        Number of sites offered.
    runner_up
        The site ranked next, to say what puts this one before it.
    facts
        The sun and the clock of the plan.
    share
        Leave positions, bearings and links out.
    """
    body = "".join(
        (
            _times(site, facts),
            _way(site, share=share),
            _confirm(site),
            _distances(site, share=share),
            _tightest(site),
            _habitat(site, share=share),
            _questions(),
            _why(site, runner_up),
            _place(site, share=share),
            _details(site),
        )
    )
    return (
        f'<details class="card" id="{escape(card)}"{" open" if first else ""}>'
        f'<summary>{_head(site, total, share=share)}</summary><div class="card-body">{body}</div></details>'
    )


def _head(site: Site, total: int, *, share: bool) -> str:
    sign, named = place_name(site, total=total)
    return (
        f'<span class="disc">{sign}</span>'
        f"<span><b>{named}: {escape(tally(site))}</b><br>"
        f'<span class="under">{_from_capture(site, share=share)}; '
        f"{escape(habitat_words(site.habitat))}</span></span>"
    )


def place_name(site: Site, *, total: int) -> tuple[str, str]:
    """Return a site's sign and name, the same on map, card and terminal: ``1``, ``Site 1 of 3``."""
    if 1 <= site.rank <= total:
        return str(site.rank), f"Site {site.rank} of {total}"
    return NEAREST_SIGN, "The nearest place"


def _from_capture(site: Site, *, share: bool) -> str:
    clause = _distance_clause(site)
    away = metres(
        site.distance_m, spread=half_width(clause.value) if clause and clause.value else site.radius_m
    )
    return away + (" from the capture" if share else f" {compass(site.bearing_deg)} of the capture")


def habitat_words(habitat: str) -> str:
    """Return a habitat class as words."""
    return "habitat not mapped" if habitat in ("", "unmapped") else habitat.replace("_", " ")


def _distance_clause(site: Site) -> ClauseResult | None:
    found = [c for c in site.clauses if c.kind == "max_distance_from_capture" and c.value is not None]
    return min(found, key=lambda c: c.limit if c.limit is not None else math.inf, default=None)


def _section(title: str, inner: str) -> str:
    return f"<section><h3>{title}</h3>{inner}</section>" if inner else ""


def _items(texts: Iterable[str], cls: str = "") -> str:
    inner = "".join(f"<li>{escape(t)}</li>" for t in texts)
    return f"<ul{f' class={cls}' if cls else ''}>{inner}</ul>" if inner else ""


def _times(site: Site, facts: ClockFacts | None) -> str:
    """Return the hours first, then what of the clock nobody could compute."""
    lines = hours_lines(site, facts)
    said = "".join(
        f'<p class="hours">{escape(w)}</p>' if k == 0 else f"<p>{escape(w)}</p>" for k, w in enumerate(lines)
    )
    asked = open_hours(site.clauses)
    left = (
        f"<p>Not computed. Keep to the clock yourself:</p>{_items((task_words(c) for c in asked), 'ticks')}"
        if asked
        else ""
    )
    return _section("Hours", said + left)


def _way(site: Site, *, share: bool) -> str:
    lines = []
    if travel := travel_words(site):
        lines.append(f"{travel}.")
    if site.stop_walk_m is not None:
        far = metres(site.stop_walk_m, spread=site.radius_m)
        lines.append(f"Stop on the public road: {far} to the site in a straight line.")
    elif site.stop_longitude is None:
        lines.append("No stopping place on a public road was found.")
    lines.append("Gates are not on the map: leave each as you find it.")
    links = "" if share else navigate(site)
    words = f"<p>{escape(' '.join(lines))}</p>{links}"
    return _section("Getting there", f"{words}{_consent(site, share=share)}")


def _consent(site: Site, *, share: bool) -> str:
    """Return which consent covers the site, or what a person has to find out."""
    asked = [c for c in site.clauses if c.kind in CONSENT_KINDS and c.applies and not c.house]
    lines = [consent_words(site)] if site.consents and not share else []
    if asked and not lines and any(c.verdict is Verdict.MET for c in asked):
        lines = ["A consent on record covers it." if share else "No consent is asked for on this ground."]
    ticks = [_reasoned(c) for c in asked if to_confirm(c)]
    return "".join(f"<p>{escape(w)}</p>" for w in lines) + _items(ticks, "ticks")


def _reasoned(clause: ClauseResult) -> str:
    """Return what is to be found out, such as "owner unknown: …", and for which clause."""
    why, task = clause.reason or "", task_words(clause)
    return task if not why or why.startswith("not checked") else f"{sentence(why)} {task}"


def consent_words(site: Site) -> str:
    """Return which consents cover a site: ``Consent CN-005 covers it (P-00023).``"""
    by_consent: dict[str, list[str]] = {}
    for consent, ground in site.consents:
        by_consent.setdefault(consent, []).append(ground)
    said = [f"{name} ({', '.join(grounds)})" for name, grounds in by_consent.items()]
    if len(said) == 1:
        return f"Consent {said[0]} covers it."
    return f"Consents {', '.join(said)} cover it together." if said else ""


def task_words(clause: ClauseResult) -> str:
    """Return what the person sees to for a clause: its text and its name."""
    return f"{sentence(clause.text or clause.words)} ({clause_name(clause.source, clause.id)})"


def _confirm(site: Site) -> str:
    """Return what else is left to the person; what stands under times and way there is not repeated."""
    said = TIME_KINDS | CONSENT_KINDS
    left = [c for c in site.clauses if to_confirm(c)]
    tasks = [_reasoned(c) if c.kind in COUNTING else task_words(c) for c in left if c.kind not in said]
    # a to-do that comes from no clause of this list stands as it was written
    own = [t for t in site.todo if not any(t.startswith(f"{c.id}:") for c in left)]
    return _section("You confirm", _items([*tasks, *own], "ticks"))


def navigate(site: Site) -> str:
    """Return the links that open a navigation program: to the stopping place, and to the site (RFC 5870)."""
    links = []
    if site.stop_longitude is not None and site.stop_latitude is not None:
        stop = geo_uri(site.stop_longitude, site.stop_latitude)
        links.append(f'<a class="go" href="{stop}">Navigate to the stop</a>')
    place = geo_uri(site.longitude, site.latitude, radius_m=site.radius_m)
    links.append(f'<a class="go" href="{place}">Navigate to the site</a>')
    return f'<p class="gos">{"".join(links)}</p>'


def geo_uri(longitude: float, latitude: float, *, radius_m: float | None = None) -> str:
    """Return a ``geo:`` address (RFC 5870), latitude first, with its uncertainty [m] where one is given.

    Examples
    --------
    >>> geo_uri(147.3, -42.9, radius_m=30)
    'geo:-42.900000,147.300000;u=30'
    """
    tail = "" if radius_m is None else f";u={radius_m:g}"
    return f"geo:{latitude:.6f},{longitude:.6f}{tail}"


def _distances(site: Site, *, share: bool) -> str:
    rows = [
        _distance_row("From the capture", site.distance_m, [c for c in (_distance_clause(site),) if c], site)
    ]
    for words, layer, attribute in NEAR:
        value: float | None = getattr(site, attribute)
        clauses = clauses_about(site.clauses, layer)
        if value is not None or clauses:
            rows.append(_distance_row(words.capitalize(), value, clauses, site))
    return _section("Distances", f'<dl class="distances">{"".join(rows)}</dl>')


def clauses_about(clauses: Sequence[ClauseResult], layer: str) -> list[ClauseResult]:
    """Return the judged distance clauses about a layer, the strictest first."""
    found = [
        c
        for c in clauses
        if c.kind == "min_distance_from" and f"layer {layer}" in c.words and c.verdict is not None
    ]
    return sorted(found, key=lambda c: -(c.limit or 0))


def _distance_row(words: str, value: float | None, clauses: Sequence[ClauseResult], site: Site) -> str:
    measured = next((c.value for c in clauses if _is_of(c, value)), None)
    spread = half_width(measured) if measured is not None else site.radius_m
    lead = (
        metres(value, spread=spread)
        if value is not None
        else (between(measured) if measured else "not known")
    )
    notes = (
        "".join(_clause_note(c, other=not _is_of(c, value)) for c in clauses)
        or '<span class="note">no clause asks for it</span>'
    )
    span = (
        f' <span class="span">({between(measured)})</span>'
        if measured is not None and value is not None
        else ""
    )
    return f"<div><dt>{escape(words)}</dt><dd><b>{lead}</b>{span}{notes}</dd></div>"


def _is_of(clause: ClauseResult, value: float | None) -> bool:
    """Return whether a clause measured that distance, and not one to some classes of the layer only."""
    if clause.value is None:
        return False
    return value is None or clause.value.low <= value <= clause.value.high


def _clause_note(clause: ClauseResult, *, other: bool = False) -> str:
    own = between(clause.value) if other and clause.value is not None else ""
    parts = [p for p in (own, limit_words(clause), margin_words(clause)) if p]
    text = f"{clause_name(clause.source, clause.id)}: {', '.join(parts)}"
    return f'<span class="note">{verdict_mark(clause.verdict)} {escape(text)}</span>'


def _tightest(site: Site) -> str:
    lines = [w for w in (tightest_words(site.clauses), unknown_words(site.clauses), *site.notes) if w]
    return _section("Tightest and least known", "".join(f"<p>{escape(w)}</p>" for w in lines))


def tightest_words(clauses: Sequence[ClauseResult]) -> str:
    """Return which mandatory clause has least to spare, against its limit where it has one."""
    met = [
        c
        for c in clauses
        if c.mandatory and c.verdict is Verdict.MET and c.margin is not None and math.isfinite(c.margin)
    ]
    if not met:
        return ""
    least = min(met, key=lambda c: (_slack(c), c.source, c.id))
    return (
        f"Tightest, measured against its limit: {clause_name(least.source, least.id)}, with {_spare(least)}."
    )


def _slack(clause: ClauseResult) -> float:
    margin = clause.margin if clause.margin is not None else math.inf
    scale = clause.limit if clause.limit else (100.0 if clause.unit == "m" else 1.0)
    return margin / abs(scale) if clause.unit or clause.limit else math.inf


def _spare(clause: ClauseResult) -> str:
    words = margin_words(clause)
    return words or (
        f"{metres(clause.margin or 0.0, spread=half_width(clause.value))} to spare"
        if clause.unit == "m"
        else "nothing to spare"
    )


def unknown_words(clauses: Sequence[ClauseResult]) -> str:
    """Return which measured value is widest, and why."""
    uneven = [c for c in clauses if c.value is not None and c.unit == "m" and half_width(c.value) > 0]
    # beyond a far edge of data lies no surprise for a limit: bounded values come first
    wide = [c for c in uneven if math.isfinite(half_width(c.value))] or uneven
    if not wide:
        return ""
    most = max(wide, key=lambda c: (half_width(c.value), c.source, c.id))
    value = most.value or Interval(0.0, 0.0)
    why = reason_words(most.reason)
    subject = clause_name(most.source, most.id)
    return f"Biggest unknown: for {subject} the distance is {between(value)}" + (
        f", because {why}." if why else "."
    )


def _habitat(site: Site, *, share: bool) -> str:
    mapped = f"{sentence(habitat_words(site.habitat))[:-1]}, as mapped."
    if site.cover is not None:
        mapped += f" Cover on {round(100 * site.cover)}{THIN}% of the ground."
    if site.patch_ha is not None:
        mapped += (
            f" The patch is about {site.patch_ha:.1f}{THIN}ha."
            if site.patch_ha < 10
            else f" The patch is about {site.patch_ha:.0f}{THIN}ha."
        )
    if site.slope_deg is not None:
        mapped += f" Slope {site.slope_deg:.0f}°."
    look = "Look for a log, burrow, crevice, dense grass or deep litter."
    if site.cover_bearing_deg is not None:
        bearing = site.cover_bearing_deg
        look += f" Open the container towards the {compass(bearing)} ({bearing:.0f}°): cover lies there."
    return _section("Ground", f"<p>{escape(mapped)} {escape(look)}</p>")


def _questions() -> str:
    return _section("Check this spot", f"<p>One no, and it is not the place.</p>{_items(QUESTIONS, 'ticks')}")


def _why(site: Site, runner_up: Site | None) -> str:
    words = why_words(site, runner_up)
    return _section("Why this before the next", f"<p>{escape(words)}</p>") if words else ""


def why_words(site: Site, runner_up: Site | None) -> str:
    """Return what puts a site before the one ranked next; empty when there is none."""
    if runner_up is None:
        return ""
    if round(site.score, 6) == round(runner_up.score, 6):
        return f"Level on score with site {runner_up.rank}; it is nearer to the capture."
    theirs = {c.name: c for c in runner_up.criteria}
    gains = [
        (c.weight * math.log(max(c.score.low, 0.01) / max(theirs[c.name].score.low, 0.01)), c.words)
        for c in site.criteria
        if c.name in theirs
    ]
    best = [words for gain, words in sorted(gains, key=lambda g: (-g[0], g[1])) if gain > 0][:2]
    return f"Before site {runner_up.rank} mainly for {' and '.join(best)}." if best else ""


def _place(site: Site, *, share: bool) -> str:
    if share:
        return _section("Coordinates", "<p>Left out of this copy.</p>")
    at = position_words(site.longitude, site.latitude)
    show = f'<button type="button" class="show" data-show="{_card_of(site)}">Show on the map</button>'
    return _section(
        "Coordinates",
        f'<p><span class="number">{at}</span> (latitude, longitude, within {metres(site.radius_m)})</p>'
        f"<p>{show}</p>",
    )


def _card_of(site: Site) -> str:
    return f"site-{site.rank}" if site.rank else "site-nearest"


def _details(site: Site) -> str:
    scores = score_table(site)
    return (
        f'<details class="more"><summary>Every clause ({len(site.clauses)})</summary>'
        f"{clause_table(site.clauses)}</details>"
        f'<details class="more"><summary>Scores</summary>{scores}</details>'
    )
