"""An animal that may be of several species: scored by the one that a place suits least. Worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.support import cases
from tests.support.regions import Ground, Thing, made_region
from tussock.errors import InputError
from tussock.measure.judging import Measures
from tussock.measure.scene import Scene, places
from tussock.names import HABITAT_CLASSES
from tussock.permit.place_kinds import MaxDistanceFromCapture
from tussock.planning.criteria import criteria_for, home_range, left_out
from tussock.planning.plan import plan
from tussock.planning.scoring import Scored, explained_criteria, score_exactly
from tussock.planning.weights import Weights, read_weights
from tussock.species.traits import Profile

EVERYTHING = dict.fromkeys(HABITAT_CLASSES, 1.0)
ALDER = cases.profile(
    scientific_name="Alder species", habitat={**EVERYTHING, "grassland": 0.1}, home_range_ha=4.0
)
BIRCH = cases.profile(
    scientific_name="Birch species",
    habitat={**EVERYTHING, "forest": 0.2, "rock": 0.5},
    home_range_ha=None,
    cover_preference=0.0,
)
GROUND = Ground(
    {
        "habitat": [
            Thing(shapely.box(0, 0, 500, 500), "forest"),
            Thing(shapely.box(500, 0, 1000, 500), "grassland"),
            Thing(shapely.box(0, 500, 500, 1000), "woodland"),
        ]
    }
)
FOREST, GRASSLAND, WOODLAND = (250.0, 250.0), (750.0, 250.0), (250.0, 750.0)


def _weights(**of: float) -> Weights:
    """Return weights of 0 but for some."""
    shipped = read_weights()
    none = {n: getattr(shipped, n) for n in Weights.model_fields if n != "unknown"}
    made = {n: w.model_copy(update={"weight": of.get(n, 0.0)}) for n, w in none.items()}
    return shipped.model_copy(update=made)


def _scene(*profiles: Profile) -> Scene:
    made = cases.scene(made_region(GROUND), 250.0, 240.0, of=profiles[0])
    animal = cases.animal(*profiles)
    return Scene(made.region, replace(made.case, animal=animal))


def _scored(weights: Weights, *profiles: Profile) -> Scored:
    scene = _scene(*profiles)
    x, y = np.array([FOREST, GRASSLAND, WOODLAND]).T
    lon, lat = scene.plane.unproject(x, y)
    at = places(lon, lat, radius_m=30.0, plane=scene.plane)
    return score_exactly(criteria_for(scene, weights, circle_m=2000.0, setbacks={}), Measures(scene, at))


@pytest.mark.parametrize("named", [(ALDER, BIRCH), (BIRCH, ALDER)])
def test_each_place_is_scored_for_the_species_it_suits_least(named: tuple[Profile, ...]) -> None:
    scored = _scored(_weights(habitat=3.0), *named)
    assert scored.low == pytest.approx([0.2, 0.1, 1.0])
    # in woodland both have 1: of equals the first by name
    assert [scored.worst(i).name for i in range(3)] == ["Birch species", "Alder species", "Alder species"]


def test_the_mean_is_taken_for_each_species_before_the_lowest_is() -> None:
    # closeness at 10 m and at the 500 m and 510 m of the others, full within the home range's diameter:
    # 2 * sqrt(40,000 m² / pi) = 226 m, and 2 * sqrt(100,000 m² / pi) = 357 m for the 10 ha of an unknown one;
    # 1 - 0.7 * (d - near) / (2000 - near)
    scored = _scored(_weights(habitat=3.0, closeness=1.0), ALDER, BIRCH)
    far = (500.0**2 + 10.0**2) ** 0.5
    alder, birch = (
        [1.0, *(1 - 0.7 * (d + 35 - near) / (2000 - near) for d in (far, 510.0))] for near in (225.7, 356.8)
    )
    expected = [
        min((a**3 * c) ** 0.25, (b**3 * d) ** 0.25)
        for a, b, c, d in zip((1.0, 0.1, 1.0), (0.2, 1.0, 1.0), alder, birch, strict=True)
    ]
    assert scored.low == pytest.approx(expected, abs=1e-4)


def test_the_explained_criteria_are_those_of_that_species() -> None:
    scored = _scored(_weights(habitat=3.0, closeness=1.0), ALDER, BIRCH)
    in_forest = explained_criteria(scored, 0)
    assert [(c.name, c.score.low) for c in in_forest] == [("habitat", 0.2), ("closeness", 1.0)]
    assert [c.share for c in in_forest] == [1.0, 0.0]
    assert explained_criteria(scored, 1)[0].score.low == 0.1
    assert "357 m" in in_forest[1].words
    assert "226 m" in explained_criteria(scored, 1)[1].words


def test_one_species_has_its_own_criteria_and_no_others() -> None:
    scored = _scored(_weights(habitat=1.0), ALDER)
    assert [s.name for s in scored.species] == ["Alder species"]
    assert scored.low is scored.species[0].low


def test_a_criterion_is_left_out_where_it_serves_none_of_them() -> None:
    ground = replace(GROUND, layers={**GROUND.layers, "water": [Thing(shapely.Point(0, 0))]})
    dry = cases.profile(scientific_name="Dry species", water_affinity=0.0)
    region = made_region(ground)
    for named, unused in (((dry,), ("water",)), ((dry, ALDER), ()), ((ALDER, dry), ())):
        made = cases.scene(region, 0.0, 0.0)
        scene = Scene(region, replace(made.case, animal=cases.animal(*named)))
        weights = _weights(habitat=1.0, water=1.0)
        assert left_out(criteria_for(scene, weights, circle_m=2000.0, setbacks={}), weights) == unused


def test_the_smallest_home_range_stands_for_all() -> None:
    weights = read_weights()  # 10 ha where it is unknown
    assert home_range(_scene(ALDER, BIRCH), weights).hectares == 4.0
    assert home_range(_scene(BIRCH, ALDER), weights).hectares == 4.0
    assert home_range(_scene(BIRCH, replace(ALDER, home_range_ha=20.0)), weights).hectares == 10.0


def test_weights_that_leave_a_species_nothing_to_be_scored_by_are_refused() -> None:
    with pytest.raises(InputError, match="no criterion is left"):
        _scored(_weights(cover=1.0), ALDER)
    with pytest.raises(InputError, match="no criterion is left"):
        _scored(_weights(), ALDER, BIRCH)


def test_a_site_says_for_which_species_it_is_scored() -> None:
    region = made_region(GROUND)
    where = cases.position(region, 250.0, 240.0)
    near = MaxDistanceFromCapture(id="limit", limit_m=800)
    setting = cases.setting(region, near, weights=_weights(habitat=1.0), top=6)
    found = plan(cases.capture(where, ALDER, BIRCH), setting)
    assert found.capture.others == ("Birch species",)
    # woodland comes first, scored 1 for both; forest 0.2 for the one, grassland 0.1 for the other
    assert {(s.habitat, s.score, s.scored_for) for s in found.sites} <= {
        ("woodland", 1.0, "Alder species"),
        ("forest", 0.2, "Birch species"),
        ("grassland", 0.1, "Alder species"),
    }
    assert found.nearest is not None
    assert (found.nearest.habitat, found.nearest.scored_for) == ("forest", "Birch species")
    assert [c.score.low for c in found.nearest.criteria] == [0.2]
    assert "habitat 0.20 instead of 1.00" in found.nearest_words
    alone = plan(cases.capture(where, ALDER), setting)
    assert {s.scored_for for s in alone.sites} == {""}
