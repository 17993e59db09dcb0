"""Time as everything that waits or stamps sees it: the system's, or one that runs faster.

Whoever needs the time is given a Clock. One virtual clock can drive meters, pipeline, alarms and
page alike, so that a demonstration shows weeks in minutes. What happens on a wire (back-off,
batching, asking again) keeps real time.
"""

from __future__ import annotations

import asyncio
import ctypes
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import msgspec

SANE_FROM_MS = 1_735_689_600_000
"""2025-01-01: a system clock before this has not been set since the box started."""

SETTLED_MS = 600_000
"""A machine that has run this long has heard from the network, or will not."""
BEHIND_MS = 60_000
"""A clock may be so much behind the newest row: rows are dated by the least delay seen."""
NOT_FOLLOWING = 5
"""What adjtimex answers for a clock that follows no other (TIME_ERROR)."""
BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


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


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """What the record knows of the time when a clock is looked at first.

    `floor_ms` is the newest instant stored (0: none), `base_ms` + the machine's time since its
    start stands for the time while nobody knows it, `believed` that the clock was believed earlier
    in this start of the machine.
    """

    floor_ms: int
    base_ms: int
    believed: bool


class GatedClock:
    """A clock that is believed only with reason, and never for a time before what is stored.

    Believed is a time after 2025 that the network confirmed; or one not before the newest row, if
    this start of the machine was believed before, or nothing is stored, or the machine has had
    `SETTLED_MS` to hear from the network: a box without a battery begins where it was switched off
    and jumps forward when the network tells it the time. Until then time is what the record knows
    plus what has passed. Once believed it stays so; should the clock fall back before 2025, what
    has passed since counts on.
    """

    def __init__(
        self, clock: Clock, known: Known, confirmed: Callable[[], bool] = lambda: False
    ) -> None:
        self._clock = clock
        self._known = known
        self._confirmed = confirmed
        self._offset_ms: int | None = None
        self.guessing = False
        self._began_ms = clock.monotonic_ms()

    def now_ms(self) -> int:
        """The time if it is known, else the time since the newest row that is stored."""
        if not self.is_sane():
            return self._known.base_ms + self._clock.monotonic_ms()
        wall_ms = self._clock.now_ms()
        if wall_ms < SANE_FROM_MS:
            return (self._offset_ms or 0) + self._clock.monotonic_ms()
        self._offset_ms = wall_ms - self._clock.monotonic_ms()
        return wall_ms

    def monotonic_ms(self) -> int:
        return self._clock.monotonic_ms()

    def is_sane(self) -> bool:
        if self._offset_ms is None and self._to_be_believed():
            self._offset_ms = self._clock.now_ms() - self._clock.monotonic_ms()
        return self._offset_ms is not None

    def began_ms(self) -> int:
        """When this clock was looked at first, as far as the time is known now."""
        return self.now_ms() - self._clock.monotonic_ms() + self._began_ms

    @property
    def wall_offset_ms(self) -> int | None:
        """UTC minus this machine's time since its start; None while it is not known."""
        return self._offset_ms if self.is_sane() else None

    @property
    def speed(self) -> float:
        return self._clock.speed

    async def sleep(self, seconds: float) -> None:
        await self._clock.sleep(seconds)

    def _to_be_believed(self) -> bool:
        wall_ms = self._clock.now_ms()
        if wall_ms < SANE_FROM_MS:
            return False
        if self._confirmed():
            return True
        known = self._known
        settled = known.believed or not known.floor_ms
        settled = settled or self._clock.monotonic_ms() >= SETTLED_MS
        return settled and wall_ms >= known.floor_ms - BEHIND_MS


def confirmed_by_network() -> bool:
    """Whether the system says that its clock follows a better one (Linux: adjtimex)."""
    try:
        answer = int(ctypes.CDLL(None).adjtimex(ctypes.create_string_buffer(512)))
    except (AttributeError, OSError):
        return False
    return 0 <= answer < NOT_FOLLOWING


def name_of_start() -> str:
    """A name of this start of the machine; of this process, where the system gives none."""
    try:
        return BOOT_ID.read_text("ascii").strip()
    except OSError:
        return f"process {os.getpid()} {time.time_ns()}"


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
