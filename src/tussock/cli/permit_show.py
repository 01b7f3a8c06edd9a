"""A permit in plain words as text, so wide as the terminal: a short list per clause, no wide table."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Iterator

from tussock.permit.plain.clause_words import ClauseWords
from tussock.permit.plain.sources import LEGEND
from tussock.permit.plain.words import PermitWords, VersionWords

NARROWEST, WIDEST = 40, 120
_LABEL = 11
_COUNTED = {
    "map": "computed from the map",
    "animal": "from the animal",
    "clock": "from the clock",
    "record": "from records",
    "attested": "that a person must attest",
    "return": "for the return",
}


def width() -> int:
    """Return the width to print in: the terminal's, within reason; 80 where there is none."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size((80, 24)).columns))


def text_of(words: PermitWords, *, columns: int) -> str:
    """Return the whole permit, clause by clause, with the sums and the warnings at the end."""
    lines = [*_head(words), *(line for v in words.versions for line in _version(v))]
    lines += [*_sums(words), *_cannot_know(words), *_attention(words)]
    return "\n".join(_wrapped(lines, columns))


def _wrapped(lines: Iterable[tuple[int, str]], columns: int) -> Iterator[str]:
    """Break lines at the width; each comes with how far its continuation is indented."""
    for hang, line in lines:
        yield from textwrap.wrap(
            line,
            columns,
            subsequent_indent=" " * hang,
            break_on_hyphens=False,
            drop_whitespace=True,
            replace_whitespace=False,
        ) or [""]


def _row(label: str, words: str) -> tuple[int, str]:
    return _LABEL + 2, f"  {label:<{_LABEL}}{words.strip()}"


def _head(words: PermitWords) -> Iterator[tuple[int, str]]:
    permit = words.permit
    yield 2, f"Permit {permit.id} ({permit.file})"
    yield _row("holder", permit.holder)
    yield _row("authority", permit.authority)
    yield _row("time zone", f"{permit.timezone}: dates and clock times of the permit are in it")
    yield _row("persons", ", ".join(permit.authorised_persons) or "none named")
    if words.region:
        yield _row("region", words.region)
    yield 2, f"  {LEGEND}."


def _version(words: VersionWords) -> Iterator[tuple[int, str]]:
    title = f"Version {words.version.name}: {words.dates}"
    yield 0, ""
    yield 2, title
    yield 0, "=" * min(len(title), NARROWEST)
    if words.dropped:
        yield 2, f"Clauses of the version before that are no longer there: {', '.join(words.dropped)}"
    for clause in words.clauses:
        yield 0, ""
        yield from _clause(clause)
    if not words.clauses:
        yield 2, "No clauses: nothing is checked under it."


def _clause(words: ClauseWords) -> Iterator[tuple[int, str]]:
    clause = words.condition
    since = f" ({words.since})" if words.since else ""
    force = "mandatory" if clause.mandatory else "ADVICE ONLY"
    yield 6, f"{clause.id}  {words.title} [{clause.kind}]{since}"
    yield _row("paper", f"“{clause.text}”" if clause.text else "the authority's text is not in the file")
    yield _row("computed", words.computed)
    yield _row("from", "; ".join(words.reads))
    for held in words.holdings:
        yield _row("in region", held.words)
    yield _row("decided", words.decided)
    if words.duty:
        yield _row("to do", words.duty)
    taking = "; the version in force at the capture counts" if clause.of_taking else ""
    yield _row("force", f"{force}, for {words.applies}{taking}")
    for warning in words.warnings:
        yield _row("LOOK", warning)


def _sums(words: PermitWords) -> Iterator[tuple[int, str]]:
    yield 0, ""
    yield 2, "In all"
    for version in words.versions:
        yield 4, f"  Version {version.version.name}, {_clauses(len(version.clauses))}{_counted(version)}"
        for clause in version.clauses:
            question = getattr(clause.condition, "question", "")
            if question:
                yield 8, f"    - {clause.condition.id}: {question}"
    textless = sum(not c.condition.text for v in words.versions for c in v.clauses)
    if textless:
        yield 4, f"  {_clauses(textless)} without the authority's text: nothing to lay beside the paper."


def _clauses(count: int) -> str:
    return f"{count or 'no'} clause{'' if count == 1 else 's'}"


def _counted(version: VersionWords) -> str:
    said = [f"{count} {_COUNTED[name]}" for name, count in version.counts.items() if count]
    advice = sum(not c.condition.mandatory for c in version.clauses)
    return (": " if said else "") + ", ".join(said) + (f" ({advice} of them advice only)" if advice else "")


def _cannot_know(words: PermitWords) -> Iterator[tuple[int, str]]:
    yield 0, ""
    yield 2, "What Tussock cannot know"
    for line in words.cannot_know:
        yield 4, f"  - {line}"


def _attention(words: PermitWords) -> Iterator[tuple[int, str]]:
    if not words.warnings:
        return
    yield 0, ""
    yield 2, f"Needs a second look ({len(words.warnings)})"
    for warning in words.warnings:
        yield 4, f"  - {warning}"
