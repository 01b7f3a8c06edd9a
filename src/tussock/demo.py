"""The whole job on the invented district, told step by step in plain words."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from tussock.clock import parse_instant
from tussock.errors import InputError
from tussock.files import Outbox
from tussock.maps.plan_files import SUFFIXES, is_ours, plan_files
from tussock.maps.plan_table import batch_csv
from tussock.maps.words import moment, sentence
from tussock.permit.toml_file import read_toml
from tussock.planning import plan as planner
from tussock.planning.batch import Planned, open_words, plan_batch
from tussock.planning.inputs import CaptureRow, read_captures
from tussock.planning.opened import Files, Opened, open_files
from tussock.planning.record import Plan
from tussock.planning.setting import Capture

TODAY, NO_SITE, SEASON = "today", "no-site", "seasons"
"""Names of what is written: the clear case, one without a site, the table of all captures."""
Say = Callable[[str], None]


@dataclass(frozen=True)
class Today:
    """The case of the demonstration and its clock."""

    capture_id: str
    now: datetime
    release_at: datetime


def run(data: Path, *, out: Path, force: bool, say: Say, show: Callable[[Plan], None]) -> None:
    """Do the whole job; the same data give the same bytes.

    Parameters
    ----------
    data
        Folder of the invented district.
    out
        Folder to write into; everything is written at the end, or nothing.
    force
        Replace files that Tussock did not write.
    say, show
        Print a text, and a plan.

    Raises
    ------
    InputError
        When the district is not there or cannot be used, or a file is in the way.
    """
    _check_there(data)
    with Outbox(is_ours, force=force, inputs=[p for p in data.iterdir() if p.is_file()]) as outbox:
        outbox.check(_targets(out))
        opened = _region_step(data, say)
        today, rows = _today(data), read_captures(data / "captures.csv", book=opened.book)
        _permit_step(opened, say)
        clear = _today_step(opened, rows, today, say=say, show=show)
        planned = _season_step(opened, rows, say=say)
        stopped = _without_site(planned)
        _stage(outbox, out, opened, {TODAY: clear, NO_SITE: stopped})
        outbox.stage(out / f"{SEASON}.csv", batch_csv(planned))
        outbox.send()
    _where_to_look(out, stopped, say)


def _targets(out: Path) -> list[Path]:
    return [out / f"{name}{suffix}" for name in (TODAY, NO_SITE) for suffix in SUFFIXES] + [
        out / f"{SEASON}.csv"
    ]


def _check_there(data: Path) -> None:
    if not (data / "today.toml").is_file():
        raise InputError(
            "the invented district is not there",
            where=str(data),
            allowed="the folder data-demo of Tussock's source",
            fix="run the demo in the folder that holds data-demo, or name it with --data",
        )


def _today(data: Path) -> Today:
    raw = read_toml(data / "today.toml")
    where = "today.toml"
    try:
        return Today(
            str(raw["captureID"]),
            parse_instant(str(raw["now"]), where=f"{where}, now"),
            parse_instant(str(raw["release_at"]), where=f"{where}, release_at"),
        )
    except KeyError as error:
        raise InputError(f"{error.args[0]} is missing", where=where, fix="add it") from None


def _typed(options: str) -> str:
    """Return the command that does the same with files of one's own."""
    return f"(tussock plan --region REGION --permit permit.toml {options})"


def _region_step(data: Path, say: Say) -> Opened:
    say("1. The ground: reading every layer of the invented district and checking it.")
    say("   (tussock region check REGION)")
    permits = (data / "permit.toml",)
    opened = open_files(Files(data, permits, consents=data / "consents.csv", releases=data / "releases.csv"))
    notes = opened.region.check()
    say(f"   {opened.region.file.name}: {len(opened.region.file.layers)} layers, no fault.")
    for note in notes:
        say(f"   {sentence(note)}")
    return opened


