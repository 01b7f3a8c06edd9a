"""The whole job on the invented district, told step by step in plain words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tussock.demo import keeping, planning
from tussock.demo.audited import AUDIT
from tussock.demo.cases import LAPSED, NIGHT, NO_SITE, PAGES, SEASON, TODAY, Say, cases_of, check_there
from tussock.demo.patterns import HOTSPOTS, HOTSPOTS_NAMES, hotspots_step
from tussock.files import Outbox
from tussock.maps import audit_outputs, hotspots_files, plan_files
from tussock.maps.plan_table import batch_csv
from tussock.permit.holders import read_holders
from tussock.planning.inputs import read_captures
from tussock.planning.opened import Opened
from tussock.planning.record import Plan


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
    check_there(data)
    with Outbox(_is_ours, force=force, inputs=[p for p in data.iterdir() if p.is_file()]) as outbox:
        outbox.check(_targets(out))
        opened = planning.region_step(data, say)
        cases, rows = cases_of(data), read_captures(data / "captures.csv", book=opened.book)
        holders = read_holders(data / "holders.csv")
        planning.permit_step(opened, say)
        clear = planning.today_step(opened, rows, cases[TODAY], say=say, show=show, holders=holders)
        night = planning.night_step(opened, rows, cases[NIGHT], say=say)
        lapsed = planning.lapsed_step(opened, rows, cases[LAPSED], say=say, holders=holders)
        planned = planning.season_step(opened, rows, say=say)
        stopped = planning.without_site(planned)
        _stage(outbox, out, opened, dict(zip(PAGES, (clear, night, lapsed, stopped), strict=True)))
        outbox.stage(out / f"{SEASON}.csv", batch_csv(planned))
        for name, content in (keeping.steps(data, opened, say) | hotspots_step(data, opened, say)).items():
            outbox.stage(out / name, content)
        outbox.send()
    _where_to_look(out, stopped, say)


def _is_ours(path: Path) -> bool:
    told = (plan_files.is_ours, audit_outputs.is_ours, hotspots_files.is_ours, keeping.is_ours)
    return any(ours(path) for ours in told)


def _targets(out: Path) -> list[Path]:
    pages = [out / f"{name}{suffix}" for name in PAGES for suffix in plan_files.SUFFIXES]
    return [*pages, out / f"{SEASON}.csv", *(out / name for name in (*keeping.NAMES, *HOTSPOTS_NAMES))]


def _stage(outbox: Outbox, out: Path, opened: Opened, plans: dict[str, Plan]) -> None:
    for name, plan in plans.items():
        for suffix, text in plan_files.plan_files(plan, opened.region).items():
            outbox.stage(out / f"{name}{suffix}", text)


def _where_to_look(out: Path, stopped: Plan, say: Say) -> None:
    said = {
        f"{TODAY}.html": "today's plan: open it in a browser, no network needed",
        f"{TODAY}.geojson, .gpx, .json": "its sites for other programs, and the decision record",
        f"{NIGHT}.html": "no hour that suits, the next one that does, and whom to call",
        f"{LAPSED}.html": "places that need a consent first",
        f"{NO_SITE}.html": f"capture {stopped.capture.id}: no site, and what stands in the way",
        f"{SEASON}.csv": "all captures, a row for each site",
        keeping.LOGBOOK: "the logbook of both seasons (tussock log show --logbook …)",
        f"{AUDIT}.html": "the audit as a page to print, with room for explanations",
        f"{AUDIT}-map.html": "each release on the map with its verdict",
        f"{AUDIT}.csv, .xlsx, …": "the same as tables",
        f"{keeping.RETURN}.csv, -lines.csv, .xlsx": "the return, and as it was filed",
        f"{HOTSPOTS}.html": "where calls cluster, per dwelling, and what the calls cannot say",
    }
    say("11. Written. Look at:")
    wide = max(len(str(out / name)) for name in said)
    for name, words in said.items():
        say(f"   {out / name!s:<{wide}}  {words}")
