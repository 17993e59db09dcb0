"""Days of a virtual cafe through the running program: its memory stays what it was."""

from __future__ import annotations

from pathlib import Path

import msgspec
import psutil

from analytics.samples import DAY_MS
from firmware_bridge.store.reader import Reader
from tests.end_to_end.commands import running
from tests.peers import eventually

SPEED = 21_600.0
SETTLED_DAYS = 0.5
"""By then the pages are loaded and the first curves drawn; no hour is told apart at this speed."""
SAMPLES_A_DAY = 4
PATIENCE_S = 300.0


class Soaked(msgspec.Struct, frozen=True, kw_only=True):
    """Memory of the program over so many days, after it has settled: where it began and ended."""

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
    """Run the demonstration until it has settled, and then for so many of its days."""
    folder.mkdir(parents=True)
    with running("demo", "--port", "0", "--speed", str(SPEED), "--folder", str(folder)) as program:
        program.page()
        process = psutil.Process(program.process.pid)
        data = eventually("the file", lambda: list(folder.glob("*.sqlite")), 60)[0]
        reader = Reader(data)
        eventually("a beginning", lambda: _days(reader) >= SETTLED_DAYS, PATIENCE_S)
        sizes = []
        for n in range(round(days * SAMPLES_A_DAY)):
            due = SETTLED_DAYS + (n + 1) / SAMPLES_A_DAY
            eventually(f"day {due}", lambda due=due: _days(reader) >= due, PATIENCE_S)
            sizes.append(process.memory_info().rss / 2**20)
        lived, rows = _days(reader), reader.counters().get("rows", 0)
        reader.close()
        program.stop()
    part = max(len(sizes) // 5, 1)
    return Soaked(
        days=round(lived, 1),
        rows=rows,
        first_mib=sum(sizes[:part]) / part,
        last_mib=sum(sizes[-part:]) / part,
        most_mib=max(sizes),
    )


def _days(reader: Reader) -> float:
    """Days of the cafe that are in the file."""
    lines = reader.lines()
    span = reader.span(lines[0]) if lines else None
    return (span[1] - span[0]) / DAY_MS if span else 0.0