def _permit_step(opened: Opened, say: Say) -> None:
    say("2. The permit: every clause becomes a test; what a map cannot answer is left to you.")
    for permit in opened.permits:
        spans = ", ".join(
            f"{v.valid_from} to {v.valid_to or 'open'} ({len(v.conditions)} clauses)" for v in permit.versions
        )
        say(f"   {permit.id} of {permit.authority}: {spans}.")
        for warning in permit.warnings:
            say(f"   {sentence(warning)}")
    say("   House rules: the shipped ones apply, a judgement and not law.")


def _today_step(
    opened: Opened, rows: Iterable[CaptureRow], today: Today, *, say: Say, show: Callable[[Plan], None]
) -> Plan:
    capture = _capture(rows, today.capture_id)
    name = capture.vernacular_name or capture.animal.scientific_name
    say(
        f"3. Today: a {name} is in hand (capture {capture.id}, {moment(capture.time.isoformat())}). "
        f"Where may it go by {moment(today.release_at.isoformat())}?"
    )
    say(f"   {_typed('--at LAT,LON --uncertainty M --species NAME ...')}")
    setting = opened.setting(now=today.now, release_at=today.release_at, captures={capture.id})
    found = planner.plan(capture, setting)
    cells = found.counts.get("cells", 0)
    say(f"   Every one of {cells:,} places in the circle was examined; {len(found.sites)} sites are offered:")
    show(found)
    for warning in found.warnings:
        say(f"   Note: {sentence(warning)}")
    return found


def _capture(rows: Iterable[CaptureRow], name: str) -> Capture:
    found = next((r.capture for r in rows if r.id == name and r.capture is not None), None)
    if found is None:
        raise InputError(
            f"there is no capture {name} to plan for", where="captures.csv", fix="mend today.toml"
        )
    return found


def _season_step(opened: Opened, rows: tuple[CaptureRow, ...], *, say: Say) -> list[Planned]:
    say(
        f"4. The seasons: planning for all {len(rows)} captures in order of time, as if each were released "
        "an hour later. The first site of each counts for those after it."
    )
    say(f"   {_typed('--captures captures.csv --releases releases.csv')}")
    first = next(r.time for r in rows)
    setting = opened.setting(now=first, captures={r.id for r in rows})
    # only the map of a capture without a site is drawn
    planned = [
        (row, replace(plan, rasters=None) if plan and plan.sites else plan)
        for row, plan in plan_batch(rows, setting)
    ]
    none = [(row, plan) for row, plan in planned if plan is None or not plan.sites]
    say(f"   {len(planned) - len(none)} get sites. {len(none)} get none, and the way on instead:")
    for row, plan in none:
        said = (plan.way_on or plan.stop) if plan else (open_words(row),)
        say(f"   {row.id}: {' '.join(sentence(s) for s in said)}")
    return planned


def _without_site(planned: Iterable[Planned]) -> Plan:
    """Return the plan that found nothing left, or else the first without a site."""
    none = [plan for _, plan in planned if plan is not None and not plan.sites]
    if not none:
        raise InputError("every capture has a site", where="captures.csv", fix="use data-demo as it comes")
    return max(none, key=lambda p: bool(p.obstacles))


def _stage(outbox: Outbox, out: Path, opened: Opened, plans: dict[str, Plan]) -> None:
    for name, plan in plans.items():
        for suffix, text in plan_files(plan, opened.region).items():
            outbox.stage(out / f"{name}{suffix}", text)


def _where_to_look(out: Path, stopped: Plan, say: Say) -> None:
    say("5. Written. Look at:")
    say(f"   {out / TODAY}.html      today's plan: open it in a browser, no network needed")
    say(f"   {out / TODAY}.geojson, .gpx, .json: its sites for other programs, and the decision record")
    say(f"   {out / NO_SITE}.html    capture {stopped.capture.id}: no site, and what stands in the way")
    say(f"   {out / SEASON}.csv      all captures, a row for each site")
