"""The demonstration's plans: today, a night, a consent that has run out, all captures of the seasons."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from tussock.demo.cases import Say, Today
from tussock.errors import InputError
from tussock.maps.consent_block import HEAD, ground_words, letter
from tussock.maps.words import clause_name, hectares, moment, sentence
from tussock.permit.holders import Holders
from tussock.planning.batch import Planned, open_words, plan_batch
from tussock.planning.inputs import CaptureRow
from tussock.planning.opened import Files, Opened, open_files
from tussock.planning.record import Plan
from tussock.planning.setting import Capture


def _typed(options: str) -> str:
    """Return the command that does the same with files of one's own."""
    return f"(tussock plan --region REGION --permit permit.toml {options})"


def region_step(data: Path, say: Say) -> Opened:
    """Open the district and check its ground."""
    say("1. The ground: reading every layer of the invented district and checking it.")
    say("   (tussock region check REGION)")
    permits = (data / "permit.toml",)
    opened = open_files(Files(data, permits, consents=data / "consents.csv", releases=data / "releases.csv"))
    notes = opened.region.check()
    say(f"   {opened.region.file.name}: {len(opened.region.file.layers)} layers, no fault.")
    for note in notes:
        say(f"   {sentence(note)}")
    return opened


def permit_step(opened: Opened, say: Say) -> None:
    """Say what the permit asks."""
    say("2. The permit: every clause becomes a test; what a map cannot answer is left to you.")
    for permit in opened.permits:
        spans = ", ".join(
            f"{v.valid_from} to {v.valid_to or 'open'} ({len(v.conditions)} clauses)" for v in permit.versions
        )
        say(f"   {permit.id} of {permit.authority}: {spans}.")
        for warning in permit.warnings:
            say(f"   {sentence(warning)}")
    say("   House rules: the shipped ones apply, a judgement and not law.")


def today_step(
    opened: Opened,
    rows: Iterable[CaptureRow],
    today: Today,
    *,
    say: Say,
    show: Callable[[Plan], None],
    holders: Holders,
) -> Plan:
    """Plan the clear case."""
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


def night_step(opened: Opened, rows: Iterable[CaptureRow], case: Today, *, say: Say) -> Plan:
    """Plan a case that the clock forbids."""
    capture = case.of(rows)
    say(f"4. At night: {_in_hand(capture)}. It is {moment(case.now.isoformat())}.")
    found = case.plan(opened, capture)
    for words in (*found.stop, *found.way_on):
        say(f"   {sentence(words)}")
    return found


def lapsed_step(
    opened: Opened, rows: Iterable[CaptureRow], case: Today, *, say: Say, holders: Holders
) -> Plan:
    """Plan a case whose consent has run out."""
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


def season_step(opened: Opened, rows: tuple[CaptureRow, ...], *, say: Say) -> list[Planned]:
    """Plan all captures in order of time."""
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


def without_site(planned: Iterable[Planned]) -> Plan:
    """Return the most telling plan without a site: one that names what stands in the way, consent aside."""
    none = [plan for _, plan in planned if plan is not None and not plan.sites]
    if not none:
        raise InputError("every capture has a site", where="captures.csv", fix="use data-demo as it comes")
    return max(none, key=lambda p: (bool(p.obstacles), not p.needs_consent))
