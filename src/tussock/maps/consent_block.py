"""Places that lack nothing but a consent: listed apart, never ranked; no person is named."""

from __future__ import annotations

from html import escape

from tussock.maps.hours import release_words
from tussock.maps.words import compass, metres, position_words
from tussock.planning.record import Plan, Site

HEAD = "Needs consent first"
WHOM = "Whom to call is in your holders table"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def letter(k: int) -> str:
    """Return the sign of the k-th such place, as on the map."""
    return LETTERS[k % len(LETTERS)]


def card_id(k: int) -> str:
    """Return the id of its card in the page."""
    return f"consent-{letter(k).lower()}"


def ground_words(site: Site) -> str:
    """Return the parcels without a consent: ``P-00213 (private farm)``."""
    said = [f"{parcel}{f' ({tenure})' if tenure else ''}" for parcel, tenure in site.lacking]
    return ", ".join(said)


def needs_consent(plan: Plan, *, share: bool) -> str:
    """Return the block; empty where there is no such place."""
    if not plan.needs_consent:
        return ""
    cards = "".join(_card(k, site, plan, share=share) for k, site in enumerate(plan.needs_consent))
    lead = "Met on every other clause, never offered before a consent is on record."
    whom = "" if share else f" {WHOM}."
    return (
        f'<section class="block consent"><h2>{HEAD}</h2><p>{lead}{escape(whom)}</p>'
        f'<ul class="consents">{cards}</ul></section>'
    )


def _card(k: int, site: Site, plan: Plan, *, share: bool) -> str:
    ground = "" if share else f": {ground_words(site)}"
    lines = [facts_words(site, beside=plan.release_at, share=share), *site.notes]
    place = "" if share else position_words(site.longitude, site.latitude)
    at = f'<p><span class="number">{place}</span> (latitude, longitude)</p>' if place else ""
    show = (
        ""
        if share
        else f'<p><button type="button" class="show" data-show="{card_id(k)}">Show on the map</button></p>'
    )
    inner = "".join(f"<p>{escape(line)}</p>" for line in lines if line)
    return (
        f'<li class="card" id="{card_id(k)}" tabindex="-1"><p><span class="square">{letter(k)}</span> '
        f"<b>{HEAD}{escape(ground)}</b></p>{inner}{at}{show}</li>"
    )


def facts_words(site: Site, *, beside: str, share: bool = False) -> str:
    """Return distance, nearest home and hours of such a place."""
    away = metres(site.distance_m, spread=site.radius_m)
    wind = "" if share else f" {compass(site.bearing_deg)}"
    home = (
        "nearest home not known"
        if site.dwelling_m is None
        else f"nearest home {metres(site.dwelling_m, spread=site.radius_m)}"
    )
    hours = release_words(site, beside=beside or site.release_from)
    said = [f"{away}{wind} of the capture" if wind else f"{away} from the capture", home]
    return "; ".join([*said, *([hours[0].lower() + hours[1:]] if hours else [])]) + "."
