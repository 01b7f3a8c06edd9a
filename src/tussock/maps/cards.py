"""The card of one site, in the order a person on a driveway needs it."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from tussock.interval import Verdict
from tussock.maps.card_distances import distance_clause, distances
from tussock.maps.card_words import (
    consent_words,
    habitat_words,
    place_name,
    reasoned,
    task_words,
    tightest_words,
    unknown_words,
    why_words,
)
from tussock.maps.details import clause_table, score_table
from tussock.maps.hours import hours_lines, open_hours, travel_words
from tussock.maps.tally import tally
from tussock.maps.words import (
    THIN,
    compass,
    half_width,
    metres,
    position_words,
    sentence,
    to_confirm,
)
from tussock.planning.record import ClockFacts, Site

QUESTIONS = (
    "A refuge within about 5 m: a log, burrow, crevice, dense grass or deep litter?",
    "The ground shaded, neither hot nor cold to the hand?",
    "No people, dogs, stock, vehicles, works, fire, flood or bait signs?",
    "No building or yard that the map does not show?",
    "The right property, and its consent?",
    "The animal alert and moving normally?",
    "The way back clear?",
)
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
            _section("Distances", distances(site)),
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


def _from_capture(site: Site, *, share: bool) -> str:
    clause = distance_clause(site)
    away = metres(
        site.distance_m, spread=half_width(clause.value) if clause and clause.value else site.radius_m
    )
    return away + (" from the capture" if share else f" {compass(site.bearing_deg)} of the capture")


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
    ticks = [reasoned(c) for c in asked if to_confirm(c)]
    return "".join(f"<p>{escape(w)}</p>" for w in lines) + _items(ticks, "ticks")


def _confirm(site: Site) -> str:
    """Return what else is left to the person; what stands under times and way there is not repeated."""
    said = TIME_KINDS | CONSENT_KINDS
    left = [c for c in site.clauses if to_confirm(c)]
    tasks = [reasoned(c) if c.kind in COUNTING else task_words(c) for c in left if c.kind not in said]
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


def _tightest(site: Site) -> str:
    lines = [w for w in (tightest_words(site.clauses), unknown_words(site.clauses), *site.notes) if w]
    return _section("Tightest and least known", "".join(f"<p>{escape(w)}</p>" for w in lines))


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
