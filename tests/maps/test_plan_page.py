"""The page: self-contained, escaped, the same bytes each time, and what a person must find on it."""

from __future__ import annotations

import dataclasses
import re
import subprocess
import sys
from html.parser import HTMLParser
from types import ModuleType

import pytest

from tussock.maps.canvas import asset, leaflet_style, page_html, script_json
from tussock.maps.cards import geo_uri
from tussock.maps.cautions import CAUTIONS
from tussock.maps.ground_sketch import GroundSketch
from tussock.maps.plan_page import plan_html
from tussock.planning.record import PermitFacts, Plan


class Reader(HTMLParser):
    """Collects tags, addresses and text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.addresses: list[str] = []
        self.ids: list[str] = []
        self.handlers: list[str] = []
        self._parts: list[str] = []
        self._open = ""
        self.feed(html)
        self.text = re.sub(r"\s+", " ", " ".join(self._parts)).replace("\u202f", " ")

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self._open = tag
        for name, value in attrs:
            if name in ("src", "href", "srcset", "action", "data", "poster", "background", "xlink:href"):
                self.addresses.append(value or "")
            if name == "id":
                self.ids.append(value or "")
            if name.startswith("on"):
                self.handlers.append(name)

    def handle_endtag(self, tag: str) -> None:
        self._open = ""

    def handle_data(self, data: str) -> None:
        if self._open not in ("script", "style"):
            self._parts.append(data)


@pytest.fixture(scope="module")
def html(plan: Plan, ground: GroundSketch) -> str:
    return plan_html(plan, ground, emergency_number="000")


def test_the_page_asks_no_host(html: str) -> None:
    page = Reader(html)
    assert page.addresses
    assert all(re.match(r"(geo:-?\d|tel:\d|#)", a) for a in page.addresses), page.addresses
    urls = re.findall(r"url\(([^)]*)\)", html)
    assert all(re.match(r"['\"]?(#|data:)", u) for u in urls), urls
    assert "@import" not in html
    assert "sourceMappingURL" not in html
    hosts = set(re.findall(r"https?://([^/\"'\s<)]+)", html))
    # the namespace of SVG, and Leaflet's home and its style's remarks on bugs; nothing is loaded from any
    assert hosts <= {"www.w3.org", "leafletjs.com", "bugs.chromium.org", "bugzilla.mozilla.org"}
    assert "default-src 'none'" in html
    assert not page.handlers


def test_same_inputs_same_bytes(plan: Plan, ground: GroundSketch, html: str) -> None:
    assert plan_html(plan, ground, emergency_number="000") == html
    code = (
        "import sys, hashlib, importlib.util as u; s = u.spec_from_file_location('made', sys.argv[1]);"
        "m = u.module_from_spec(s); sys.modules['made'] = m; s.loader.exec_module(m);"
        "from tussock.maps.plan_page import plan_html;"
        "print(hashlib.sha256(plan_html(m.make_plan(), m.make_ground()).encode()).hexdigest())"
    )
    import importlib.util

    spec = importlib.util.find_spec("tussock_tests_made") or sys.modules["tussock_tests_made"].__spec__
    assert spec is not None
    assert spec.origin is not None
    runs = {
        subprocess.run(
            [sys.executable, "-c", code, spec.origin],
            capture_output=True,
            text=True,
            check=True,
            env={"PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }
    assert len(runs) == 1


def test_a_script_in_a_name_stays_text(made: ModuleType, ground: GroundSketch, html: str) -> None:
    layers = {
        made.EVIL: list(ground.layers["roads"]),
        "roads": [(made.EVIL, g) for _, g in ground.layers["roads"]],
    }
    evil_ground = made.sketch(layers, known=ground.known, attributions=[made.EVIL])
    plan = dataclasses.replace(
        made.make_plan(evil=True),
        region=made.EVIL,
        circle_label=made.EVIL,
        now=made.EVIL,
        release_at=made.EVIL,
        stop=(made.EVIL,),
        way_on=(made.EVIL,),
        nearest_words=made.EVIL,
        inputs={made.EVIL: made.EVIL},
    )
    evil = plan_html(plan, evil_ground, emergency_number=made.EVIL)
    assert Reader(evil).tags.count("script") == Reader(html).tags.count("script") == 5
    assert "<script>alert" not in evil
    assert "{{7*7}}" in evil  # not read as a template: it would have become 49
    assert 'alert("x")</script>49' not in evil
    share = plan_html(plan, evil_ground, share=True)
    assert "<script>alert" not in share


def test_json_is_inert_in_a_script() -> None:
    assert script_json({"a": "</script><!--&"}) == '{"a":"\\u003c/script\\u003e\\u003c!--\\u0026"}'
    with pytest.raises(ValueError, match="not JSON compliant"):
        script_json([float("nan")])


def test_only_our_own_scripts_may_run(html: str) -> None:
    import base64
    import hashlib

    allowed = set(re.findall(r"'sha256-([^']+)'", html))
    bodies = re.findall(r"<script>(.*?)</script>", html, re.S)
    assert {base64.b64encode(hashlib.sha256(b.encode()).digest()).decode() for b in bodies} == allowed
    assert (
        "unsafe-inline'; script-src"
        not in page_html(title="t", body="b", styles=[], scripts=[]).split("script-src")[1]
    )


def test_ids_are_unique(html: str) -> None:
    ids = Reader(html).ids
    assert len(ids) == len(set(ids))


def test_cautions_and_bite_stand_on_every_page(
    plan: Plan, ground: GroundSketch, html: str, made: ModuleType
) -> None:
    pages = [html, plan_html(plan, ground, share=True), plan_html(made.without_sites(plan), ground)]
    for page in pages:
        text = Reader(page).text
        assert all(text.count(c) == 2 for c in CAUTIONS)
        assert "Follow your training" in text
        for word in ("bandage", "tourniquet", "splint", "antivenom", "suck"):
            assert word not in text.lower()
    assert 'href="tel:000"' in html
    assert "your emergency number" in Reader(pages[1]).text
    assert "tel:" not in pages[1]


def test_the_answer_and_the_cards(html: str, plan: Plan) -> None:
    page = Reader(html)
    assert [i for i in page.ids if i.startswith("site-")] == [f"site-{k}" for k in range(1, 6)]
    assert f"Site 1 of 5: meets {plan.sites[0].checked} checked, you confirm 2, 0 not checked" in page.text
    order = [
        "Hours",
        "Getting there",
        "You confirm",
        "Distances",
        "Tightest and least known",
        "Ground",
        "Check this spot",
        "Why this before the next",
        "Coordinates",
    ]
    card = page.text[page.text.rindex("Site 1 of 5: meets") :]
    places = [card.index(title) for title in order]
    assert places == sorted(places)
    assert f"{plan.sites[0].latitude:.6f}, {plan.sites[0].longitude:.6f}" in page.text


def test_without_a_site_the_way_on_and_what_stands_in_the_way(
    plan: Plan, ground: GroundSketch, made: ModuleType
) -> None:
    text = Reader(plan_html(made.without_sites(plan), ground)).text
    assert text.index("STOP") < text.index("No site is offered") < text.index("The way on")
    assert "For a call to the authority, never a suggestion." in text
    assert "the best place misses it by 40 m; that place meets every other clause" in text
    assert "misses it by 1.3 ha; that place misses other clauses too" in text
    assert "excluded land: no place meets it." in text
    assert "Site 1 of" not in text


def test_what_is_not_known_is_never_a_zero(plan: Plan, ground: GroundSketch) -> None:
    bare = dataclasses.replace(
        plan.sites[0],
        dwelling_m=None,
        peopled_m=None,
        road_m=None,
        cover=None,
        slope_deg=None,
        patch_ha=None,
        stop_longitude=None,
        stop_latitude=None,
        stop_walk_m=None,
        cover_bearing_deg=None,
        clauses=(),
        criteria=(),
        todo=(),
    )
    text = Reader(plan_html(dataclasses.replace(plan, sites=(bare,), nearest=None), ground)).text
    assert "No stopping place on a public road was found." in text
    assert " 0 m" not in text
    assert "None" not in text
    assert "nan" not in text.split()


def test_a_nearest_site_that_is_not_offered_has_its_own_card(plan: Plan, ground: GroundSketch) -> None:
    near = dataclasses.replace(plan.sites[3], rank=9)
    page = Reader(plan_html(dataclasses.replace(plan, sites=plan.sites[:2], nearest=near), ground))
    assert [i for i in page.ids if i.startswith("site-")] == ["site-1", "site-2", "site-nearest"]


def test_plans_without_rasters_version_or_sites_still_draw(
    plan: Plan, ground: GroundSketch, made: ModuleType
) -> None:
    bare = dataclasses.replace(
        made.without_sites(plan),
        rasters=None,
        permits=(PermitFacts("P", "h", "a", "", "f"),),
        removed=(),
        obstacles=(),
    )
    text = Reader(plan_html(bare, ground)).text
    assert "Permit P, no version in force." in text


def test_share_leads_nowhere(plan: Plan, ground: GroundSketch) -> None:
    page = plan_html(plan, ground, emergency_number="000", share=True)
    text = Reader(page).text
    assert "This copy can be passed on" in text
    places = [
        (plan.capture.longitude, plan.capture.latitude),
        *((s.longitude, s.latitude) for s in plan.sites),
    ]
    for lon, lat in places:
        assert f"{lon:.3f}"[:-1] not in page
        assert f"{lat:.3f}"[:-1] not in page
    for secret in (
        plan.capture.id,
        "PX-0042",
        "Ada Quern",
        "geo:",
        "16:20",
        "permit.toml",
        "north-west",
        "nan",
    ):
        assert secret not in page, secret
    assert "canvas" not in Reader(page).tags


def test_geo_addresses_follow_rfc_5870() -> None:
    # grammar of RFC 5870 § 3.3: coord-a "," coord-b [";u=" number]; WGS 84, latitude first
    assert geo_uri(147.3, -42.9, radius_m=30) == "geo:-42.900000,147.300000;u=30"
    assert re.fullmatch(r"geo:-?\d+(\.\d+)?,-?\d+(\.\d+)?(;u=\d+(\.\d+)?)?", geo_uri(-0.0000001, 0.5))


def test_map_libraries_are_imported_when_a_map_is_drawn() -> None:
    code = (
        "import sys, tussock.maps.plan_page, tussock.maps.exports;"
        "print([m for m in ('folium', 'branca', 'jinja2', 'django') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_drawing_needs_no_django(plan: Plan, ground: GroundSketch) -> None:
    plan_html(plan, ground)
    assert "django" not in sys.modules


def test_fifteen_thousand_footprints_stay_under_four_megabytes(made: ModuleType) -> None:
    layers = made.invented_layers(buildings=15_000, reach_m=5600.0)
    plan = made.make_plan(layers, circle_m=5000.0)
    page = plan_html(plan, made.make_ground(layers))
    assert sum(c == "house" for c, _ in layers["dwellings"]) == 15_000
    assert 0.5e6 < len(page.encode()) < 4e6


def luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.1, definition."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    """Contrast ratio. Source: WCAG 2.1, definition."""
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    # WebAIM's example of a pair at 4.5:1 (from memory): #767676 on white is 4.54
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", [0, 1])
def test_every_text_is_seven_to_one_on_its_ground(theme: int) -> None:
    blocks = re.findall(r":root[^{]*\{([^}]*--paper[^}]*)\}", asset("page.css"))
    colours = dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})", blocks[theme]))
    pairs = [("caution-ink", "caution"), ("stop-ink", "stop"), ("link-ink", "link"), ("disc-ink", "disc")]
    pairs += [
        (ink, ground)
        for ink in ("ink", "soft", "link", "met", "uncertain", "not-met", "missing")
        for ground in ("paper", "card", "wash")
    ]
    low = {
        p: round(contrast(colours[p[0]], colours[p[1]]), 2)
        for p in pairs
        if contrast(colours[p[0]], colours[p[1]]) < 7
    }
    assert not low


def test_screen_type_has_three_sizes() -> None:
    screen = asset("page.css").split("@page")[0]
    sizes = set(re.findall(r"font(?:-size)?:[^;]*?(\d+)px", screen))
    assert sizes == {"14", "16", "24"}


def test_leaflet_style_loads_no_picture() -> None:
    assert "url(" not in leaflet_style()
