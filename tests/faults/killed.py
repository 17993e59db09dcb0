"""kill -9 of the real daemon at random moments, while a node sends rows on a pseudo-terminal."""

from __future__ import annotations

import random
import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

from firmware_bridge.store.database import Store
from tests.end_to_end.commands import running
from tests.faults.fast_node import FIRST_EC, FastNode
from tests.peers import eventually
from tests.stream_faults import Outcome

SITE = """
[site]
id = "harbour-steps"
name = "Harbour Steps"
[[line]]
id = "bar"
medium = "hydrogen"
capacity = "26000 dH*L"
k_factor = "100000 pulse/L"
probes = ["outlet", "inlet"]
start = "new"
[[meter]]
driver = "node-serial"
id = "node"
port = "{port}"
"""
STARTED_S = 180.0


def daemon_killed(folder: Path, times: int, seed: int = 3) -> Outcome:
    """The set of rows the node was told are safe against the set that is in the file at the end.

    A row in the file twice is one number of the node or of the site twice.
    """
    chance = random.Random(seed)
    folder.mkdir(parents=True)
    node = FastNode(folder / "tty")
    path, data = folder / "site.toml", folder / "harbour-steps.sqlite"
    path.write_text(SITE.format(port=node.pair.port))
    slowest = 0.0
    try:
        for _ in range(times):
            slowest = max(slowest, _killed_once(path, node, chance.uniform(0.0, 1.2)))
            with closing(sqlite3.connect(data)) as connection:
                assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        with running("run", str(path), "--no-page") as program:
            node.quiet()
            eventually("the rest", lambda: node.confirmed == node.made, 120)
            program.stop()
        safe = node.confirmed
    finally:
        node.close()
    numbers, rows = in_file(data)
    return Outcome(
        fault="daemon killed -9 while rows flow", times=times, rows=safe,
        lost=len(set(range(1, safe + 1)) - set(rows)),
        doubled=len(numbers) - len(set(numbers)) + len(rows) - len(set(rows)),
        recover_s=slowest, repeated=0,
    )  # fmt: skip


def _killed_once(path: Path, node: FastNode, after_s: float) -> float:
    """Start, let rows flow, kill; seconds from the start until rows were safe again."""
    before, began = node.confirmed, time.monotonic()
    with running("run", str(path), "--no-page") as program:
        eventually(f"rows: {program.text}", lambda: node.confirmed > before, STARTED_S)
        took = time.monotonic() - began
        time.sleep(after_s)
        program.process.send_signal(signal.SIGKILL)
        program.process.wait(20)
    return took


def in_file(data: Path) -> tuple[list[int], list[int]]:
    """The site's numbers in the file, and the node's numbers of the rows in it."""
    numbers: list[int] = []
    rows: list[int] = []
    with Store.open(data, site_id="harbour-steps") as store:
        after = 0
        while sent := store.outbox.read(after, 5000):
            after = sent[-1].seq
            numbers += [row.seq for row in sent]
            readings = [row.numbers for row in sent if row.kind == "reading"]
            rows += [round(values["outlet_us_cm"] * 100) - FIRST_EC for values in readings]
    return numbers, rows
