"""Killed in the middle, or written by two at once: each record is there whole or not at all, none is lost."""

from __future__ import annotations

import os
import random
import select
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import tussock
from tussock.records.entries import CALLOUT, CAPTURE
from tussock.records.logbook import Logbook, open_logbook

ROOT = Path(__file__).parents[2]
BATCH = 40
WRITER = f"""
import sys
from tests.support.logged import AT, BY, later, made
from tussock.records.logbook import open_logbook
address, name, most = sys.argv[1], sys.argv[2], int(sys.argv[3])
with open_logbook(address) as book:
    print("open", flush=True)
    for n in range(most):
        call = f"{{name}}-{{n}}"
        cells = {{"calloutID": call, "remarks": "r" * 2000}}
        batch = [made("capture", f"{{call}}-{{i}}", **cells) for i in range({BATCH})]
        book.write([made("callout", call), *batch], by=BY, at=AT)
        print("write", call, flush=True)
        changes = {{"remarks": "amended " * 500, "sex": "male"}}
        book.amend("capture", f"{{call}}-0", changes, by=name, at=later(1), why="looked again")
        print("amend", call, flush=True)
"""


def _start(address: str, name: str, most: int) -> subprocess.Popen[str]:
    search = os.pathsep.join([str(Path(tussock.__file__).parents[1]), str(ROOT), *sys.path])
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, address, name, str(most)],
        env={**os.environ, "PYTHONPATH": search},
        stdout=subprocess.PIPE,
        text=True,
    )


def _killed(address: str, name: str, chance: random.Random) -> list[tuple[str, str]]:
    """Let a writer write, kill it at any moment, and return what it had acknowledged."""
    writer = _start(address, name, 10_000)
    assert writer.stdout is not None
    assert select.select([writer.stdout], [], [], 60)[0], "the writer started"
    assert writer.stdout.readline() == "open\n"
    try:
        writer.wait(chance.uniform(0.0, 0.12))
    except subprocess.TimeoutExpired:
        writer.send_signal(signal.SIGKILL)
    rest, _ = writer.communicate(timeout=60)
    assert writer.returncode == -signal.SIGKILL, "it was killed while it wrote"
    lines = [line.split() for line in rest.split("\n")[:-1]]
    return [(kind, call) for kind, call in lines]


def _check(book: Logbook, acknowledged: set[tuple[str, str]]) -> tuple[int, int]:
    """Hold the book against what was acknowledged; return how many writes and amendments it has."""
    captures: dict[str, list[int]] = {}
    for entry in book.entries(CAPTURE):
        assert entry.get("remarks") in ("r" * 2000, "amended " * 500)
        captures.setdefault(entry.parent, []).append(int(entry.id.rpartition("-")[2]))
    calls = {e.id for e in book.entries(CALLOUT)}
    assert set(captures) == calls
    assert all(sorted(numbers) == list(range(BATCH)) for numbers in captures.values()), "all of a batch"
    amended = set()
    for call in calls:
        states = book.history(CAPTURE, f"{call}-0")
        assert [r.number for r in states] == list(range(1, len(states) + 1))
        last = states[-1].entry
        assert (last.get("sex") == "male") == (last.get("remarks")[0] == "a") == (len(states) == 2)
        amended |= {call} if len(states) == 2 else set()
    assert {c for kind, c in acknowledged if kind == "write"} <= calls, "none acknowledged is lost"
    assert {c for kind, c in acknowledged if kind == "amend"} <= amended
    return len(calls), len(amended)


@pytest.mark.parametrize("times", [20, pytest.param(200, marks=pytest.mark.slow)])
def test_killed_while_writing(address: str, times: int) -> None:
    chance = random.Random(4)
    acknowledged: set[tuple[str, str]] = set()
    for n in range(times):
        acknowledged |= set(_killed(address, f"w{n}", chance))
    with open_logbook(address, create=False) as book:
        written, amended = _check(book, acknowledged)
    assert acknowledged, "some were acknowledged"
    # a kill leaves at most one write or amendment that was done and not acknowledged
    assert written + amended - len(acknowledged) <= times


def test_two_at_once_lose_nothing(address: str) -> None:
    most = 25
    writers = [_start(address, name, most) for name in ("one", "two")]
    said = [w.communicate(timeout=120)[0].split("\n") for w in writers]
    assert [w.returncode for w in writers] == [0, 0]
    acknowledged = {
        (kind, call) for lines in said for kind, _, call in (x.partition(" ") for x in lines) if call
    }
    assert len(acknowledged) == 4 * most
    with open_logbook(address, create=False) as book:
        assert _check(book, acknowledged) == (2 * most, 2 * most)
