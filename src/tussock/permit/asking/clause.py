"""One clause by questions: its text, what it is about, the fields that kind needs, for which animals."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Any

from pydantic import BaseModel

from tussock.errors import Faults
from tussock.names import ANIMAL_CONDITIONS, DANGERS, FOUND_IN, GRAVID, LIFE_STAGES, ORIGINS
from tussock.permit.asking.answers import choice, line, names, several, yes_no
from tussock.permit.asking.calendar_answers import months
from tussock.permit.asking.fields import field_question, in_order
from tussock.permit.asking.kind import ask_kind
from tussock.permit.asking.talk import Answer, Question, Talk, ask
from tussock.permit.condition import AppliesTo, Condition
from tussock.permit.explain import checked, faults_of_key, fields_by_key
from tussock.permit.kinds import KINDS
from tussock.permit.plain.second_look import questions

Table = dict[str, Any]
_TEXT = Question(
    "The authority's text of this clause, pasted on one line",
    line(),
    "It is printed beside every verdict, and its numbers are compared with what you type.",
    optional=True,
)
_MANDATORY = Question(
    "Must it be kept? (no: advice only, shown and never in the way)", yes_no(), default=True
)
_LIMITED = Question(
    "Is it only for certain animals or months?", yes_no(), "Such as: only for venomous ones; from May on."
)
_APPLIES: dict[str, tuple[str, Answer]] = {
    "species": ("certain species", names()),
    "danger": ("how dangerous the species is", several(DANGERS)),
    "origin": ("where it comes from", several(ORIGINS)),
    "life_stage": ("its life stage", several(LIFE_STAGES)),
    "gravid": ("whether she carries young or eggs", several(GRAVID)),
    "animal_condition": ("the state it is in", several(ANIMAL_CONDITIONS)),
    "found_in": ("where it was found", several(FOUND_IN)),
    "months": ("months of the release", months()),
}


def ask_clause(talk: Talk, typed: Table) -> Table:
    """Return a clause as it stands in the file.

    Parameters
    ----------
    typed
        What was typed before, offered again; takes every answer, so that none is lost when a question
        is taken back. Holds the clause's ``id`` to begin with.

    Raises
    ------
    BackError, EndedError
        As :func:`tussock.permit.asking.talk.ask`.
    """
    head = {"id": typed["id"], "kind": "any"}
    _keep(typed, "text", _ask_key(talk, _with_default(_TEXT, typed.get("text")), Condition, head, key="text"))
    typed["kind"] = ask_kind(talk, earlier=typed.get("kind"))
    fields = _ask_fields(talk, typed)
    clause = {"id": typed["id"], "kind": typed["kind"], **fields}
    if not _ask_mandatory(talk, typed):
        clause["mandatory"] = False
    applies = _ask_applies(talk, typed)
    if applies:
        clause["applies_to"] = applies
    if typed.get("text"):
        clause["text"] = typed["text"]
    return clause


def clause_of(raw: Table) -> Condition | None:
    """Return a clause's table as the clause; ``None`` where it is none."""
    return checked(KINDS[raw["kind"]], raw, where="", faults=Faults())


def wrong_number(text: str) -> str:
    """Return what is wrong with a clause's number; empty where nothing is."""
    return _wrong(Condition, {"id": text, "kind": "any"}, key="id")


def second_look(talk: Talk, clause: Table, *, beside: Iterable[Table] = ()) -> bool:
    """Say what the clause means; return whether it is to be kept, asked where the text says otherwise."""
    condition = clause_of(clause)
    if condition is None:
        return True  # the reader has said what is wrong
    talk.say(f"  {condition.id}: {condition.words()}")
    doubts = questions(condition, beside=[c for c in map(clause_of, beside) if c])
    if not doubts:
        return True
    for words in doubts:
        talk.say(f"  LOOK: {words}")
    return bool(ask(talk, Question("Keep it as it is?", yes_no())))


def _keep(typed: Table, key: str, value: Any) -> None:
    """Note an answer; one that was left out is forgotten."""
    if value is None:
        typed.pop(key, None)
    else:
        typed[key] = value


def _with_default(question: Question, value: Any) -> Question:
    return Question(
        question.words, question.answer, question.help, value or question.default, question.optional
    )


def _ask_key(talk: Talk, question: Question, model: type[BaseModel], raw: Table, *, key: str) -> Any:
    """Return an answer that the reader of permit files takes."""
    return ask(talk, question, check=lambda value: _wrong(model, {**raw, key: value}, key=key))


def _wrong(model: type[BaseModel], raw: Table, *, key: str) -> str:
    faults = Faults()
    faults_of_key(model, raw, key=key, faults=faults)
    return "\n".join(one.text() for one in faults.items)


def _ask_fields(talk: Talk, typed: Table) -> Table:
    """Return the fields of the kind, asked again where they contradict each other."""
    model = KINDS[typed["kind"]]
    own = in_order({k: f for k, f in fields_by_key(model).items() if k not in fields_by_key(Condition)})
    while True:
        raw: Table = {"id": typed["id"], "kind": typed["kind"]}
        for key, info in own.items():
            question = field_question(typed["kind"], key, info=info, raw=raw, earlier=typed.get(key))
            value = None if question is None else _ask_key(talk, question, model, raw, key=key)
            _keep(typed, key, value)
            if value is not None and value is not False:
                raw[key] = value
        faults = Faults()
        if checked(model, raw, where="", faults=faults) is not None:
            return {k: v for k, v in raw.items() if k in own}
        talk.say("\n".join(one.text() for one in faults.items))


def _ask_mandatory(talk: Talk, typed: Table) -> bool:
    default = typed.get("mandatory", True)
    typed["mandatory"] = ask(talk, Question(_MANDATORY.words, _MANDATORY.answer, default=default))
    return bool(typed["mandatory"])


def _ask_applies(talk: Talk, typed: Table) -> Table:
    """Return the animals and months that the clause is for; empty for all."""
    limited = Question(_LIMITED.words, _LIMITED.answer, _LIMITED.help, default="applies_to" in typed)
    if not ask(talk, limited):
        typed.pop("applies_to", None)
        return {}
    applies: Table = dict(typed.get("applies_to", {}))
    menu = choice({key: words for key, (words, _) in _APPLIES.items()})
    while True:
        done = f" So far: {', '.join(applies)}." if applies else ""
        more = Question(f"By what is it limited? (an empty line: nothing more){done}", menu, optional=True)
        key = ask(talk, more)
        if key is None:
            return applies
        words, answer = _APPLIES[key]
        question = Question(f"Which? ({words})", answer, default=applies.get(key))
        applies[key] = ask(talk, question, check=partial(_wrong_limit, key))
        typed["applies_to"] = applies


def _wrong_limit(key: str, value: Any) -> str:
    return _wrong(AppliesTo, {key: value}, key=key)
