"""How fast a check at the spot is, beside a plan, in one run on one machine.

Run it as ``python -m tests.benchmarks.check_speed REGION LAT,LON`` with a region folder (such as
``tussock region from-osm`` makes). Seconds differ from machine to machine, the ratios hardly do.

*Warm* is one more check, or plan, in one process: layer files are looked at again, parsed files and what
was made of them are kept. *Cold* is the whole command in a process of its own; the plan with its map.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

from tests.benchmarks.plan_speed import ANSWERS, PERMIT, RULES_IN_FULL
from tussock.ground.region import open_region
from tussock.maps.exports import plan_json
from tussock.permit.house_rules import read_house_rules
from tussock.permit.permit_file import read_permit
from tussock.planning.criteria import read_weights
from tussock.planning.plan import plan
from tussock.planning.setting import Capture, Setting
from tussock.position import Position
from tussock.review.planned import PlannedSite, read_plan
from tussock.review.spot import Held, Spot, check_spot
from tussock.review.spot_questions import LOOK, Answer
from tussock.species.intake import read_animal
from tussock.species.profiles import load_profiles

NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)
ATTESTED = ("8", "9")
"""Clauses of the benchmark's permit that a person answers."""
TIMES = 5


def main() -> None:
    """Print the timings and their ratios to the plan."""
    folder = Path(sys.argv[1]).resolve()
    lat, lon = (float(v) for v in sys.argv[2].split(","))
    with tempfile.TemporaryDirectory() as out:
        cold_plan = _command(_plan_command(folder, lat, lon), Path(out))
        site = read_plan(Path(out) / "today.json").sites[0]
        cold_check = _command(_check_command(folder, site), Path(out), times=TIMES)
        warm_plan, warm_check = _warm(folder, lat, lon, Path(out))
    print(f"{'':36s} seconds  × the same plan")
    for name, check, whole in (("warm", warm_check, warm_plan), ("cold, the command", cold_check, cold_plan)):
        print(f"{f'plan, {name}':36s} {whole:7.3f}")
        print(f"{f'check, {name}':36s} {check:7.3f}  {check / whole:8.3f}")


def _warm(folder: Path, lat: float, lon: float, out: Path) -> tuple[float, float]:
    region, permit = open_region(folder), read_permit(out / "permit.toml")
    rules, animal = read_house_rules(None).conditions, read_animal(ANSWERS, book=load_profiles())
    setting = Setting(region, (permit,), rules, read_weights(), now=NOW)
    capture = Capture("B", Position(lon, lat, 10.0), NOW, animal, ANSWERS)
    (out / "warm.json").write_text(plan_json(plan(capture, setting)), "utf-8")
    held = Held(region=region, permits=(permit,), animal=animal, house_rules=rules)
    answers = {q.key: Answer.YES for q in LOOK} | dict.fromkeys(ATTESTED, Answer.YES)

    def check(step: int) -> None:
        record = read_plan(out / "warm.json")
        site = record.sites[0]
        fix = Position(site.longitude + step * 1e-6, site.latitude, 8.0)
        check_spot(record, Spot(number=1, fix=fix, now=NOW + timedelta(minutes=20), answers=answers), held)

    check(0)  # the patches of another day are another's
    return (
        min(_seconds(lambda: plan(capture, setting)) for _ in range(3)),
        statistics.median(_seconds(partial(check, n)) for n in range(20)),
    )


def _command(arguments: list[str], folder: Path, *, times: int = 3) -> float:
    (folder / "permit.toml").write_text(PERMIT + RULES_IN_FULL, "utf-8")
    command = [sys.executable, "-m", "tussock.cli", *arguments]

    def once() -> None:
        subprocess.run(command, check=True, capture_output=True, cwd=folder)

    once()  # the files come from the disk once
    return min(_seconds(once) for _ in range(times))


def _plan_command(folder: Path, lat: float, lon: float) -> list[str]:
    return [
        "plan", "--region", str(folder), "--permit", "permit.toml", "--at", f"{lat},{lon}",
        "--uncertainty", "10", "--species", "Vipera berus", "--count", "1", "--identification", "certain",
        "--origin", "wild_local", "--condition", "fit", "--life-stage", "adult", "--gravid", "no",
        "--found-in", "yard", "--now", NOW.isoformat(), "--out", "today", "--force",
    ]  # fmt: skip


def _check_command(folder: Path, site: PlannedSite) -> list[str]:
    answers = [word for key in (*(q.key for q in LOOK), *ATTESTED) for word in ("--answer", f"{key}=yes")]
    return [
        "check", "--plan", "today.json", "--site", "1", "--at", f"{site.latitude},{site.longitude}",
        "--uncertainty", "8", "--region", str(folder), "--permit", "permit.toml",
        "--now", (NOW + timedelta(minutes=20)).isoformat(), *answers,
    ]  # fmt: skip


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
