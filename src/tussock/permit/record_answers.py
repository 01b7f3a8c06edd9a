"""What a person wrote in a record: yes or no, who handled the animal, how warm it was."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable
from difflib import SequenceMatcher

from tussock.interval import Interval, Limit, Verdict
from tussock.names import ALIKE
from tussock.permit.record_facts import NOT_DUE, Finding, RecordFacts, persons_in

PHOTO = "associatedMedia"
"""Column that names the photo (Darwin Core)."""
OF_ITSELF = ("died", "escaped")
"""Ends of holding that nobody's hand brings about."""


def judge_answer(facts: RecordFacts, *, clause_id: str, ask_at: str, photo: bool) -> Finding:
    """Return the verdict of a clause that a person answers: met by a yes and nothing else."""
    answer = facts.answers.get(clause_id, "").strip().lower()
    if answer == "no":
        return Finding(Verdict.NOT_MET, "answered no")
    if answer == "yes":
        if photo and not facts.columns.get(PHOTO, "").strip():
            return Finding(Verdict.MISSING, f"attested, but the photo it asks for is not named in {PHOTO}")
        return Finding(Verdict.MET, "attested")
    if not answer and ask_at == "return":
        return Finding(None, "not checked: it is asked at the return, not at a release")
    if not answer and ask_at in ("site", "release") and facts.not_released:
        return Finding(None, f"does not apply: the animal was not released ({facts.not_released})")
    if not answer and ask_at in ("site", "release") and facts.held:
        return Finding(None, NOT_DUE)
    if not answer:
        return Finding(Verdict.MISSING, f"not answered; it is asked at {ask_at}")
    said = "unclear" if answer == "unclear" else f"'{answer[:60]}'"
    return Finding(Verdict.MISSING, f"answered {said}, which is neither yes nor no")


def closers(ended_by: tuple[str, ...] | None, *, disposal: str) -> tuple[str, ...] | None:
    """Return who handled the animal when holding ended; ``None`` where nobody had to, or nobody is asked."""
    return None if not ended_by and disposal in OF_ITSELF else ended_by


def judge_persons(
    handlers: Iterable[str], *, allowed: Iterable[str], ended_by: Iterable[str] | None = None
) -> Finding:
    """Return whether only persons of the list handled the animal; names differ not by case or spaces.

    Where ``ended_by`` is given, ``handlers`` are those of the capture, and each end of the holding has to
    name somebody: one person's name at the one says nothing of who was there at the other.
    """
    listed = {_plain(name): name for name in allowed}
    taken, ended = ([n for text in texts for n in persons_in(text)] for texts in (handlers, ended_by or ()))
    names = list(dict.fromkeys([*taken, *ended]))
    if not names:
        return Finding(Verdict.MISSING, "recordedBy, who handled the animal, is empty")
    if not listed:
        return Finding(Verdict.MISSING, "the permit names nobody")
    others = [name for name in names if _plain(name) not in listed]
    if not others and ended_by is not None and not (taken and ended):
        end = "of the end of holding" if taken else "of the capture"
        words = f"recordedBy {end} is empty: who handled the animal then is not recorded"
        return Finding(Verdict.MISSING, words)
    if not others:
        return Finding(Verdict.MET, f"handled by {', '.join(names)}")
    return Finding(Verdict.NOT_MET, "; ".join(_stranger(name, listed) for name in others))


def _stranger(name: str, listed: dict[str, str]) -> str:
    near = [real for plain, real in listed.items() if _alike(_plain(name), plain)]
    hint = f" (nearly {' or '.join(near)}: correct the record if it is the same person)" if near else ""
    return f"handled by {name}, who is not among those named{hint}"


def _alike(one: str, other: str) -> bool:
    return SequenceMatcher(None, one, other).ratio() >= ALIKE


def _plain(name: str) -> str:
    """Return a name as it is compared: one form of each letter, no case, single spaces."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def judge_temperature(
    temperature_c: tuple[float, float] | None, *, min_c: float | None, max_c: float | None
) -> Finding:
    """Return whether the air temperature at release [°C], low and high, lies between the limits."""
    if temperature_c is None:
        return Finding(Verdict.MISSING, "the air temperature at release is not recorded", unit="°C")
    low, high = temperature_c
    if not (math.isfinite(low) and math.isfinite(high) and low <= high):
        reason = f"the air temperature is recorded as {low:g} to {high:g} °C, which is no range"
        return Finding(Verdict.MISSING, reason, unit="°C")
    value = Interval(low, high)
    limit = Limit(
        at_least=-math.inf if min_c is None else min_c,
        at_most=math.inf if max_c is None else max_c,
        tolerance=0.0,  # both are typed in decimals, so equal ones are equal
    )
    nearer = limit.at_least if low - limit.at_least <= limit.at_most - high else limit.at_most
    span = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    reason = f"the air temperature at release was {span} °C"
    return Finding(limit.judge(value), reason, value, nearer, limit.margin(value), "°C")
