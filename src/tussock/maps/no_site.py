"""What is said beside the sites: the way on, what stands in the way, the nearest, what was ruled out."""

from __future__ import annotations

import math
from html import escape

from tussock.maps.details import clause_table
from tussock.maps.words import THIN, clause_name, grouped, hectares, metres, sentence
from tussock.planning.record import HOUSE_RULE, Obstacle, Plan, Removed

ANSWER = ("Who was called", "What was answered", "When")


def stop_block(plan: Plan) -> str:
    """Return the STOP line; empty when there is none."""
    if not plan.stop:
        return ""
    lines = "".join(f"<p>{escape(sentence(s))}</p>" for s in plan.stop)
    return f'<section class="stop" role="alert"><h2>STOP</h2>{lines}</section>'


def way_on(plan: Plan) -> str:
    """Return what to do instead of a release; empty where sites are offered and nothing is said."""
    if not plan.way_on:
        return ""
    lines = "".join(f"<li>{escape(sentence(w))}</li>" for w in plan.way_on)
    return f'<section class="block"><h2>The way on</h2><ol>{lines}</ol></section>'


def obstacles(plan: Plan, *, share: bool = False) -> str:
    """Return which single clauses stand in the way, for a call to the authority; empty when none is named."""
    if not plan.obstacles:
        return ""
    lines = "".join(f"<li>{escape(obstacle_words(o))}</li>" for o in plan.obstacles)
    return (
        '<section class="block"><h2>What stands in the way</h2>'
        f"<p><b>For a call to the authority, never a suggestion.</b></p><ul>{lines}</ul></section>"
    )


def obstacle_words(obstacle: Obstacle) -> str:
    """Return by how much the best place misses a clause, and whether it meets all others."""
    name = clause_name(obstacle.source, obstacle.id)
    whose = "" if obstacle.source == HOUSE_RULE or " of " in obstacle.id else f" of {obstacle.source}"
    lead = f"{name[0].upper()}{name[1:]}{whose}"
    text = f" ({obstacle.text.rstrip('.')})" if obstacle.text else ""
    miss = (
        f"the best place misses it by {_shortfall(obstacle)}"
        if obstacle.shortfall is not None
        else "no place meets it"
    )
    if obstacle.kind == "consent_recorded":
        return f"{lead}{text}: no place that meets every other clause has its consent."
    rest = "that place meets every other clause" if obstacle.alone else "that place misses other clauses too"
    return f"{lead}{text}: {miss}; {rest}." if obstacle.shortfall is not None else f"{lead}{text}: {miss}."


def _shortfall(obstacle: Obstacle) -> str:
    amount = obstacle.shortfall or 0.0
    if math.isinf(amount):
        return "an unknown amount"
    if obstacle.unit == "m":
        return metres(10 * math.ceil(amount / 10) if amount > 10 else math.ceil(amount))
    return f"{amount:.1f}{THIN}{obstacle.unit}".strip(THIN)


def nearest_block(plan: Plan, card: str) -> str:
    """Return the nearest site that meets everything, and what is given up if another ranks first.

    Parameters
    ----------
    card
        HTML of its card where it is none of the offered sites; else empty.
    """
    if plan.nearest is None:
        return ""
    words = f"<p>{escape(sentence(plan.nearest_words))}</p>" if plan.nearest_words else ""
    return (
        f'<section class="block"><h2>The nearest place that meets everything</h2>{words}{card}</section>'
        if words or card
        else ""
    )


def removed_table(plan: Plan) -> str:
    """Return how much of the circle each clause rules out, low and high."""
    if not plan.removed:
        return ""
    circle = plan.circle_ha
    rows = "".join(_removed_row(r, circle) for r in plan.removed)
    return (
        '<section class="block"><h2>What ruled ground out</h2>'
        f"<p>Of {hectares(circle, circle)} of the circle inside the region. "
        "The lower figure is certain; the higher adds cells that could not be settled at this grain.</p>"
        f"{_alone(plan)}<table class=removed>"
        "<thead><tr><th>Clause</th><th>Rules out</th><th>Only it</th></tr></thead>"
        f"<tbody>{rows}</tbody></table>{_unmapped(plan)}</section>"
    )


