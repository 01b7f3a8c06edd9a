"""A logbook that cannot be opened or written, from the command line: named, with what to do, left so."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

import tussock
from tests.cli.running import Runner
from tests.cli.test_log import BY, CAPTURE, add, write
from tussock.records.entries import CALLOUT
from tussock.records.entries import CAPTURE as KIND
from tussock.records.logbook import open_logbook

BATCH = 30
_CODE = "import sys; from tussock.cli import main; sys.exit(main(sys.argv[1:]))"
_FULL = """
import resource, sys
from tussock.cli import main
resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, 150_000))
sys.exit(main(sys.argv[1:]))
"""
_FORBIDDEN = """
import os, sys
import alembic.command, alembic.config, sqlalchemy.dialects.sqlite
import tussock.cli.log_commands, tussock.cli.log_import, tussock.cli.log_show, tussock.records.logbook
from tussock.cli import main
if os.geteuid() == 0:  # root may write anything
    os.setresuid(65534, 65534, 65534)
sys.exit(main(sys.argv[1:]))
"""


def start(code: str, folder: Path, *arguments: str) -> subprocess.Popen[str]:
    search = os.pathsep.join([str(Path(tussock.__file__).parents[1]), *sys.path])
    return subprocess.Popen(
        [sys.executable, "-B", "-c", code, *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": search, "PYTHONWARNINGS": ""},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def ran(code: str, folder: Path, *arguments: str) -> tuple[int, str]:
    started = start(code, folder, *arguments)
    out, err = started.communicate(timeout=240)
    assert "Traceback" not in err, err
    return started.returncode, out + err


def table(folder: Path, name: str, *, rows: int = BATCH, remarks: str = "r" * 900) -> str:
    made = [{**CAPTURE, "captureID": f"{name}-{n}", "occurrenceRemarks": remarks} for n in range(rows)]
    return write(folder / f"{name}.csv", *made)


def test_locked(run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add(run)
    defaults = open_logbook.__kwdefaults__
    assert defaults is not None and "patience_s" in defaults
    monkeypatch.setitem(defaults, "patience_s", 0.1)
    other = sqlite3.connect(tmp_path / "logbook.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    for command in (("import", table(tmp_path, "T")), ("add", "callout", "--set", "calloutID=K-1",
                    "--set", f"eventDate={CAPTURE['eventDate']}")):  # fmt: skip
        done = run("log", *command, *BY)
        assert (done.code, "locked" in done.err, "wait" in done.err) == (3, True, True), done.err
        assert "Traceback" not in done.err
    assert "1 capture\n" in run("log", "show").out, "it can be read all the same"
    other.execute("ROLLBACK")
    other.close()
    assert run("log", "import", "T.csv", *BY).code == 0


def test_of_a_newer_tussock(run: Runner, tmp_path: Path) -> None:
    add(run)
    with sqlite3.connect(tmp_path / "logbook.db") as other:
        other.execute("UPDATE tussock_schema SET version_num = '0099'")
    other.close()
    for command in (
        ("show",),
        ("add", "callout", "--set", "calloutID=K", "--set", "eventDate=2026-11-01T10:00Z"),
    ):
        done = run("log", *command, *(BY if command[0] == "add" else ()))
        assert (done.code, "of a newer Tussock" in done.err, "install" in done.err) == (3, True, True)


@pytest.mark.parametrize("share", [0.0, 0.01, 0.5, 0.999])
def test_truncated(run: Runner, tmp_path: Path, share: float) -> None:
    table(tmp_path, "T", rows=80)
    assert run("log", "import", "T.csv", *BY).code == 0
    path = tmp_path / "logbook.db"
    whole = path.read_bytes()
    cut = whole[: int(len(whole) * share)]
    path.write_bytes(cut)
    done = run("log", "import", table(tmp_path, "U"), *BY)
    assert (done.code, "copy" in done.err, "Traceback" in done.err) == (3, True, False), done.err
    assert "logbook.db" in done.err
    assert path.read_bytes() == cut, "it is left as it was found"


def test_damaged_in_the_middle(run: Runner, tmp_path: Path) -> None:
    """What an entry that is asked for does not touch is noticed all the same, before anything is written."""
    table(tmp_path, "T", rows=80)
    assert run("log", "import", "T.csv", *BY).code == 0
    path = tmp_path / "logbook.db"
    whole = path.read_bytes()
    pages = len(whole) // 4096
    for page in (pages // 2, pages - 1):
        spoilt = whole[: 4096 * page] + b"\xff" * 4096 + whole[4096 * (page + 1) :]
        path.write_bytes(spoilt)
        cells = ("--set", "calloutID=K-1", "--set", "eventDate=2026-11-01T10:00Z")
        done = run("log", "add", "callout", *cells, *BY)
        assert (done.code, "damaged" in done.err, "copy" in done.err) == (3, True, True), done.err
        assert path.read_bytes() == spoilt, "it is left as it was found"


def test_a_disk_that_takes_no_more(run: Runner, tmp_path: Path) -> None:
    add(run)
    before = run("log", "show").out
    code, said = ran(_FULL, tmp_path, "log", "import", table(tmp_path, "T", rows=400), *BY)
    assert (code, "the disk is full, or failed" in said, "make room" in said) == (3, True, True), said
    assert run("log", "show").out == before
    assert run("log", "import", "T.csv", *BY).code == 0


def test_read_only(tmp_path: Path) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with open_logbook(folder / "logbook.db"):
            pass
        (folder / "logbook.db").chmod(0o444)
        folder.chmod(0o555)
        whole = (folder / "logbook.db").read_bytes()
        cells = ("--set", "calloutID=K-1", "--set", "eventDate=2026-11-01T10:00Z", *BY)
        code, said = ran(_FORBIDDEN, folder, "log", "add", "callout", *cells)
        assert (code, "cannot be written" in said, "copy it" in said) == (3, True, True), said
        assert (folder / "logbook.db").read_bytes() == whole
        folder.chmod(0o755)


def _killed(folder: Path, after_s: float, *arguments: str) -> tuple[bool, bool]:
    """Run a command, kill it after a time; return whether it was killed, and whether it had acknowledged."""
    started = start(_CODE, folder, *arguments)
    try:
        started.wait(after_s)
    except subprocess.TimeoutExpired:
        started.send_signal(signal.SIGKILL)
    _, err = started.communicate(timeout=240)
    return started.returncode == -signal.SIGKILL, " added, " in err or "Amended: " in err


@pytest.mark.parametrize("times", [6, pytest.param(200, marks=pytest.mark.slow)])
def test_killed_on_the_command_line(tmp_path: Path, times: int) -> None:
    """Imports and amendments in turn, each killed later than the one before, up to when it would end."""
    began = time.monotonic()
    assert ran(_CODE, tmp_path, "log", "import", table(tmp_path, "A"), *BY)[0] == 0
    whole_s = time.monotonic() - began
    acknowledged, killed = [], 0
    for n in range(times):
        command = ("log", "import", table(tmp_path, f"T{n}"), *BY)
        if n % 2:
            changes = ("--set", f"sex={n}", "--set", f"remarks={n}", "--why", f"run {n}")
            command = ("log", "amend", "capture", "A-0", *changes, *BY)
        dead, said = _killed(tmp_path, whole_s * (0.4 + 0.8 * n / times), *command)
        killed += dead
        acknowledged += [n] if said else []
    assert killed, "some were killed"
    with open_logbook(tmp_path / "logbook.db", create=False) as book:
        names = [e.id.partition("-")[0] for e in book.entries(KIND)]
        states = book.history(KIND, "A-0")
        assert not book.entries(CALLOUT)
    assert {name: names.count(name) for name in names} == dict.fromkeys(names, BATCH), (
        "all of a table, or none"
    )
    assert {f"T{n}" for n in acknowledged if n % 2 == 0} <= set(names), "none acknowledged is lost"
    amended = {state.why for state in states[1:]}
    assert {f"run {n}" for n in acknowledged if n % 2} <= amended
    assert [s.number for s in states] == list(range(1, len(states) + 1))
    assert all(s.entry.get("sex") == s.entry.get("remarks") == s.why.split()[1] for s in states[1:])
