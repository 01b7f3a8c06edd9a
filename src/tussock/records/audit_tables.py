"""An audit as tables: a row for each record, and a row for each record and clause."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from tussock.measure.judging import ClauseResult
from tussock.records.exporting import shared_cells
from tussock.review.audit import Audit, Row
from tussock.tables import csv_text

RELEASE_COLUMNS = (
    "captureID",
    "permit",
    "version",
    "verdict",
    "worst_condition",
    "margin",
    "unit",
    "reason",
    "p_met",
)
FINDING_COLUMNS = (
    "captureID",
    "disposalID",
    "permit",
    "clause",
    "kind",
    "mandatory",
    "verdict",
    "value_low",
    "value_high",
    "limit",
    "margin",
    "unit",
    "p_met",
    "reason",
    "text",
)

CSV_HEAD, FINDINGS_HEAD = ",".join(RELEASE_COLUMNS), ",".join(FINDING_COLUMNS)
"""How the tables begin: by that Tussock knows its own."""


def release_rows(audit: Audit) -> Iterator[dict[str, object]]:
    """Yield a row for each record of the book, with the input's other columns after what was found."""
    for row in audit.rows:
        given = shared_cells(row.kept.cells)
        yield {
            **{f"input_{c}" if c in RELEASE_COLUMNS[1:] else c: v for c, v in given.items()},
            **_found(audit, row),
        }


def finding_rows(audit: Audit) -> Iterator[dict[str, object]]:
    """Yield a row for each record and clause, in the order of the book."""
    for row in audit.rows:
        for result in row.judged.results if row.judged else ():
            yield _finding(audit, row, result)


def releases_csv(audit: Audit) -> str:
    """Return the first table as CSV; formulas in it are inert."""
    rows = list(release_rows(audit))
    return csv_text(release_columns(rows), rows)


def findings_csv(audit: Audit) -> str:
    """Return the second table as CSV."""
    return csv_text(FINDING_COLUMNS, finding_rows(audit))


def release_columns(rows: Iterable[Mapping[str, object]]) -> tuple[str, ...]:
    """Return the columns of the first table: what was found, then those of the input."""
    others = dict.fromkeys(c for row in rows for c in row if c not in RELEASE_COLUMNS)
    return (*RELEASE_COLUMNS, *others)


def _found(audit: Audit, row: Row) -> dict[str, object]:
    worst = row.worst
    found: dict[str, object] = {
        "captureID": row.kept.capture_id,
        "permit": audit.permit.id,
        "version": row.judged.disposal if row.judged else "",
        "verdict": row.verdict.value,
        "reason": _why(row),
    }
    if worst is not None and worst.verdict is row.verdict:
        chance = row.probabilities.get(worst.id)
        found |= {
            "worst_condition": worst.id,
            "margin": _rounded(worst.margin),
            "unit": worst.unit,
            "p_met": _rounded(chance, 4),
        }
    return found


def _why(row: Row) -> str:
    """Return why the verdict is what it is, in words."""
    if row.judged is None:
        return row.kept.why
    said = [*row.judged.gaps, *row.judged.contradictions]
    worst = row.worst
    if worst is not None and worst.verdict is row.verdict and worst.reason:
        said.insert(0, worst.reason)
    return "; ".join(said)


def _finding(audit: Audit, row: Row, result: ClauseResult) -> dict[str, object]:
    return {
        "captureID": row.kept.capture_id,
        "disposalID": row.kept.disposal_id,
        "permit": audit.permit.id,
        "clause": result.id,
        "kind": result.kind,
        "mandatory": "yes" if result.mandatory else "no",
        "verdict": result.verdict.value if result.verdict else "",
        "value_low": _rounded(result.value.low if result.value else None),
        "value_high": _rounded(result.value.high if result.value else None),
        "limit": result.limit,
        "margin": _rounded(result.margin),
        "unit": result.unit,
        "p_met": _rounded(row.probabilities.get(result.id), 4),
        "reason": result.reason,
        "text": result.text,
    }


def _rounded(value: float | None, digits: int = 3) -> float | None:
    """Return a number to the digits given; an end that nothing bounds is left empty."""
    return None if value is None or abs(value) == float("inf") else round(value, digits)
