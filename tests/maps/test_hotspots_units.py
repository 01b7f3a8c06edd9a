"""Every rate names its time, and what it is set against: no two figures under one name on one page."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from tests.maps.test_hotspots_words import text_of
from tests.support.hotspots import made_hotspots
from tussock.cli.hotspots_json import as_json
from tussock.cli.hotspots_show import lines
from tussock.hotspots.found import Hotspots
from tussock.maps.hotspots_files import cells_csv, edges_csv
from tussock.maps.hotspots_page import hotspots_page
from tussock.maps.hotspots_rates import rates_lines
from tussock.maps.hotspots_told import cell_told, edge_told

TIMES = r"a year|in the time observed|in \d+ days"


@pytest.fixture(scope="module")
def made() -> str:
    return hotspots_page(*made_hotspots())


@pytest.fixture(scope="module")
def found() -> Hotspots:
    return made_hotspots()[0]


def _unnamed(text: str) -> list[str]:
    """Return the rates for a thousand homes that do not name the time they are over."""
    rates = re.finditer(r"per 1[,\s]?000(?: homes)?", text, flags=re.IGNORECASE)
    after = ((m.group(), text[m.end() : m.end() + 40]) for m in rates)
    return [rate + rest for rate, rest in after if not re.match(rf"\s*(?:{TIMES})", rest)]


def test_every_rate_on_the_page_names_its_time(made: str, found: Hotspots) -> None:
    said = text_of(made)
    assert len(re.findall("per 1,000", said, flags=re.IGNORECASE)) > 5
    assert _unnamed(said) == []
    told = " ".join(line for e in found.edges for line in edge_told(e))
    assert "per 1,000" in told and _unnamed(told) == []
    assert _unnamed(" ".join(" ".join(lines(found)).split())) == []


def test_every_column_and_key_of_a_rate_names_its_time(found: Hotspots) -> None:
    heads = f"{edges_csv(found).splitlines()[0]},{cells_csv(found).splitlines()[0]}".split(",")
    rates = [h for h in heads if h.startswith("per_1000")]
    assert len(rates) == 9
    assert all(re.fullmatch(r"per_1000_(year|observed)(_low|_high)?", h) for h in rates)
    keys = set(re.findall(r'"(per_1000[^"]*)":', as_json(found)))
    assert keys and all("year" in k or "observed" in k for k in keys)
    assert json.loads(as_json(found))["district_rate"]["unit"] == "incidents per 1,000 homes a year"


def test_a_cell_is_set_against_the_usual_cell_not_the_district(made: str, found: Hotspots) -> None:
    """The fitted level of the cells is not the district's rate, so it does not bear its name."""
    rates = found.rates
    assert rates is not None and found.district_rate is not None
    level = 1000 * rates.smoothed.model.level * rates.a_year
    assert abs(level / found.district_rate.value - 1) > 0.005
    i = int(np.nanargmax(rates.smoothed.above))
    told = " ".join(cell_told(found, rates, 1, i)[1])
    assert "times the usual cell's" in told and "above the usual one's" in told
    assert "district's" not in told.split("Odds")[0]
    assert "probably above the usual cell's rate" in rates_lines(rates)[0]
    said = text_of(made)
    assert "Times the usual" in said and "over the usual" in said and "about the usual" in said
    assert "the two differ" in said


def test_no_cell_is_said_to_be_surely_above(made: str, found: Hotspots) -> None:
    said = text_of(made) + " ".join(lines(found))
    assert not re.search("surely above", said, flags=re.IGNORECASE)
    assert "each taken by itself" in " ".join(said.split())
