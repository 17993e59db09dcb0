"""What the running daemon takes: memory and share of a core at ten rows of six channels a second.

python -m tests.bench daemon         headless, and with the page asked and a broker followed
"""

from __future__ import annotations

import sys
import tempfile
import time
import urllib.request
from pathlib import Path

import psutil

from tests.end_to_end.commands import running
from tests.faults.fast_node import FastNode
from tests.faults.killed import SITE
from tests.peers import broker, eventually

HERTZ = 10.0
SETTLE_S = 8.0
SECONDS = 20.0
PAGE = """
[page]
port = 0
"""
SINK = """
[[sink]]
kind = "mqtt"
host = "127.0.0.1"
port = {port}
tls = false
"""


def taken(folder: Path, more: str, *options: str) -> dict[str, float]:
    """Memory in MiB (all, and what is its own) and % of a core of a daemon that is fed."""
    folder.mkdir(parents=True)
    node = FastNode(folder / "tty", 1.0 / HERTZ)
    path = folder / "site.toml"
    path.write_text(SITE.format(port=node.pair.port) + more)
    try:
        with running("run", str(path), *options) as program:
            eventually(f"rows: {program.text}", lambda: node.confirmed > 0, 60)
            if not options:
                _look_at(program.page())
            process = psutil.Process(program.process.pid)
            time.sleep(SETTLE_S)
            before, began = sum(process.cpu_times()[:2]), time.monotonic()
            time.sleep(SECONDS)
            share = (sum(process.cpu_times()[:2]) - before) / (time.monotonic() - began)
            memory = process.memory_full_info()
            threads = process.num_threads()
            program.stop()
    finally:
        node.close()
    return {
        "RSS, MiB": memory.rss / 2**20,
        "its own, MiB": memory.uss / 2**20,
        "% of a core": 100.0 * share,
        "threads": float(threads),
    }


def _look_at(page: str) -> None:
    for what in ("/now", "/history", "/metrics"):
        address = page.replace("/now", what)
        eventually(f"an answer of {address}", lambda address=address: _answers(address), 60)


def _answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(address, timeout=20) as answer:
            return bool(answer.read())
    except OSError:
        return False


def run() -> dict[str, float]:
    """Every figure by its name."""
    found: dict[str, float] = {}
    with tempfile.TemporaryDirectory(prefix="lastlitre-bench-") as scratch:
        place = Path(scratch)
        for name, value in taken(place / "alone", "", "--no-page").items():
            found[f"headless: {name}"] = value
        with broker(place / "broker") as post:
            more = PAGE + SINK.format(port=post.port)
            for name, value in taken(place / "page", more).items():
                found[f"page and MQTT: {name}"] = value
    return found


if __name__ == "__main__":
    for what, value in run().items():
        sys.stdout.write(f"{what:40} {value:8.1f}\n")
