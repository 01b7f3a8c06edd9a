"""Text that a terminal shows and does not obey."""

from __future__ import annotations

import unicodedata

THIN = "\u202f"


def printable(text: str) -> str:
    """Return the text with control characters made visible and thin spaces made plain.

    Examples
    --------
    >>> printable("a\\x1b[31mb")
    'a\\ufffd[31mb'
    """
    return "".join(
        c if c in "\n\t" or unicodedata.category(c)[0] != "C" else _shown(c) for c in text.replace(THIN, " ")
    )


def _shown(char: str) -> str:
    return "" if char in "\u200b\ufeff\r" else "\ufffd"
