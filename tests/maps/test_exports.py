"""GeoJSON (RFC 7946), GPX 1.1 and the decision record; read back by GDAL."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from pathlib import Path
from types import ModuleType
from typing import Any
from xml.etree import ElementTree

import pyogrio
import pytest

from tussock.interval import Interval
from tussock.maps.exports import plan_geojson, plan_gpx, plan_json
from tussock.planning.record import Plan

PROPERTIES = [
    "rank",
    "score",
    "score_high",
    "distance_m",
    "bearing_deg",
    "dwelling_m",
    "peopled_m",
    "road_m",
    "habitat",
    "cover",
    "slope_deg",
    "patch_ha",
    "cover_bearing_deg",
    "walk_min",
    "drive_min",
    "release_from",
    "release_to",
    "leave_by",
    "verdict",
    "conditions",
    "criteria",
    "todo",
]
CONDITION = ["id", "kind", "verdict", "value_low", "value_high", "limit", "margin", "unit", "reason"]
GPX = "{http://www.topografix.com/GPX/1/1}"


def strict(text: str) -> Any:
    """Parse JSON, refusing what JSON has no word for."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    return json.loads(text, parse_constant=refuse)


def test_geojson_holds_the_contract(plan: Plan) -> None:
    data = strict(plan_geojson(plan))
    assert data["type"] == "FeatureCollection"
    assert "crs" not in data  # RFC 7946 § 4: WGS 84, no crs member
    assert len(data["features"]) == 5
    for feature, site in zip(data["features"], plan.sites, strict=True):
        assert list(feature) == ["type", "geometry", "properties"]
        assert feature["geometry"] == {"type": "Point", "coordinates": [site.longitude, site.latitude]}
        p = feature["properties"]
        assert list(p) == PROPERTIES
        assert all(list(c) == CONDITION for c in p["conditions"])
        assert all(list(c) == ["name", "value", "weight", "share"] for c in p["criteria"])
        assert p["walk_min"] is None
        assert p["drive_min"] is None
        assert p["release_from"] is p["release_to"] is p["leave_by"] is None
        assert p["verdict"] == "met"


def test_geojson_is_read_by_gdal(plan: Plan, tmp_path: Path) -> None:
    file = tmp_path / "sites.geojson"
    file.write_text(plan_geojson(plan), encoding="utf-8")
    frame = pyogrio.read_dataframe(file)
    assert frame.crs.to_epsg() == 4326
    assert frame.geometry.x.tolist() == [s.longitude for s in plan.sites]
    assert frame["rank"].tolist() == [1, 2, 3, 4, 5]


def test_infinity_is_null_with_its_reason(plan: Plan) -> None:
    endless = next(c for c in plan.sites[0].clauses if c.id == "3(c)")
    assert endless.value is not None
    assert math.isinf(endless.value.high)
    bare = dataclasses.replace(endless, reason=None, value=Interval(5.0, math.inf), margin=-math.inf)
    site = dataclasses.replace(plan.sites[0], clauses=(endless, bare), dwelling_m=None)
    p = strict(plan_geojson(dataclasses.replace(plan, sites=(site,))))["features"][0]["properties"]
    assert p["dwelling_m"] is None
    for condition in p["conditions"]:
        assert condition["value_high"] is None
        assert condition["reason"] == "edge of data"
    assert p["conditions"][1]["margin"] is None


def test_an_open_clause_has_null_verdict_and_says_why(plan: Plan) -> None:
    conditions = strict(plan_geojson(plan))["features"][0]["properties"]["conditions"]
    held = next(c for c in conditions if c["id"] == "4(a)")
    assert held["verdict"] is None
    assert held["reason"].startswith("not checked")


def test_the_score_can_be_made_again_from_the_criteria(plan: Plan) -> None:
    # weighted geometric mean of the low ends: exp(Σ w ln s / Σ w)
    for feature in strict(plan_geojson(plan))["features"]:
        parts = feature["properties"]["criteria"]
        total = sum(c["weight"] for c in parts)
        score = math.exp(sum(c["weight"] * math.log(c["value"]) for c in parts) / total)
        assert score == pytest.approx(feature["properties"]["score"], abs=2e-6)


