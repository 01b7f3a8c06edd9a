"""How long the species' profiles take to load: ``python tests/benchmarks/profiles_speed.py``.

A plan loads them each time. Prints the ratio to reading the same file with tomllib alone, in one run.
"""

from __future__ import annotations

import time
import tomllib
from collections.abc import Callable
from importlib.resources import files

from tussock.species.profiles import load_profiles

TEXT = files("tussock.species").joinpath("profiles.toml").read_text("utf-8")


def best(work: Callable[[], object], *, times: int = 15) -> float:
    """Return the shortest of some runs [s]."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return min(took)


def main() -> None:
    """Print the ratio."""
    ours, plain = best(load_profiles), best(lambda: tomllib.loads(TEXT))
    print(f"profiles loaded and checked in {1000 * ours:.1f} ms, {ours / plain:.2f} times reading the file")


if __name__ == "__main__":
    main()
