"""Earlier checks of a plan, read from the files beside it: what was rejected, and what stays answered."""

from __future__ import annotations

import glob
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from tussock.review.planned import PlanRecord
from tussock.review.spot_questions import Answer

FORMAT = "tussock check 1"


@dataclass(frozen=True)
class Earlier:
    """What earlier checks of the same plan say.

    Attributes
    ----------
    rejected
        Sites whose last check rejected them.
    answers
        Question's key → answer, of questions about the capture or the plan: they hold for every spot.
    notes
        Files left out, in words.
    """

    rejected: frozenset[int] = frozenset()
    answers: Mapping[str, Answer] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def earlier_checks(plan: PlanRecord, path: Path) -> Earlier:
    """Return what the checks beside a plan's file say; those of another plan of that name are left out."""
    last: dict[int, tuple[datetime, bool]] = {}
    answers: dict[str, Answer] = {}
    notes = []
    for file in sorted(path.parent.glob(f"{glob.escape(path.stem)}-check-*.json")):
        try:
            found = json.loads(file.read_bytes())
            if found["format"] != FORMAT:
                continue
            if found["plan"]["sha256"] != plan.sha256:
                notes.append(f"{file.name} is a check of another plan of that name: left out")
                continue
            number, when = int(found["site"]["number"]), datetime.fromisoformat(found["now"])
            last[number] = max(last.get(number, (when, False)), (when, found["rejected"] is True))
            answers |= dict(_lasting(found["answers"]))
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            notes.append(f"{file.name} cannot be read as a check: left out")
    rejected = frozenset(number for number, (_, out) in last.items() if out)
    return Earlier(rejected, answers, tuple(notes))


def _lasting(answers: Any) -> Iterator[tuple[str, Answer]]:
    for one in answers:
        if one["lasting"] is True and one["answer"] in (Answer.YES, Answer.NO):
            yield str(one["key"]), Answer(one["answer"])
