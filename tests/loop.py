"""The one loop: format, lint, types, layers, tests. ``python tests/loop.py``; ``--fix`` mends what it can.

Words after ``--`` go to pytest: ``python tests/loop.py -- tests/measure -x``.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
CODE = ("src", "tests", "data-demo")


def main(arguments: list[str]) -> int:
    """Run every step, say which failed, and return how many did."""
    fix = "--fix" in arguments
    tests = arguments[arguments.index("--") + 1 :] if "--" in arguments else []
    steps: dict[str, list[str | Path]] = {
        "format": [BIN / "ruff", "format", *([] if fix else ["--check"]), *CODE],
        "lint": [BIN / "ruff", "check", *(["--fix"] if fix else []), *CODE],
        "types": [BIN / "mypy"],
        "layers": [BIN / "lint-imports"],
        "tests": [sys.executable, "-m", "pytest", "-n", "2", "--dist", "loadfile", *tests],
    }
    failed = [name for name, command in steps.items() if _failed(name, [str(c) for c in command])]
    print(f"failed: {', '.join(failed)}" if failed else "format, lint, types, layers and tests: all good")
    return len(failed)


def _failed(name: str, command: list[str]) -> bool:
    print(f"== {name}", flush=True)
    return subprocess.run(command, cwd=ROOT, check=False).returncode != 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
