"""The command line in a folder of its own, plans made once, and a district to change."""

from __future__ import annotations

import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.cli.running import DATA, Runner
from tussock.planning import plan as planner
from tussock.planning.record import Plan
from tussock.planning.setting import Capture, Setting


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Runner:
    """Give the command line, in an empty folder; warnings of libraries stay errors."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "warnoptions", ["error"])
    monkeypatch.delenv("TUSSOCK_TRACE", raising=False)
    return Runner(capsys)


@pytest.fixture(scope="session")
def known() -> dict[str, Plan]:
    """Keep plans of the base case between tests."""
    return {}


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch, known: dict[str, Plan]) -> None:
    """Plan the base case once in a session, and hand out that plan whatever is asked."""
    real = planner.plan

    def once(capture: Capture, setting: Setting) -> Plan:
        if "plan" not in known:
            known["plan"] = real(capture, setting)
        return replace(known["plan"], capture=replace(known["plan"].capture, id=capture.id))

    monkeypatch.setattr(planner, "plan", once)


@pytest.fixture
def district(tmp_path: Path) -> Path:
    """Give a copy of the invented district that may be changed."""
    folder = tmp_path / "district"
    shutil.copytree(DATA, folder, ignore=shutil.ignore_patterns("__pycache__", "*.py"))
    return folder
