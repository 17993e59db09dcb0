"""The program as its user runs it: the command in a process of its own."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.peers import eventually

COMMAND = Path(sys.executable).parent / "lastlitre"


class Program:
    """A running command; what it says is gathered line by line."""

    def __init__(self, *arguments: str, environment: dict[str, str] | None = None) -> None:
        self.process = subprocess.Popen(
            [str(COMMAND), *arguments],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=dict(os.environ, PYTHONUNBUFFERED="1", **(environment or {})),
        )
        self.said: list[str] = []
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line.rstrip("\n"))

    def listened(self) -> None:
        """Wait until all that was said is gathered."""
        self._listener.join(20)

    @property
    def text(self) -> str:
        """Everything it has said."""
        return "\n".join(self.said)

    def page(self) -> str:
        """The address of its page, once it has named it."""
        found = eventually(
            f"the page's address in: {self.text}",
            lambda: re.search(r"http://[\d.]+:\d+/now", self.text),
        )
        return str(found.group())

    def stop(self, number: int = signal.SIGTERM) -> int:
        """Send a signal and wait for the end; the exit code."""
        self.process.send_signal(number)
        code = self.process.wait(20)
        self.listened()
        return code


@contextmanager
def running(*arguments: str, environment: dict[str, str] | None = None) -> Iterator[Program]:
    """A command that is killed at the latest when the block ends."""
    program = Program(*arguments, environment=environment)
    try:
        yield program
    finally:
        if program.process.poll() is None:
            program.process.kill()
            program.process.wait(20)
        if program.process.stdout is not None:
            program.listened()
            program.process.stdout.close()


def once(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a command to its end."""
    return subprocess.run(
        [str(COMMAND), *arguments], capture_output=True, text=True, timeout=60, check=False
    )
