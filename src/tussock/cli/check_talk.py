"""The questions at the spot, asked one by one on a terminal."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from tussock.cli.check_options import COLDEST_C, HOTTEST_C
from tussock.cli.failures import say
from tussock.cli.printable import printable
from tussock.errors import UsageError
from tussock.interval import Verdict
from tussock.maps.words import sentence
from tussock.review.spot_questions import Answer

if TYPE_CHECKING:
    from tussock.review.spot import Spot, SpotCheck

_WORDS = {
    "y": Answer.YES, "yes": Answer.YES, "n": Answer.NO, "no": Answer.NO,
    "u": Answer.UNCLEAR, "unclear": Answer.UNCLEAR, "?": Answer.UNCLEAR, "can't tell": Answer.UNCLEAR,
}  # fmt: skip
_MOST_WORDS = 500


def answered(check: SpotCheck) -> Spot:
    """Return the spot with answers to the open questions; the first *no* ends them.

    Raises
    ------
    UsageError
        When the answers end before the questions.
    """
    spot = check.spot
    if check.open_questions:
        spot = replace(spot, answers={**spot.answers, **dict(_each(check))})
    refused = Answer.NO in spot.answers.values()
    if _cold_or_hot(check) and not refused and check.verdict is not Verdict.NOT_MET:
        spot = replace(spot, temperature_c=_temperature())
    if refused and not spot.why:
        spot = replace(spot, why=printable(_line("In a word, why? ", needed="--why"))[:_MOST_WORDS])
    return check.spot if spot == check.spot else spot


def _each(check: SpotCheck) -> Iterator[tuple[str, Answer]]:
    say("What the map cannot see. Answer y (yes), n (no) or u (you cannot tell):")
    for number, question in enumerate(check.open_questions, start=1):
        name = f"clause {question.clause}: " if question.clause else ""
        prompt = f"{number}/{len(check.open_questions)} {name}{sentence(question.text)}"
        answer = _one(f"{prompt} [y/n/u] ", question.key)
        yield question.key, answer
        if answer is Answer.NO:
            return


def _one(prompt: str, key: str) -> Answer:
    while True:
        word = _line(prompt, needed=f"--answer {key}=").casefold()
        if word in _WORDS:
            return _WORDS[word]
        say("Answer y, n or u.")


def _cold_or_hot(check: SpotCheck) -> bool:
    """Return whether a clause asks how warm it is, and nobody has said."""
    return check.spot.temperature_c is None and any(
        r.kind == "weather_within" and r.applies for r in check.results
    )


def _temperature() -> float | None:
    """Return the air temperature [°C]; ``None`` where it was not taken."""
    while True:
        text = _line("Air temperature in °C (Enter: not taken)? ").replace("−", "-").replace(",", ".")
        if not text:
            return None
        try:
            warmth = float(text)
        except ValueError:
            warmth = float("nan")
        if COLDEST_C <= warmth <= HOTTEST_C:
            return warmth
        say(f"A number from {COLDEST_C:g} to {HOTTEST_C:g}.")


def _line(prompt: str, *, needed: str = "") -> str:
    print(printable(prompt), end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    if not line and needed:
        raise UsageError("the answers ended", where=needed, fix="answer it, or give it as an option")
    return line.strip()
