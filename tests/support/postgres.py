"""A PostgreSQL server of the tests' own, on a socket in a temporary folder; gone when they are."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.support.extracts import absent

_DEBIAN = Path("/usr/lib/postgresql")
_QUIET = "-c listen_addresses='' -c fsync=off -c shared_buffers=16MB -c max_connections=20"


def programs() -> Path:
    """Return the folder of the server's programs; skip without them, fail where CI is true."""
    on_path = shutil.which("initdb")
    found = [p.parent for p in sorted(_DEBIAN.glob("*/bin/initdb"))] + (
        [Path(on_path).parent] if on_path else []
    )
    return (
        found[-1] if found else absent("no PostgreSQL server here (Debian's package postgresql brings one)")
    )


@contextmanager
def server() -> Iterator[str]:
    """Run a server; give what its addresses end in. As root it runs as the package's user, as it must."""
    binaries = programs()
    root = os.geteuid() == 0
    with tempfile.TemporaryDirectory(prefix="pg") as name:  # short: a socket's path has at most 107 bytes
        if root:
            _give(Path(name))
        _run(root, binaries / "initdb", "-D", f"{name}/data", "-U", "postgres", "-A", "trust", "-E", "UTF8")
        control = (binaries / "pg_ctl", "-D", f"{name}/data", "-w")
        _run(root, *control, "-l", f"{name}/log", "-o", f"{_QUIET} -k {name}", "start")
        try:
            yield f"?host={name}"
        finally:
            _run(root, *control, "-m", "immediate", "stop")


def _give(folder: Path) -> None:
    try:
        user = pwd.getpwnam("postgres")
    except KeyError:
        absent("no user postgres here (Debian's package postgresql makes it)")
    os.chown(folder, user.pw_uid, user.pw_gid)


def _run(root: bool, *command: str | Path) -> None:
    subprocess.run(
        [str(c) for c in command],
        user="postgres" if root else None,
        group="postgres" if root else None,
        extra_groups=[] if root else None,
        cwd="/",
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        timeout=120,
    )
