"""Clauses judged at places: verdicts worked out by hand, closed limits, what leaves a clause open."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from tests.support import cases
from tests.support.regions import Ground, Thing, made_region
from tussock.geodesy import WGS84
from tussock.interval import Verdict
from tussock.measure.clauses import HOUSE_RULE, Standing, bind
from tussock.measure.judging import ClauseResult, Measures, judge
from tussock.measure.scene import Scene, places
from tussock.permit.animal_kinds import SpeciesListed
from tussock.permit.condition import AppliesTo, Condition
from tussock.permit.consents import Consent
from tussock.permit.place_kinds import (
    HabitatIn,
    MaxDistanceFromCapture,
    MaxReleasesNear,
    MinDistanceFrom,
    MinPatchArea,
    NearestSuitable,
    NoBarrierBetween,
    NotWithin,
    SameHabitatAsCapture,
    SamePolygonAsCapture,
    Within,
)

FOREST = Thing(box(-4000, -4000, 4000, 4000), "forest")
MET, OPEN, NOT = Verdict.MET, Verdict.UNCERTAIN, Verdict.NOT_MET


def verdict(
    condition: Condition,
    ground: Ground,
    x: float,
    y: float,
    *,
    radius_m: float = 30.0,
    capture_m: float = 5.0,
    consents: tuple[Consent, ...] = (),
) -> ClauseResult:
    scene = cases.scene(made_region(ground), 0.0, 0.0, radius_m=capture_m, consents=consents)
    return of_scene(condition, scene, x, y, radius_m=radius_m)


def of_scene(
    condition: Condition, scene: Scene, x: float, y: float, *, radius_m: float = 30.0
) -> ClauseResult:
    lon, lat = scene.plane.unproject(x, y)
    at = places(lon, lat, radius_m=radius_m, plane=scene.plane)
    return judge(bind([condition], scene, source="P-1")[0], Measures(scene, at), 0)


def home(ground: Thing = FOREST, **layers: list[Thing]) -> Ground:
    return Ground({"habitat": [ground], **layers})


@pytest.mark.parametrize(
    ("metres", "expected"),
    [(464.999, MET), (465.0, MET), (465.002, OPEN), (500.0, OPEN), (534.998, OPEN), (535.002, NOT)],
)
def test_the_limit_is_closed_and_counted_to_a_millimetre(metres: float, expected: Verdict) -> None:
    # 5 m capture + 30 m site: met up to 465, not met from 535
    scene = cases.scene(made_region(home()), 0.0, 0.0)
    capture = scene.case.capture
    lon, lat, _ = WGS84.fwd(capture.longitude, capture.latitude, 37.0, metres)
    at = places(lon, lat, radius_m=30.0, plane=scene.plane)
    clause = bind([MaxDistanceFromCapture(id="a", limit_m=500)], scene, source="P-1")[0]
    found = judge(clause, Measures(scene, at), 0)
    assert found.verdict is expected
    assert found.limit == 500
    assert found.margin == pytest.approx(500 - metres - 35, abs=1e-5)


def test_hectares_are_not_met_by_ten_square_metres_less() -> None:
    ground = home(Thing(box(-50, -50, 50, 49.97), "forest"))  # 0.9997 ha
    assert verdict(MinPatchArea(id="a", limit_ha=1.0), ground, 0, 0, radius_m=5.0).verdict is NOT
    assert verdict(MinPatchArea(id="a", limit_ha=0.9997), ground, 0, 0, radius_m=5.0).verdict is MET


@pytest.mark.parametrize(("x", "expected"), [(69, MET), (101, OPEN), (129, OPEN), (131, NOT), (169, NOT)])
def test_habitat_is_met_only_where_the_whole_disc_lies_in_it(x: float, expected: Verdict) -> None:
    ground = Ground(
        {"habitat": [Thing(box(-900, -900, 100, 900), "forest"), Thing(box(100, -900, 900, 900), "garden")]}
    )
    assert verdict(HabitatIn(id="h", classes=("forest",)), ground, x, 0).verdict is expected


@pytest.mark.parametrize("x", [131, 300])
def test_on_unmapped_ground_habitat_is_open(x: float) -> None:
    ground = Ground({"habitat": [Thing(box(-100, -100, 100, 100), "forest")]})
    found = verdict(HabitatIn(id="h", classes=("forest",)), ground, x, 0)
    assert found.verdict is OPEN


@pytest.mark.parametrize(
    ("forest_m", "capture_m", "expected"),
    [
        (30, 5, NOT),  # forest surely within 50 m: rock at 200 m is not the same habitat
        (70, 5, MET),  # no natural class within 50 m: the home range counts, rock at 200 ± 5 m is in it
        (70, 25, OPEN),  # forest may or may not be within 50 m
    ],
)
def test_same_habitat_reaches_as_far_as_nothing_nearer_is_natural(
    forest_m: float, capture_m: float, expected: Verdict
) -> None:
    habitat = [Thing(box(forest_m, -900, 100, 900), "forest"), Thing(box(200, -900, 900, 900), "rock")]
    of = cases.profile(home_range_ha=None)  # stands for 300 m
    scene = cases.scene(made_region(Ground({"habitat": habitat})), 0.0, 0.0, radius_m=capture_m, of=of)
    assert of_scene(SameHabitatAsCapture(id="s"), scene, 400, 0).verdict is expected


def test_same_habitat_is_open_where_the_disc_reaches_another_class() -> None:
    habitat = [Thing(box(-900, -900, 100, 900), "forest"), Thing(box(100, -900, 900, 900), "rock")]
    ground = Ground({"habitat": habitat})
    assert verdict(SameHabitatAsCapture(id="s"), ground, 60, 0).verdict is MET
    assert verdict(SameHabitatAsCapture(id="s"), ground, 90, 0).verdict is OPEN
    assert verdict(SameHabitatAsCapture(id="s"), ground, 200, 0).verdict is NOT


WALL = LineString([(50, -3000), (50, 3000)])


@pytest.mark.parametrize(
    ("barrier", "x", "capture_m", "expected"),
    [
        (Thing(WALL), 200, 5, NOT),
        (Thing(WALL), 15, 5, MET),
        (Thing(WALL), 25, 5, OPEN),  # it touches the site's disc: the site may lie on either side
        (Thing(WALL), 200, 55, OPEN),  # it touches the capture's disc
        (Thing(WALL, error_m=40), 200, 30, OPEN),  # it may touch it
        (Thing(LineString([(50, -3000), (50, 3)])), 200, 5, OPEN),  # in the hull, but it can be gone round
        (Thing(LineString([(50, -3000), (50, -31)])), 200, 5, MET),
        (Thing(box(40, -3000, 60, 3000)), 200, 5, NOT),
        (Thing(LineString([(-50, -3000), (-50, 3000)])), 200, 5, MET),
    ],
    ids=[
        "between",
        "behind",
        "at the site",
        "at the capture",
        "by its error",
        "ends between",
        "ends before",
        "an area between",
        "on the far side",
    ],
)
def test_a_barrier_between(barrier: Thing, x: float, capture_m: float, expected: Verdict) -> None:
    found = verdict(
        NoBarrierBetween(id="b", layer="barriers"), home(barriers=[barrier]), x, 0, capture_m=capture_m
    )
    assert found.verdict is expected


def test_beyond_the_known_extent_there_may_be_a_barrier() -> None:
    ground = Ground({"habitat": [FOREST], "barriers": []}, {"barriers": [box(-100, -100, 150, 100)]})
    clause = NoBarrierBetween(id="b", layer="barriers")
    assert verdict(clause, ground, 100, 0).verdict is MET
    found = verdict(clause, ground, 130, 0)
    assert (found.verdict, found.reason) == (OPEN, "edge of data")


LEAVE = (cases.consent("1", layer="protected", feature="a"),)


@pytest.mark.parametrize(
    ("edge", "capture_m", "consents", "expected"),
    [
        (500.0, 5.0, LEAVE, MET),
        (500.0, 5.0, (), NOT),
        (-50.0, 5.0, LEAVE, NOT),  # caught outside
        (10.0, 30.0, LEAVE, OPEN),  # perhaps caught inside
        (10.0, 30.0, (), NOT),
    ],
)
def test_a_park_only_if_it_came_from_there_by_leave(
    edge: float, capture_m: float, consents: tuple[Consent, ...], expected: Verdict
) -> None:
    ground = home(protected=[Thing(box(-1000, -1000, edge, 1000), "reserve", "a")])
    clause = NotWithin(id="n", layer="protected", unless_captured_within=True)
    assert verdict(clause, ground, -300, 0, capture_m=capture_m, consents=consents).verdict is expected


def test_of_both_is_the_worse_of_capture_and_site() -> None:
    ground = home(permit_area=[Thing(box(-100, -100, 500, 100))])
    clause = Within(id="w", layer="permit_area", of="both")
    assert verdict(clause, ground, 300, 0).verdict is MET
    assert verdict(clause, ground, 600, 0).verdict is NOT
    ground = home(permit_area=[Thing(box(100, -100, 500, 100))])
    found = verdict(clause, ground, 300, 0)
    assert found.verdict is NOT
    assert found.margin == pytest.approx(-105, abs=1e-3)


@pytest.mark.parametrize(
    ("clause", "ground"),
    [
        (
            Within(id="w", layer="permit_area", of="both"),
            home(permit_area=[Thing(box(-9e4, -9e4, 9e4, 9e4))]),
        ),
        (SamePolygonAsCapture(id="z", layer="zones"), home(zones=[Thing(box(-9e4, -9e4, 9e4, 9e4))])),
    ],
)
def test_deep_inside_everything_is_met(clause: Condition, ground: Ground) -> None:
    assert verdict(clause, ground, 300, 0).verdict is MET


def test_releases_already_there() -> None:
    scene = cases.scene(made_region(home()), 0.0, 0.0)
    assert of_scene(MaxReleasesNear(id="r", count=1, within_m=99, within_days=9), scene, 0, 0).verdict is MET


def test_a_layer_that_is_missing_is_missing_for_the_permit_and_not_checked_for_a_house_rule() -> None:
    scene = cases.scene(made_region(home()), 0.0, 0.0)
    clause = MinDistanceFrom(id="d", layer="dwellings", limit_m=100)
    for source, expected in (("P-1", Verdict.MISSING), (HOUSE_RULE, None)):
        bound = bind([clause], scene, source=source)[0]
        assert bound.standing is Standing.LAYER_MISSING
        assert judge(bound, Measures(scene, scene.capture), 0).verdict is expected


def test_a_clause_for_others_does_not_apply_and_one_not_judged_yet_is_not_checked() -> None:
    scene = cases.scene(made_region(home()), 0.0, 0.0)
    others = AppliesTo(danger=("harmless",))
    bound = bind(
        [
            MaxDistanceFromCapture(id="a", limit_m=1, applies_to=others),
            NearestSuitable(id="n", tolerance_m=50),
        ],
        scene,
        source="P-1",
    )
    assert [c.standing for c in bound] == [Standing.NOT_APPLYING, Standing.NOT_CHECKED]
    assert [judge(c, Measures(scene, scene.capture), 0).verdict for c in bound] == [None, None]


def test_an_advisory_clause_is_judged_but_decides_no_place() -> None:
    scene = cases.scene(made_region(home()), 0.0, 0.0)
    [clause] = bind([MaxDistanceFromCapture(id="a", limit_m=1, mandatory=False)], scene, source="P-1")
    assert not clause.decides_place
    assert (
        judge(clause, Measures(scene, places(147.7, -42.1, radius_m=1, plane=scene.plane)), 0).verdict is NOT
    )


def test_the_animal_decides_its_own_clauses() -> None:
    scene = cases.scene(made_region(home()), 0.0, 0.0)
    listed = bind([SpeciesListed(id="s", species=("Invented species",))], scene, source="P-1")[0]
    assert judge(listed, Measures(scene, scene.capture), 0).verdict is MET


def test_many_places_are_judged_like_one() -> None:
    ground = home(dwellings=[Thing(box(100, -50, 200, 50)), Thing(Point(-80, 20), error_m=10)])
    scene = cases.scene(made_region(ground), 0.0, 0.0)
    clause = MinDistanceFrom(id="d", layer="dwellings", limit_m=60)
    xy = np.random.default_rng(3).uniform(-300, 300, (50, 2))
    lon, lat = scene.plane.unproject(xy[:, 0], xy[:, 1])
    bound = bind([clause], scene, source="P-1")[0]
    together = Measures(scene, places(lon, lat, radius_m=30, plane=scene.plane))
    for i, (x, y) in enumerate(xy):
        assert judge(bound, together, i) == of_scene(clause, scene, float(x), float(y))
