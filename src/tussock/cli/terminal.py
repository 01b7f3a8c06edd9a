"""Whether someone is there to answer, and asking them."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum

from tussock.cli.failures import say
from tussock.cli.printable import printable
from tussock.errors import InputError, UsageError
from tussock.species.intake import QUESTIONS, parse_answer

WORDS: Mapping[str, str] = {
    "scientificName": "Which species? (scientific or vernacular name)",
    "identification": "How sure is the identification?",
    "origin": "Where does it come from?",
    "animalCondition": "In what state is it?",
    "lifeStage": "Life stage?",
    "gravid": "Gravid (carrying young or eggs)?",
    "foundIn": "Where was it found?",
    "individualCount": "How many animals?",
}
_DIGITS = 6


def interactive() -> bool:
    """Return whether questions can be asked: stdin and stderr are a terminal."""
    return bool(sys.stdin and sys.stdin.isatty() and sys.stderr and sys.stderr.isatty())


def ask(columns: Iterable[str]) -> dict[str, str]:
    """Return the answers to the open questions, asked on stderr.

    Raises
    ------
    UsageError
        When the answers end before the questions.
    """
    return {column: _ask_one(column) for column in columns}


def confirm(question: str) -> bool:
    """Return whether the answer is yes; anything else, and no answer, is no."""
    return _line(f"{question} [y/N] ").casefold() in ("y", "yes")


def _ask_one(column: str) -> str:
    kind = QUESTIONS.get(column)
    if kind is not None:
        return _until(lambda: _chosen(kind, _line(f"{WORDS[column]}\n{_menu(kind)}\n> ", needed=column)))
    return _until(lambda: _free(column, _line(f"{WORDS[column]}\n> ", needed=column)))


def _until(once: Callable[[], str]) -> str:
    """Return the first answer that is one."""
    while True:
        try:
            return once()
        except InputError as error:
            say(error.text())


def _menu(kind: type[StrEnum]) -> str:
    return "\n".join(f"  {n}  {answer.replace('_', ' ')}" for n, answer in enumerate(kind, start=1))


def _chosen(kind: type[StrEnum], text: str) -> str:
    """Return the answer meant by its number or its word."""
    answers = list(kind)
    if text.isascii() and text.isdigit() and 1 <= int(text[:3]) <= len(answers):
        return str(answers[int(text[:3]) - 1])
    return str(parse_answer(kind, text))


def _free(column: str, text: str) -> str:
    if column == "individualCount":
        check_count(text)
    if not text:
        raise InputError("nothing was answered", allowed="a name")
    return text


def check_count(text: str, *, where: str = "") -> None:
    """Refuse what is no number of animals.

    Raises
    ------
    InputError
        When it is none, or more than anybody holds.
    """
    if not (text.isascii() and text.isdigit() and int(text[:_DIGITS]) > 0 and len(text) <= _DIGITS):
        raise InputError(f"found '{text[:40]}'", where=where, allowed="a whole number from 1")


def _line(prompt: str, *, needed: str = "") -> str:
    print(printable(prompt), end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    if not line and needed:
        raise UsageError("the answers ended", where=needed, fix="answer it, or give its option")
    return line.strip()
