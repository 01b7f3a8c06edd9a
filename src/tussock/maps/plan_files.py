"""The files of one plan, and how to tell our own from anybody else's."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from tussock.ground.region import Region
from tussock.maps.plan_table import HEADER
from tussock.planning.record import Plan

SUFFIXES = (".html", ".geojson", ".gpx", ".json")
_HEAD = 4000
"""So much of a file is read to recognise it [bytes]; JSON is read whole."""


def plan_files(
    plan: Plan, region: Region, *, emergency_number: str | None = None, share: bool = False
) -> dict[str, str]:
    """Return suffix → text of the four files of a plan.

    Parameters
    ----------
    region
        Drawn beneath the answer.
    emergency_number
        As in :func:`tussock.maps.plan_page.plan_html`.
    share
        Without positions, ids and names, for a copy that is passed on.
    """
    from tussock.maps.exports import plan_geojson, plan_gpx, plan_json
    from tussock.maps.ground_from_region import ground_of
    from tussock.maps.plan_page import plan_html

    page = plan_html(plan, ground_of(plan, region), emergency_number=emergency_number, share=share)
    return {
        ".html": page,
        ".geojson": plan_geojson(plan, share=share),
        ".gpx": plan_gpx(plan, share=share),
        ".json": plan_json(plan, share=share),
    }


def is_ours(path: Path) -> bool:
    """Return whether Tussock wrote a file, by what stands in it; a changed name does not matter."""
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD).decode("utf-8", "replace")
        return any(test(head, path) for test in _TESTS)
    except OSError:
        return False


def is_page(head: str) -> bool:
    """Return whether a file that begins so is a page of Tussock's."""
    return head.startswith("<!DOCTYPE html>") and '<meta name="generator" content="Tussock' in head


def _page(head: str, path: Path) -> bool:
    return is_page(head)


def _waypoints(head: str, path: Path) -> bool:
    return head.startswith("<?xml") and '<gpx version="1.1" creator="Tussock' in head


def _json(head: str, path: Path) -> bool:
    if not head.lstrip().startswith("{"):
        return False
    try:
        found = json.loads(path.read_bytes())
    except (ValueError, RecursionError):
        return False
    named = found.get("software")
    return "tussock" in found or (isinstance(named, dict) and named.get("name") == "tussock")


def _table(head: str, path: Path) -> bool:
    return head.startswith(HEADER)


_TESTS: tuple[Callable[[str, Path], bool], ...] = (_page, _waypoints, _json, _table)
