"""Time as everything that waits or stamps sees it: the system's, or one that runs faster.

Whoever needs the time is given a Clock. One virtual clock can drive meters, pipeline, alarms and
page alike, so that a demonstration shows weeks in minutes. What happens on a wire (back-off,
batching, asking again) keeps real time.
"""

from __future__ import annotations

import asyncio
import time
from typing import Protocol

SANE_FROM_MS = 1_735_689_600_000
"""2025-01-01: a system clock before this has not been set since the box started."""


class Clock(Protocol):
    """The time, and waiting."""

    def now_ms(self) -> int:
        """Milliseconds of UTC since 1970."""
        ...

    def monotonic_ms(self) -> int:
        """Milliseconds that never jump and never run backwards, from any zero."""
        ...

    def is_sane(self) -> bool:
        """Whether `now_ms` can be believed."""
        ...

    @property
    def speed(self) -> float:
        """Seconds of this clock to a real second."""
        ...

    async def sleep(self, seconds: float) -> None:
        """Wait this long by this clock."""
        ...


class SystemClock:
    """The time of this machine."""

    def now_ms(self) -> int:
        return time.time_ns() // 1_000_000

    def monotonic_ms(self) -> int:
        return time.monotonic_ns() // 1_000_000

    def is_sane(self) -> bool:
        return self.now_ms() >= SANE_FROM_MS

    @property
    def speed(self) -> float:
        return 1.0

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(max(seconds, 0.0))


class VirtualClock:
    """A clock that starts at `start_ms` and runs `speed` times as fast as real time.

    `speed` may be changed while it runs; 0 stands still, and only `advance` moves it then.
    """

    def __init__(self, start_ms: int, speed: float = 1.0) -> None:
        self._start_ms = start_ms
        self._base_ms = float(start_ms)
        self._since = time.monotonic()
        self._speed = speed

    @property
    def speed(self) -> float:
        """Virtual seconds to a real second."""
        return self._speed

    @speed.setter
    def speed(self, speed: float) -> None:
        self._base_ms = self._exact_ms()
        self._since = time.monotonic()
        self._speed = speed

    def advance(self, ms: float) -> None:
        """Jump forward."""
        if ms < 0:
            raise ValueError("a clock cannot be turned back")
        self._base_ms += ms

    def now_ms(self) -> int:
        return int(self._exact_ms())

    def monotonic_ms(self) -> int:
        return int(self._exact_ms()) - self._start_ms

    def is_sane(self) -> bool:
        return True

    async def sleep(self, seconds: float) -> None:
        """Wait until this much virtual time has passed, also when speed changes meanwhile."""
        until = self._exact_ms() + seconds * 1000.0
        while True:
            left_ms = until - self._exact_ms()
            if left_ms <= 0:
                await asyncio.sleep(0)
                return
            real_s = left_ms / 1000.0 / self._speed if self._speed > 0 else 0.05
            await asyncio.sleep(min(max(real_s, 0.001), 0.25))

    def _exact_ms(self) -> float:
        return self._base_ms + (time.monotonic() - self._since) * 1000.0 * self._speed
