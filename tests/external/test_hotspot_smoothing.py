"""Smoothed rates against R, published listings and numbers worked by hand.

Sources: North Carolina sudden infant deaths 1974–78 (nc.sids; R ``MASS::glm.nb(SID74 ~ 1 +
offset(log(BIR74)))``, its output as saved in the project's reference; Marshall's by esda, same place);
St Louis homicides, printed in the documentation of esda's Empirical_Bayes, data built into libpysal.
"""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path

import numpy as np
import pytest

from tests.support.extracts import absent
from tussock.geodesy import Floats
from tussock.hotspots.smoothing import gamma_poisson, marshall

BASE = np.array([1000.0, 1500.0, 500.0, 2000.0, 800.0])


@pytest.fixture(scope="module")
def carolina(test_data: Path) -> tuple[list[str], Floats, Floats]:
    """Names, deaths and births 1974–78 of the 100 counties."""
    with (test_data / "stats" / "nc_county_seats.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    deaths = np.array([float(r["SID74"]) for r in rows])
    births = np.array([float(r["BIR74"]) for r in rows])
    assert (len(rows), deaths.sum(), births.sum()) == (100, 667, 329_962)
    return [r["name"] for r in rows], deaths, births


def test_gamma_poisson_as_r_fits_it(carolina: tuple[list[str], Floats, Floats]) -> None:
    names, deaths, births = carolina
    found = gamma_poisson(deaths, births)
    anson, northampton, alleghany = (names.index(n) for n in ("Anson", "Northampton", "Alleghany"))
    # a search for the top of a likelihood finds its place to the root of the machine's precision
    assert found.model.shape == pytest.approx(6.371976749, rel=1e-8)
    assert 1000 * found.model.level == pytest.approx(2.123662839, abs=0.5e-9)
    assert found.ratio[anson] == pytest.approx(2.201906, abs=0.5e-6)
    assert found.low[anson] == pytest.approx(1.369429, abs=0.5e-6)
    assert found.high[anson] == pytest.approx(3.228881, abs=0.5e-6)
    assert found.above[anson] == pytest.approx(0.99918, abs=0.5e-5)
    assert found.ratio[northampton] == pytest.approx(1.637110, abs=0.5e-6)
    assert found.above[northampton] == pytest.approx(0.95523, abs=0.5e-5)
    assert deaths[alleghany] == 0
    assert found.ratio[alleghany] == pytest.approx(0.860357, abs=0.5e-6)


def test_marshalls_as_esda_gives_it(carolina: tuple[list[str], Floats, Floats]) -> None:
    names, deaths, births = carolina
    rates = dict(zip(names, 1000 * marshall(deaths, births).rates, strict=True))
    printed = {"Anson": 4.838804, "Northampton": 3.534913, "Robeson": 3.452775}
    assert {n: rates[n] for n in printed} == pytest.approx(printed, abs=0.5e-6)


def test_marshalls_rates_worked_out() -> None:
    """Project's reference, calculated from m, s², A, w and θ as the paper has them."""
    found = marshall([2, 5, 1, 30, 0], BASE)
    assert found.mean == pytest.approx(0.006551724138, abs=0.5e-12)
    assert found.variance == pytest.approx(3.292112564e-05, abs=0.5e-14)
    weights = [0.8340194799, 0.8828656463, 0.7152945229, 0.9094990419, 0.8007905710]
    assert found.weights == pytest.approx(weights, abs=0.5e-10)
    rates = [0.0027554975, 0.0037103175, 0.0032959008, 0.0142354229, 0.0013051652]
    assert found.rates == pytest.approx(rates, abs=0.5e-10)


def test_a_variance_below_none_is_none() -> None:
    """Raw A −1.753864447e-06: all units get the mean, 12 calls of 5,800."""
    found = marshall([2, 3, 1, 4, 2], BASE)
    assert found.variance == 0
    assert found.rates == pytest.approx(np.full(5, 0.002068965517), abs=0.5e-12)


def test_st_louis_homicides_as_printed() -> None:
    """The first three of esda's documentation, from the whole table where libpysal is installed."""
    spec = importlib.util.find_spec("libpysal")
    if spec is None or not spec.submodule_search_locations:
        absent("libpysal is not installed: its wheel carries the table (pip install '.[test]')")
    path = Path(next(iter(spec.submodule_search_locations))) / "examples" / "stl" / "stl_hom.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    events, people = (np.array([float(row[c]) for row in rows]) for c in ("HC7984", "PO7984"))
    assert (len(rows), events.sum(), people.sum()) == (78, 2668, 26_063_770)
    rates = marshall(events, people).rates[:3]
    assert rates == pytest.approx([2.36718950e-05, 4.54539167e-05, 4.78114019e-05], abs=0.5e-13)
