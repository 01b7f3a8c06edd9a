"""A real Chromium for tests: skipped without one, a failure where CI is true."""

from __future__ import annotations

import importlib.util
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest


def _load(name: str, path: Path) -> ModuleType:
    """Return a helper module by its path; tests are no package."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture(scope="session")
def made() -> ModuleType:
    """The module that makes plans."""
    return _load("tussock_tests_made", Path(__file__).parent.parent / "maps" / "made.py")


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A running browser, without any network."""
    driver = _load("tussock_tests_chromium", Path(__file__).with_name("chromium.py"))
    path = driver.find_chromium()
    if path is None:
        reason = "no Chromium: install Debian's chromium, or name one in TUSSOCK_CHROMIUM"
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    browser = driver.Chromium(path, tmp_path_factory.mktemp("chromium"))
    yield browser
    browser.close()
