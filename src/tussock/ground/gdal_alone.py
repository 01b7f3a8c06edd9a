"""pyogrio, imported without the table libraries that it looks for and that reading into arrays never uses.

pyogrio imports geopandas and pandas only to see whether and in which version they are there: a quarter of a
second of a command that takes one. Stand-ins answer that; who asks them for more gets the real library.
"""

from __future__ import annotations

import importlib
import sys
from importlib.metadata import PackageNotFoundError, version
from types import ModuleType
from typing import Any

_LOOKED_FOR = ("geopandas", "pandas")


class _Later(ModuleType):
    """A library that is there, and is imported when somebody uses it."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):  # asked by the import system itself
            raise AttributeError(name)
        _taken_away(self)
        return getattr(importlib.import_module(self.__name__), name)


def _stand_in(name: str) -> _Later | None:
    """Return a stand-in put in a library's place; ``None`` where it is imported already, or not there."""
    if name in sys.modules:
        return None
    made = _Later(name)
    try:
        made.__dict__["__version__"] = version(name)
    except PackageNotFoundError:
        return None
    sys.modules[name] = made
    return made


def _taken_away(made: _Later) -> None:
    if sys.modules.get(made.__name__) is made:
        del sys.modules[made.__name__]


def _import_pyogrio() -> None:
    made = [_stand_in(name) for name in _LOOKED_FOR]
    try:
        importlib.import_module("pyogrio.raw")
    finally:
        for one in made:
            if one is not None:
                _taken_away(one)


_import_pyogrio()
