"""An attack on published figures: everything that can ever be released for a region, and what it betrays.

The attacker knows the stored units, every file that the code would release at any time, and that calls are
whole numbers, none below 0. Unknown are the calls of each unit, season and month. How low and how high each
count can be is found by integer programming (HiGHS through scipy.optimize.milp), the referee here.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import product

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from tests.support.profiles import examples
from tests.support.public import PLANE, Told, calls, region
from tussock.errors import UsageError
from tussock.hotspots import public
from tussock.hotspots.public import public_figures
from tussock.hotspots.public_partition import Partition
from tussock.hotspots.public_units import units_from_homes

UNITS, SEASONS, MONTHS = 3, 4, 12
SHAPE = (UNITS, SEASONS, MONTHS)
FIRST = 2020
HIGHEST = 500
"""Calls that the attacker thinks possible in one unit, season and month: more than any test has."""
DIMENSIONS = ("unit", "season")
LEAST_WIDTH = 4
"""Asked for: no count may be narrowed below it."""
AFTER_ALL = datetime(2024, 1, 1, tzinfo=UTC)
"""When the four seasons, which are calendar years here, have ended."""

Mask = npt.NDArray[np.bool_]
Known = tuple[Mask, int, float]
"""Which unknowns add up to a count, and its least and most."""

COUNTS = st.lists(
    st.tuples(st.integers(0, UNITS - 1), st.integers(0, SEASONS - 1), st.integers(0, MONTHS - 1),
              st.integers(1, 25)),
    max_size=14,
)  # fmt: skip


def invented(counts: list[tuple[int, int, int, int]]) -> list[Told]:
    return [(u, s, m, 0.5, 0.5, 0.5) for u, s, m, count in counts for _ in range(count)]


def a_region(dimension: str, seasons: int = 2) -> Partition:
    return region(dimension, seasons=seasons, first=FIRST, start=1, zone="UTC")


def all_released(partition: Partition, told: list[Told]) -> list[str]:
    """Return every file that the code does not refuse, whatever is asked, whenever."""
    out = []
    for dimension, first in product((*DIMENSIONS, "month", "total", "species"), range(FIRST - 5, FIRST + 12)):
        for now in (datetime(2021, 6, 1, tzinfo=UTC), AFTER_ALL):
            try:
                figures = public_figures(
                    partition, calls(partition, told), dimension=dimension, first_season=first, now=now
                )
            except UsageError:
                continue
            out.append(figures.text())
    return sorted(set(out))


def read(partition: Partition, text: str) -> Iterator[Known]:
    """Return what a file says of the unknowns, from its text and the stored units alone."""
    document = json.loads(text)
    seasons = [int(name) - FIRST for name in document["seasons"]]
    own = region().units
    lies_in = partition.unit_index(
        np.array([(u.west + u.east) / 2 for u in own]), np.array([(u.south + u.north) / 2 for u in own])
    )
    for figure in document["figures"]:
        mask = np.zeros(SHAPE, np.bool_)
        if document["by"] == "unit":
            units = [i for i, of in enumerate(lies_in) if partition.units[of].id == figure["unit"]]
            mask[np.ix_(units, seasons, range(MONTHS))] = True
        else:
            mask[:, int(figure["season"]) - FIRST] = True
        low, _, high = figure["calls"].rstrip("+").partition("–")
        yield mask, int(low), float(high) if high else np.inf


def extremes(known: list[Known], mask: Mask) -> tuple[int, int]:
    """Return the least and the most that a sum of unknowns can be."""
    rows = np.array([m.ravel() for m, _, _ in known], dtype=np.float64)
    limits = LinearConstraint(rows, [low for _, low, _ in known], [high for _, _, high in known])
    found = []
    for sign in (1.0, -1.0):
        result = milp(
            sign * mask.ravel().astype(np.float64),
            constraints=limits,
            bounds=Bounds(0, HIGHEST),
            integrality=np.ones(mask.size),
        )
        assert result.success, result.message
        found.append(round(sign * result.fun))
    return found[0], found[1]


def every_count() -> Iterator[Mask]:
    """Return every count of interest: all, by any of the three, by any two, and by all three."""
    blocks = [slice(None), slice(0, 2), slice(2, 4), *range(SEASONS)]
    for unit, season, month in product((slice(None), *range(UNITS)), blocks, (slice(None), *range(0, 12, 4))):
        mask = np.zeros(SHAPE, np.bool_)
        mask[unit, season, month] = True
        yield mask


ALL_COUNTS = list(every_count())


def narrowest(known: list[Known], among: list[Mask]) -> int:
    return min(high - low for low, high in (extremes(known, mask) for mask in among))


@pytest.mark.parametrize(
    ("dimension", "seasons", "files"), [("unit", 2, 2), ("season", 1, 4), ("season", 2, 2)]
)
@given(counts=COUNTS, draw=st.data())
@examples(6)
def test_all_files_together_leave_every_count_wide(
    dimension: str, seasons: int, files: int, counts: list[tuple[int, int, int, int]], draw: st.DataObject
) -> None:
    partition = a_region(dimension, seasons)
    texts = all_released(partition, invented(counts))
    assert len(texts) == files
    known = [fact for text in texts for fact in read(partition, text)]
    truth = np.zeros(SHAPE, np.int64)
    for unit, season, month, count in counts:
        truth[unit, season, month] += count
    for mask, least, most in known:
        assert least <= truth[mask].sum() <= most
    published = [mask for mask, _, _ in known]
    some = draw.draw(st.lists(st.sampled_from(range(len(ALL_COUNTS))), min_size=20, max_size=20))
    for mask in [*published, *ALL_COUNTS[:1], *(ALL_COUNTS[i] for i in some)]:
        low, high = extremes(known, mask)
        assert low <= truth[mask].sum() <= high
        assert high - low >= LEAST_WIDTH


@pytest.mark.slow
@pytest.mark.parametrize(("dimension", "seasons"), [("unit", 2), ("season", 1), ("season", 4)])
@given(counts=COUNTS)
@examples(20)
def test_all_files_together_leave_every_single_count_wide(
    dimension: str, seasons: int, counts: list[tuple[int, int, int, int]]
) -> None:
    partition = a_region(dimension, seasons)
    known = [f for text in all_released(partition, invented(counts)) for f in read(partition, text)]
    assert narrowest(known, ALL_COUNTS) >= LEAST_WIDTH


def one_unit(partition: Partition) -> Partition:
    """Return a second set of units of the same region: one for the whole."""
    x, y, homes = np.array([0.0, 3000.0, 6000.0]), np.array([0.0, 250.0, 0.0]), [600, 700, 1100]
    units = units_from_homes(x, y, homes=homes, least=1300)
    assert len(units) == 1
    return Partition("Invented district", PLANE, partition.choice, units, 1300)


def test_the_attack_succeeds_on_two_dimensions() -> None:
    # By hand: 4 + 3 + 3 calls, all in the first season. By unit each is in 0–4, by season the first is in
    # 10–19. Three units of at most 4 make at most 12, so the first season has 10 to 12 calls, and each unit
    # at least 10 − 4 − 4 = 2 of them: 2 to 4.
    told = invented([(0, 0, 5, 4), (1, 0, 5, 3), (2, 0, 5, 3)])
    known = [
        fact
        for dimension in ("unit", "season")
        for text in all_released(a_region(dimension), told)
        for fact in read(a_region(dimension), text)
    ]
    unit, season = np.zeros(SHAPE, np.bool_), np.zeros(SHAPE, np.bool_)
    unit[0, :2], season[:, 0] = True, True
    assert extremes(known, unit) == (2, 4)
    assert extremes(known, season) == (10, 12)


def test_the_attack_succeeds_on_a_second_set_of_units() -> None:
    # The same calls by three units and by one: 10–19 in all, at most 4 in each, so 2 to 4 in each.
    told = invented([(0, 0, 5, 4), (1, 0, 5, 3), (2, 0, 5, 3)])
    three = a_region("unit")
    known = [f for p in (three, one_unit(three)) for text in all_released(p, told) for f in read(p, text)]
    unit = np.zeros(SHAPE, np.bool_)
    unit[0, :2] = True
    assert extremes(known, unit) == (2, 4)


def test_the_attack_succeeds_on_a_narrow_band(monkeypatch: pytest.MonkeyPatch) -> None:
    # 6 calls in a band of 5 to 7: two apart, less than asked for.
    monkeypatch.setattr(public, "BANDS", ((0, 4), (5, 7), (8, 19), (20, 49), (50, None)))
    partition = a_region("unit")
    known = [f for text in all_released(partition, invented([(0, 0, 5, 6)])) for f in read(partition, text)]
    unit = np.zeros(SHAPE, np.bool_)
    unit[0, :2] = True
    assert extremes(known, unit) == (5, 7)
    assert narrowest(known, [mask for mask, _, _ in known]) < LEAST_WIDTH
