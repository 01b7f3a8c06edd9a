"""The audit's report and map in real Chromium, network cut."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.support.audits import made_audit
from tussock.maps.audit_map import audit_map
from tussock.maps.audit_report import audit_report

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("audits")
    for name, evil in (("plain", False), ("evil", True)):
        made = made_audit(evil=evil)
        (folder / f"report-{name}.html").write_text(audit_report(*made), encoding="utf-8")
        (folder / f"map-{name}.html").write_text(audit_map(*made), encoding="utf-8")
    return {p.stem: p for p in folder.iterdir()}


@pytest.mark.parametrize(("width", "height", "touch"), [(1280, 900, False), (360, 800, True)])
@pytest.mark.parametrize("name", ["report-plain", "report-evil", "map-plain", "map-evil"])
def test_opens_without_trouble_and_without_scrolling_sideways(
    chromium: Any, pages: dict[str, Path], *, name: str, width: int, height: int, touch: bool
) -> None:
    chromium.open(pages[name], width=width, height=height, touch=touch)
    assert chromium.troubles() == []
    assert chromium.requests() == []
    assert chromium.evaluate("document.documentElement.scrollWidth") == width


def test_a_shape_leads_to_its_record_and_back(chromium: Any, pages: dict[str, Path]) -> None:
    chromium.open(pages["map-plain"], width=1280, height=900)
    assert chromium.evaluate("document.querySelectorAll('.record-mark').length") == 6
    shown = chromium.evaluate(
        "[...document.querySelectorAll('.record-word')].filter(w => !w.hidden).map(w => w.textContent)"
    )
    assert "C-2 not met" in shown
    chromium.evaluate("document.querySelector('.record-mark button[aria-label^=\"C-1,\"]').click()")
    # C-1 is met: its list is folded, and opens
    assert chromium.evaluate("document.querySelector('.record.here b').textContent") == "C-1"
    assert chromium.evaluate("document.querySelector('.record.here').closest('details').open") is True
    zoom = chromium.evaluate("tussock.map.getZoom()")
    chromium.evaluate("document.querySelector('#m1 [data-show]').scrollIntoView({ block: 'center' })")
    chromium.tap("#m1 [data-show]")
    assert chromium.evaluate("document.querySelector('.record.here b').textContent") == "C-2"
    assert chromium.evaluate("tussock.map.getZoom()") >= zoom


COVERED = """[...document.querySelectorAll('.record-word')].filter(w => !w.hidden).filter(w => {
  const a = w.getBoundingClientRect();
  return [...document.querySelectorAll('.map-box .map-tools, .map-box .leaflet-control')].some(e => {
    const b = e.getBoundingClientRect();
    return b.width && a.left < b.right && a.right > b.left && a.top < b.bottom && a.bottom > b.top;
  });
}).map(w => w.textContent)"""
"""The words on the map that lie beneath its buttons."""
MOVED = """(() => {
  const found = [], seen = new Set();
  for (let dx = -140; dx <= 140; dx += 20) {
    for (let dy = -40; dy <= 40; dy += 10) {
      const knob = document.querySelector('.record-mark button[aria-label^="C-2,"]').getBoundingClientRect();
      const tools = document.querySelector('.map-box %s').getBoundingClientRect();
      tussock.map.panBy([(knob.left + knob.right - tools.left - tools.right) / 2 + dx,
                         (knob.top + knob.bottom - tools.top - tools.bottom) / 2 + dy], { animate: false });
      document.querySelectorAll('.record-word').forEach(w => { if (!w.hidden) { seen.add(w.textContent); } });
      found.push(...%s);
    }
  }
  return [[...new Set(found)], seen.size];
})()"""
"""The same with a mark moved to many places at and about one of the buttons."""


@pytest.mark.parametrize("over", [".map-tools", ".leaflet-control-zoom", ".leaflet-control-scale"])
def test_no_word_lies_beneath_the_buttons_wherever_the_map_is_moved(
    chromium: Any, pages: dict[str, Path], *, over: str
) -> None:
    chromium.open(pages["map-plain"], width=360, height=800, touch=True)
    assert chromium.evaluate(COVERED) == []
    covered, seen = chromium.evaluate(MOVED % (over, COVERED))
    assert covered == []
    assert seen


def test_each_printed_page_has_permit_caution_and_number(
    chromium: Any, pages: dict[str, Path], tmp_path: Path
) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext: install Debian's poppler-utils")
    chromium.open(pages["report-plain"], width=1280, height=900, dark=True)
    chromium.pdf(tmp_path / "report.pdf")
    done = subprocess.run(
        ["pdftotext", "-layout", str(tmp_path / "report.pdf"), "-"],
        capture_output=True,
        text=True,
        check=True,
    )
    sheets = done.stdout.rstrip("\f").split("\f")
    assert len(sheets) >= 3
    for k, sheet in enumerate(sheets, start=1):
        assert "Audit of permit P-1" in sheet
        assert "not a legal finding" in sheet
        assert re.search(rf"\b{k}\s?/\s?{len(sheets)}\b", sheet)
