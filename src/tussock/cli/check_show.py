"""A check at the spot in words: the answer first, then what is wrong, the hours, and what is left to do."""

from __future__ import annotations

from collections.abc import Iterator

from tussock.cli import show
from tussock.cli.printable import printable
from tussock.interval import Verdict
from tussock.maps.words import (
    clause_name,
    compass,
    limit_words,
    margin_words,
    metres,
    moment,
    position_words,
    reason_words,
    sentence,
    value_words,
    verdict_words,
)
from tussock.measure.judging import ClauseResult
from tussock.review.spot import SpotCheck
from tussock.review.spot_next import NextSite
from tussock.review.spot_questions import ANIMAL, Answer

_FAR_M = 1000.0
"""From so far on it is asked whether this is the right site (judgement)."""


def answer(check: SpotCheck) -> None:
    """Print a check on stdout."""
    show.data(printable("\n".join(lines(check))))


def lines(check: SpotCheck) -> Iterator[str]:
    """Yield a check line by line."""
    yield headline(check)
    yield _where(check)
    yield from (f"  - {words}" for words in _wrong(check))
    yield from _rules(check)
    yield from _hours(check)
    if check.to_do and check.verdict is not Verdict.NOT_MET:
        yield "To see to:"
        yield from (f"  - {clause_name(r.source, r.id)}: {sentence(r.text or r.words)}" for r in check.to_do)
    if check.after is not None:
        yield _next(check.after, check)
    yield from (sentence(words) for words in check.way_on)


def headline(check: SpotCheck) -> str:
    """Return the answer in one line."""
    match check.verdict:
        case Verdict.MET:
            return f"Release here: {counts(check)}."
        case Verdict.NOT_MET if check.spot.answers.get(ANIMAL) is Answer.NO:
            return "Do not release it: the animal is not alert and moving normally."
        case Verdict.NOT_MET:
            return f"Not here: {_first(check)}. {counts(check).capitalize()}."
        case Verdict.MISSING if check.stop:
            return f"STOP. {sentence(check.stop[0])}"
        case Verdict.MISSING:
            return f"Not settled: {_first(check)}. {counts(check).capitalize()}."
    return f"Not certain, you decide: {_first(check)}. {counts(check).capitalize()}."


def counts(check: SpotCheck) -> str:
    """Return how many clauses of the permits are met, attested, to be seen to and not checked."""
    met, attested, to_see_to, not_checked = check.counts
    return (
        f"{met} met by calculation, {attested} attested by you, {to_see_to} to see to, "
        f"{not_checked} not checked"
    )


def _first(check: SpotCheck) -> str:
    """Return what weighs most, in a few words."""
    worst = [r for r in check.against if r.verdict is check.verdict]
    worst.sort(key=lambda r: r.house)  # the permit before one's own rules
    asked = {(q.source, q.clause) for q in check.questions if q.clause}
    judged = [r for r in worst if (r.source, r.id) not in asked]
    if judged:
        alone = all(r.house for r in worst) and check.verdict is Verdict.NOT_MET
        beside = " (your own rule, not the permit's)" if alone else ""
        return f"{clause_name(judged[0].source, judged[0].id)} is {verdict_words(check.verdict)}{beside}"
    for given, words in ((Answer.NO, "you answered no to"), (Answer.UNCLEAR, "you cannot tell")):
        if check.answered(given):
            return f"{words} {check.answered(given)[0].key}"
    return f"{check.unanswered[0].key} is not answered" if check.unanswered else "see below"


def _where(check: SpotCheck) -> str:
    site, radius = check.site, check.spot.fix.radius_m
    place = f"the planned place of site {site.rank}"
    away = f"at {place}"
    if check.away_m >= 1:
        away = f"{metres(check.away_m)} {compass(check.bearing_deg + 180)} of {place}"
    head = f"You stand {away}, within {metres(radius)}"
    if check.in_disc:
        return f"{head}: inside the planned {metres(site.radius_m)}."
    far = " Is this the right site?" if check.away_m >= _FAR_M else ""
    place = "across the edge of" if check.near else "outside"
    return f"{head}: {place} the planned {metres(site.radius_m)}; judged where you stand.{far}"


def _wrong(check: SpotCheck) -> Iterator[str]:
    settled = check.verdict is Verdict.NOT_MET  # what was not asked any more is no news
    asked = {
        (q.source, q.clause) for q in check.questions if q.clause and (settled or q.key in check.answers)
    }
    yield from (_clause(r) for r in check.against if (r.source, r.id) not in asked)
    for given, words in ((Answer.NO, "no"), (Answer.UNCLEAR, "you cannot tell")):
        for q in check.answered(given):
            name = f"clause {q.clause}" if q.clause else q.key
            why = f" ({check.spot.why})" if given is Answer.NO and check.spot.why else ""
            yield f"{name}: {q.text} {words[0].upper()}{words[1:]}{why}."
    for r in check.results:  # advice never blocks, and is said
        if not r.mandatory and r.verdict in (Verdict.NOT_MET, Verdict.UNCERTAIN):
            yield f"advice only, {_clause(r)}"


def _rules(check: SpotCheck) -> Iterator[str]:
    """Yield how many of one's own rules are met: they are no law and are counted apart."""
    rules = [r for r in check.results if r.house and r.applies]
    if rules:
        met = sum(r.verdict is Verdict.MET for r in rules)
        unchecked = sum(r.verdict is None for r in rules)
        left = f", {unchecked} not checked" if unchecked else ""
        yield f"Of {len(rules)} house rules for it {met} are met{left}."


def _clause(r: ClauseResult) -> str:
    """Return a clause with what was measured, its limit and its margin."""
    reason = reason_words(r.reason) if r.verdict is not Verdict.NOT_MET or r.value is None else ""
    depth = r.unit == "h" and r.limit == 0  # into the allowed time: the margin says it
    said = ["" if depth else value_words(r), limit_words(r), margin_words(r), reason]
    detail = ", ".join(s for s in said if s)
    text = (r.text or r.words).rstrip(".")
    return (
        f"{clause_name(r.source, r.id)} {verdict_words(r.verdict)}: {detail or 'no more is known'} ({text})"
    )


def _hours(check: SpotCheck) -> Iterator[str]:
    if check.ends is None:
        return
    left = max(0.0, check.ends.instant.timestamp() - check.spot.now.timestamp())
    hours, minutes = divmod(int(left // 60), 60)
    by = f"clause {check.ends.clause}" if check.ends.clause else "the permit's version ends"
    span = f"{hours} h {minutes} min" if hours else f"{minutes} min"
    yield f"Time left: {span}, until {moment(check.ends.instant.isoformat())} ({by})."


def _next(site: NextSite, check: SpotCheck) -> str:
    head = "The planned place itself" if site.number == check.site.rank else f"Next: site {site.number}"
    hours = ""
    if site.release_from:
        hours = f", planned between {moment(site.release_from)} and {moment(site.release_to)}"
        hours += f", at the latest {moment(site.deadline)}" if site.deadline else ""
    where = position_words(site.longitude, site.latitude)
    return f"{head}: {metres(site.distance_m)} {compass(site.bearing_deg)} of here ({where}){hours}."
