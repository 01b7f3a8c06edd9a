"""Asking: until the answer is one; '?' explains, an empty line takes what stands in brackets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from tussock.errors import InputError

HELP, BACK, NONE = "?", "back", "none"
"""What is typed to have a question explained, to go back, and to leave something out."""


class Talk(Protocol):
    """Someone to ask."""

    def say(self, text: str) -> None:
        """Show a text; lines are broken where the screen ends."""

    def ask(self, prompt: str) -> str:
        """Return the line that was typed; raise EndedError when there will be no more."""


class EndedError(Exception):
    """No more answers will come."""


class BackError(Exception):
    """The last answer is taken back."""


@dataclass(frozen=True)
class Answer:
    """A sort of answer: how it is read, what may be chosen, how it is shown.

    Attributes
    ----------
    parse
        Returns the value as it stands in the file; raises InputError.
    help
        What may be typed, in a sentence.
    menu
        Lines to choose from.
    echo
        What is said of a value that was read, where it is not what was typed; empty for nothing.
    show
        A value as it stands in brackets.
    """

    parse: Callable[[str], Any]
    help: str
    menu: tuple[str, ...] = ()
    echo: Callable[[Any], str] = lambda value: ""
    show: Callable[[Any], str] = str


@dataclass(frozen=True)
class Question:
    """A question: its words, the sort of answer, what an empty line takes, whether it may be left out."""

    words: str
    answer: Answer
    help: str = ""
    default: Any = None
    optional: bool = False

    @property
    def prompt(self) -> str:
        """The question as it is printed."""
        taken = self.answer.show(self.default) if self.default is not None else NONE if self.optional else ""
        bracket = f" [{taken}]" if taken else ""
        return "\n".join([f"{self.words}{bracket}", *self.answer.menu])


def ask(talk: Talk, question: Question, *, check: Callable[[Any], str] = lambda value: "") -> Any:
    """Return the answer to a question; ``None`` where it may be left out and was.

    Parameters
    ----------
    check
        Returns what is wrong with a value, in words; empty where nothing is.

    Raises
    ------
    BackError
        When ``back`` was typed.
    EndedError
        When no more answers come.
    """
    while True:
        text = talk.ask(question.prompt).strip()
        if text.lower() == BACK:
            raise BackError
        if text == HELP:
            talk.say("\n".join(p for p in (question.help, question.answer.help, _keys(question)) if p))
            continue
        if question.optional and (text.lower() == NONE or (not text and question.default is None)):
            return None
        try:
            value = _value(question, text)
        except InputError as error:
            talk.say(error.text())
            continue
        wrong = check(value)
        if not wrong:
            _echo(talk, question, value, typed=text)
            return value
        talk.say(wrong)


def _echo(talk: Talk, question: Question, value: Any, *, typed: str) -> None:
    said = question.answer.echo(value)
    if typed and said and said != typed:
        talk.say(f"  = {said}")


def _value(question: Question, text: str) -> Any:
    if text:
        return question.answer.parse(text)
    if question.default is not None:
        return question.default
    raise InputError("nothing was answered", allowed=question.answer.help)


def _keys(question: Question) -> str:
    leave_out = f" '{NONE}' leaves it out." if question.optional else ""
    return f"An empty line takes what stands in [brackets]; '{BACK}' goes back.{leave_out}"
