"""The whole job on the invented district, told step by step in plain words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from tussock.clock import parse_instant
from tussock.errors import InputError
from tussock.files import Outbox
from tussock.maps.consent_block import HEAD, ground_words, letter
from tussock.maps.plan_files import SUFFIXES, is_ours, plan_files
from tussock.maps.plan_table import batch_csv
from tussock.maps.words import clause_name, hectares, moment, sentence
from tussock.permit.holders import Holders, read_holders
from tussock.permit.toml_file import read_toml
from tussock.planning import plan as planner
from tussock.planning.batch import Planned, open_words, plan_batch
from tussock.planning.inputs import CaptureRow, read_captures
from tussock.planning.opened import Files, Opened, open_files
from tussock.planning.record import Plan
from tussock.planning.setting import Capture

TODAY, NIGHT, LAPSED, NO_SITE, SEASON = "today", "night", "lapsed-consent", "no-site", "seasons"
"""Names of what is written: the clear case, the clock, a consent, one hemmed in, all captures as a table."""
PAGES = (TODAY, NIGHT, LAPSED, NO_SITE)
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
        cases, rows = _cases(data), read_captures(data / "captures.csv", book=opened.book)
        holders = read_holders(data / "holders.csv")
        _permit_step(opened, say)
        clear = _today_step(opened, rows, cases[TODAY], say=say, show=show, holders=holders)
        night = _night_step(opened, rows, cases[NIGHT], say=say)
        lapsed = _lapsed_step(opened, rows, cases[LAPSED], say=say, holders=holders)
        planned = _season_step(opened, rows, say=say)
        stopped = _without_site(planned)
        _stage(outbox, out, opened, dict(zip(PAGES, (clear, night, lapsed, stopped), strict=True)))
        outbox.stage(out / f"{SEASON}.csv", batch_csv(planned))
        outbox.send()
    _where_to_look(out, stopped, say)


def _targets(out: Path) -> list[Path]:
    return [out / f"{name}{suffix}" for name in PAGES for suffix in SUFFIXES] + [out / f"{SEASON}.csv"]


def _check_there(data: Path) -> None:
    if not (data / "today.toml").is_file():
        raise InputError(
            "the invented district is not there",
            where=str(data),
            allowed="the folder data-demo of Tussock's source",
            fix="run the demo in the folder that holds data-demo, or name it with --data",
        )


def _cases(data: Path) -> dict[str, Today]:
    raw = read_toml(data / "today.toml")
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
    opened: Opened,
    rows: Iterable[CaptureRow],
    today: Today,
    *,
    say: Say,
    show: Callable[[Plan], None],
    holders: Holders,
) -> Plan:
    capture = today.of(rows)
    by = f"at {moment(today.release_at.isoformat())}" if today.release_at else "as soon as it is reached"
    say(f"3. Today: {_in_hand(capture)}. Where may it go {by}?")
    say(f"   {_typed('--at LAT,LON --uncertainty M --species NAME ... --holders holders.csv')}")
    found = today.plan(opened, capture)
    cells = found.counts.get("cells", 0)
    say(f"   Every one of {cells:,} places in the circle was examined; {len(found.sites)} sites are offered:")
    show(found)
    for words in (*_burnt(found), *_to_call(found, holders)):
        say(f"   {words}")
    for warning in found.warnings:
        say(f"   Note: {sentence(warning)}")
    return found


def _in_hand(capture: Capture) -> str:
    name = capture.vernacular_name or capture.animal.scientific_name
    return f"a {name} is in hand (capture {capture.id}, {moment(capture.time.isoformat())})"


def _burnt(plan: Plan) -> Iterator[str]:
    """Yield how much burnt ground is ruled out on the day, and that the map shows it."""
    for r in plan.removed:
        if "layer burnt" in r.words and r.high_ha > 0:
            yield (
                f"Burnt ground: {clause_name(r.source, r.id)} rules out {hectares(r.low_ha, r.high_ha)} that "
                f"are closed on {plan.release_at[:10]}; the map draws them with their dates."
            )


def _to_call(plan: Plan, holders: Holders) -> Iterator[str]:
    """Yield the ground that lacks only a consent, with its holder: said here, written nowhere."""
    for k, site in enumerate(plan.needs_consent):
        known = [str(h) for parcel, _ in site.lacking for h in holders.of(parcel)]
        yield f"{HEAD}: place {letter(k)}, {ground_words(site)}. To call: {'; '.join(known) or 'not known'}."
        yield from (f"  {note}" for note in site.notes)


def _night_step(opened: Opened, rows: Iterable[CaptureRow], case: Today, *, say: Say) -> Plan:
    capture = case.of(rows)
    say(f"4. At night: {_in_hand(capture)}. It is {moment(case.now.isoformat())}.")
    found = case.plan(opened, capture)
    for words in (*found.stop, *found.way_on):
        say(f"   {sentence(words)}")
    return found


def _lapsed_step(
    opened: Opened, rows: Iterable[CaptureRow], case: Today, *, say: Say, holders: Holders
) -> Plan:
    before = next(r.time for r in rows if r.id == case.capture_id)
    capture = case.of(rows)
    say(
        f"5. A lapsed consent: the call of {before.date()} once more, on {capture.time.date()}, the same "
        "animal at the same place."
    )
    found = case.plan(opened, capture)
    say(f"   {len(found.sites)} sites are offered. {' '.join(sentence(s) for s in found.stop)}")
    for words in _to_call(found, holders):
        say(f"   {words}")
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
        f"6. The seasons: planning for all {len(rows)} captures in order of time, as if each were released "
        "as soon as a place can be reached. The first site of each counts for those after it."
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
        if plan and plan.circle_m:  # looked for, and nothing left
            said = (*plan.stop, *plan.way_on)
        say(f"   {row.id}: {' '.join(sentence(s) for s in said)}")
    return planned


def _without_site(planned: Iterable[Planned]) -> Plan:
    """Return the most telling plan without a site: one that names what stands in the way, consent aside."""
    none = [plan for _, plan in planned if plan is not None and not plan.sites]
    if not none:
        raise InputError("every capture has a site", where="captures.csv", fix="use data-demo as it comes")
    return max(none, key=lambda p: (bool(p.obstacles), not p.needs_consent))


def _stage(outbox: Outbox, out: Path, opened: Opened, plans: dict[str, Plan]) -> None:
    for name, plan in plans.items():
        for suffix, text in plan_files(plan, opened.region).items():
            outbox.stage(out / f"{name}{suffix}", text)


def _where_to_look(out: Path, stopped: Plan, say: Say) -> None:
    say("7. Written. Look at:")
    say(f"   {out / TODAY}.html      today's plan: open it in a browser, no network needed")
    say(f"   {out / TODAY}.geojson, .gpx, .json: its sites for other programs, and the decision record")
    say(f"   {out / NIGHT}.html      no hour that suits, the next one that does, and whom to call")
    say(f"   {out / LAPSED}.html places that need a consent first")
    say(f"   {out / NO_SITE}.html    capture {stopped.capture.id}: no site, and what stands in the way")
    say(f"   {out / SEASON}.csv      all captures, a row for each site")
