"""Where several permits apply, a clause's number names no clause: each carries its permit's id."""

from __future__ import annotations

import dataclasses
from typing import TypeVar

from tussock.planning.record import HOUSE_RULE, ClauseResult, ClockLine, Obstacle, Plan, Removed, Site

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
        tasks = {f"{c.id}:": f"{c.id} of {c.source}:" for c in reversed(one.clauses)}
        return dataclasses.replace(
            one,
            clauses=tuple(map(named, one.clauses)),
            todo=tuple(_retold(t, tasks) for t in one.todo),
            deadline_of=_only(one.deadline_of, one),
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
    )


def _retold(todo: str, tasks: dict[str, str]) -> str:
    head, _, rest = todo.partition(" ")
    return f"{tasks.get(head, head)} {rest}"


def _only(clause: str, site: Site) -> str:
    """Return a clause's id with its permit's where only one permit has it."""
    sources = {c.source for c in site.clauses if c.id == clause and not c.house}
    return f"{clause} of {sources.pop()}" if len(sources) == 1 else clause
