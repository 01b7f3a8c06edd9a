"""A made plan for the tests of maps."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from tussock.maps.ground_sketch import GroundSketch
from tussock.planning.record import Plan


def load_made() -> ModuleType:
    """Return the module that makes plans; tests are no package, so it is loaded by its path."""
    name = "tussock_tests_made"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name("made.py"))
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture(scope="session")
def made() -> ModuleType:
    return load_made()


@pytest.fixture(scope="session")
def plan(made: ModuleType) -> Plan:
    result: Plan = made.make_plan()
    return result


@pytest.fixture(scope="session")
def ground(made: ModuleType) -> GroundSketch:
    result: GroundSketch = made.make_ground()
    return result
