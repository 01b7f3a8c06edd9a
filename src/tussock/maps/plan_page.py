"""The page of a plan: cautions, the answer, the map, the cards."""

from __future__ import annotations

from html import escape

from tussock.maps import cards, no_site
from tussock.maps.card_words import habitat_words
from tussock.maps.cautions import footer_cautions, strip
from tussock.maps.consent_block import needs_consent
from tussock.maps.ground_sketch import GroundSketch
from tussock.maps.hours import leave_words, release_words, sun_words
from tussock.maps.legend import key_line, legend
from tussock.maps.plan_map import NEAREST_CARD, card_id, draw_plan, limits, same_place
from tussock.maps.several import told_apart
from tussock.maps.share import SHARE_WORDS, shareable
from tussock.maps.tally import tally
from tussock.maps.timeline import stopped_by_clock, timeline
from tussock.maps.words import compass, metres, moment, sentence
from tussock.planning.record import PermitFacts, Plan, Site

MAP_LABEL = "Map of the capture, the circle that a clause allows, what is ruled out, and the sites"


def plan_html(
    plan: Plan, ground: GroundSketch, *, emergency_number: str | None = None, share: bool = False
) -> str:
    """Return one self-contained page that asks no host for anything; the same inputs give the same bytes.

    Parameters
    ----------
    plan
        The answer.
    ground
        What is drawn beneath it.
    emergency_number
        The country's, verified; ``None`` reads "your emergency number".
    share
        For a copy that is passed on: without map, positions, bearings, names and ids, and distances to
        100 m; the page says so.
    """
    from tussock.maps import canvas

    if share:
        body = _body(told_apart(shareable(plan)), "", number=emergency_number, share=True)
        return canvas.page_html(
            title="A release plan, positions left out", body=body, styles=[canvas.asset("page.css")],
            scripts=[canvas.asset("bite.js")],
        )  # fmt: skip
    plan = told_apart(plan)
    sheet = canvas.Canvas(label=MAP_LABEL, limits=limits(plan, ground))
    draw_plan(sheet, plan, ground)
    body = _body(plan, _map_section(plan, ground), number=emergency_number, share=False)
    return sheet.page(title=_title(plan), body=body, styles=[], scripts=["plan.js", "bite.js"])


def _title(plan: Plan) -> str:
    c = plan.capture
    name = " or ".join((c.vernacular_name or c.scientific_name, *c.others))
    return f"Where to release: {name}, {c.id}" if c.id else f"Where to release: {name}"


def _body(plan: Plan, map_section: str, *, number: str | None, share: bool) -> str:
    c = plan.capture
    position = None if share else (c.longitude, c.latitude)
    skip = "" if share else '<a class="skip" href="#cards">To the cards</a>'
    return "\n".join(
        part
        for part in (
            skip,
            strip(emergency_number=number, position=position, place="The place of capture"),
            no_site.stop_block(plan),
            f'<main class="{"plain" if share else "plan"}">',
            _answer(plan, share=share),
            map_section,
            _cards(plan, share=share),
            "</main>",
            _foot(plan, share=share),
        )
        if part
    )


def _answer(plan: Plan, *, share: bool) -> str:
    note = f'<p class="shared">{escape(SHARE_WORDS)}</p>' if share else ""
    return (
        f'<section class="answer"><p class="print-title">{"" if share else escape(_title(plan))}</p>'
        f"<h1>{_headline(plan, share=share)}</h1>{_second_line(plan)}"
        f'<p class="under">{_about(plan, share=share)}</p>{note}{no_site.way_on(plan)}{_clock(plan)}'
        f"{no_site.answer_form(plan) if stopped_by_clock(plan) else ''}</section>"
    )


def _headline(plan: Plan, *, share: bool) -> str:
    if not plan.sites:
        return "No site is offered"
    best = plan.sites[0]
    away = metres(best.distance_m, spread=best.radius_m)
    return f'<span class="disc first">1</span> {away}{"" if share else f" {compass(best.bearing_deg)}"}'


def _second_line(plan: Plan) -> str:
    if not plan.sites:
        return ""
    best = plan.sites[0]
    near = (
        "" if best.dwelling_m is None else f"; nearest home {metres(best.dwelling_m, spread=best.radius_m)}"
    )
    words = f"from the capture, {habitat_words(best.habitat)}{near}."
    hours = _head_hours(plan)
    return f'{hours}<p class="lead">{escape(words)} Site 1 of {len(plan.sites)}: {escape(tally(best))}.</p>'


def _head_hours(plan: Plan) -> str:
    """Return the hours of site 1, and the last moment with the sun beneath; empty where none were planned."""
    best = plan.sites[0]
    if not best.release_from:
        return ""
    rest = (leave_words(best), sun_words(plan.clock, beside=best.release_from, only_next=True))
    return (
        f'<p class="lead hours">{escape(release_words(best))}.</p>'
        f'<p class="lead">{escape(" ".join(f"{words}." for words in rest if words))}</p>'
    )


