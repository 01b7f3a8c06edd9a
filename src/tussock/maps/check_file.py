"""The file of a check at the spot: what the logbook takes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from tussock.maps.cautions import CAUTIONS, NOT_LEGAL
from tussock.maps.exports import condition_properties, plain
from tussock.measure.judging import ClauseResult
from tussock.review.spot import SpotCheck
from tussock.review.spot_earlier import FORMAT


def check_json(check: SpotCheck, *, inputs: Mapping[str, str], changed: Iterable[str] = ()) -> str:
    """Return a check as JSON, keys sorted: the same check gives the same bytes.

    Parameters
    ----------
    inputs
        Name → SHA-256 of each file that was read.
    changed
        What differs from the files that the plan read, in words.
    """
    from tussock import __version__

    spot, plan, site = check.spot, check.plan, check.site
    met, attested, to_see_to, not_checked = check.counts
    record: dict[str, Any] = {
        "format": FORMAT,
        "software": {"name": "tussock", "version": __version__},
        "cautions": [*CAUTIONS, NOT_LEGAL],
        "plan": {"file": plan.name, "sha256": plan.sha256},
        "capture": {"id": plan.capture_id, "time": plan.captured.isoformat()},
        "animal": {"answers": dict(plan.answers), "vernacular_name": plan.vernacular_name},
        "site": {"number": site.rank, "position": plain(site.position)},
        "now": spot.now.isoformat(),
        "fix": plain(spot.fix),
        "away_m": check.away_m,
        "bearing_deg": check.bearing_deg,
        "in_planned_disc": check.in_disc,
        "verdict": check.verdict.value,
        "rejected": check.rejected,
        "counts": {
            "met": met, "attested": attested, "to_see_to": to_see_to, "not_checked": not_checked,
        },
        "conditions": [_condition(r) for r in check.results],
        "answers": [
            {"key": q.key, "question": q.text, "permit": q.source, "clause": q.clause, "lasting": q.lasting,
             "answer": check.answers[q.key].value if q.key in check.answers else None}
            for q in check.questions
        ],
        "consents": [{"consent": consent, "ground": ground} for consent, ground in check.consents],
        "why": spot.why,
        "photo": plain(spot.photo),
        "temperature_c": spot.temperature_c,
        "to_do": [{"id": r.id, "permit": r.source, "text": r.text or r.words} for r in check.to_do],
        "stop": list(check.stop),
        "ends": _ends(check),
        "next_site": plain(check.after),
        "way_on": list(check.way_on),
        "inputs": dict(inputs),
        "changed_since_the_plan": list(changed),
    }  # fmt: skip
    return json.dumps(record, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"


def _ends(check: SpotCheck) -> dict[str, str] | None:
    if check.ends is None:
        return None
    return {
        "instant": check.ends.instant.isoformat(),
        "clause": check.ends.clause,
        "permit": check.ends.source,
    }


def _condition(result: ClauseResult) -> dict[str, Any]:
    more = {"source": result.source, "mandatory": result.mandatory, "text": result.text or result.words}
    return {**condition_properties(result), **more}
