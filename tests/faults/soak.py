"""Days of a virtual cafe through the running program: its memory stays what it was."""

from __future__ import annotations

import time
from pathlib import Path

import msgspec
import psutil

from firmware_bridge.store.reader import Reader
from tests.end_to_end.commands import running
from tests.peers import eventually

SPEED = 21_600.0
DAY_S = 86_400.0 / SPEED
SETTLED_DAYS = 2.0
SAMPLES_A_DAY = 4


class Soaked(msgspec.Struct, frozen=True, kw_only=True):
    """Memory of the program over so many days, from the second on: where it began and ended."""

    days: float
    rows: int
    first_mib: float
    last_mib: float
    most_mib: float

    @property
    def grown(self) -> float:
        """By which share it grew."""
        return self.last_mib / self.first_mib - 1.0


def soaked(folder: Path, days: float) -> Soaked:
    """Run the demonstration for so many of its days."""
    folder.mkdir(parents=True)
    with running("demo", "--port", "0", "--speed", str(SPEED), "--folder", str(folder)) as program:
        program.page()
        process = psutil.Process(program.process.pid)
        data = eventually("the file", lambda: list(folder.glob("*.sqlite")), 60)[0]
        time.sleep(SETTLED_DAYS * DAY_S)
        sizes = []
        for _ in range(round((days - SETTLED_DAYS) * SAMPLES_A_DAY)):
            time.sleep(DAY_S / SAMPLES_A_DAY)
            sizes.append(process.memory_info().rss / 2**20)
        reader = Reader(data)
        span = reader.span(reader.lines()[0]) or (0, 0)
        rows = reader.counters().get("rows", 0)
        reader.close()
        program.stop()
    part = max(len(sizes) // 5, 1)
    return Soaked(
        days=round((span[1] - span[0]) / 86_400_000, 1),
        rows=rows,
        first_mib=sum(sizes[:part]) / part,
        last_mib=sum(sizes[-part:]) / part,
        most_mib=max(sizes),
    )
