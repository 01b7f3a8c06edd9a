"""One error root. Each error says what was found, where, what is allowed and what to do."""

from __future__ import annotations

from dataclasses import dataclass, field


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
    parts: tuple[InputError, ...] = ()
    """The single faults, where it lists several."""

    def __init__(self, found: str, *, where: str = "", allowed: str = "", fix: str = "") -> None:
        self.found, self.where, self.allowed, self.fix = found, where, allowed, fix
        super().__init__(self.text())

    def text(self) -> str:
        """Return the message: where, found, allowed, fix; empty parts and control characters left out."""
        head = f"{self.where}: {self.found}" if self.where else self.found
        parts = [head.rstrip(".") + "."]
        if self.allowed:
            parts.append(f"Allowed: {self.allowed.rstrip('.')}.")
        if self.fix:
            parts.append(f"Do: {self.fix.rstrip('.')}.")
        return "".join(c if c.isprintable() or c == "\n" else " " for c in " ".join(parts))


class InputError(TussockError, ValueError):
    """A file or table that cannot be used as it is (exit 3)."""

    exit_code = 3


class UsageError(TussockError, ValueError):
    """A command line that cannot be carried out (exit 2)."""

    exit_code = 2


class MissingDataError(TussockError, LookupError):
    """Data that a mandatory clause needs and the region lacks (exit 4)."""

    exit_code = 4


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
        if not self.items:
            return
        if len(self.items) == 1:
            raise self.items[0]
        lines = [f"{len(self.items)} faults"] + [f"  - {e.text()}" for e in self.items[:most]]
        if len(self.items) > most:
            lines.append(f"  - and {len(self.items) - most} more")
        together = InputError("\n".join(lines))
        together.parts = tuple(self.items)
        raise together
