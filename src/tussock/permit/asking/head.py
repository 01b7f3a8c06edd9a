"""The head of a permit file by questions: number, holder, authority, time zone, persons."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache, partial
from typing import Any
from zoneinfo import available_timezones

from tussock.clock import parse_zone
from tussock.errors import Faults, InputError
from tussock.permit.asking.answers import line, names
from tussock.permit.asking.draft import HEAD
from tussock.permit.asking.talk import Answer, BackError, Question, Talk, ask
from tussock.permit.explain import faults_of_key
from tussock.permit.permit_file import Head

_MOST_NEAR = 6


def ask_head(talk: Talk, earlier: Mapping[str, Any]) -> dict[str, Any]:
    """Return the head; ``back`` asks the question before again.

    Parameters
    ----------
    earlier
        What was answered before, offered again.

    Raises
    ------
    EndedError
        When no more answers come.
    """
    head = dict(earlier)
    at = 0
    while at < len(HEAD):
        key = HEAD[at]
        try:
            value = ask(talk, _question(key, head), check=partial(_wrong, key))
        except BackError:
            at = max(0, at - 1)
            continue
        head[key] = value
        at += 1
    return head


def _wrong(key: str, value: Any) -> str:
    faults = Faults()
    faults_of_key(Head, {"versions": [], key: value}, key=key, faults=faults)
    return "\n".join(one.text() for one in faults.items)


def _question(key: str, head: Mapping[str, Any]) -> Question:
    default = head.get(key)
    match key:
        case "id":
            return Question("The permit's number, as printed", line(), default=default)
        case "holder":
            return Question("Who holds it?", line(), default=default)
        case "authority":
            return Question("Which authority gave it?", line(), default=default)
        case "timezone":
            words = "Time zone of the permit's dates and clock times (a city of the zone will do)"
            return Question(words, zone(), default=default)
        case _:
            who = default or [head["holder"]]
            return Question("Who may handle animals under it? (as named in the permit)", names(), default=who)


def zone() -> Answer:
    """Return the answer that is a time zone; near names are proposed."""
    help_words = "An IANA name such as Australia/Hobart, or a city or a part of a name to see what is near."
    return Answer(_zone, help_words, echo=str)


def _zone(text: str) -> str:
    name = "_".join(text.split())
    exact = {z.lower(): z for z in _zones()}.get(name.lower())
    near = [exact] if exact else near_zones(name)
    # a name that is only alike is proposed, never taken
    if len(near) == 1 and name.lower() in near[0].lower():
        return parse_zone(near[0], where="").key
    fix = f"write {' or '.join(near)}, if that is meant" if near else "name the nearest large city"
    raise InputError(
        f"'{text[:60]}' is not one time zone", allowed="a name such as Australia/Hobart", fix=fix
    )


def near_zones(name: str) -> list[str]:
    """Return the time zones whose name holds a text, or else those most like it.

    Examples
    --------
    >>> near_zones("hobart"), near_zones("Australia/Hobert")
    (['Australia/Hobart'], ['Australia/Hobart'])
    """
    low = name.lower()
    by_city = {z.rpartition("/")[2].lower(): z for z in _zones()}
    if low in by_city:
        return [by_city[low]]
    held = [z for z in _zones() if len(low) >= 3 and low in z.lower()]
    by_name = {z.lower(): z for z in _zones()}
    like = difflib.get_close_matches(low, [*by_name, *by_city], n=_MOST_NEAR, cutoff=0.75)
    return held[:_MOST_NEAR] or list(dict.fromkeys(by_name.get(n) or by_city[n] for n in like))[:1]


@cache
def _zones() -> tuple[str, ...]:
    """Return the zones named by continent and city: the others are links kept for old programs."""
    continents = (
        "Africa",
        "America",
        "Antarctica",
        "Asia",
        "Atlantic",
        "Australia",
        "Europe",
        "Indian",
        "Pacific",
    )
    return tuple(sorted(z for z in available_timezones() if z.partition("/")[0] in continents or z == "UTC"))
