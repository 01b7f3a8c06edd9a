"""Someone who answers from a list, and notices when another question is asked than was expected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from tussock.permit.asking.talk import EndedError


@dataclass
class Scripted:
    """Answers in their order; keeps everything that was said and asked."""

    answers: list[tuple[str, str]]
    shown: list[str] = field(default_factory=list)

    def say(self, text: str) -> None:
        self.shown.append(text)

    def ask(self, prompt: str) -> str:
        self.shown.append(prompt)
        if not self.answers:
            raise EndedError
        expected, answer = self.answers.pop(0)
        assert expected in prompt.splitlines()[0], f"expected '{expected}', asked: {prompt}"
        return answer

    @property
    def screen(self) -> str:
        """Everything shown."""
        return "\n".join(self.shown)


def answers(*pairs: tuple[str, str]) -> Scripted:
    """Return someone who gives those answers, each to a question that holds the words before it."""
    return Scripted(list(pairs))


def typed(path: Path) -> Scripted:
    """Return someone who types what stands in a file, a question and its answer on a line."""
    lines = [li for li in path.read_text("utf-8").splitlines() if li.strip() and not li.startswith("#")]
    return Scripted([_pair(line) for line in lines])


def keys(path: Path) -> str:
    """Return the answers of such a file as typed on a keyboard."""
    return "".join(f"{answer}\n" for _, answer in typed(path).answers)


def _pair(line: str) -> tuple[str, str]:
    expected, _, answer = line.partition("|")
    return expected.strip(), answer.strip()


def plain(lines: Iterable[str]) -> Scripted:
    """Return someone who gives answers whatever is asked."""
    return Scripted([("", line) for line in lines])
