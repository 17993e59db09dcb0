"""The reference receiver as a process of its own, to be killed: python -m tests.receiving PORT FILE

It says "ready" once it is at work, and ends when its input does.
"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.receiver.receiver import Receiver, ReceiverPace
from tests.peers import PATIENCE_S

KEEN = ReceiverPace(look_s=0.02, gap_wait_s=0.3, ask_every_s=0.3)
"""Asks soon for what it misses, so that a test need not wait."""


class FarEnd:
    """The reference receiver in a process of its own, on a broker, with a file."""

    def __init__(self, port: int, path: Path) -> None:
        self.path = path
        self._command = [sys.executable, "-m", "tests.receiving", str(port), str(path)]
        self._process: subprocess.Popen[str] | None = None

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

    def numbers(self, site: str) -> list[int]:
        """The numbers of the rows in its file, each as often as it is there."""
        if not self.path.exists():
            return []
        with closing(sqlite3.connect(self.path, timeout=PATIENCE_S)) as file:
            found = file.execute(
                "SELECT seq FROM rows JOIN sites USING (site_no) WHERE site = ? ORDER BY seq",
                (site,),
            )
            return [seq for (seq,) in found]

    def _end(self, how: Callable[[subprocess.Popen[str]], None]) -> None:
        if self._process is not None:
            how(self._process)
            self._process.communicate(timeout=PATIENCE_S)
            self._process = None


@contextmanager
def far_end(port: int, path: Path) -> Iterator[FarEnd]:
    """A receiver on the broker at this port."""
    path.parent.mkdir(parents=True, exist_ok=True)
    found = FarEnd(port, path)
    found.start()
    try:
        yield found
    finally:
        found.kill()


def main() -> None:
    """Receive until the input ends."""
    port, path = int(sys.argv[1]), Path(sys.argv[2])
    with Receiver(MqttOptions(host="127.0.0.1", port=port), path, pace=KEEN):
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        sys.stdin.read()


if __name__ == "__main__":
    main()
