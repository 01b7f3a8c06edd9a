"""Which kind a clause is: by what the paper clause is about, in the words of the trade."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from tussock.errors import InputError
from tussock.permit.asking.answers import choice
from tussock.permit.asking.talk import Answer, BackError, Question, Talk, ask
from tussock.permit.plain.trade import TRADE, Topic, kinds_about, kinds_named, trade_of

_TOPICS = tuple(Topic)


def ask_kind(talk: Talk, *, earlier: str | None = None) -> str:
    """Return the kind of a clause.

    Raises
    ------
    BackError, EndedError
        As :func:`tussock.permit.asking.talk.ask`.
    """
    while True:
        kinds: tuple[str, ...] = ask(talk, _about(earlier))
        if len(kinds) == 1:
            break
        try:
            kinds = (ask(talk, _which(kinds, earlier)),)
            break
        except BackError:
            continue
    kind = kinds[0]
    talk.say(f"  {trade_of(kind).title}; for example: {trade_of(kind).example}")
    return kind


def _about(earlier: str | None) -> Question:
    answer = Answer(
        _kinds,
        "The number of a topic, or a word that the clause is about.",
        tuple(f"{n:>4}  {topic}" for n, topic in enumerate(_TOPICS, start=1)),
        show=lambda kinds: ", ".join(trade_of(k).title for k in kinds),
    )
    words = "What is it about? (a number, or a word such as 'dwelling' or 'consent')"
    explained = "\n".join(_explained(TRADE))
    return Question(words, answer, explained, default=(earlier,) if earlier else None)


def _kinds(text: str) -> tuple[str, ...]:
    """Return the kinds that a topic's number or a word points to."""
    if text.isascii() and text.isdigit() and 1 <= int(text[:3]) <= len(_TOPICS):
        return kinds_about(_TOPICS[int(text[:3]) - 1])
    found = kinds_named(text)
    if not found:
        allowed = "a number from 1 to 5, or a word that the clause is about; '?' lists everything"
        raise InputError(f"nothing here is about '{text[:60]}'", allowed=allowed)
    return found


def _which(kinds: tuple[str, ...], earlier: str | None) -> Question:
    return Question(
        "Which of these?",
        choice({kind: trade_of(kind).title for kind in kinds}),
        "\n".join(_explained(kinds)),
        default=earlier if earlier in kinds else None,
    )


def _explained(kinds: Iterable[Any]) -> Iterable[str]:
    topic = None
    for kind in kinds:
        trade = trade_of(kind)
        if trade.topic is not topic:
            topic = trade.topic
            yield f"{topic}:"
        yield f"  {trade.title}"
        yield f"      {trade.example}"
