"""A permit in plain words as data: a stable form for other programs."""

from __future__ import annotations

from typing import Any

from tussock.permit.plain.clause_words import ClauseWords
from tussock.permit.plain.words import PermitWords, VersionWords


def as_data(words: PermitWords) -> dict[str, Any]:
    """Return the permit as plain dictionaries and lists; not available is ``None``."""
    permit = words.permit
    return {
        "file": permit.file,
        "id": permit.id,
        "holder": permit.holder,
        "authority": permit.authority,
        "timezone": permit.timezone,
        "authorised_persons": list(permit.authorised_persons),
        "region": words.region or None,
        "versions": [_version(v) for v in words.versions],
        "warnings": list(words.warnings),
        "cannot_know": list(words.cannot_know),
    }


def _version(words: VersionWords) -> dict[str, Any]:
    end = words.version.valid_to
    return {
        "valid_from": words.version.valid_from.isoformat(),
        "valid_to": end.isoformat() if end else None,
        "counts": dict(words.counts),
        "dropped": list(words.dropped),
        "conditions": [_clause(c) for c in words.clauses],
    }


def _clause(words: ClauseWords) -> dict[str, Any]:
    clause = words.condition
    return {
        "id": clause.id,
        "kind": clause.kind,
        "about": words.title,
        "text": clause.text,
        "computed": words.computed,
        "from": list(words.reads),
        "decided_by": words.counted,
        "mandatory": clause.mandatory,
        "applies_to": (
            clause.applies_to.model_dump(mode="json", exclude_none=True) if clause.applies_to else None
        ),
        "of_taking": clause.of_taking,
        "question": getattr(clause, "question", None),
        "to_do": words.duty or None,
        "since_version_before": words.since or None,
        "layers": [
            {"layer": h.layer, "in_region": h.counts is not None, "features": dict(h.counts or {})}
            for h in words.holdings
        ],
        "warnings": list(words.warnings),
    }
