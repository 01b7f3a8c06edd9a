"""Numbers, units and verdicts as a person reads them; nothing here decides anything."""

from __future__ import annotations

import math
import re
from datetime import datetime

from tussock.interval import Interval, Verdict
from tussock.names import DANGERS, DISPOSALS, FOUND_IN, ORIGINS, OUTCOMES, STANDARD_LAYERS
from tussock.planning.record import HOUSE_RULE, ClauseResult

THIN = "\u202f"
"""Narrow space that does not break a line: groups thousands and stands before a unit."""
MINUS = "\u2212"
COARSE_M = 5.0
"""A distance uncertain by more than this [m, half-width] is written to 10 m: no false digits."""

VERDICT_WORDS = {
    Verdict.MET: "met",
    Verdict.UNCERTAIN: "uncertain",
    Verdict.NOT_MET: "not met",
    Verdict.MISSING: "missing",
}
REASON_WORDS = {
    "position": "positions are known only to within their radii",
    "grid": "read from cells, not exactly",
    "edge of data": "the data end within that distance",
    "layer": "the layer's own position error",
    "datum": "two datums had to be joined",
    "date": "what stood there on the day is not known",
    "assumed": "a stated default stands in for a missing value",
    "plane": "the map plane's scale",
}
_OWN = (*ORIGINS, *DANGERS, *FOUND_IN, *OUTCOMES, *DISPOSALS, *STANDARD_LAYERS)
_JOINED = re.compile(r"\b(" + "|".join(sorted(w for w in _OWN if "_" in w)) + r")\b")
COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")

INSIDE_KINDS = frozenset({"habitat_in", "within", "same_polygon_as_capture", "species_in_range"})
"""Kinds whose measure is a signed distance [m] to the edge of an allowed set, inside positive."""
MOST_KINDS = frozenset(
    {
        "max_distance_from_capture",
        "same_habitat_as_capture",
        "max_releases_near",
        "max_holding_hours",
        "no_barrier_between",
    }
)
"""Kinds whose limit is an upper one."""
BEYOND = "at or beyond the edge of the region"
"""What is said where the ground's data end before a measure does."""
THE_CLOCK = "the clock"
"""Stands where a clause's source stands, for what the clauses of the clock rule out together."""
NOT_FOR_A_RELEASE = frozenset({"return_due"})
UNSPARED_KINDS = frozenset({"no_barrier_between", *INSIDE_KINDS, "not_within"})
"""Kinds whose value in words says it all: a margin would repeat it."""


def grouped(value: float, digits: int = 0) -> str:
    """Return the number with thin spaces between thousands and a true minus.

    Examples
    --------
    >>> grouped(1240).replace(THIN, "~")
    '1~240'
    """
    text = f"{abs(value):,.{digits}f}".replace(",", THIN)
    return f"{MINUS}{text}" if value < 0 and float(f"{value:.{digits}f}") != 0 else text


def metres(value: float, *, spread: float = 0.0) -> str:
    """Return a distance with its unit, to 10 m when ``spread`` [m] exceeds ``COARSE_M``, else to 1 m."""
    if math.isinf(value):
        return "no known end"
    if spread <= COARSE_M:
        return f"{grouped(value)}{THIN}m"
    if abs(value) < 10:
        return f"under 10{THIN}m"
    return f"{grouped(10 * math.floor(value / 10 + 0.5))}{THIN}m"


def half_width(value: Interval | None) -> float:
    """Return half the interval's width, 0 for none and for one without an end."""
    if value is None or math.isinf(value.high) or math.isinf(value.low):
        return math.inf if value is not None else 0.0
    return (value.high - value.low) / 2


def outward(value: Interval) -> tuple[float, float]:
    """Return the ends [m] rounded outwards: to 10 m when the half-width exceeds ``COARSE_M``, else to 1 m."""
    step = 10.0 if half_width(value) > COARSE_M else 1.0
    low = step * math.floor(value.low / step + 1e-6) if math.isfinite(value.low) else value.low
    high = step * math.ceil(value.high / step - 1e-6) if math.isfinite(value.high) else value.high
    return low, high


def between(value: Interval, unit: str = "m") -> str:
    """Return an interval in words; never more than was measured.

    Examples
    --------
    >>> between(Interval(388.0, 452.0)).replace(THIN, "~")
    'between 380 and 460~m'
    >>> between(Interval(80.0, math.inf)).replace(THIN, "~")
    '80~m or more'
    """
    if unit == "m":
        low, high = outward(value)
        digits = 0
    else:
        low, high = value.low, value.high
        digits = 0 if unit == "" and low == int(low) else (2 if unit == "" else 1)
    suffix = f"{THIN}{unit}" if unit else ""
    if math.isinf(high):
        return f"{grouped(low, digits)}{suffix} or more" if math.isfinite(low) else "not known"
    if math.isinf(low):
        return f"at most {grouped(high, digits)}{suffix}"
    if grouped(low, digits) == grouped(high, digits):
        return f"{grouped(low, digits)}{suffix}"
    if low == 0 and unit == "m":
        return f"under {grouped(high, digits)}{suffix}"
    return f"between {grouped(low, digits)} and {grouped(high, digits)}{suffix}"


