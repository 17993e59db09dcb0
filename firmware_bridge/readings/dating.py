"""A node's uptime as an instant of UTC.

    instant = uptime + offset        offset: the least (receipt - uptime) of late, because a frame
                                     can come late but never early

The node's crystal drifts, so the least is taken over a window. The offset in use runs after it
slowly; a big jump forward (the host's clock was set) is taken at once, a big jump backward is
made good by letting time pass at half its pace. Instants of one boot never run backwards.

Delays arise on the wire, in real time: the window is real time too, and where the site's clock
runs faster (`Moment.pace`), what is no more than a delay looks that many times longer.
"""

from __future__ import annotations

from collections import deque

import msgspec

WINDOW_MS = 600_000
"""The least delay is sought over this much wire time."""
SLOT_MS = 30_000
SLEW = 500e-6
"""Usual correction: ms of offset a ms of uptime. Ten times what a poor crystal drifts."""
STEP_MS = 60_000
"""A difference beyond this (times the pace) is no drift: somebody set a clock."""


class Moment(msgspec.Struct, frozen=True, kw_only=True):
    """When something came in: UTC by the site's clock, whether it is believed, and wire time."""

    now_ms: int
    sane: bool = True
    wire_ms: int
    pace: float = 1.0


class Dating:
    """Turns the uptimes of one boot into instants. `offset_ms` may be known from an earlier run."""

    def __init__(self, offset_ms: float | None = None) -> None:
        self._least: deque[tuple[int, float]] = deque()  # (slot, least offset seen in it)
        self._offset = offset_ms
        self._known = offset_ms is not None
        self._dated_uptime = -1
        self._last_ms = -(2**62)
        self._sane = False
        self._step_ms = float(STEP_MS)
        self.steps = 0

    @property
    def offset_ms(self) -> float | None:
        """Instant minus uptime as used now; None before anything was received."""
        return self._offset

    @property
    def sure(self) -> bool:
        """Whether the host's clock was believed when frames of this boot came in."""
        return self._sane or self._known

    def received(self, uptime_ms: int, moment: Moment) -> None:
        """A frame with this uptime came in."""
        seen = float(moment.now_ms - uptime_ms)
        if moment.sane and not self._sane:
            self._sane = True
            self._least.clear()  # what was seen before the clock was set says nothing
        slot = moment.wire_ms // SLOT_MS
        self._step_ms = STEP_MS * max(moment.pace, 1.0)
        if self._least and slot <= self._least[-1][0]:
            newest, least = self._least[-1]
            self._least[-1] = (newest, min(least, seen))
        else:
            self._least.append((slot, seen))
        while self._least[0][0] < self._least[-1][0] - WINDOW_MS // SLOT_MS:
            self._least.popleft()
        if self._offset is None or (self._dated_uptime < 0 and not self._known):
            self._offset = self._target()

    def date(self, uptime_ms: int) -> int:
        """The instant of a row; rows must be asked for in the order they were made."""
        passed = max(uptime_ms - self._dated_uptime, 0) if self._dated_uptime >= 0 else 0
        self._dated_uptime = uptime_ms
        self._correct(passed)
        at_ms = round(uptime_ms + (self._offset or 0.0))
        self._last_ms = max(at_ms, self._last_ms)
        return self._last_ms

    def _correct(self, passed_ms: int) -> None:
        if not self._least or self._offset is None:
            return
        error = self._target() - self._offset
        if error > self._step_ms:
            self._offset += error
            self.steps += 1
        elif error < -STEP_MS:
            self._offset += max(error, -0.5 * passed_ms)
        else:
            most = SLEW * passed_ms
            self._offset += min(max(error, -most), most)

    def _target(self) -> float:
        return min(least for _, least in self._least)
