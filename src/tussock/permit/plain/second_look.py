"""Where a clause's limit and its own text name different numbers: a question, never a finding."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from tussock.permit.condition import Condition
from tussock.permit.explain import fields_by_key
from tussock.permit.plain.amounts import Amount, Measure, figure
from tussock.permit.plain.in_text import amounts_in
from tussock.permit.record_kinds import ConsentRecorded
from tussock.permit.time_kinds import ReleaseWindow

ROUNDED = 0.02
"""Share by which a limit may differ from the text, so that a rounded conversion passes: 40 acres as 16 ha is
1.2 % off, a mile as 1.6 km 0.6 % (choice of this project)."""
_FROM_THE_SUN = re.compile(
    r"(hour|minute|min\b|h\b).{0,30}(before|after|of)\s+(sun(rise|set)|dusk|dawn|dark)", re.IGNORECASE
)
_IN_WRITING = re.compile(r"\b(written|in writing|signed)\b", re.IGNORECASE)
_OWN = ("tolerance_m",)
"""Numbers that the paper does not give: the relocator chooses them."""
_HOURS_OF = {Measure.HOURS: 1, Measure.DAYS: 24}


def limits_of(clause: Condition) -> dict[str, tuple[float, Measure]]:
    """Return the limits that a clause sets, by their key in the file."""
    found = {}
    for key in fields_by_key(type(clause)):
        value, measure = getattr(clause, key, None), _measure(key)
        if measure is not None and isinstance(value, int | float) and not isinstance(value, bool):
            found[key] = (float(value), measure)
    return found


def _measure(key: str) -> Measure | None:
    """Return what a key's number measures; the key ends with the unit."""
    if key in _OWN:
        return None
    unit = "animals" if key == "count" else key.rpartition("_")[2]
    return Measure(unit) if unit in set(Measure) else None


def questions(clause: Condition, *, beside: Iterable[Condition] = ()) -> tuple[str, ...]:
    """Return what should be compared with the paper once more.

    Parameters
    ----------
    clause
        A limit of it is asked about when its text names amounts of that sort and none is the limit.
    beside
        Other clauses of the version. One paper clause may stand in the file as several with the same
        text; only an amount that none of them holds is asked about.
    """
    named = amounts_in(clause.text)
    asked = tuple(_unlike(clause, named)) or tuple(_left_out(clause, named, beside))
    return (*asked, *_unsaid(clause))


def _unsaid(clause: Condition) -> Iterator[str]:
    """Ask about what a text says in words and the clause does not hold: a margin to the sun, writing."""
    if isinstance(clause, ReleaseWindow) and clause.by_sun and _FROM_THE_SUN.search(clause.text):
        yield (
            "the text speaks of a time before or after sunrise or sunset, the window has no such margin: "
            "add clock times that keep to it in every season of the permit, or a clause that a person attests"
        )
    if isinstance(clause, ConsentRecorded) and not clause.written and _IN_WRITING.search(clause.text):
        yield "the text speaks of writing, written is not true: an oral consent would do"


def _unlike(clause: Condition, named: Sequence[Amount]) -> Iterator[str]:
    for key, (limit, measure) in limits_of(clause).items():
        same_sort = [a for a in named if _comparable(a, measure)]
        if same_sort and not any(_alike(a, limit, measure) for a in same_sort):
            said = " and ".join(dict.fromkeys(_amount_words(a, measure) for a in same_sort))
            yield f"the text says {said}, {key} is {figure(limit)}: compare with the paper"


def _left_out(clause: Condition, named: Sequence[Amount], beside: Iterable[Condition]) -> Iterator[str]:
    """Ask about an amount in the text where a limit of that sort could be given and is not."""
    open_keys = [k for k in fields_by_key(type(clause)) if _measure(k) and getattr(clause, k, None) is None]
    twins = [clause, *(c for c in beside if c is not clause and c.text == clause.text)]
    held = [limit for one in twins for limit in limits_of(one).values()]
    for key in open_keys:
        measure = _measure(key)
        for amount in named:
            if measure and _comparable(amount, measure) and not any(_alike(amount, *one) for one in held):
                yield f"the text also says '{amount.printed}', {key} is not given: compare with the paper"


def _comparable(amount: Amount, measure: Measure) -> bool:
    return amount.measure is measure or {amount.measure, measure} <= set(_HOURS_OF)


def _alike(amount: Amount, limit: float, measure: Measure) -> bool:
    if not _comparable(amount, measure):
        return False
    value, wanted = float(amount.value), limit * _HOURS_OF.get(measure, 1)
    return abs(value - wanted) <= ROUNDED * max(value, wanted)


def _amount_words(amount: Amount, measure: Measure) -> str:
    """Return the amount as printed, and in the file's unit where that is another."""
    value = float(amount.value) / (24 if measure is Measure.DAYS else 1)
    converted = f"{figure(round(value, 3))} {measure}"
    return f"'{amount.printed}'" if amount.printed == converted else f"'{amount.printed}' ({converted})"
