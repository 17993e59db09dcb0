"""A program of the tests in a process of its own, to be killed.

It says "ready" once it is at work, and ends when its input does.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from typing import Self

from tests.peers import PATIENCE_S


class Child:
    """`python -m MODULE WORDS`; as `with Child(...)` it runs meanwhile and is killed at the end."""

    def __init__(self, module: str, *words: str) -> None:
        self._command = [sys.executable, "-m", module, *words]
        self._process: subprocess.Popen[str] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    def start(self) -> None:
        """Start and wait until it is at work."""
        self._process = subprocess.Popen(
            self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == "ready\n"

    def kill(self) -> None:
        """End it as a power cut would."""
        self._end(lambda process: process.kill())

    def stop(self) -> None:
        """Let it end by itself."""
        self._end(lambda process: None)

    def _end(self, how: Callable[[subprocess.Popen[str]], None]) -> None:
        if self._process is not None:
            how(self._process)
            self._process.communicate(timeout=PATIENCE_S)
            self._process = None
