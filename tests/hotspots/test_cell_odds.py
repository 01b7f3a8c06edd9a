"""Odds of cells: which area each rests on."""

from __future__ import annotations

import numpy as np
import shapely

from tussock.geodesy import Plane
from tussock.hotspots.cell_odds import DISTRICT, cell_odds, district
from tussock.hotspots.cells import CallPlaces, Cells, Ground, HomePlaces
from tussock.hotspots.hexagons import hexagon_steps
from tussock.hotspots.odds import Area, Prior, odds
from tussock.hotspots.smoothing import gamma_poisson
from tussock.hotspots.supplied import polygon_cells

GROUND = Ground(Plane(147.3, -42.9), shapely.box(-5000, -5000, 5000, 5000))


def strips(counts: list[int], homes: list[int], *, wide: float) -> Cells:
    """Return strips side by side with so many calls and homes in the middle of each."""
    at = (np.arange(len(counts)) + 0.5) * wide
    x, who = np.repeat(at, counts), np.repeat(at, homes)
    return polygon_cells(
        CallPlaces(x, np.zeros(len(x))),
        HomePlaces(who, np.zeros(len(who)), np.ones(len(who)), np.ones(len(who))),
        ground=GROUND,
        polygons=np.array([shapely.box(c - wide / 2, -50, c + wide / 2, 50) for c in at], dtype=object),
        names=[f"{wide:.0f} m strip {i}" for i in range(len(counts))],
    )


def test_each_cell_falls_back_on_what_is_around_it() -> None:
    inner = strips([20, 5, 0, 2], [500, 90, 200, 300], wide=100.0)
    outer = strips([25, 2], [590, 500], wide=200.0)
    found = cell_odds(inner, around=outer, years=4.0, priors=(None, None))
    assert [o.area for o in found] == ["100 m strip 0", "200 m strip 0", "100 m strip 2", "100 m strip 3"]
    assert found[0].one_in == odds(Area("a", 20, 500, 500), years=4.0).one_in
    assert found[1].one_in == odds(Area("a", 25, 590, 590), years=4.0).one_in
    assert found[2].fewer_than_one_in == 210.0  # 200 × 4 / 3.69 = 216.8
    assert "2 calls" in found[3].reason
    assert [o.area for o in cell_odds(inner, years=4.0, priors=(None, None))][1] == DISTRICT


def test_the_district_is_all_cells() -> None:
    inner = strips([20, 5, 0, 2], [500, 90, 200, 300], wide=100.0)
    assert district(inner) == Area(DISTRICT, 27, 1090.0, 1090.0)


def test_hexagons_with_fitted_priors() -> None:
    """Every cell has odds or a reason, and no figure is out of line with the district's."""
    rng = np.random.default_rng(4)
    x, y = rng.normal(0, 1500, (2, 6000))
    near = np.hypot(x, y) < 1000
    who = rng.choice(6000, 900, p=np.where(near, 2.0, 1.0) / np.where(near, 2.0, 1.0).sum())
    one = np.ones(6000)
    steps = hexagon_steps(CallPlaces(x[who], y[who]), HomePlaces(x, y, one, one), ground=GROUND)
    priors = []
    for cells in (steps.chosen, steps.coarser):
        model = gamma_poisson(cells.incidents, cells.homes * 5.0).model
        priors.append(Prior(model.shape, model.level))
    found = cell_odds(steps.chosen, around=steps.coarser, years=5.0, priors=(priors[0], priors[1]))
    assert len(found) == len(steps.chosen.names)
    for each in found:
        given = (each.one_in is not None) + (each.fewer_than_one_in is not None)
        assert given == (not each.reason)
        assert each.homes[0] >= 100 or each.reason
        if each.one_in:
            # the district: 900 calls of 6,000 homes in 5 years, one in 33 a year
            assert 5 < each.one_in[0] < 100
