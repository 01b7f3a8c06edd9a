"""One error root. Each error says what was found, where, what is allowed and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeVar


class TussockError(Exception):
    """Anything Tussock tells its user went wrong.

    Parameters
    ----------
    found
        What was found, as a sentence fragment.
    where
        File, row, clause or option.
    allowed
        What would have been accepted.
    fix
        What to do next.
    """

    exit_code = 3
    parts: tuple[TussockError, ...] = ()
    """The single faults, where it lists several."""

    def __init__(self, found: str, *, where: str = "", allowed: str = "", fix: str = "") -> None:
        self.found, self.where, self.allowed, self.fix = found, where, allowed, fix
        super().__init__(self._line())

    def text(self) -> str:
        """Return the message, on one line: where, found, allowed, fix. Of a list each fault has a line."""
        return str(self)

    def _line(self) -> str:
        """Return one line; empty parts are left out, and what steers a terminal is a space."""
        head = f"{self.where}: {self.found}" if self.where else self.found
        parts = [head.rstrip(".") + "."]
        if self.allowed:
            parts.append(f"Allowed: {self.allowed.rstrip('.')}.")
        if self.fix:
            parts.append(f"Do: {self.fix.rstrip('.')}.")
        return "".join(c if c.isprintable() else " " for c in " ".join(parts))


class InputError(TussockError, ValueError):
    """A file or table that cannot be used as it is (exit 3)."""

    exit_code = 3
    parts: tuple[InputError, ...] = ()


class UsageError(TussockError, ValueError):
    """A command line that cannot be carried out (exit 2)."""

    exit_code = 2


class MissingDataError(TussockError, LookupError):
    """Data that a mandatory clause needs and the region lacks (exit 4)."""

    exit_code = 4


_E = TypeVar("_E", bound=TussockError)


def together(faults: Sequence[_E], *, most: int = 20) -> _E:
    """Return one error for several faults, a line each; a single one as it is.

    Parameters
    ----------
    most
        How many are printed in full; the rest are counted.
    """
    if len(faults) == 1:
        return faults[0]
    head = f"{len(faults)} faults"
    lines = [head, *(f"  - {e.text()}" for e in faults[:most])]
    if len(faults) > most:
        lines.append(f"  - and {len(faults) - most} more.")
    whole = type(faults[0])(head)
    whole.parts, whole.args = tuple(faults), ("\n".join(lines),)
    return whole


@dataclass
class Faults:
    """Collects every fault of an input, so that all are reported at once."""

    items: list[InputError] = field(default_factory=list)

    def add(self, found: str, *, where: str = "", allowed: str = "", fix: str = "") -> None:
        """Note one fault."""
        self.items.append(InputError(found, where=where, allowed=allowed, fix=fix))

    def take(self, error: InputError) -> None:
        """Note a fault that was raised elsewhere; of a list of faults each."""
        self.items.extend(error.parts or (error,))

    def raise_if_any(self, *, most: int = 20) -> None:
        """Raise one InputError that lists the faults.

        Parameters
        ----------
        most
            How many are printed in full; the rest are counted.

        Raises
        ------
        InputError
            If any fault was noted.
        """
        if self.items:
            raise together(self.items, most=most)