def hectares(low: float, high: float) -> str:
    """Return an area [ha] as ``low–high ha``, one figure where both read the same."""
    digits = 1 if high < 10 else 0
    a, b = grouped(low, digits), grouped(high, digits)
    return f"{a}{THIN}ha" if a == b else f"{a}–{b}{THIN}ha"


def compass(bearing: float) -> str:
    """Return the nearest of eight winds for a bearing [degrees from north]."""
    return COMPASS[int((bearing % 360) / 45 + 0.5) % 8]


def position_words(longitude: float, latitude: float) -> str:
    """Return ``latitude, longitude`` in degrees with six decimals, as people read and copy them."""
    return f"{latitude:.6f}, {longitude:.6f}"


def verdict_words(verdict: Verdict | None) -> str:
    """Return the verdict's word; ``not checked`` for none."""
    return "not checked" if verdict is None else VERDICT_WORDS[verdict]


def applies(clause: ClauseResult) -> bool:
    """Return whether the clause has a say here: it was judged, or stands open for the user."""
    return clause.verdict is not None or not (clause.reason or "").startswith("does not apply")


def to_confirm(clause: ClauseResult) -> bool:
    """Return whether the clause is left to the person: a clock, a record or an answer settles it."""
    open_one = clause.verdict is None and applies(clause) and clause.mandatory and not clause.house
    return open_one and clause.kind not in NOT_FOR_A_RELEASE


def clause_name(source: str, clause_id: str) -> str:
    """Return how a clause is called: ``3(b)`` of a permit, or the house rule's own name."""
    if source == HOUSE_RULE:
        return f"house rule, {clause_id.removeprefix('house:').strip()}"
    if source == THE_CLOCK:
        return f"the clock, {clause_id}"
    return f"clause {clause_id}"


def moment(text: str) -> str:
    """Return an ISO instant as date, clock time and offset; the text itself where it is none.

    Examples
    --------
    >>> moment("2026-11-21T18:10:00+11:00")
    '2026-11-21 18:10 (UTC+11:00)'
    """
    try:
        instant = datetime.fromisoformat(text)
    except ValueError:
        return text
    zone = f"{instant:%z}"
    return f"{instant:%Y-%m-%d %H:%M}" + (f" (UTC{zone[:3]}:{zone[3:5]})" if zone else "")


def plainly(text: str) -> str:
    """Return the text with the files' own words written as people write them: possible_escapee, two words.

    Examples
    --------
    >>> plainly("origin possible_escapee, file my_notes.csv")
    'origin possible escapee, file my_notes.csv'
    """
    return _JOINED.sub(lambda found: found[0].replace("_", " "), text)


def sentence(text: str) -> str:
    """Return the text with a capital first letter and a full stop, joined words parted."""
    text = plainly(text.strip())
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def reason_words(reason: str | None) -> str:
    """Return what made a value wide, as a sentence part; the reason itself where it is already words."""
    return REASON_WORDS.get(reason or "", reason or "")


def limit_words(clause: ClauseResult) -> str:
    """Return the clause's limit with its direction; empty where it has none to print."""
    if clause.limit is None or clause.limit == 0:
        return ""
    number = (
        metres(clause.limit) if clause.unit == "m" else f"{clause.limit:g}{THIN}{clause.unit}".strip(THIN)
    )
    return f"at most {number}" if clause.kind in MOST_KINDS else f"at least {number}"


def margin_words(clause: ClauseResult) -> str:
    """Return the margin in words: how much is to spare, or by how much it misses."""
    if clause.margin is None or clause.kind in UNSPARED_KINDS:
        return ""
    if math.isinf(clause.margin):
        return "no end to the margin" if clause.margin > 0 else "may miss by any amount"
    size = _size(clause, abs(clause.margin))
    if clause.margin >= -0.001:
        return f"{size} to spare"
    return f"misses by {size}" if clause.verdict is Verdict.NOT_MET else f"may miss by {size}"


def _size(clause: ClauseResult, amount: float) -> str:
    if clause.unit != "m":
        return f"{amount:.1f}{THIN}{clause.unit}" if clause.unit else f"{amount:g}"
    coarse = half_width(clause.value) > COARSE_M
    if coarse and amount < 10:
        return f"less than 10{THIN}m"
    return metres(10 * math.floor(amount / 10) if coarse else math.floor(amount + 1e-6))


def value_words(clause: ClauseResult) -> str:
    """Return what was measured for a clause, in words; empty where nothing was."""
    value = clause.value
    if value is None:
        return ""
    if clause.kind in INSIDE_KINDS and clause.unit == "m":
        return _side(value, inside="inside", outside="outside")
    if clause.kind == "no_barrier_between":
        return (
            "none" if value.high <= 0 else ("at least one" if value.low > 0 else "one touches the way there")
        )
    if clause.kind == "not_within" and clause.unit == "m":
        return _side(value, inside="clear of it", outside="inside it")
    return between(value, clause.unit)


def _side(value: Interval, *, inside: str, outside: str) -> str:
    if value.low >= 0:
        return f"{inside}, by at least {metres(outward(value)[0])}" if math.isfinite(value.low) else inside
    if value.high < 0:
        return (
            f"{outside}, by at least {metres(-outward(value)[1])}" if math.isfinite(value.high) else outside
        )
    if math.isinf(value.low) or math.isinf(value.high):
        return BEYOND
    return "on or near its edge"
