"""The hotspots' page in real Chromium, network cut: folds, labels, what a tap tells, the surface, print."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from tests.support.hotspots import EVIL, made_hotspots
from tussock.hotspots.found import Hotspots
from tussock.hotspots.surface import Points, relative_risk
from tussock.maps.hotspots_page import hotspots_page
from tussock.maps.hotspots_rates import in_order

pytestmark = pytest.mark.browser

SIZES = [(1280, 900, False), (360, 800, True)]
LEAST_TARGET = 44
"""Side of what a finger must meet [pixels]: WCAG 2.2, success criterion 2.5.5 (from memory)."""


def with_surface(found: Hotspots) -> Hotspots:
    homes = Points(found.exposure.x, found.exposure.y, found.exposure.high)
    calls = Points(found.incidents.x, found.incidents.y, np.ones(len(found.incidents)))
    made = relative_risk(calls, homes, bandwidth_m=350.0, seed=1, replicates=99)
    assert made.above.any()
    return replace(found, surface=made, asked=replace(found.asked, surface=True))


@pytest.fixture(scope="module")
def found() -> Hotspots:
    return with_surface(made_hotspots()[0])


@pytest.fixture(scope="module")
def pages(found: Hotspots, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("hotspots")
    evil, region = made_hotspots(evil=True)
    made = {
        "plain": hotspots_page(found, made_hotspots()[1]),
        "evil": hotspots_page(with_surface(evil), region),
    }
    # all points to stand by at in one spot, in the middle of the cluster: labels must make way
    assert found.standby is not None and found.clusters is not None
    told = found.clusters.told[0]
    crowd = tuple((told.spot.longitude + 0.0001 * k, told.spot.latitude) for k in range(2))
    crowded = replace(
        found, standby=replace(found.standby, points=crowd), asked=replace(found.asked, base=crowd[0])
    )
    made["crowded"] = hotspots_page(crowded, made_hotspots()[1])
    for name, html in made.items():
        (folder / f"{name}.html").write_text(html, encoding="utf-8")
    return {p.stem: p for p in folder.iterdir()}


def js_list(selector: str, value: str) -> str:
    return f"[...document.querySelectorAll({json.dumps(selector)})].map(e => {value})"


@pytest.mark.parametrize(("width", "height", "touch"), SIZES)
@pytest.mark.parametrize("name", ["plain", "evil", "crowded"])
def test_opens_without_trouble_asks_no_host_and_does_not_scroll_sideways(
    chromium: Any, pages: dict[str, Path], *, name: str, width: int, height: int, touch: bool
) -> None:
    chromium.open(pages[name], width=width, height=height, touch=touch)
    assert chromium.troubles() == []
    assert chromium.requests() == []
    assert chromium.evaluate("document.documentElement.scrollWidth") == width


def test_what_is_said_not_said_and_counted_is_read_on_two_screens_of_a_phone(
    chromium: Any, pages: dict[str, Path]
) -> None:
    chromium.open(pages["plain"], width=360, height=800, touch=True)
    heads = chromium.evaluate(js_list(".says h2", "e.textContent"))
    assert heads == ["What this page says", "What it does not say", "What is counted"]
    assert chromium.evaluate("document.querySelector('.says').getBoundingClientRect().bottom") <= 2 * 800


@pytest.mark.parametrize(("width", "open_at_first"), [(1280, True), (360, False)])
def test_long_parts_fold_on_a_phone_and_open_in_print(
    chromium: Any, pages: dict[str, Path], *, width: int, open_at_first: bool
) -> None:
    chromium.open(pages["plain"], width=width, height=800, touch=width < 500)
    state = js_list("details.fold", "e.open")
    at_first = chromium.evaluate(state)
    assert len(at_first) >= 8 and set(at_first) == {open_at_first}
    chromium.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert set(chromium.evaluate(state)) == {True}
    chromium.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert chromium.evaluate(state) == at_first


def boxes(chromium: Any) -> dict[str, list[float]]:
    """Return the visible labels of the map and its controls, each as left, top, right, bottom."""
    rect = "(r => [r.left, r.top, r.right, r.bottom])(e.getBoundingClientRect())"
    labels = js_list(".hot-mark button:not([hidden]) span", f"[e.textContent, {rect}]")
    controls = js_list(
        ".map-box .leaflet-control-zoom, .map-tools, .map-box .leaflet-control-scale, .map-box .north",
        f"[e.className.baseVal || e.className, {rect}]",
    )
    return dict(chromium.evaluate(labels) + chromium.evaluate(controls))


@pytest.mark.parametrize(("width", "height", "touch"), SIZES)
@pytest.mark.parametrize("name", ["plain", "crowded"])
@pytest.mark.parametrize("view", ["homes", "all"])
def test_no_label_covers_another_or_a_control(
    chromium: Any, pages: dict[str, Path], *, name: str, view: str, width: int, height: int, touch: bool
) -> None:
    chromium.open(pages[name], width=width, height=height, touch=touch)
    chromium.evaluate(f"document.querySelector('[data-view={view}]').click()")
    found = boxes(chromium)
    assert {"Cluster 1", "Base", "Stand by 1", "Stand by 2"} <= found.keys()
    assert any(name.startswith("Quern Creek: ") for name in found)
    held = list(found.items())
    for k, (one, a) in enumerate(held):
        for other, b in held[k + 1 :]:
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, f"{one} covers {other}"


def tap(chromium: Any, longitude: float, latitude: float) -> None:
    """Tap the map where a place is, as a finger would."""
    at = chromium.evaluate(
        "(() => { document.querySelector('.map-box').scrollIntoView({ block: 'center' });"
        f"const p = tussock.map.latLngToContainerPoint([{latitude}, {longitude}]);"
        "const r = tussock.map.getContainer().getBoundingClientRect();"
        "return [r.left + p.x, r.top + p.y]; })()"
    )
    for kind in ("mousePressed", "mouseReleased"):
        chromium.call("Input.dispatchMouseEvent", type=kind, x=at[0], y=at[1], button="left", clickCount=1)
    chromium.evaluate("new Promise(r => setTimeout(r, 350))")


def plainest_cell(found: Hotspots) -> tuple[int, int]:
    """Return number and row of a tested cell in which nothing else is drawn and no label stands."""
    assert found.rates is not None and found.clusters is not None
    other = [shapely.Point(*t.most.centre).buffer(t.most.radius_m + 200) for t in found.clusters.told]
    other += [g.buffer(250) for e in found.edges for g in e.edge.geometries]
    busy = shapely.union_all(other)
    for k, i in enumerate(in_order(found.rates), start=1):
        middle = shapely.centroid(found.rates.cells.polygons[i])
        near = abs(middle.x) < 1800 and abs(middle.y) < 1500
        if (
            near
            and found.rates.cells.tested[i]
            and not busy.intersects(middle)
            and not found.rates.ring.flagged[i]
        ):
            return k, i
    raise AssertionError("no cell stands alone")


@pytest.mark.parametrize(("width", "height", "touch"), SIZES)
def test_a_tap_on_a_cell_tells_its_figures_and_covers_no_control(
    chromium: Any, pages: dict[str, Path], found: Hotspots, *, width: int, height: int, touch: bool
) -> None:
    chromium.open(pages["plain"], width=width, height=height, touch=touch)
    k, i = plainest_cell(found)
    assert found.rates is not None
    cells = found.rates.cells
    middle = shapely.centroid(cells.polygons[i])
    lon, lat = found.lonlat(np.array([middle.x]), np.array([middle.y]))
    assert chromium.evaluate("document.querySelector('.told').hidden") is True
    tap(chromium, float(lon[0]), float(lat[0]))
    text = chromium.evaluate("document.querySelector('.told').innerText")
    assert f"Cell {k}: round {float(lat[0]):.3f}, {float(lon[0]):.3f}" in text
    assert f"{cells.incidents[i]} incident" in text
    assert f"{cells.homes_low[i]:.0f}–{cells.homes_high[i]:.0f} homes" in text
    assert "P(RR>1)" in text and "Ring test" in text and "Odds" in text
    rect = "(r => [r.left, r.top, r.right, r.bottom])"
    panel = chromium.evaluate(f"{rect}(document.querySelector('.told').getBoundingClientRect())")
    for selector in (".leaflet-control-zoom", ".map-tools"):
        control = chromium.evaluate(f"{rect}(document.querySelector('{selector}').getBoundingClientRect())")
        assert panel[2] <= control[0] or control[2] <= panel[0] or panel[1] >= control[3], selector
    close = chromium.evaluate("document.querySelector('.told-close').getBoundingClientRect().height")
    assert close >= LEAST_TARGET
    # what is told of is not beneath what tells
    at = chromium.evaluate(
        f"(() => {{ const p = tussock.map.latLngToContainerPoint([{lat[0]}, {lon[0]}]),"
        " r = tussock.map.getContainer().getBoundingClientRect(); return [r.left + p.x, r.top + p.y]; })()"
    )
    assert not (panel[0] < at[0] < panel[2] and panel[1] < at[1] < panel[3])
    chromium.tap(".told-close")
    assert chromium.evaluate("document.querySelector('.told').hidden") is True


def test_a_label_tells_what_it_labels_from_the_keyboard_and_gives_the_focus_back(
    chromium: Any, pages: dict[str, Path]
) -> None:
    chromium.open(pages["plain"], width=360, height=800, touch=True)
    knob = "document.querySelector('.hot-mark button[aria-label^=\"Cluster 1\"]')"
    chromium.evaluate(f"{knob}.focus({{ preventScroll: true }})")
    for kind in ("rawKeyDown", "char", "keyUp"):
        chromium.call("Input.dispatchKeyEvent", type=kind, key="Enter", code="Enter", text="\r",
                      windowsVirtualKeyCode=13)  # fmt: skip
    text = chromium.evaluate("document.querySelector('.told').innerText")
    assert text.startswith("Cluster 1") and "27 incidents where 9.2 were to be expected" in text
    assert "Cell" not in text
    assert chromium.evaluate("document.activeElement.className") == "told"
    chromium.call(
        "Input.dispatchKeyEvent", type="rawKeyDown", key="Escape", code="Escape", windowsVirtualKeyCode=27
    )
    assert chromium.evaluate("document.querySelector('.told').hidden") is True
    assert chromium.evaluate(f"document.activeElement === {knob}") is True


def test_enter_on_the_map_tells_of_its_middle(chromium: Any, pages: dict[str, Path], found: Hotspots) -> None:
    chromium.open(pages["plain"], width=1280, height=900)
    k, i = plainest_cell(found)
    assert found.rates is not None
    middle = shapely.centroid(found.rates.cells.polygons[i])
    lon, lat = found.lonlat(np.array([middle.x]), np.array([middle.y]))
    chromium.evaluate(f"void tussock.map.setView([{lat[0]}, {lon[0]}], 15, {{ animate: false }})")
    chromium.evaluate("tussock.map.getContainer().focus({ preventScroll: true })")
    for kind in ("rawKeyDown", "char", "keyUp"):
        chromium.call("Input.dispatchKeyEvent", type=kind, key="Enter", code="Enter", text="\r",
                      windowsVirtualKeyCode=13)  # fmt: skip
    assert f"Cell {k}: " in chromium.evaluate("document.querySelector('.told').innerText")
    assert chromium.evaluate("document.activeElement.className") == "told"


def test_every_label_is_large_enough_for_a_finger(chromium: Any, pages: dict[str, Path]) -> None:
    chromium.open(pages["plain"], width=360, height=800, touch=True)
    sides = chromium.evaluate(js_list(".hot-mark button:not([hidden])", "[e.offsetWidth, e.offsetHeight]"))
    sides += chromium.evaluate(js_list(".fold > summary", "[e.offsetWidth, e.offsetHeight]"))
    assert sides and all(min(s) >= LEAST_TARGET for s in sides)


def test_what_a_tap_tells_is_text_whatever_was_written(chromium: Any, pages: dict[str, Path]) -> None:
    chromium.open(pages["evil"], width=360, height=800, touch=True)
    chromium.evaluate("document.querySelector('.hot-mark button[aria-label^=\"Quern Creek\"]').click()")
    assert EVIL in chromium.evaluate("document.querySelector('.told').textContent")
    assert (
        chromium.evaluate("document.querySelectorAll('.told img, .told script, .hot-mark img').length") == 0
    )
    assert chromium.troubles() == []


def test_the_surface_is_off_at_first_and_never_drawn_over_the_cells(
    chromium: Any, pages: dict[str, Path]
) -> None:
    chromium.open(pages["plain"], width=1280, height=900)
    names = ["rates", "flagged", "surface", "surface line"]
    state = f"{json.dumps(names)}.map(n => tussock.map.hasLayer(tussock.layers[n]))"
    boxes = f'{json.dumps(names)}.map(n => document.querySelector(`[data-layer="${{n}}"]`).checked)'
    key = js_list("[data-when]", "[e.dataset.when, e.hidden]")
    assert chromium.evaluate(state) == chromium.evaluate(boxes) == [True, True, False, False]
    assert chromium.evaluate(key) == [["cells", False], ["surface", True]]
    chromium.evaluate("document.querySelector('[data-layer=surface]').click()")
    assert chromium.evaluate(state) == chromium.evaluate(boxes) == [False, False, True, True]
    assert chromium.evaluate(key) == [["cells", True], ["surface", False]]
    chromium.evaluate("document.querySelector('[data-layer=surface]').click()")
    assert chromium.evaluate(state) == chromium.evaluate(boxes) == [True, True, False, False]
    chromium.evaluate("document.querySelector('[data-layer=surface]').click()")
    chromium.evaluate("document.querySelector('[data-layer=rates]').click()")
    assert chromium.evaluate(state)[0] is True and chromium.evaluate(state)[2:] == [False, False]


def test_the_line_of_chance_is_told_where_it_is_crossed(
    chromium: Any, pages: dict[str, Path], found: Hotspots
) -> None:
    told = found.surface
    assert told is not None
    line, column = np.unravel_index(int(np.where(told.above, told.ratio, -1).argmax()), told.ratio.shape)
    x, y = (told.west + (column + 0.5) * told.step_m, told.south + (line + 0.5) * told.step_m)
    lon, lat = found.lonlat(np.array([x]), np.array([y]))
    chromium.open(pages["plain"], width=1280, height=900)
    tell = f"tussock.here(L.latLng({lat[0]}, {lon[0]})).filter(o => o.title === 'Smooth surface').length"
    assert chromium.evaluate(tell) == 0  # off: not told
    chromium.evaluate("document.querySelector('[data-layer=surface]').click()")
    assert chromium.evaluate(tell) == 2  # its step, and that it is above the line
    empty = np.argwhere(np.isnan(told.ratio))[0]
    lon, lat = found.lonlat(
        np.array([told.west + (empty[1] + 0.5) * told.step_m]),
        np.array([told.south + (empty[0] + 0.5) * told.step_m]),
    )
    nothing = f"tussock.here(L.latLng({lat[0]}, {lon[0]})).filter(o => o.title === 'Smooth surface').length"
    assert chromium.evaluate(nothing) == 0


def test_prints_on_a4_without_blank_or_cut_pages(
    chromium: Any, pages: dict[str, Path], tmp_path: Path
) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext: install Debian's poppler-utils")
    # from a phone, where all is folded, and dark
    chromium.open(pages["plain"], width=360, height=800, touch=True, dark=True)
    chromium.pdf(tmp_path / "page.pdf")
    done = subprocess.run(
        ["pdftotext", "-layout", str(tmp_path / "page.pdf"), "-"], capture_output=True, text=True, check=True
    )
    sheets = done.stdout.rstrip("\f").split("\f")
    assert 4 <= len(sheets) <= 14
    for k, sheet in enumerate(sheets, start=1):
        assert "Calls to this logbook, not snakes" in sheet
        assert "not for publication" in sheet
        assert re.search(rf"\b{k}\s?/\s?{len(sheets)}\b", sheet)
        assert len(sheet.split()) > 70, f"page {k} is all but blank"  # the margins alone have about 40 words
    whole = done.stdout
    assert "abababab" in whole and "against the usual" in whole.lower()  # what was folded is printed
    assert "Tap or click" not in whole
