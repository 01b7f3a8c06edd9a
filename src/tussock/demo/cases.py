"""The cases of the demonstration, and the clocks they are played by."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from tussock.clock import parse_instant
from tussock.errors import InputError
from tussock.permit.toml_file import read_toml
from tussock.planning import plan as planner
from tussock.planning.inputs import CaptureRow
from tussock.planning.opened import Opened
from tussock.planning.record import Plan
from tussock.planning.setting import Capture
from tussock.records.entries import CALLOUT, CAPTURE, CHECK, CONSENT, CONTAINER, DISPOSAL, INCIDENT

TODAY, NIGHT, LAPSED, NO_SITE, SEASON = "today", "night", "lapsed-consent", "no-site", "seasons"
"""Names of what is written: the clear case, the clock, a consent, one hemmed in, all captures as a table."""
PAGES = (TODAY, NIGHT, LAPSED, NO_SITE)
FILE = "today.toml"
TABLES: Mapping[str, str] = {
    CALLOUT: "callouts.csv",
    CAPTURE: "captures.csv",
    DISPOSAL: "releases.csv",
    CHECK: "checks.csv",
    CONSENT: "consents.csv",
    INCIDENT: "incidents.csv",
    CONTAINER: "containers.csv",
}
"""Kind of entry → table of the district; parents before what belongs to them."""
Say = Callable[[str], None]


@dataclass(frozen=True)
class Today:
    """A case of the demonstration and its clock.

    ``release_at`` ``None``: as soon as it can be reached; ``captured`` ``None``: as in the table.
    """

    capture_id: str
    now: datetime
    release_at: datetime | None = None
    captured: datetime | None = None

    def of(self, rows: Iterable[CaptureRow]) -> Capture:
        """Return its capture."""
        found = _capture(rows, self.capture_id)
        return replace(found, time=self.captured) if self.captured else found

    def plan(self, opened: Opened, capture: Capture) -> Plan:
        """Return the plan for it."""
        setting = opened.setting(now=self.now, release_at=self.release_at, captures={capture.id})
        return planner.plan(capture, setting)


def check_there(data: Path) -> None:
    """Refuse a folder that is not the invented district."""
    if not (data / FILE).is_file():
        raise InputError(
            "the invented district is not there",
            where=str(data),
            allowed="the folder data-demo of Tussock's source",
            fix="run the demo in the folder that holds data-demo, or name it with --data",
        )


def cases_of(data: Path) -> dict[str, Today]:
    """Return name → case of a district."""
    raw = read_toml(data / FILE)
    tables = {TODAY: raw, NIGHT: raw.get("night", {}), LAPSED: raw.get("lapsed", {})}
    return {name: _case(table, f"today.toml, {name}") for name, table in tables.items()}


def _case(raw: Mapping[str, object], where: str) -> Today:
    def at(key: str) -> datetime | None:
        return parse_instant(str(raw[key]), where=f"{where}, {key}") if key in raw else None

    now = at("now")
    if "captureID" not in raw or now is None:
        missing = "captureID" if "captureID" not in raw else "now"
        raise InputError(f"{missing} is missing", where=where, fix="add it")
    return Today(str(raw["captureID"]), now, at("release_at"), at("captured"))


def _capture(rows: Iterable[CaptureRow], name: str) -> Capture:
    found = next((r.capture for r in rows if r.id == name and r.capture is not None), None)
    if found is None:
        raise InputError(
            f"there is no capture {name} to plan for", where="captures.csv", fix="mend today.toml"
        )
    return found
