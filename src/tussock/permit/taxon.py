"""Whether a name on a list covers an animal's name: genus covers species, species covers subspecies.

Names are compared as written; a synonym is another name, but a name that differs by a slip of the pen may
be the same one, and that cannot be told. Nothing here knows families or orders.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from difflib import SequenceMatcher
from functools import lru_cache

from tussock.names import ALIKE, COMMON_NAME_WORDS, UNKNOWN

_GENUS = re.compile(r"[A-Z][a-z]+(-[a-z]+)?")
_EPITHET = re.compile(r"[a-z]{2,}(-[a-z]+)*")
_OPEN_NOMENCLATURE = ("sp", "sp.", "spp", "spp.", "cf", "cf.", "aff", "aff.", "nr", "nr.")
_RANKS = ("ssp.", "subsp.", "var.")
_GENERA = {"python", "boa"}
"""Words of common names that are names of genera as well."""
_FAMILY_ENDINGS = ("idae", "inae", "oidea")


def name_parts(name: str) -> tuple[str, ...]:
    """Return genus, species and subspecies as far as the name goes; empty when it names none.

    Authorship after the name is left out; ``sp.``, ``cf.`` and the like end it.

    Examples
    --------
    >>> name_parts("Notechis scutatus (Peters, 1861)")
    ('Notechis', 'scutatus')
    >>> name_parts("Pseudonaja cf. textilis")
    ('Pseudonaja',)
    >>> name_parts("unknown")
    ()
    >>> name_parts("Eastern brown snake")
    ()
    """
    words = [w for w in name.split() if w not in _RANKS]
    if not words or not _GENUS.fullmatch(words[0]) or words[0].lower() == UNKNOWN:
        return ()
    if words[0].endswith(_FAMILY_ENDINGS) or _is_common(words):
        return ()
    parts = words[:1]
    for word in words[1:3]:
        if word in _OPEN_NOMENCLATURE or not _EPITHET.fullmatch(word):
            break
        parts.append(word)
    return tuple(parts)


def _is_common(words: Sequence[str]) -> bool:
    """Return whether a word is one of a common name; a first word that is a genus too passes."""
    plain = [w.lower().removesuffix("s") for w in words]
    return not COMMON_NAME_WORDS.isdisjoint(plain[1:]) or plain[0] in COMMON_NAME_WORDS - _GENERA


@lru_cache(maxsize=4096)
def covers(listed: str, name: str) -> bool | None:
    """Return whether a listed name covers an animal's name; ``None`` when that cannot be told.

    Examples
    --------
    >>> covers("Morelia spilota", "Morelia spilota imbricata")
    True
    >>> covers("Morelia spilota imbricata", "Morelia spilota") is None
    True
    >>> covers("Notechis spp.", "Pseudonaja textilis")
    False
    >>> covers("Vipera berus", "Vipera brus") is None
    True
    """
    wide, narrow = name_parts(listed), name_parts(name)
    if not wide or not narrow:
        return None
    shared = min(len(wide), len(narrow))
    if wide[:shared] != narrow[:shared]:
        return None if _alike(" ".join(wide[:shared]), " ".join(narrow[:shared])) else False
    return True if len(wide) <= len(narrow) else None


def _alike(one: str, other: str) -> bool:
    return SequenceMatcher(None, one.lower(), other.lower()).ratio() >= ALIKE


def any_covers(listed: Iterable[str], name: str) -> bool | None:
    """Return whether any of the listed names covers the animal's; ``None`` when that cannot be told."""
    answers = [covers(one, name) for one in listed]
    if True in answers:
        return True
    return None if None in answers or not name_parts(name) else False
