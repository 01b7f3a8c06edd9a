"""What every page carries: the cautions, and the Bite control.

No treatment steps: first aid differs by country.
"""

from __future__ import annotations

from html import escape

from tussock.maps.words import position_words

CAUTIONS = (
    "Check your own permit and your local wildlife law on relocation distance, land and timing.",
    "This is advice to a licensed person, not permission.",
    "Only licensed, trained people handle snakes.",
    "Data may be out of date: look before you release.",
)
NOT_LEGAL = "The verdicts here are arithmetic on a map, not a legal finding."
UNKNOWN_NUMBER = "your emergency number"


def strip(*, emergency_number: str | None, position: tuple[float, float] | None, place: str) -> str:
    """Return the strip at the top of a page: cautions, and the Bite control.

    Parameters
    ----------
    emergency_number
        The country's, verified; ``None`` reads "your emergency number".
    position
        Longitude, latitude to read out; ``None`` where the page may not tell it.
    place
        What that position is, such as "the place of capture".
    """
    first, *rest = CAUTIONS
    return (
        f'<header class="strip">{_bite(emergency_number, position, place)}<p class="caution" role="note">'
        f"<span><strong>{escape(first)}</strong> {escape(' '.join(rest))}</span></p></header>"
    )


def _bite(number: str | None, position: tuple[float, float] | None, place: str) -> str:
    return (
        '<details class="bite"><summary>Bite</summary><div class="bite-body">'
        "<p><strong>A snakebite is an emergency. Follow your training.</strong></p>"
        f'<p class="bite-call">{_call(number)}</p>'
        f"<p>Read out where you are:</p>{_place(position, place)}"
        '<p class="bite-position" aria-live="polite"></p>'
        '<p><button type="button" class="bite-here">Find where I am</button></p>'
        '<p class="bite-time" aria-live="assertive">No time stored.</p>'
        '<p><button type="button" class="bite-store">Store the time of the bite now</button> '
        '<button type="button" class="bite-clear" hidden>Clear the time</button></p>'
        "</div></details>"
    )


def _call(number: str | None) -> str:
    if not number:
        return f"Call <strong>{UNKNOWN_NUMBER}</strong> now."
    dial = "".join(c for c in number if c.isdigit() or c == "+")
    return f'Call <a href="tel:{escape(dial)}"><strong>{escape(number)}</strong></a> now.'


def _place(position: tuple[float, float] | None, place: str) -> str:
    if position is None:
        return "<p>Positions are left out of this copy. Read yours from your phone.</p>"
    at = f'<strong class="number">{position_words(*position)}</strong>'
    return f'<p class="bite-place">{escape(place)}: {at} (latitude, longitude)</p>'


def footer_cautions() -> str:
    """Return the cautions again, in full, for the foot of a page."""
    items = "".join(f"<li>{escape(c)}</li>" for c in (*CAUTIONS, NOT_LEGAL))
    return f'<ul class="cautions">{items}</ul>'
