"""One clause in plain words: what is worked out, from what, who decides, and for which animals."""

from __future__ import annotations

from dataclasses import dataclass

from tussock.names import MONTHS
from tussock.permit.condition import AppliesTo, Condition, Decided
from tussock.permit.permit_file import Version
from tussock.permit.plain.held import HeldRegion, Holding, doubtful_layers, holdings
from tussock.permit.plain.second_look import questions
from tussock.permit.plain.sources import listed, sources
from tussock.permit.plain.trade import trade_of

COUNTED = ("map", "animal", "clock", "record", "attested", "return")
"""What clauses are counted by, in the order they are printed."""
TO_DO = "for you to see to"
"""How a kind begins to say what it leaves to a person (:attr:`Condition.not_checked`)."""


@dataclass(frozen=True)
class ClauseWords:
    """One clause in plain words.

    Attributes
    ----------
    title
        What it is about.
    computed
        What is worked out, in one sentence.
    reads
        From which layers and classes, columns, answers.
    decided
        Who or what decides it, and what follows.
    applies
        To which animals and months.
    duty
        What is left to a person, where something is; empty else.
    since
        How it differs from the version before: ``new``, ``changed``, ``as before``; empty in the first.
    holdings
        What the region holds of it; empty where no region was named.
    warnings
        What needs a second look.
    """

    condition: Condition
    title: str
    computed: str
    reads: tuple[str, ...]
    decided: str
    counted: str
    applies: str
    duty: str
    since: str = ""
    holdings: tuple[Holding, ...] = ()
    warnings: tuple[str, ...] = ()


def clause_words(
    clause: Condition,
    *,
    version: Version | None = None,
    before: Version | None = None,
    region: HeldRegion | None = None,
) -> ClauseWords:
    """Return one clause in plain words.

    Parameters
    ----------
    version
        The one it stands in: other clauses may hold the rest of its text.
    before
        The version before, to say what changed.
    region
        What a region holds of its layers.
    """
    held = holdings(clause, region) if region else ()
    near = () if region else doubtful_layers(clause)
    counted = _counted(clause)
    return ClauseWords(
        condition=clause,
        title=trade_of(clause.kind).title,
        computed=clause.words(),
        reads=sources(clause),
        decided=_decided(clause, counted),
        counted=counted,
        applies=applies_words(clause.applies_to),
        duty=_duty(clause),
        since=_since(clause, before),
        holdings=held,
        warnings=(
            *questions(clause, beside=version.conditions if version else ()),
            *near,
            *(w for h in held for w in h.warnings),
        ),
    )


_COUNTED_BY = {
    Decided.PLACE: "map",
    Decided.ANIMAL: "animal",
    Decided.TIME: "clock",
    Decided.RECORD: "record",
    Decided.NONE: "return",
}


def _counted(clause: Condition) -> str:
    return "attested" if clause.kind == "attested" else _COUNTED_BY[clause.decided]


_MANDATORY = {
    "map": "the place: no site is offered where it is not met",
    "animal": "the animal: no site is offered where it is not met",
    "clock": "the clock: it limits when the release may be",
    "record": "the record: a to-do when planning, judged from what was written down",
    "attested": "a person: unanswered counts as missing, never as met",
    "return": "nobody at a release: it is for the return",
}


def _decided(clause: Condition, counted: str) -> str:
    if counted == "map" and not clause.judged:
        return "the plan: held against its other sites when it is made"
    if clause.mandatory or counted in ("record", "attested", "return"):
        return _MANDATORY[counted]
    return f"{_MANDATORY[counted].partition(':')[0]}: shown, and never in the way, since it is advice"


def _duty(clause: Condition) -> str:
    """Return what the clause leaves to a person, in the words of its kind."""
    lead, _, words = clause.not_checked.partition(": ")
    return words if not clause.judged and lead == TO_DO else ""


def _since(clause: Condition, before: Version | None) -> str:
    if before is None:
        return ""
    was = next((c for c in before.conditions if c.id == clause.id), None)
    if was is None:
        return "new"
    return "as before" if was == clause else "changed"


def applies_words(applies: AppliesTo | None) -> str:
    """Return to which animals and months a clause applies.

    Examples
    --------
    >>> applies_words(None)
    'every animal, all year'
    >>> applies_words(AppliesTo(danger=("harmless",), months=(10, 11)))
    'danger harmless; releases in October and November'
    """
    if applies is None:
        return "every animal, all year"
    parts = [f"{label} {_either(getattr(applies, key))}" for key, label in _LABELS if getattr(applies, key)]
    if applies.months:
        parts.append(f"releases in {listed(tuple(MONTHS[m - 1] for m in applies.months))}")
    return "; ".join(parts)


_LABELS = (
    ("species", "species"),
    ("danger", "danger"),
    ("origin", "origin"),
    ("life_stage", "life stage"),
    ("gravid", "gravid"),
    ("animal_condition", "condition"),
    ("found_in", "found in"),
)


def _either(words: tuple[str, ...]) -> str:
    return " or ".join(w.replace("_", " ") for w in words)
