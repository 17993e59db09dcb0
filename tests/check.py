"""The one command: format, lint, types, import rules, tests. `python -m tests.check`."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent

BY_FILE = ("--dist", "loadfile", "--no-loadscope-reorder")
"""A file's tests share what they set up, so they stay in one process; `conftest` puts the files
that take longest in front, so that no process waits for another at the end. Three processes on two
cores, as many tests wait for a broker, a browser or a pseudo-terminal."""

STEPS = (
    ("format", [str(BIN / "ruff"), "format", "--check", "."]),
    ("lint", [str(BIN / "ruff"), "check", "."]),
    ("types", [sys.executable, "-m", "mypy"]),
    ("import rules", [str(BIN / "lint-imports")]),
    (
        "tests",
        [sys.executable, "-m", "pytest", "-q", "--durations=15", "-n", "3", *BY_FILE],
    ),
)


def main() -> int:
    """Run every step; stop at the first that fails."""
    environment = dict(os.environ, PYTHONDONTWRITEBYTECODE="1")
    for name, command in STEPS:
        sys.stdout.write(f"== {name}\n")
        sys.stdout.flush()
        done = subprocess.run(command, cwd=ROOT, env=environment, check=False)
        if done.returncode:
            sys.stdout.write(f"== {name} failed\n")
            return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
