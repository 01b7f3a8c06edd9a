"""``tussock plan`` for one capture."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from tussock.cli import show
from tussock.cli.failures import written
from tussock.cli.options import Format
from tussock.cli.plan_ready import Job, check_times
from tussock.planning import plan as planner
from tussock.planning.record import Plan
from tussock.planning.setting import Capture


def run_logged(job: Job) -> int:
    """Plan for one capture of the logbook, print and write; return the exit code.

    Raises
    ------
    UsageError
        When it is not held, or a question about its animal is open.
    """
    from tussock.cli.from_book import captures_of, refuse_open_questions

    assert job.book is not None  # the caller looked
    (row,) = captures_of(job.book, job.opened, job.options.capture, now=job.clock)
    refuse_open_questions(row)
    assert row.capture is not None  # refused above
    check_times([row], job.times)
    return run_single(job, row.capture, where=row.where, inputs=job.book.hash_of([row.id]))


def run_single(
    job: Job, capture: Capture, *, where: str = "--at", inputs: Mapping[str, str] | None = None
) -> int:
    """Plan, print and write; return the exit code.

    Parameters
    ----------
    where
        Where the place of capture was given.
    inputs
        Name → SHA-256 of what the capture was read from.
    """
    job.opened.region.check_holds(capture.position, where=where)
    setting = job.opened.setting(
        now=job.clock,
        release_at=job.times.release_at,
        top=job.top,
        contacts=job.settings.contacts,
        captures={capture.id} - {""},
    )
    setting = replace(setting, inputs={**setting.inputs, **(inputs or {})})
    with job.outbox() as outbox:
        outbox.check(targets(job.options.out))
        found = planner.plan(capture, setting)
        files = _files(found, job)
        for target, text in zip(targets(job.options.out), files.values(), strict=True):
            outbox.stage(target, text)
        paths = outbox.send()
    show_plan(found, job.options.output, share=job.options.share)
    if not job.options.share:
        show.whom_to_call(found, job.holders)
    written(paths)
    return found.exit_code


def targets(out: Path | None, *, suffixed: bool = True) -> tuple[Path, ...]:
    """Return the four files that ``--out NAME`` means; none without it.

    Parameters
    ----------
    suffixed
        Whether NAME may end in a suffix of the four, which is then left out.
    """
    from tussock.maps.plan_files import SUFFIXES

    if out is None:
        return ()
    name = out.name.removesuffix(out.suffix) if suffixed and out.suffix in SUFFIXES else out.name
    return tuple(out.with_name(name + suffix) for suffix in SUFFIXES)


def _files(found: Plan, job: Job) -> dict[str, str]:
    if job.options.out is None:
        return {}
    from tussock.maps.plan_files import plan_files

    return plan_files(
        found, job.opened.region, emergency_number=job.settings.emergency_number, share=job.options.share
    )


def show_plan(found: Plan, output: Format, *, share: bool) -> None:
    """Print a plan: data on stdout, talk on stderr."""
    show.cautions()
    show.stop(found, share=share)
    match output:
        case Format.JSON:
            from tussock.maps.exports import plan_json

            show.data(plan_json(found, share=share))
        case Format.CSV:
            from tussock.maps.plan_table import plans_csv

            show.data(plans_csv([found], share=share))
        case Format.TABLE:
            show.answer(found, share=share)
    show.warnings(found, share=share)
