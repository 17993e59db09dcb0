"""The real MicroPython interpreter, and what a machine without one is told."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
ON_NODE = Path(__file__).parent / "on_node"
NOTHING_SKIPPED = "LASTLITRE_NOTHING_SKIPPED"
"""Set where a missing part is a failure: `.ci/test` sets it."""


def needed(name: str) -> str:
    """The path of a program of the test environment; without it the test fails, or is skipped on
    a developer's machine."""
    path = Path(sys.executable).parent / name
    if path.exists():
        return str(path)
    said = f"{name} is not installed: pip install -e '.[test]'"
    if os.environ.get(NOTHING_SKIPPED):
        pytest.fail(said)
    pytest.skip(said)


def micropython() -> str:
    """The interpreter."""
    return needed("micropython")
