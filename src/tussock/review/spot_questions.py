"""What a person is asked at the spot: what the map cannot see, and the clauses that only a person answers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from tussock.interval import Verdict
from tussock.permit.condition import Condition
from tussock.permit.permit_file import Permit
from tussock.permit.place_kinds import MaxReleasesNear
from tussock.permit.record_kinds import Attested, ConsentRecorded

ANIMAL, PROPERTY = "animal", "property"
"""Keys of the questions that decide more than this spot."""


class Answer(StrEnum):
    """What can be answered; a yes is always the good news."""

    YES = "yes"
    NO = "no"
    UNCLEAR = "unclear"


ANSWERED = {Answer.YES: Verdict.MET, Answer.NO: Verdict.NOT_MET, Answer.UNCLEAR: Verdict.UNCERTAIN}
"""What each answer comes to."""


@dataclass(frozen=True)
class Question:
    """One question.

    Attributes
    ----------
    key
        Short name that its answer goes by.
    text
        To be answered with yes where all is well.
    source, clause
        Permit and clause that it settles; empty for what everybody is asked.
    lasting
        Whether the answer holds for every spot: it is about the capture or the plan.
    """

    key: str
    text: str
    source: str = ""
    clause: str = ""
    lasting: bool = False


LOOK = (
    Question(
        "refuge", "Is there a refuge within about 5 m (log, burrow, crevice, dense grass, deep litter)?"
    ),
    Question("ground", "Is the ground shaded, and neither hot nor cold to your hand?"),
    Question(
        "quiet",
        "Is it clear of people, dogs, stock and vehicles, of works, fire and flood, and of signs of baiting?",
    ),
    Question("map", "Is every building and yard that you can see on the map, none missing?"),
    Question(PROPERTY, "Are you on the right property, and does its consent stand?"),
    Question(ANIMAL, "Is the animal alert and moving normally?"),
    Question("way_back", "Is your way back clear?"),
)
"""What the map cannot see, in the order it is asked (wording and keys of this project)."""


def clause_questions(permits: Iterable[Permit]) -> tuple[Question, ...]:
    """Return a question for each clause of any version that a person may have to answer.

    A key is the clause's id; where that is taken, the same with the permit's id before it.
    """
    found = list(_asked(permits))
    often = Counter([q.clause for q in found] + [q.key for q in LOOK])
    return tuple(q if often[q.clause] == 1 else replace(q, key=f"{q.source}:{q.clause}") for q in found)


def _asked(permits: Iterable[Permit]) -> Iterator[Question]:
    for permit in permits:
        by_id = {c.id: c for version in permit.versions for c in version.conditions if _text(c)}
        for name, condition in by_id.items():
            lasting = isinstance(condition, Attested) and condition.ask_at in ("capture", "plan")
            yield Question(name, _text(condition), permit.id, name, lasting)


def _text(condition: Condition) -> str:
    if isinstance(condition, Attested) and condition.ask_at != "return":
        return condition.question
    if isinstance(condition, ConsentRecorded):
        form = "written " if condition.written else ""
        return f"The map does not say whose ground this is: is the {form}consent of its owner on hand?"
    if isinstance(condition, MaxReleasesNear):
        whose = "of its species " if condition.species == "same" else ""
        return (
            f"No book of earlier releases is given: were fewer than {condition.count} animals {whose}let go "
            f"within {condition.within_m:g} m of here in the last {condition.within_days:g} days?"
        )
    return ""
