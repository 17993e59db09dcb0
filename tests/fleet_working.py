"""An ingest worker as a process of its own, to be killed: python -m tests.fleet_working PORT URL

It says "ready" once it listens to the broker, and ends when its input does.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.ingest.worker import Worker, WorkerPace
from firmware_bridge.fleet.records.engine import open_records
from firmware_bridge.forward.broker import MqttOptions
from tests.peers import PATIENCE_S

KEEN = WorkerPace(
    wait_s=0.05, linger_s=0.02, look_s=0.1, gap_wait_s=0.3, ask_every_s=0.3, longest_wait_s=0.3,
    greet_s=0.1, greet_again_s=0.5,
)  # fmt: skip
"""Asks soon for what it misses, so that a test need not wait."""


class Working:
    """A worker in a process of its own, on a broker, with records."""

    def __init__(self, port: int, url: str) -> None:
        self._command = [sys.executable, "-m", "tests.fleet_working", str(port), url]
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

    def _end(self, how: Callable[[subprocess.Popen[str]], None]) -> None:
        if self._process is not None:
            how(self._process)
            self._process.communicate(timeout=PATIENCE_S)
            self._process = None


@contextmanager
def working(port: int, url: str) -> Iterator[Working]:
    """A worker on the broker at this port."""
    found = Working(port, url)
    found.start()
    try:
        yield found
    finally:
        found.kill()


def main() -> None:
    """Work until the input ends."""
    port, url = int(sys.argv[1]), sys.argv[2]
    options = MqttOptions(host="127.0.0.1", port=port, answer_s=5.0)
    with open_records(url) as records:
        keeper = Keeper(records, options.topic_prefix, adopt_newcomers=True)
        with Worker(records, options, "tests", keeper, pace=KEEN) as worker:
            worker.connected.wait(PATIENCE_S)
            sys.stdout.write("ready\n")
            sys.stdout.flush()
            sys.stdin.read()


if __name__ == "__main__":
    main()