def whole_circle(plan: Plan) -> list[str]:
    """Return which single clauses rule out all of the circle, with what they are read as."""
    said = []
    for r in plan.removed:
        if plan.circle_ha and r.low_ha >= plan.circle_ha * (1 - 1e-9):
            name = clause_name(r.source, r.id)
            read = " ".join(sentence(t) for t in dict.fromkeys((r.text, r.words)) if t)
            said.append(f"{name[0].upper()}{name[1:]} alone rules out the whole circle. {read}".rstrip())
    return said


def _alone(plan: Plan) -> str:
    return "".join(f"<p><b>{escape(words)}</b></p>" for words in whole_circle(plan))


def answer_form(plan: Plan) -> str:
    """Return lines to write on: who was called, what they said, when; empty where a site is offered."""
    if plan.sites:
        return ""
    asked = "".join(
        f'<label><span>{words}</span><input type="text" autocomplete="off"></label>' for words in ANSWER
    )
    return (
        '<section class="block form"><h2>What the authority answered</h2>'
        "<p>Write it down as you hear it; it stays on this paper or screen and is not stored.</p>"
        f"{asked}</section>"
    )


def _unmapped(plan: Plan) -> str:
    if plan.unmapped_ha <= 0:
        return ""
    area = hectares(plan.unmapped_ha, plan.unmapped_ha)
    return f"<p>On {area} of the circle the habitat is not known, so no site is offered there.</p>"


def _removed_row(removed: Removed, circle_ha: float) -> str:
    name = clause_name(removed.source, removed.id)
    text = f'<br><span class="note">{escape(sentence(removed.text))}</span>' if removed.text else ""
    return (
        f"<tr><th scope=row>{escape(name[0].upper() + name[1:])}{text}</th>"
        f"<td>{hectares(removed.low_ha, removed.high_ha)}{_share_bar(removed, circle_ha)}</td>"
        f"<td>{hectares(removed.only_low_ha, removed.only_high_ha)}</td></tr>"
    )


def _share_bar(removed: Removed, circle_ha: float) -> str:
    """Return a bar of the circle: solid for what is certainly ruled out, outlined for what may be."""
    if circle_ha <= 0:
        return ""
    low, high = (60 * min(1.0, x / circle_ha) for x in (removed.low_ha, removed.high_ha))
    return (
        '<br><svg class="bar" viewBox="0 0 62 10" width="62" height="10" aria-hidden="true">'
        '<rect class="frame" x="1" y="1" width="60" height="8"/>'
        f'<rect class="full" x="1" y="1" width="{low:.1f}" height="8"/>'
        f'<rect class="open" x="{1 + low:.1f}" y="3" width="{max(0.0, high - low):.1f}" height="4"/></svg>'
    )


def animal_block(plan: Plan) -> str:
    """Return what the clauses about the animal came to."""
    if not plan.animal_clauses:
        return ""
    return (
        '<details class="more"><summary>Clauses about the animal</summary>'
        f"{clause_table(plan.animal_clauses)}</details>"
    )


def warnings_block(plan: Plan) -> str:
    """Return what is assumed, unknown or old."""
    lines = "".join(f"<li>{escape(sentence(w))}</li>" for w in plan.warnings)
    return (
        f'<section class="block"><h2>Assumed, unknown or old</h2><ul>{lines}</ul></section>' if lines else ""
    )


def counts_words(plan: Plan) -> str:
    """Return how much was examined, in a sentence."""
    cells = plan.counts.get("cells")
    exact = plan.counts.get("exact")
    if cells is None:
        return ""
    tail = f", {grouped(exact)} places exactly" if exact is not None else ""
    return f"Every one of {grouped(cells)} cells in the circle was examined{tail}."
