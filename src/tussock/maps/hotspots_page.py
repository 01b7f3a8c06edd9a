"""Hotspots as one self-contained page: edges first, then what is counted, clusters, rates, odds."""

from __future__ import annotations

from html import escape

from tussock.ground.region import Region
from tussock.hotspots.found import Hotspots
from tussock.maps.cautions import CAUTIONS
from tussock.maps.ground_sketch import GroundSketch
from tussock.maps.hotspots_clusters import clusters
from tussock.maps.hotspots_edges import PRIVATE, claim, counted, edge_drawings, edges, says
from tussock.maps.hotspots_key import map_part
from tussock.maps.hotspots_map import LABEL, draw, sketch_of
from tussock.maps.hotspots_parts import bullets, fold
from tussock.maps.hotspots_rates import odds_and_standby, rates_words, repeats
from tussock.maps.hotspots_surface import surface_words
from tussock.maps.hotspots_when import when
from tussock.maps.hotspots_words import CALLS_NOT_SNAKES, count
from tussock.maps.words import grouped

METHOD = (
    "Calls and homes are cut by the same known extent. The homes are an interval, and so is every rate over "
    "them; where a test takes one figure every building that may be a home is one.",
    "Intervals of counts are Garwood's, of shares Clopper and Pearson's, of rate ratios exact by the "
    "conditional "
    "binomial; all 95 %.",
    "Rates of cells are drawn towards the usual cell's by the gamma–Poisson model: P(RR>1) is the "
    "probability that a cell's rate is above it, each cell taken by itself. How sure the model itself is "
    "does not enter. The usual cell's rate is the model's level; the district's rate is of all homes "
    "together, so the two differ.",
    "Yearly figures rest on whole years alone: a part of a year holds some seasons more often than others. "
    "How cells differ rests on all the time observed; their yearly level is that of the whole years.",
    "The ring test sets a cell against the cells that touch it; a large warm quarter does not stand out from "
    "itself, which the circular scan would see.",
    "What is not known is never taken for 0.",
)
"""How hotspots are found, in sentences."""


def hotspots_page(found: Hotspots, region: Region) -> str:
    """Return one self-contained page that asks no host for anything; the same result gives the same bytes.

    Parameters
    ----------
    region
        Drawn beneath the map: the ground of the result.
    """
    from tussock.maps.canvas import Canvas

    ground = sketch_of(found, region)
    west, south, east, north = ground.bounds
    sheet = Canvas(label=LABEL, limits=[[south, west], [north, east]])
    draw(sheet, found, ground)
    styles = ["audit.css", "hotspots.css"]
    return sheet.page(title=title(found), body=_body(found, ground), styles=styles, scripts=["hotspots.js"])


def title(found: Hotspots) -> str:
    """Return the page's title."""
    return f"Hotspots of {found.region}"


def _body(found: Hotspots, ground: GroundSketch) -> str:
    parts = (
        ("edges", "Along which edges", edges(found)),
        ("counted", "What is counted, and what is not", counted(found)),
        ("clusters", "Where calls cluster", clusters(found)),
        ("when", "When, where taken, how many captured", when(found)),
        ("rates", "Rates on the map", map_part(found, ground) + rates_words(found) + surface_words(found)),
        ("repeats", "Calls again, against chance", repeats(found)),
        ("odds", "Odds, and where to stand by", odds_and_standby(found)),
        ("method", "Method and sources", _method(found)),
    )
    drawn = "".join(
        f'<section id="{name}" class="part"><h2>{escape(head)}</h2>{text}</section>'
        for name, head, text in parts
    )
    links = "".join(f'<li><a href="#{name}">{escape(head)}</a></li>' for name, head, _ in parts)
    return (
        f'<header class="strip"><p class="caution" role="note"><span><strong>{escape(CALLS_NOT_SNAKES)}'
        f"</strong> {escape(PRIVATE)}</span></p></header>"
        f'<main class="report hotspots">{_answer(found)}'
        f'<nav class="contents" aria-label="On this page">{fold("On this page", f"<ul>{links}</ul>")}</nav>'
        f"{drawn}</main>"
        f"<footer>{bullets((CALLS_NOT_SNAKES, PRIVATE, *CAUTIONS))}</footer>"
    )


def _answer(found: Hotspots) -> str:
    c, asked = found.counted, found.asked
    under = (
        f"{count(c.calls, 'call')}, {count(c.incidents, 'incident')}, {asked.first} to {asked.last} "
        f"({count(asked.days, 'day')}). "
        f"{CALLS_NOT_SNAKES}"
    )
    # what is left out stands before anything that is said of the rest
    loud = f'<p class="lead"><b>{escape(c.warning)}</b></p>' if c.warning else ""
    return (
        f'<section class="answer"><p class="kind">{escape(title(found))}</p><h1>{escape(claim(found))}</h1>'
        f'<p class="under">{escape(under)}</p>{loud}{says(found)}{edge_drawings(found)}</section>'
    )


def _method(found: Hotspots) -> str:
    said = "".join(f"<p>{escape(s)}</p>" for s in METHOD)
    files = "".join(
        f"<tr><th scope='row'>{escape(name)}</th><td><code>{escape(digest)}</code></td></tr>"
        for name, digest in sorted(found.inputs.items())
    )
    hashes = f'<table class="hashes"><tbody>{files}</tbody></table>' if files else ""
    made = (
        f"Made with {found.software}, {found.asked.now:%Y-%m-%d %H:%M %Z}. Seed {found.seed}, "
        f"{grouped(found.asked.replicates)} made-up maps of each kind."
    )
    return f"{fold('How it is found', said)}<p>{escape(made)}</p>{fold('Files read, SHA-256', hashes)}"
