"""The files of one audit, and how to tell our own from anybody else's."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from tussock.ground.region import Region
from tussock.maps.plan_files import is_page
from tussock.records import audit_files
from tussock.records.audit_tables import CSV_HEAD, FINDINGS_HEAD, findings_csv, releases_csv
from tussock.review.audit import Audit

_HEAD = 4000
"""So much of a file is looked at as text [bytes]."""


def _page(audit: Audit, region: Region | None) -> str:
    from tussock.maps.audit_report import audit_report

    return audit_report(audit, region)


def _map(audit: Audit, region: Region | None) -> str:
    from tussock.maps.audit_map import audit_map

    assert region is not None  # left out otherwise
    return audit_map(audit, region)


def _alone(make: Callable[[Audit], str | bytes]) -> Callable[[Audit, Region | None], str | bytes]:
    return lambda audit, region: make(audit)


FILES: Mapping[str, Callable[[Audit, Region | None], str | bytes]] = {
    ".html": _page,
    "-map.html": _map,
    ".csv": _alone(releases_csv),
    "-clauses.csv": _alone(findings_csv),
    ".xlsx": _alone(audit_files.workbook),
    ".geojson": _alone(audit_files.places_geojson),
    "-clauses.parquet": _alone(audit_files.findings_parquet),
}
"""End of a file's name → what makes it."""
_OF_THE_GROUND = "-map.html"


def ends(*, ground: bool) -> tuple[str, ...]:
    """Return the ends of the names of what can be written: without ground data there is no map."""
    return tuple(end for end in FILES if ground or end != _OF_THE_GROUND)


def is_ours(path: Path) -> bool:
    """Return whether Tussock wrote a file of an audit, by what stands in it."""
    try:
        content = path.read_bytes()
    except OSError:
        return False
    head = content[:_HEAD].decode("utf-8", "replace")
    return (
        head.startswith((CSV_HEAD, FINDINGS_HEAD))
        or is_page(head)
        or audit_files.is_ours(content[:100], content)
    )
