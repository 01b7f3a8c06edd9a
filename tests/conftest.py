"""What every test shares: no network, and the folder of real data."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

# how long an example takes is the machine's affair: speed is measured in tests/benchmarks, as ratios
settings.register_profile("tussock", deadline=None)
settings.load_profile("tussock")


def in_ci() -> bool:
    """Return whether this is the run that must not skip."""
    return os.environ.get("CI", "").lower() == "true"


@pytest.fixture(scope="session")
def test_data() -> Path:
    """Return the folder of real data outside the repository; skip without it, fail where CI is true."""
    named = os.environ.get("TUSSOCK_TEST_DATA", "")
    folder = Path(named)
    if named and folder.is_dir():
        return folder
    reason = f"TUSSOCK_TEST_DATA is '{named}': it must name the folder that holds osm/ and kagwene/"
    if in_ci():
        pytest.fail(reason)
    pytest.skip(reason)
