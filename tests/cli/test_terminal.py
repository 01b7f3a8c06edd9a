"""On a terminal: questions, house rules, the progress bar. A real pseudo-terminal is used."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.cli.running import ANSWERS, DATA, GROUND, PLACE, typed
from tussock.cli.terminal import WORDS
from tussock.permit.house_rules import read_house_rules
from tussock.species.intake import QUESTIONS

pty = pytest.importorskip("pty", reason="there are no pseudo-terminals here")


@dataclass(frozen=True)
class Seen:
    """What a run on a terminal came to; ``out`` is a pipe, ``screen`` the terminal."""

    code: int
    out: str
    screen: str


def on_terminal(arguments: Sequence[str], keys: str, *, folder: Path) -> Seen:
    """Run the command line with stdin and stderr on a pseudo-terminal, everything typed beforehand."""
    master, slave = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "PYTHONPATH": os.pathsep.join(sys.path), "COLUMNS": "100"}
    environment.pop("NO_COLOR", None)
    os.write(master, keys.encode())
    process = subprocess.Popen(
        [sys.executable, "-m", "tussock.cli", *arguments],
        stdin=slave,
        stderr=slave,
        stdout=subprocess.PIPE,
        cwd=folder,
        env=environment,
        text=True,
    )
    os.close(slave)
    screen = b""
    while True:
        try:
            part = os.read(master, 65536)
        except OSError:  # Linux says so when the other end is closed
            break
        if not part:
            break
        screen += part
    out, _ = process.communicate(timeout=60)
    os.close(master)
    return Seen(process.returncode, out, screen.decode("utf-8", "replace"))


def _keys() -> str:
    """Return the answers of the base case: names and numbers as words, choices by their number."""
    by_column = dict(
        zip(
            WORDS,
            (
                ANSWERS[o]
                for o in (
                    "--species",
                    "--identification",
                    "--origin",
                    "--condition",
                    "--life-stage",
                    "--gravid",
                    "--found-in",
                    "--count",
                )
            ),
            strict=True,
        )
    )
    numbers = {c: str(list(kind).index(kind(by_column[c])) + 1) for c, kind in QUESTIONS.items()}
    return "".join(f"{text}\n" for text in {**by_column, **numbers}.values())


OPEN = [word for pair in {**GROUND, **PLACE}.items() for word in pair]


def test_open_questions_are_asked_and_the_answers_used(tmp_path: Path) -> None:
    seen = on_terminal(["plan", *OPEN, "--top", "1", "--format", "csv"], "n\n" + _keys(), folder=tmp_path)
    assert seen.code == 0, seen.screen
    assert all(words in seen.screen for words in WORDS.values())
    assert "Notechis scutatus,tiger snake,1," in seen.out
    assert "Which species?" not in seen.out
    assert list(tmp_path.iterdir()) == [], "the house rules were not written without a yes"


def test_only_what_is_open_is_asked_and_a_wrong_answer_again(tmp_path: Path) -> None:
    arguments = ["plan", *typed({"--origin": None, "--count": None}), "--format", "csv", "--top", "1"]
    seen = on_terminal(arguments, "n\nwild\n9\nExotic\n0\nmany\n2\n", folder=tmp_path)
    assert seen.code == 1
    assert seen.screen.count(WORDS["origin"]) == 3 and seen.screen.count(WORDS["individualCount"]) == 3
    assert WORDS["gravid"] not in seen.screen
    assert "It is exotic" in seen.out


def test_how_sure_it_is_is_asked_where_other_species_are_named(tmp_path: Path) -> None:
    arguments = ["plan", *typed({"--identification": None}), "--or", "Austrelaps superbus", "--top", "1"]
    probable = on_terminal(arguments, "n\n2\n", folder=tmp_path)
    assert probable.code == 0, probable.screen
    assert WORDS["identification"] in probable.screen
    assert "right for Austrelaps superbus too" in " ".join(probable.screen.split())
    certain = on_terminal(arguments, "n\n1\n", folder=tmp_path)
    assert certain.code == 2
    assert "--identification: certain, yet other species are named" in certain.screen


def test_answers_that_end_are_a_usage_error(tmp_path: Path) -> None:
    seen = on_terminal(["plan", *OPEN], "n\ntiger snake\n\x04", folder=tmp_path)
    assert seen.code == 2
    assert "the answers ended" in seen.screen
    assert seen.out == ""


def test_yes_writes_the_house_rules_and_they_are_not_asked_again(tmp_path: Path) -> None:
    (tmp_path / "tussock.toml").write_text('emergency_number = "000"  # mine\n', "utf-8")
    arguments = ["plan", *typed(), "--top", "1", "--format", "csv"]
    first = on_terminal(arguments, "y\n", folder=tmp_path)
    text = (tmp_path / "tussock.toml").read_text("utf-8")
    assert text.startswith('emergency_number = "000"  # mine\n')
    assert "house_rules" in tomllib.loads(text)
    mine, shipped = read_house_rules(tmp_path / "tussock.toml"), read_house_rules(None)
    assert (mine.conditions, mine.shipped) == (shipped.conditions, False)
    second = on_terminal(arguments, "", folder=tmp_path)
    assert "[y/N]" in first.screen and "[y/N]" not in second.screen
    assert (first.code, second.code) == (0, 0)
    assert first.out == second.out
    assert (tmp_path / "tussock.toml").read_text("utf-8") == text


def test_a_stop_is_loud_on_a_terminal(tmp_path: Path) -> None:
    seen = on_terminal(["plan", *typed({"--condition": "sick"})], "n\n", folder=tmp_path)
    assert "\x1b[1;97;41mSTOP." in seen.screen
    assert "\x1b" not in seen.out


def test_a_batch_shows_its_progress_on_the_terminal_only(tmp_path: Path) -> None:
    lines = (DATA / "captures.csv").read_text("utf-8").splitlines()
    (tmp_path / "a.csv").write_text(
        "\n".join([lines[0], *[li for li in lines if li.startswith("C-022")]]), "utf-8"
    )
    ground = [word for pair in GROUND.items() for word in pair]
    seen = on_terminal(["plan", *ground, "--captures", "a.csv"], "n\n", folder=tmp_path)
    assert seen.code == 1
    assert "Planning" in seen.screen and "1/1" in seen.screen
    assert "Planning" not in seen.out
