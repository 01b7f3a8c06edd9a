"""The file that keeps a check at the spot, and its entry in the logbook."""

from __future__ import annotations

import glob
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli.check_options import CheckFormat
from tussock.cli.failures import say
from tussock.errors import InputError, TussockError
from tussock.files import Outbox
from tussock.interval import Verdict

if TYPE_CHECKING:
    from tussock.cli.check_ready import CheckJob
    from tussock.review.spot import SpotCheck


def kept(job: CheckJob, check: SpotCheck) -> int:
    """Write and print a check, log it where that is asked for; return the exit code.

    Raises
    ------
    InputError
        When the file cannot be written, or the logbook does not take it: then the file is there.
    """
    from tussock.cli import check_show, show
    from tussock.maps.check_file import check_json

    made = check_json(check, inputs=job.inputs, changed=job.changed())
    target = _target(job, check)
    with Outbox(lambda _: False, force=job.options.force, inputs=_inputs(job)) as outbox:
        outbox.stage(target, made)
        outbox.send()
    if job.options.output is CheckFormat.JSON:
        show.data(made)
    else:
        check_show.answer(check)
    say(f"Written: {target}")
    _log(job, target)
    return 0 if check.verdict is Verdict.MET else 1


def _log(job: CheckJob, file: Path) -> None:
    """Log the check where that is asked for; its file is there whatever becomes of that."""
    o = job.options
    if o.logbook is None:
        return
    later = f"tussock log take {file}, with the same --logbook and --by NAME"
    if o.by is None:
        say(f"Not logged. To log it: {later}.")
        return
    from tussock.cli.log_job import LogOptions
    from tussock.cli.log_take import run_take

    try:
        run_take(LogOptions(o.logbook, o.by, o.now, o.profiles), file, capture_id="")
    except TussockError:
        say(f"Not logged; the check is kept in its file. To log it: {later}.")
        raise


def _target(job: CheckJob, check: SpotCheck) -> Path:
    """Return --out, or the next free name beside the plan.

    Raises
    ------
    InputError
        When --out is there already: a check is a record, and none is written over.
    """
    out = job.options.out
    if out is None:
        base = f"{job.path.stem}-check-{check.site.rank}"
        taken = {p.name for p in job.path.parent.glob(f"{glob.escape(base)}*.json")}
        names = (f"{base}{'' if n == 1 else f'-{n}'}.json" for n in range(1, len(taken) + 2))
        return job.path.with_name(next(name for name in names if name not in taken))
    if out.is_file() and not job.options.force:
        fix = "choose another --out, or add --force to replace it"
        raise InputError("there is a file of that name", where=str(out), fix=fix)
    return out


def _inputs(job: CheckJob) -> tuple[Path, ...]:
    o = job.options
    book = None if o.logbook is None or "://" in o.logbook else Path(o.logbook)
    named = (o.plan, *o.permit, o.consents, o.releases, book, o.profiles, o.photo, job.settings.path)
    assert o.region is not None  # refused without
    return (*(p for p in named if p is not None), *(p for p in o.region.iterdir() if p.is_file()))
