"""Where several permits apply, a clause's number names no clause: each carries its permit's id."""

from __future__ import annotations

import dataclasses
from typing import TypeVar

from tussock.planning.record import (
    HOUSE_RULE,
    ClauseResult,
    ClockFacts,
    ClockLine,
    Obstacle,
    Plan,
    Removed,
    Site,
)

_T = TypeVar("_T", ClauseResult, Removed, Obstacle, ClockLine)


def told_apart(plan: Plan) -> Plan:
    """Return a plan for showing, each clause's id with its permit's: ``3(a) of PDW-0417``.

    The plan itself under a single permit. Files for other programs keep the ids as they are.
    """
    ids = {p.id for p in plan.permits}
    if len(ids) < 2:
        return plan

    def named(item: _T) -> _T:
        if item.source == HOUSE_RULE or item.source not in ids:
            return item
        return dataclasses.replace(item, id=f"{item.id} of {item.source}")

    def site(one: Site) -> Site:
        return dataclasses.replace(
            one,
            clauses=tuple(map(named, one.clauses)),
            todo=_todo(one),
            deadline_of=_ending(one, plan.clock),
        )

    clock = plan.clock and dataclasses.replace(plan.clock, lines=tuple(map(named, plan.clock.lines)))
    return dataclasses.replace(
        plan,
        sites=tuple(map(site, plan.sites)),
        nearest=plan.nearest and site(plan.nearest),
        needs_consent=tuple(map(site, plan.needs_consent)),
        removed=tuple(map(named, plan.removed)),
        obstacles=tuple(map(named, plan.obstacles)),
        animal_clauses=tuple(map(named, plan.animal_clauses)),
        clock=clock,
        circle_label=_circle(plan),
    )


def _todo(site: Site) -> tuple[str, ...]:
    """Return the to-dos with their permits: each is of the clause whose text it repeats."""
    out = []
    for task in site.todo:
        own = [c for c in site.clauses if task.startswith(f"{c.id}: {c.text or c.words}")]
        out.append(task.replace(f"{own[0].id}:", f"{own[0].id} of {own[0].source}:", 1) if own else task)
    return tuple(out)


def _ending(site: Site, clock: ClockFacts | None) -> str:
    """Return the clause that ends the hours, with its permit's id where the clock tells whose it is."""
    lines = clock.lines if clock else ()
    ends = {ln.source for ln in lines if ln.id == site.deadline_of and _ends(ln, site.deadline)}
    return f"{site.deadline_of} of {ends.pop()}" if len(ends) == 1 else site.deadline_of


def _ends(line: ClockLine, deadline: str) -> bool:
    return any(end == deadline for _, end in line.spans)


def _circle(plan: Plan) -> str:
    """Return the clause of the circle with its permit's id where only one permit has it with that limit."""
    ids = {
        c.source
        for site in (*plan.sites, *plan.needs_consent)
        for c in site.clauses
        if c.id == plan.circle_label and c.limit == plan.circle_m and not c.house
    }
    return f"{plan.circle_label} of {ids.pop()}" if len(ids) == 1 else plan.circle_label
