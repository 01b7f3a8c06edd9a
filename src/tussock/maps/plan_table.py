"""Plans as a table: a row per site, and one that says why for a capture without any."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from tussock.maps.exports import PLAIN, site_properties
from tussock.maps.share import shareable
from tussock.maps.tally import counts
from tussock.planning.batch import Planned, open_words
from tussock.planning.record import Plan, Site
from tussock.tables import csv_text

CAPTURE_COLUMNS = ("captureID", "eventDate", "scientificName", "vernacularName")
SITE_COLUMNS = (
    PLAIN[0],
    "decimalLatitude",
    "decimalLongitude",
    "coordinateUncertaintyInMeters",
    "geodeticDatum",
    *PLAIN[1:],
    "verdict",
)
PLAN_COLUMNS = ("clauses_met", "you_confirm", "not_checked", "release_at", "stop", "way_on", "warnings")
COLUMNS = (*CAPTURE_COLUMNS, *SITE_COLUMNS, *PLAN_COLUMNS)
_NOT_COLUMNS = ("conditions", "criteria", "todo")
"""Properties of a site that are lists: they are in the JSON."""
HEADER = ",".join(COLUMNS)
"""A table of ours begins with it."""


def plans_csv(plans: Iterable[Plan], *, share: bool = False) -> str:
    """Return a row per site; a capture without one has a row with an empty rank that says why."""
    return _csv([row for plan in plans for row in plan_rows(plan, share=share)])


def batch_csv(planned: Iterable[Planned], *, share: bool = False) -> str:
    """Return the table of a batch: the input's columns that Tussock does not read stand last.

    Parameters
    ----------
    share
        Leave out positions, ids and the input's columns.
    """
    rows: list[Mapping[str, object]] = []
    for row, plan in planned:
        others = {} if share else {c: v for c, v in row.others.items() if c not in COLUMNS}
        named = {} if share else {"captureID": row.id, "eventDate": row.time.isoformat()}
        made = (
            [{"verdict": "not planned", "stop": open_words(row), **named}]
            if plan is None
            else plan_rows(plan, share=share)
        )
        rows += [{**others, **m} for m in made]
    return _csv(rows)


def _csv(rows: list[Mapping[str, object]]) -> str:
    added = dict.fromkeys(c for row in rows for c in row if c not in COLUMNS and c not in _NOT_COLUMNS)
    return csv_text([*COLUMNS, *added], rows)


def plan_rows(plan: Plan, *, share: bool = False) -> Iterator[dict[str, object]]:
    """Yield the rows of one plan."""
    shown = shareable(plan) if share else plan
    capture = shown.capture
    about = {
        "captureID": capture.id,
        "eventDate": capture.time,
        "scientificName": capture.scientific_name,
        "vernacularName": capture.vernacular_name,
        "release_at": shown.release_at,
        "stop": " ".join(shown.stop),
        "way_on": " ".join(shown.way_on),
        "warnings": " ".join(shown.warnings),
    }
    for site in shown.sites:
        met, confirm, not_checked = counts(site.clauses)
        yield {
            **about,
            **site_properties(site),
            **_position(site, share=share),
            "clauses_met": met,
            "you_confirm": confirm,
            "not_checked": not_checked,
        }
    if not shown.sites:
        yield {**about, "verdict": "no site"}


def _position(site: Site, *, share: bool) -> dict[str, object]:
    if share:
        return {}
    return {
        "decimalLatitude": round(site.latitude, 7),
        "decimalLongitude": round(site.longitude, 7),
        "coordinateUncertaintyInMeters": f"{site.radius_m:g}",
        "geodeticDatum": "EPSG:4326",
    }
