"""A recording file as a link: its rows, one after the other, at the pace they were recorded.

Each row is put as one JSON line: [at_ms, outlet, outlet C, inlet, inlet C, pulses], null for no
reading, dated as if the recording had begun when the link was first opened.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Iterator
from pathlib import Path

import msgspec
import structlog

from analytics.errors import LinkError, RecordingError
from analytics.samples import CHANNELS, Rows
from firmware_bridge.clock import Clock
from firmware_bridge.links.asked import AskedLink
from firmware_bridge.recording import Recording, open_recording, read_rows

_log = structlog.get_logger(__name__)

LATE_MS = 200.0
"""Rows due within so much are put together."""


class PlayedLine(AskedLink):
    """A recording that plays. A fault in the file is said and tried again, as with any meter."""

    def __init__(self, path: Path, clock: Clock, speed: float) -> None:
        super().__init__(f"recording {path.name}")
        self._path = path
        self._clock = clock
        self._speed = speed
        self._recording: Recording | None = None
        self._rows: Iterator[Rows] = iter(())
        self._begun: tuple[int, int] | None = None
        self._over = False
        self._passed = 0  # rows of this opening
        self._played = 0  # rows ever put

    async def connect(self) -> None:
        """Open the file. What was played is not played again. Raises LinkError."""
        try:
            self._recording = await asyncio.to_thread(open_recording, self._path)
        except RecordingError as fault:
            raise LinkError(str(fault), fault.hint) from fault
        self._rows, self._passed = read_rows(self._recording), 0

    async def talk(self) -> None:
        """Put each row when it is due. At the end it is silent, as a meter that was taken away."""
        while not self._over:
            rows = await asyncio.to_thread(next, self._rows, None)
            if rows is None:
                self._over = True
                break
            await self._play(rows)
        _log.info("recording.over", file=str(self._path))
        await asyncio.Event().wait()

    def let_go(self) -> None:
        """Close the file."""
        if self._recording is not None and self._recording.raw is not None:
            self._recording.raw.close()
        self._recording = None

    async def _play(self, rows: Rows) -> None:
        first_place = min(max(self._played - self._passed, 0), len(rows))
        self._passed += first_place
        for place in range(first_place, len(rows)):
            recorded = int(rows.at_ms[place])
            if self._begun is None:
                self._begun = (self._clock.now_ms(), recorded)
            start, first = self._begun
            at_ms = start + (recorded - first) / self._speed
            early_ms = at_ms - self._clock.now_ms()
            if early_ms > LATE_MS:
                await self._clock.sleep(early_ms / 1000.0)
            self.post.put(msgspec.json.encode(_line(rows, place, round(at_ms))))
            self._passed += 1
            self._played = self._passed
            if place % 256 == 255:
                await asyncio.sleep(0)


def _line(rows: Rows, place: int, at_ms: int) -> list[float | int | None]:
    values = (float(getattr(rows, name)[place]) for name in CHANNELS)
    told = [None if math.isnan(value) else value for value in values]
    return [at_ms, *told, int(rows.pulses[place])]
