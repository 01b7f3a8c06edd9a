"""``tussock log add`` and ``amend``: one entry typed in, or corrected."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from tussock.cli.failures import say
from tussock.cli.log_import import related, tell_doubts, tell_near
from tussock.cli.log_job import LogOptions, cells_of, kind_named, writing
from tussock.errors import InputError, UsageError, together
from tussock.maps.words import plainly
from tussock.records.checks import Checker
from tussock.records.columns import refuse_near
from tussock.records.entries import CALLOUT, DISPOSAL, ID_COLUMN, Entry
from tussock.records.kinds import RESIDENT, check_columns
from tussock.records.stamped import HANDLED, RECORDED, stamp, stamped
from tussock.records.tabled import entry_of, resident_of
from tussock.records.times import doubts, to_come


def run_add(options: LogOptions, kind: str, given: Sequence[str], *, check: Path | None = None) -> int:
    """Log one entry; with the file of a check at the spot, the release that was made there.

    Raises
    ------
    InputError
        Listing everything that is wrong with it, or where it is there with other cells.
    """
    kind, by, at = kind_named(kind), options.who(), options.clock()
    said = cells_of(given) if given or check is None else {}
    cells = said if check is None else _released(kind, said, check)
    check_columns(kind, cells, where="--set")
    near = refuse_near(kind, cells, where="--set", keep=True)
    own = {c: v for c, v in cells.items() if v and c not in RESIDENT}
    entry, faults = entry_of(kind, own, where="--set", checker=options.checker())
    who, more = resident_of(entry.id, cells, where="--set") if kind == CALLOUT else (None, ())
    ahead = to_come(entry, at)
    if faults or more or ahead:
        raise together([*faults, *more, *ahead])
    filling = stamp(at=at, by=by if check is not None else "")
    with writing(options) as logbook:
        states = [r.entry for r in logbook.history(kind, entry.id)]
        entry = stamped(entry, filling, states=states, open_=said)
        done = logbook.write([entry], by=by, at=at)
        if who is not None:
            logbook.keep_resident(
                who.callout_id, name=who.name, phone=who.phone, address=who.address, keep_until=who.keep_until
            )
        where, doubtful = logbook.database.where, doubts(done.added, related(logbook, kind))
    since = " (as logged; amended since, see its history)" if done.amended_since else ""
    say(f"{'Logged' if done.added else 'Nothing new'}: {kind} {entry.id}, in {where}{since}")
    moved = any(text.startswith(("decimal", "eventDate", "coordinate")) for text in given)
    if check is not None and not moved:
        say(f"Its place and time are those of the check, which was {plainly(entry.get('checkVerdict'))}.")
    tell_near(near)
    tell_doubts(doubtful)
    if done.added:
        _tell_filled(entry, cells)
    return 0


def _tell_filled(entry: Entry, cells: Mapping[str, str]) -> None:
    """Say what was filled in: who finds it wrong can still say so."""
    new = [c for c in entry.cells if c in (RECORDED, HANDLED) and not cells.get(c)]
    if RECORDED in new:
        say(
            f"{RECORDED} is {entry.get(RECORDED)}, now. Where it was written down before: tussock log amend "
            f"{entry.kind} {entry.id} --set {RECORDED}=… --why …"
        )
    if HANDLED in new:
        say(
            f"{HANDLED} is {entry.get(HANDLED)}, who logs it. Where another let it go: tussock log amend "
            f"{entry.kind} {entry.id} --set {HANDLED}=NAME --why …"
        )


def _released(kind: str, changes: Mapping[str, str], check: Path) -> dict[str, str]:
    """Return the cells of a release made of a check's file, with what is set instead."""
    from tussock.records.release_entry import release_from_check

    if kind != DISPOSAL:
        fix = "tussock log add disposal --from FILE"
        raise UsageError(f"a check's file gives a release, not a {kind}", where="--from", fix=fix)
    return dict(release_from_check(check, capture_id=changes.get("captureID", ""), changes=changes).cells)


def run_amend(options: LogOptions, key: tuple[str, str], given: Iterable[str], *, why: str) -> int:
    """Write a further state of an entry.

    Raises
    ------
    InputError
        Listing everything that would be wrong with it; where there is no such entry.
    """
    kind, name, changes, by = kind_named(key[0]), key[1], cells_of(given), options.who()
    if not why.strip():
        raise UsageError("no reason is given", where="--why", fix="say why it is amended: it is kept")
    check_columns(kind, changes, where="--set")
    near = refuse_near(kind, [c for c, v in changes.items() if v], where="--set", keep=True)
    if private := [c for c in changes if c in RESIDENT]:
        fix = "import the callout's row again with those columns"
        raise InputError(f"{', '.join(private)} is no part of the entry", where="--set", fix=fix)
    checker, at = options.checker(), options.clock()
    with writing(options, create=False) as logbook:
        before = logbook.entry(kind, name)
        if before is not None:
            changes = _checked(before, changes, checker, at)
        done = logbook.amend(kind, name, changes, by=by, at=at, why=why)
        where, doubtful = logbook.database.where, doubts([done.entry], related(logbook, kind))
    say(f"Amended: {kind} {name}, state {done.number}, in {where}")
    tell_near(near)
    tell_doubts(doubtful)
    return 0


def _checked(before: Entry, changes: Mapping[str, str], checker: Checker, at: datetime) -> dict[str, str]:
    """Return the changes, local times made instants; refuse what the entry may not say."""
    cells = {c: v for c, v in {**before.cells, **changes}.items() if v}
    whole, faults = entry_of(before.kind, cells, where="--set", checker=checker)
    about = ID_COLUMN[before.kind]
    told = [f for f in faults if not f.found.startswith(about) or about in changes]
    told += to_come(whole, at, columns=changes)
    if told:
        raise together(told)
    return {c: whole.get(c) for c in changes}