def _clock(plan: Plan) -> str:
    """Return the next two days: open where the clock has stopped the plan, else folded."""
    drawn = timeline(plan)
    if not drawn:
        return ""
    if stopped_by_clock(plan):
        return drawn
    if not plan.circle_m:  # something else has stopped it
        return ""
    return f'<details class="more"><summary>The next two days</summary>{drawn}</details>'


def _about(plan: Plan, *, share: bool) -> str:
    """Return whose animal, permit and time the answer is for."""
    c = plan.capture
    latin = f" <i>{escape(c.scientific_name)}</i>" if c.vernacular_name else ""
    name = f"{escape(c.vernacular_name or c.scientific_name)}{latin}"
    named = " or ".join((name, *(f"<i>{escape(n)}</i>" for n in c.others)))
    animal = f"{named}, {escape(c.danger.replace('_', ' '))}"
    permits = " ".join(sentence(f"{'' if share else 'Permit '}{p.id}, {_version(p)}") for p in plan.permits)
    if share:
        return f"{animal}. {escape(permits)}"
    capture = f", capture {escape(c.id)}" if c.id else ""
    return f"{animal}{capture}. {escape(permits)} For release at {escape(moment(plan.release_at))}."


def _version(permit: PermitFacts) -> str:
    if not permit.version:
        return "no version in force"
    words = f"version of {permit.version}"
    if permit.version_at_capture == permit.version:
        return words
    taken = f"the version of {permit.version_at_capture}" if permit.version_at_capture else "no version"
    return f"{words} (at the capture {taken} was in force)"


def _map_section(plan: Plan, ground: GroundSketch) -> str:
    from tussock.maps.marks import NORTH

    return (
        f'<section class="map-part" aria-label="Map"><div class="map-box"><!--map-->{NORTH}'
        f"{_views(plan)}</div>"
        '<noscript><p class="block">The map needs scripts; the cards do not.</p></noscript>'
        f"{key_line(plan)}{_credits(ground)}"
        f'<p class="print-scale"></p>{legend(plan, ground)}</section>'
    )


def _views(plan: Plan) -> str:
    """Return the buttons that bring back a view; none where there is only one."""
    if not (plan.sites or plan.needs_consent):
        return ""
    first = "Sites" if plan.sites else "Places"
    return (
        '<div class="map-tools"><button type="button" data-view="sites">' + first + "</button>"
        '<button type="button" data-view="circle">Whole circle</button></div>'
    )


def _credits(ground: GroundSketch) -> str:
    """Return who made the data and the map script, directly under the map."""
    return f'<p class="credits">{escape("; ".join((*ground.attributions, "map drawn with Leaflet")))}</p>'


def _cards(plan: Plan, *, share: bool) -> str:
    sites = plan.sites
    made = [
        cards.site_card(
            s, card=card_id(s), total=len(sites), first=k == 0, share=share, facts=plan.clock,
            runner_up=sites[k + 1] if k + 1 < len(sites) else None,
        )
        for k, s in enumerate(sites)
    ]  # fmt: skip
    return (
        f'<section id="cards" class="cards" aria-label="Sites">{"".join(made)}'
        f"{needs_consent(plan, share=share)}"
        f"{no_site.obstacles(plan)}{'' if stopped_by_clock(plan) else no_site.answer_form(plan)}"
        f"{no_site.nearest_block(plan, _nearest_card(plan, share=share))}"
        f"{no_site.warnings_block(plan)}{no_site.removed_table(plan)}{no_site.animal_block(plan)}</section>"
    )


def _nearest_card(plan: Plan, *, share: bool) -> str:
    near: Site | None = plan.nearest
    if (
        near is None
        or any(same_place(near, s) for s in plan.sites)
        or (share and near.rank <= len(plan.sites))
    ):
        return ""
    return cards.site_card(
        near,
        card=NEAREST_CARD,
        total=len(plan.sites),
        runner_up=None,
        first=False,
        facts=plan.clock,
        share=share,
    )


def _foot(plan: Plan, *, share: bool) -> str:
    from tussock import __version__

    sources = "".join(f"<li>{escape(s)}</li>" for s in plan.sources)
    rows = "".join(f"<li>{escape(k)}: <code>{escape(v)}</code></li>" for k, v in plan.inputs.items())
    made = f"Made by Tussock {__version__}" + (
        "." if share else f" for {escape(moment(plan.now))}, region {escape(plan.region)}."
    )
    inputs = (
        f'<details class="more"><summary>Inputs and their hashes</summary><ul>{rows}</ul></details>'
        if rows
        else ""
    )
    data = f"<h2>Data</h2><ul>{sources}</ul>" if sources else ""
    return (
        f"<footer><h2>Cautions</h2>{footer_cautions()}{data}"
        f'<p class="under">{escape(no_site.counts_words(plan))} {made}</p>{inputs}</footer>'
    )
