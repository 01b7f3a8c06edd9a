"""The plan's page in real Chromium, network cut."""

from __future__ import annotations

import json
import re
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tussock.maps.plan_page import plan_html
from tussock.planning.record import Plan

pytestmark = pytest.mark.browser
SIZES = [(1280, 900, False), (360, 800, True)]


@pytest.fixture(scope="module")
def pages(made: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Pages on disk: a plan, one without a site, one with scripts in every name, one to pass on."""
    folder = tmp_path_factory.mktemp("pages")
    plan, ground = made.make_plan(), made.make_ground()
    texts = {
        "plan": plan_html(plan, ground, emergency_number="000"),
        "none": plan_html(made.without_sites(plan), ground),
        "evil": plan_html(made.make_plan(evil=True), ground),
        "share": plan_html(plan, ground, share=True),
    }
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in texts}


@pytest.fixture(scope="module")
def plan(made: ModuleType) -> Plan:
    result: Plan = made.make_plan()
    return result


def shades(chromium: Any, pane: str) -> int:
    """Count the pixels that the canvases of a pane cover."""
    count: int = chromium.evaluate(
        f"[...document.querySelectorAll('.leaflet-{pane}-pane canvas')].reduce((sum, c) => {{"
        " const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
        " let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return sum + n; }, 0)"
    )
    return count


@pytest.mark.parametrize(("width", "height", "touch"), SIZES)
@pytest.mark.parametrize("name", ["plan", "none", "evil", "share"])
def test_opens_without_trouble_and_asks_nobody(
    chromium: Any, pages: dict[str, Path], *, name: str, width: int, height: int, touch: bool
) -> None:
    chromium.open(pages[name], width=width, height=height, touch=touch)
    assert chromium.troubles() == []
    assert chromium.requests() == []
    assert chromium.evaluate("document.documentElement.scrollWidth") == width
    assert chromium.evaluate("document.querySelectorAll('script').length") == {"share": 1}.get(name, 5)
    if name != "share":
        assert shades(chromium, "ground") > 10_000
        assert shades(chromium, "veil") > 10_000


@pytest.mark.parametrize(("width", "height", "touch"), SIZES)
def test_sites_are_counted_and_open_their_cards(
    chromium: Any, pages: dict[str, Path], *, width: int, height: int, touch: bool
) -> None:
    chromium.open(pages["plan"], width=width, height=height, touch=touch)
    assert chromium.evaluate(
        "[...document.querySelectorAll('.site-mark button')].map(b => b.textContent)"
    ) == ["1", "2", "3", "4", "5"]
    sizes = chromium.evaluate(
        "[...document.querySelectorAll('.site-mark button')].map(b => b.getBoundingClientRect().width)"
    )
    assert min(sizes) >= 48
    assert chromium.evaluate("document.querySelector('#site-3').open") is False
    chromium.evaluate("document.querySelector('.map-box').scrollIntoView({block: 'center'})")
    chromium.tap('.site-mark button[data-site="site-3"]')
    chromium.wait("document.querySelector('#site-3').open")
    assert chromium.evaluate("document.activeElement.closest('.card').id") == "site-3"
    box = chromium.evaluate(
        "(r => [r.top, r.bottom])(document.querySelector('#site-3 summary').getBoundingClientRect())"
    )
    assert -1 <= box[0] < height
    # and back: the card's button moves the map there and the focus with it
    chromium.evaluate("document.querySelector('[data-show=\"site-3\"]').click()")
    chromium.wait("document.activeElement.dataset.site === 'site-3'")
    assert chromium.evaluate("tussock.map.getZoom()") >= 16
    assert chromium.troubles() == []


def test_discs_do_not_cover_each_other(chromium: Any, pages: dict[str, Path]) -> None:
    chromium.open(pages["plan"], width=360, height=800, touch=True)
    chromium.evaluate("tussock.see('circle', false)")
    centres = chromium.evaluate(
        "[...document.querySelectorAll('.site-mark button')].map(b => b.getBoundingClientRect())"
        ".map(r => [r.x + 24, r.y + 24])"
    )
    gaps = [
        ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 for i, a in enumerate(centres) for b in centres[:i]
    ]
    assert min(gaps) >= 28


@pytest.mark.parametrize(("width", "height", "touch"), SIZES)
def test_layers_are_switched_by_keyboard(
    chromium: Any, pages: dict[str, Path], *, width: int, height: int, touch: bool
) -> None:
    chromium.open(pages["plan"], width=width, height=height, touch=touch)
    score = "document.querySelector('[data-layer=score]')"
    assert chromium.evaluate(f"{score}.checked") is (not touch)  # off at first on narrow screens
    chromium.evaluate("document.querySelector('.legend summary').click()")
    boxes = chromium.evaluate(
        "[...document.querySelectorAll('[data-layer]')].filter(b => b.disabled).map(b => b.dataset.layer)"
    )
    assert boxes == []
    for layer, pane in (("veil", "veil"), ("reason:PX-0042|3(b)", "reasons")):
        before = shades(chromium, pane)
        chromium.evaluate(
            f"document.querySelector({json.dumps(f'[data-layer={json.dumps(layer)}]')}).focus()"
        )
        for kind in ("keyDown", "keyUp"):
            chromium.call(
                "Input.dispatchKeyEvent", type=kind, key=" ", code="Space", text=" ", windowsVirtualKeyCode=32
            )
        chromium.evaluate("new Promise(r => setTimeout(r, 150))")
        assert (shades(chromium, pane) > 0) is (before == 0), layer
    assert chromium.troubles() == []


def test_the_veil_lies_where_the_raster_says(chromium: Any, pages: dict[str, Path], plan: Plan) -> None:
    # every cell of a coarse grid: what the browser drew over it against the planner's raster
    import numpy as np

    chromium.open(pages["plan"], width=1280, height=900)
    chromium.evaluate("tussock.see('circle', false)")
    rasters = plan.rasters
    assert rasters is not None
    worst = np.maximum.reduce(list(rasters.ruled_out.values()))
    rows, columns = (v.ravel() for v in np.mgrid[5 : worst.shape[0] : 9, 5 : worst.shape[1] : 9])
    lon, lat = rasters.plane.unproject(rasters.window.x[columns], rasters.window.y[rows])
    points = [[float(a), float(b)] for a, b in zip(lat, lon, strict=True)]
    drawn = chromium.evaluate(
        "(points => { const c = document.querySelector('.leaflet-veil-pane canvas'), g = c.getContext('2d'),"
        " o = L.DomUtil.getPosition(c), m = c.width / parseFloat(c.style.width);"
        " return points.map(p => { const q = tussock.map.latLngToLayerPoint(p);"
        " const x = Math.floor(m * (q.x - o.x)), y = Math.floor(m * (q.y - o.y));"
        " return g.getImageData(x, y, 1, 1).data[3]; }); })"
        f"({json.dumps(points)})"
    )
    inside = rasters.inside[rows, columns]
    value = np.where(inside, worst[rows, columns], 2)
    alpha = np.array(drawn)
    full, none = alpha >= 120, alpha <= 5
    wanted = np.where(value == 2, full, np.where(value == 0, none, ~full & ~none))
    # at the edges of areas a pixel may show the neighbouring cell
    assert wanted.mean() > 0.95
    assert len(points) > 1000


def test_one_finger_scrolls_the_page_and_the_wheel_too(chromium: Any, pages: dict[str, Path]) -> None:
    chromium.open(pages["plan"], width=360, height=800, touch=True)
    style = chromium.evaluate("getComputedStyle(document.querySelector('.canvas')).touchAction")
    assert set(style.split()) == {"pan-x", "pan-y"}
    chromium.open(pages["plan"], width=1280, height=900)
    zoom = chromium.evaluate("tussock.map.getZoom()")
    wheel = {"type": "mouseWheel", "x": 400, "y": 400, "deltaX": 0, "deltaY": 240}
    chromium.call("Input.dispatchMouseEvent", **wheel)
    chromium.wait("window.scrollY > 0")
    assert chromium.evaluate("tussock.map.getZoom()") == zoom
    chromium.call("Input.dispatchMouseEvent", **{**wheel, "modifiers": 2, "deltaY": -240})
    chromium.wait(f"tussock.map.getZoom() > {zoom}")


def drag(chromium: Any, start: list[tuple[float, float]], by: tuple[float, float]) -> None:
    """Move as many fingers as there are starting points, together."""

    def touch(kind: str, k: float) -> None:
        points = [] if kind == "touchEnd" else [{"x": x + k * by[0], "y": y + k * by[1]} for x, y in start]
        chromium.call("Input.dispatchTouchEvent", type=kind, touchPoints=points)

    touch("touchStart", 0)
    for step in range(1, 9):
        touch("touchMove", step / 8)
    touch("touchEnd", 1)


def test_two_fingers_move_the_map_and_one_does_not(chromium: Any, pages: dict[str, Path]) -> None:
    chromium.open(pages["plan"], width=360, height=800, touch=True)
    centre = "(c => [c.lat, c.lng])(tussock.map.getCenter())"
    top = chromium.evaluate("document.querySelector('.map-box').getBoundingClientRect().top")
    before = chromium.evaluate(centre)
    drag(chromium, [(150, top + 250)], (0, -180))
    chromium.wait("window.scrollY > 60")
    assert chromium.evaluate(centre) == before
    # opened afresh: the first drag leaves the page coasting
    chromium.open(pages["plan"], width=360, height=800, touch=True)
    drag(chromium, [(120, top + 200), (220, top + 200)], (60, 40))
    chromium.wait(f"(c => c.lng)(tussock.map.getCenter()) < {before[1]} - 1e-5")
    assert chromium.evaluate("window.scrollY") == 0
    assert chromium.troubles() == []


def test_bite_stores_the_time_and_says_the_place(chromium: Any, pages: dict[str, Path], plan: Plan) -> None:
    chromium.open(pages["plan"], width=360, height=800, touch=True)
    chromium.evaluate("localStorage.clear()")
    chromium.open(pages["plan"], width=360, height=800, touch=True)
    time = "document.querySelector('.bite-time').textContent"
    assert chromium.evaluate(time) == "No time stored."
    chromium.tap("details.bite summary")
    chromium.wait("document.querySelector('details.bite').open")
    chromium.tap(".bite-store")
    said = chromium.evaluate(time)
    assert re.fullmatch(r"Time of bite: \d\d:\d\d:\d\d on \d{4}-\d\d-\d\d", said)
    place = chromium.evaluate("document.querySelector('.bite-place').textContent")
    assert f"{plan.capture.latitude:.6f}" in place
    chromium.open(pages["plan"], width=360, height=800, touch=True)
    assert chromium.evaluate(time) == said
    assert chromium.evaluate("document.querySelector('.bite-store').disabled") is True


def test_print_has_the_map_at_a_round_scale(chromium: Any, pages: dict[str, Path], tmp_path: Path) -> None:
    chromium.open(pages["plan"], width=1280, height=900, dark=True)
    chromium.evaluate(
        "window.addEventListener('beforeprint', () => {"
        " window.said = document.querySelector('.print-scale').textContent;"
        " window.folded = document.querySelectorAll('.card:not([open])').length; })"
    )
    chromium.pdf(tmp_path / "plan.pdf")
    said = chromium.evaluate("window.said").replace("\u202f", "")
    assert re.fullmatch(r"Map 1 : [1-9]\d*00 on A4 printed at 100 %. North is up.", said)
    assert chromium.evaluate("window.folded") == 0
    assert chromium.evaluate("document.querySelectorAll('.card[open]').length") == 1  # as it was
    assert (tmp_path / "plan.pdf").read_bytes().startswith(b"%PDF")
    assert chromium.troubles() == []
