"""Whatever goes wrong becomes a message and an exit code, never a traceback."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli.running import BASE, Runner, typed
from tussock.cli.failures import guarded
from tussock.files import Outbox
from tussock.planning import plan as planner


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (RuntimeError("deep"), 70, "Internal error of Tussock"),
        (ZeroDivisionError(), 70, "ZeroDivisionError, in fails, line"),
        (RecursionError(), 70, "RecursionError"),
        (MemoryError(), 70, "Not enough memory"),
        (KeyboardInterrupt(), 130, ""),
    ],
)
def test_exceptions(
    error: BaseException, code: int, words: str, run: Runner, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise error

    monkeypatch.setattr(planner, "plan", fails)
    ran = run.plan()
    assert (ran.code, ran.out) == (code, "")
    assert words in ran.err
    assert "Traceback" not in ran.err


def test_the_trace_is_there_for_those_who_ask(run: Runner, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise RuntimeError("deep")

    monkeypatch.setattr(planner, "plan", fails)
    assert "TUSSOCK_TRACE=1" in run.plan().err
    monkeypatch.setenv("TUSSOCK_TRACE", "1")
    ran = run.plan()
    assert ran.code == 70
    assert "RuntimeError: deep" in ran.err and "Traceback" in ran.err


def _started(folder: Path, *arguments: str) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.Popen(
        [sys.executable, "-m", "tussock.cli", *arguments],
        cwd=folder,
        env=environment,
        text=True,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=_heeding_interrupts,  # noqa: PLW1509 - this test starts no threads
    )


def _heeding_interrupts() -> None:
    """A run in the background of a script is started with Ctrl-C ignored, and would hand that down."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.parametrize("output", ["json", "table"])
def test_a_closed_pipe_is_quiet(output: str, tmp_path: Path) -> None:
    process = _started(tmp_path, "plan", *typed(), "--format", output)
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    err = process.stderr.read()
    assert process.wait(60) == 141, err
    assert "Broken" not in err and "Traceback" not in err and "Exception ignored" not in err
    process.stderr.close()


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("where", ["stage", "send", "end"])
def test_a_request_to_end_that_a_library_swallows_is_heeded(number: int, where: str, tmp_path: Path) -> None:
    def swallowed() -> None:
        with contextlib.suppress(KeyboardInterrupt, SystemExit):
            signal.raise_signal(number)

    def work() -> int:
        with Outbox(lambda _: False) as outbox:
            if where == "stage":
                swallowed()
            outbox.stage(tmp_path / "a.txt", "a")
            if where == "send":
                swallowed()
            outbox.send()
        swallowed()
        return 0

    before = signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        code: object = guarded(work)
    except SystemExit as request:
        code = request.code
    finally:
        signal.signal(signal.SIGINT, before[0])
        signal.signal(signal.SIGTERM, before[1])
    assert code == 128 + number
    assert [p.name for p in tmp_path.iterdir()] == (["a.txt"] if where == "end" else [])
    assert guarded(lambda: 0) == 0  # the next command begins anew


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_request_to_end_leaves_nothing_behind(number: int, code: int, tmp_path: Path) -> None:
    captures = Path(BASE["--region"]) / "captures.csv"
    ground = ["--region", BASE["--region"], "--permit", BASE["--permit"]]
    process = _started(tmp_path, "plan", *ground, "--captures", str(captures), "--out", "season")
    until = time.monotonic() + 60
    while not list(tmp_path.glob(".tussock-*.tmp")):
        assert process.poll() is None and time.monotonic() < until
        time.sleep(0.05)
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert process.returncode == code
    assert out == "" and "Traceback" not in err
    assert list(tmp_path.iterdir()) == []
