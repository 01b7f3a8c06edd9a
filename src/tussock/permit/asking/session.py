"""The whole dialogue: head, version, clause after clause; or what is added to an earlier file."""

from __future__ import annotations

from typing import Any

from tussock.permit.asking.answers import choice, line, yes_no
from tussock.permit.asking.clause import ask_clause, second_look, wrong_number
from tussock.permit.asking.draft import Draft, first_day
from tussock.permit.asking.head import ask_head
from tussock.permit.asking.talk import BackError, Question, Talk, ask
from tussock.permit.asking.version import ask_version

WELCOME = (
    "Have the paper permit before you. It is typed clause by clause; a clause that asks for several things "
    "becomes several, numbered 3(a)(i), 3(a)(ii).\n"
    "'?' explains a question, an empty line takes what stands in [brackets], 'back' takes back the clause in "
    "hand or else the last one. Ctrl-C stops; finished clauses are written all the same."
)
_NUMBER_HELP = (
    "As it stands on the paper, such as 3(a). The number of a clause that is there already lets you change "
    "or remove it."
)
_ANOTHER, _END = "a new version: a renewal, or an earlier term", "nothing more"


def begin(talk: Talk, draft: Draft) -> None:
    """Ask for a new permit; the draft holds what is finished at any time.

    Raises
    ------
    EndedError
        When no more answers come.
    """
    talk.say(WELCOME)
    head: dict[str, Any] = {}
    while not draft.savable:
        head = ask_head(talk, head)
        draft.put_head(head)
        try:
            ask_version(talk, draft)
        except BackError:
            talk.say("  The head again.")
    _go_on(talk, draft)


def resume(talk: Talk, draft: Draft) -> None:
    """Ask what is to be added to a permit that is there.

    Raises
    ------
    EndedError
        When no more answers come.
    """
    talk.say(WELCOME)
    while True:
        try:
            if not _choose(talk, draft):
                return
            break
        except BackError:
            talk.say("  Nothing of this run to take back.")
    _go_on(talk, draft)


def _choose(talk: Talk, draft: Draft) -> bool:
    """Take the version to work on in hand; return whether there is one."""
    options = {
        str(n): f"clauses of version {first_day(v)} ({len(v.get('conditions', ()))} so far)"
        for n, v in enumerate(draft.versions)
    }
    options |= {"another": _ANOTHER, "end": _END}
    newest = max(range(len(draft.versions)), key=lambda n: first_day(draft.versions[n]))
    chosen = ask(talk, Question("What do you want to add or change?", choice(options), default=str(newest)))
    if chosen == "another":
        ask_version(talk, draft)
    elif chosen != "end":
        draft.take_up(int(chosen))
    return bool(chosen != "end")


def _go_on(talk: Talk, draft: Draft) -> None:
    """Ask for clauses, and for further versions, until there are no more."""
    while True:
        _ask_clauses(talk, draft)
        try:
            if not ask(talk, Question("Is there another version, of other dates?", yes_no(), default=False)):
                return
            ask_version(talk, draft)
        except BackError:
            talk.say("  The clauses again.")


def _ask_clauses(talk: Talk, draft: Draft) -> None:
    """Ask for clauses until an empty line."""
    typed: dict[str, Any] = {}
    while True:
        try:
            name = ask(talk, _number(draft, typed), check=wrong_number)
            if name is None:
                return
            typed = _begun(talk, draft, name, typed)
        except BackError:
            typed = _taken_back(talk, draft, typed)
            continue
        if typed:
            typed = _ask_one(talk, draft, typed)


def _ask_one(talk: Talk, draft: Draft, typed: dict[str, Any]) -> dict[str, Any]:
    """Ask for a clause; return what is offered again where it was not finished."""
    try:
        return _finished(talk, draft, ask_clause(talk, typed), typed)
    except BackError:
        talk.say("  This clause again; what you typed stands in [brackets].")
        return typed


def _number(draft: Draft, typed: dict[str, Any]) -> Question:
    if typed:
        words = "Number of the clause, as printed ('none': no more clauses)"
    else:
        words = (
            f"Version {draft.name}. Number of the next clause, as printed (an empty line: no more clauses)"
        )
    return Question(words, line(), _NUMBER_HELP, default=typed.get("id"), optional=True)


def _begun(talk: Talk, draft: Draft, name: str, typed: dict[str, Any]) -> dict[str, Any]:
    """Return what is offered again for a clause of that number; empty where none is to be typed."""
    there = draft.clause(name)
    if there is None:
        return {**typed, "id": name}
    options = {"change": "type it again", "remove": "remove it", "leave": "leave it as it is"}
    chosen = ask(talk, Question(f"Clause {name} is there already.", choice(options), default="change"))
    if chosen == "remove":
        draft.drop(name)
        talk.say(f"  Clause {name} is removed; 'back' brings it back.")
    return {**there, **(typed if typed.get("id") == name else {})} if chosen == "change" else {}


def _finished(talk: Talk, draft: Draft, clause: dict[str, Any], typed: dict[str, Any]) -> dict[str, Any]:
    """Put a clause into the draft; return what is offered again where it was not kept."""
    wrong = draft.faults_of_clause(clause)
    if wrong:
        talk.say(wrong)
        return typed
    if not second_look(talk, clause, beside=draft.clauses):
        return typed
    draft.put(clause)
    return {}


def _taken_back(talk: Talk, draft: Draft, typed: dict[str, Any]) -> dict[str, Any]:
    """Return what is offered again after ``back`` at a clause's number: nothing, or the last clause typed."""
    if typed:
        talk.say(f"  Clause {typed['id']} is dropped.")
        return {}
    clause = draft.take_back()
    if clause is None:
        talk.say("  Nothing of this run to take back. Type the number of a clause to change it.")
        return {}
    talk.say(f"  Taken back: clause {clause['id']}." if clause else "  The clause that was removed is back.")
    return dict(clause)
