"""The p-median against a published case and against integer programming.

Sources: OR-Library, problem pmed1 (Beasley 1985, A note on solving large p-median problems, European Journal
of Operational Research 21:270–273): 100 vertices, 200 edges, 5 medians; of edges given twice the last counts;
the optimum is 5819 (both read in public copies of the library). scipy's HiGHS solver for the rest.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix
from scipy.sparse.csgraph import floyd_warshall

from tussock.hotspots.demand import straight_line_m
from tussock.hotspots.medians import medians

RING = """
30 46 1 28 31 69 39 14 84 59 10 28 63 9 100 98 70 94 22 14 87 82 55 2 32 77 95 29 59 91 89 50 40
88 94 60 21 89 47 63 45 46 24 77 60 45 50 93 22 84 16 85 68 93 37 26 29 38 10 32 67 66 52 19 39
12 86 72 73 65 2 8 96 43 39 61 90 8 58 91 58 13 79 59 28 46 24 63 81 14 52 64 75 71 51 75 57 31
49 88
"""
"""Costs of the edges 1–2, 2–3, …, 100–1."""
CHORDS = """
80 5 90 85 69 51 20 19 30 85 13 22 81 95 54 58 73 37 64 51 89 39 76 89 13 8 77 91 76 51 52 95 96
91 75 33 80 91 84 35 80 46 54 86 35 30 70 5 19 7 9 74 53 50 11 37 4 19 92 70 62 94 96 60 52 34
24 59 63 42 45 68 19 60 53 60 27 86 15 50 31 38 18 27 81 30 99 1 29 6 22 52 11 54 59 75 5 7 8 41
44 80 41 76 42 44 12 56 61 65 73 20 93 35 9 99 28 45 68 19 16 79 96 13 42 3 68 4 28 58 17 60 21
81 34 35 7 7 21 14 82 26 32 26 6 63 83 31 69 53 91 78 32 45 59 33 42 57 5 8 53 66 65 94 61 94 90
63 73 33 88 39 21 59 42 85 34 30 57 37 34 94 52 62 38 56 26 29 20 48 98 53 4 33 45 31 63 82 8 52
31 37 81 14 50 27 16 27 14 48 88 33 8 56 30 76 87 91 17 33 49 77 70 30 74 25 99 19 95 30 96 14
85 90 49 8 96 96 5 87 73 4 41 99 32 35 95 1 31 99 3 49 18 75 100 58 47 68 35 60 5 38 16 70 54 40
52 95 55 47 54 17 45 9 83 75 97 66 81 9 48 92 90 95 96 4 27 27 75 22 48 62 7 55 79 3 57 15 69 46
"""
"""The other edges: two vertices and the cost, in the file's order."""


def pmed1() -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    edges = [(i, (i + 1) % 100, float(c)) for i, c in enumerate(RING.split())]
    rest = [int(v) for v in CHORDS.split()]
    edges += [(a - 1, b - 1, float(c)) for a, b, c in zip(rest[::3], rest[1::3], rest[2::3], strict=True)]
    assert len(edges) == 200
    cost = np.full((100, 100), np.inf)
    for one, other, length in edges:
        cost[one, other] = cost[other, one] = length
    np.fill_diagonal(cost, 0)
    return np.asarray(floyd_warshall(cost))


@pytest.mark.parametrize("seed", range(5))
def test_a_published_case_is_solved(seed: int) -> None:
    found = medians(pmed1(), np.ones(100), count=5, seed=seed)
    assert found.cost * 100 == pytest.approx(5819, abs=1e-6)


def by_integer_programming(
    cost: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    weights: np.ndarray[tuple[int], np.dtype[np.float64]],
    count: int,
) -> float:
    """Return the least mean cost: y_j opens a point, x_ij serves i from j ≤ y_j."""
    n, m = cost.shape
    price = np.concatenate([(weights[:, None] * cost).ravel() / weights.sum(), np.zeros(m)])
    each, linked = lil_matrix((n + 1, n * m + m)), lil_matrix((n * m, n * m + m))
    for i in range(n):
        each[i, i * m : (i + 1) * m] = 1
    each[n, n * m :] = 1
    for k in range(n * m):
        linked[k, k], linked[k, n * m + k % m] = 1, -1
    right = np.concatenate([np.ones(n), [count]])
    solved = milp(
        price,
        integrality=np.concatenate([np.zeros(n * m), np.ones(m)]),
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(each.tocsr(), right, right),
            LinearConstraint(linked.tocsr(), -np.inf, 0),
        ],
        options={"mip_rel_gap": 0.0},
    )
    assert solved.success
    return float(solved.fun)


@pytest.mark.parametrize(("seed", "count"), [(1, 4), (2, 5), (3, 7)])
def test_larger_cases_reach_the_optimum_of_integer_programming(seed: int, count: int) -> None:
    """60 demands and 40 places: up to 18,643,560 choices, so exchanges only."""
    rng = np.random.default_rng(seed)
    at = rng.uniform(0, 10_000, (2, 60)), rng.uniform(0, 10_000, (2, 40))
    weights = rng.gamma(0.5, 1.0, 60)
    cost = straight_line_m(*at[0], *at[1])
    found = medians(cost, weights, count=count, seed=1)
    assert not found.exact
    assert found.cost == pytest.approx(by_integer_programming(cost, weights, count), rel=1e-6)
