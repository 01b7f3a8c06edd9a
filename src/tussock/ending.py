"""A request to end, Ctrl-C or a signal, that no library can lose.

Python makes it an exception wherever the program happens to be. Raised in a callback of a library it may be
swallowed there, and the work would go on to its end. So it is noted too, and raised once more where the work
hands something on.
"""

from __future__ import annotations

from collections.abc import Callable

Request = Callable[[], BaseException]
_noted: list[Request] = []


def note(request: Request) -> BaseException:
    """Note a request to end; return its exception, to be raised."""
    _noted[:] = [request]
    return request()


def forget() -> None:
    """Begin anew, without a request."""
    _noted.clear()


def heed() -> None:
    """Raise the request to end that was noted, where there is one."""
    if _noted:
        raise _noted[0]()
