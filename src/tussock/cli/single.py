"""``tussock plan`` for one capture."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from tussock.cli import show
from tussock.cli.job import Job, written
from tussock.cli.options import Format
from tussock.planning import plan as planner
from tussock.planning.record import Plan


def run_single(job: Job, answers: Mapping[str, str]) -> int:
    """Plan, print and write; return the exit code."""
    capture = job.capture(answers)
    job.opened.region.check_holds(capture.position, where="--at")
    setting = job.opened.setting(
        now=job.clock,
        release_at=job.times.release_at,
        top=job.top,
        contacts=job.settings.contacts,
        captures={capture.id} - {""},
    )
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