def test_gpx_has_the_structure_of_its_schema(plan: Plan) -> None:
    # GPX 1.1 schema: root gpx with version and creator; metadata first, then wpt with lat in [-90, 90],
    # lon in [-180, 180) and children in the order ele, time, …, name, cmt, desc
    root = ElementTree.fromstring(plan_gpx(plan))
    assert root.tag == f"{GPX}gpx"
    assert (root.get("version"), bool(root.get("creator"))) == ("1.1", True)
    assert [e.tag for e in root] == [f"{GPX}metadata", *[f"{GPX}wpt"] * 6]
    assert [e.tag for e in root[0]] == [f"{GPX}{n}" for n in ("name", "desc", "time")]
    time = root[0].findtext(f"{GPX}time")
    assert time == "2026-11-21T05:45:00Z"  # 16:45 at UTC+11
    for point in root[1:]:
        assert [e.tag for e in point] == [f"{GPX}name", f"{GPX}desc"]
        assert set(point.attrib) == {"lat", "lon"}
        assert -90 <= float(point.attrib["lat"]) <= 90
        assert -180 <= float(point.attrib["lon"]) < 180
    assert root[1].findtext(f"{GPX}name") == "Capture C-17"


def test_gpx_is_read_by_gdal(plan: Plan, tmp_path: Path) -> None:
    if "r" not in pyogrio.list_drivers().get("GPX", ""):
        pytest.skip("this GDAL is built without its GPX driver")
    file = tmp_path / "sites.gpx"
    file.write_text(plan_gpx(plan), encoding="utf-8")
    frame = pyogrio.read_dataframe(file, layer="waypoints")
    assert frame["name"].tolist() == ["Capture C-17", *(f"Site {k} of 5" for k in range(1, 6))]
    assert frame.geometry.y.tolist()[1:] == [s.latitude for s in plan.sites]


def test_gpx_escapes_and_drops_what_xml_forbids(plan: Plan, made: ModuleType) -> None:
    capture = dataclasses.replace(plan.capture, id=f"a&b{made.EVIL}\x00\x1b")
    root = ElementTree.fromstring(plan_gpx(dataclasses.replace(plan, capture=capture, now="whenever")))
    assert root[1].findtext(f"{GPX}name") == f"Capture a&b{made.EVIL}"
    assert root[0].find(f"{GPX}time") is None


def test_the_record_holds_everything_but_rasters(plan: Plan) -> None:
    text = plan_json(plan)
    data = strict(text)
    fields = {f.name for f in dataclasses.fields(Plan)} - {"rasters"}
    assert fields <= set(data)
    assert "rasters" not in data
    assert data["software"]["name"] == "tussock"
    assert data["exit_code"] == 0
    assert data["sites"][0]["clauses"][0]["value"]["reasons"] == {"position": 50.0}
    assert json.dumps(data, indent=1, sort_keys=True, ensure_ascii=False) + "\n" == text


def test_no_site_gives_empty_files_not_none(plan: Plan, made: ModuleType) -> None:
    bare = made.without_sites(plan)
    assert strict(plan_geojson(bare))["features"] == []
    assert len(ElementTree.fromstring(plan_gpx(bare))) == 2
    assert strict(plan_json(bare))["exit_code"] == 1


@pytest.mark.parametrize("write", [plan_geojson, plan_gpx, plan_json])
def test_same_plan_same_bytes_and_share_leads_nowhere(write: Any, plan: Plan, made: ModuleType) -> None:
    assert write(plan) == write(made.make_plan())
    shared = write(plan, share=True)
    assert shared == write(plan, share=True)
    places = [
        (plan.capture.longitude, plan.capture.latitude),
        *((s.longitude, s.latitude) for s in plan.sites),
    ]
    for lon, lat in places:
        assert f"{lon:.3f}"[:-1] not in shared
        assert f"{lat:.3f}"[:-1] not in shared
    for secret in (plan.capture.id, "PX-0042", "Ada Quern", "sha256:"):
        assert secret not in shared
    assert "passed on" in shared
    for number in re.findall(r'"(?:distance_m|dwelling_m|road_m)": ([\d.]+)', shared):
        assert float(number) % 100 == 0


def test_share_scrubs_sentences(plan: Plan) -> None:
    told = dataclasses.replace(plan, warnings=("PX-0042: C-17 lies at -42.9014, 147.2963 says Ada Quern",))
    assert strict(plan_json(told, share=True))["warnings"] == [
        "permit 1: [left out] lies at [left out], [left out] says [left out]"
    ]
