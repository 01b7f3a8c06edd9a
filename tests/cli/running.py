"""Running the command line in this process, and the case that most tests run it on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tussock.cli import main
from tussock.errors import TussockError
from tussock.planning import plan as planner
from tussock.planning.record import Plan
from tussock.planning.setting import Capture, Setting

DATA = Path(__file__).resolve().parents[2] / "data-demo"
AT, CLOCK, RELEASE = "-42.102584,147.570472", "2026-11-14T10:50:00+11:00", "2026-11-14T12:15:00+11:00"
"""The case of the demonstration, C-061."""
ANSWERS = {
    "--species": "tiger snake",
    "--identification": "certain",
    "--origin": "wild_local",
    "--condition": "fit",
    "--life-stage": "adult",
    "--gravid": "no",
    "--count": "1",
    "--found-in": "yard",
}
PLACE = {"--at": AT, "--uncertainty": "10", "--time": "2026-11-14T10:42:00+11:00", "--now": CLOCK}
GROUND = {
    "--region": str(DATA),
    "--permit": str(DATA / "permit.toml"),
    "--consents": str(DATA / "consents.csv"),
}
BASE = {**GROUND, **PLACE, **ANSWERS, "--release-at": RELEASE, "--capture-id": "C-061"}


@dataclass(frozen=True)
class Ran:
    """What a run came to."""

    code: int
    out: str
    err: str


class Runner:
    """Runs the command line as a script would: stdin and stderr are no terminal."""

    def __init__(self, capsys: pytest.CaptureFixture[str]) -> None:
        self._capsys = capsys

    def __call__(self, *arguments: str) -> Ran:
        self._capsys.readouterr()
        code = main(arguments)
        found = self._capsys.readouterr()
        return Ran(code, found.out, found.err)

    def plan(self, changed: dict[str, str | None] | None = None, *more: str) -> Ran:
        """Run ``tussock plan`` on the base case with some options changed (``None`` leaves one out)."""
        return self("plan", *typed(changed), *more)


def typed(changed: dict[str, str | None] | None = None) -> list[str]:
    """Return the base case as typed, with some options changed."""
    options: dict[str, str | None] = {**BASE, **(changed or {})}
    return [word for name, value in options.items() if value is not None for word in (name, value)]


class SeenError(TussockError):
    """Raised in place of planning."""

    exit_code = 99


@dataclass
class Given:
    """What the library was handed."""

    captures: list[Capture]
    settings: list[Setting]


@contextmanager
def handed(monkeypatch: pytest.MonkeyPatch) -> Iterator[Given]:
    """Note what reaches the planner, and plan nothing."""
    given = Given([], [])

    def noted(capture: Capture, setting: Setting) -> Plan:
        given.captures.append(capture)
        given.settings.append(setting)
        raise SeenError("seen")

    with monkeypatch.context() as patch:
        patch.setattr(planner, "plan", noted)
        yield given


def edited(path: Path, **replaced: Any) -> None:
    """Replace texts in a file; each must be there."""
    text = path.read_text("utf-8")
    for before, after in replaced.items():
        assert before in text
        text = text.replace(before, after)
    path.write_text(text, "utf-8")
