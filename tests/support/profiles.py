"""How many examples hypothesis draws: few in a plain run, all by the ``slow`` mark.

They are the same in every run; with ``TUSSOCK_EXPLORE=1`` others are drawn each time, to look for new faults.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "tussock",
    derandomize=os.environ.get("TUSSOCK_EXPLORE", "") == "",
    deadline=None,
    database=None,
    print_blob=False,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)


def examples(count: int) -> settings:
    """Return the settings of a test that draws so many examples."""
    return settings(settings.get_profile("tussock"), max_examples=count)
