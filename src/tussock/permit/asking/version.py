"""A version of a permit by questions: its dates, and with which clauses it begins."""

from __future__ import annotations

import copy
from datetime import date
from typing import Any

from tussock.permit.asking.answers import yes_no
from tussock.permit.asking.calendar_answers import day
from tussock.permit.asking.draft import Draft, day_before, first_day
from tussock.permit.asking.talk import Question, Talk, ask
from tussock.permit.permit_file import Version
from tussock.permit.plain.dates import day_words

_FROM = Question(
    "In force from which day?",
    day(),
    "A permit that is renewed has a version for each term; past releases are judged by the one of their day.",
)
_TO = Question(
    "To which day, the last one in force? (left out: the end is open)",
    day(),
    optional=True,
)


def ask_version(talk: Talk, draft: Draft) -> None:
    """Add a version to the draft and take it in hand.

    Raises
    ------
    BackError, EndedError
        As :func:`tussock.permit.asking.talk.ask`.
    """
    while True:
        start: date = ask(talk, _FROM)
        end: date | None = ask(talk, _TO)
        version: dict[str, Any] = {"valid_from": start, **({"valid_to": end} if end else {})}
        ended = _ask_end(talk, draft, start)
        wrong = draft.faults_of_version(version, ended=ended)
        if not wrong:
            break
        talk.say(wrong)
    before = _before(draft, start)
    draft.add_version(version, ended=ended)
    _warn_of_gap(talk, draft, start)
    if before and before.get("conditions"):
        _take_over(talk, draft, before)


def _ask_end(talk: Talk, draft: Draft, start: date) -> date | None:
    """Return when the version with an open end ends, if it does so before the new one."""
    open_one = draft.open_before(start)
    if open_one is None:
        return None
    words = f"Version {first_day(open_one)} has an open end. Does it end on {day_words(day_before(start))}?"
    return day_before(start) if ask(talk, Question(words, yes_no(), default=True)) else None


def _before(draft: Draft, start: date) -> dict[str, Any] | None:
    """Return the version that begins last before a day."""
    earlier = [v for v in draft.versions if first_day(v) < start]
    return max(earlier, key=first_day) if earlier else None


def _warn_of_gap(talk: Talk, draft: Draft, start: date) -> None:
    versions: tuple[Version, ...] = draft.permit().versions
    for warning in draft.permit().warnings:
        if warning.startswith("no version") and any(v.valid_from == start for v in versions):
            talk.say(f"  Note: {warning}.")


def _take_over(talk: Talk, draft: Draft, before: dict[str, Any]) -> None:
    clauses = before["conditions"]
    words = (
        f"Begin with the {len(clauses)} clauses of version {first_day(before)}? You then change what differs."
    )
    if ask(talk, Question(words, yes_no(), default=True)):
        draft.clauses[:] = copy.deepcopy(clauses)
        talk.say(
            f"  Taken over: {', '.join(c['id'] for c in clauses)}. Type a number to change or remove it."
        )
