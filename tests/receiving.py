"""The reference receiver as a process of its own, to be killed: python -m tests.receiving PORT FILE

It says "ready" once it is at work, and ends when its input does.
"""

from __future__ import annotations

import sqlite3
import sys
from contextlib import closing
from pathlib import Path

from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.receiver.receiver import Receiver, ReceiverPace
from tests.child import Child
from tests.peers import PATIENCE_S

KEEN = ReceiverPace(look_s=0.02, gap_wait_s=0.3, ask_every_s=0.3)
"""Asks soon for what it misses, so that a test need not wait."""


class FarEnd(Child):
    """The reference receiver in a process of its own, on a broker, with a file."""

    def __init__(self, port: int, path: Path) -> None:
        super().__init__("tests.receiving", str(port), str(path))
        self.path = path

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


def far_end(port: int, path: Path) -> FarEnd:
    """A receiver on the broker at this port."""
    path.parent.mkdir(parents=True, exist_ok=True)
    return FarEnd(port, path)


def main() -> None:
    """Receive until the input ends."""
    port, path = int(sys.argv[1]), Path(sys.argv[2])
    with Receiver(MqttOptions(host="127.0.0.1", port=port), path, pace=KEEN):
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        sys.stdin.read()


if __name__ == "__main__":
    main()
