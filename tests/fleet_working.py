"""An ingest worker as a process of its own, to be killed: python -m tests.fleet_working PORT URL

It says "ready" once it listens to the broker, and ends when its input does.
"""

from __future__ import annotations

import sys

from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.ingest.worker import Worker, WorkerPace
from firmware_bridge.fleet.records.engine import open_records
from firmware_bridge.forward.broker import MqttOptions
from tests.child import Child
from tests.peers import PATIENCE_S

KEEN = WorkerPace(
    wait_s=0.05, linger_s=0.02, look_s=0.1, gap_wait_s=0.3, ask_every_s=0.3, longest_wait_s=0.3,
    greet_s=0.1, greet_again_s=0.5,
)  # fmt: skip
"""Asks soon for what it misses, so that a test need not wait."""


def working(port: int, url: str) -> Child:
    """A worker in a process of its own, on a broker, with records."""
    return Child("tests.fleet_working", str(port), url)


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
