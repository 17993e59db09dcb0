"""The virtual café: a node's real logic on virtual meters, at any speed.

What happens depends on the seed and on virtual time alone; how fast the clock runs and when the
host reads changes nothing about a row, only when it is sent.
"""

from __future__ import annotations

import asyncio
import time
from typing import Any

import numpy as np

from analytics.samples import MINUTE_MS, Flag, Rows, rows_of
from firmware_bridge.clock import Clock
from firmware_bridge.firmware import frames, node
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.virtual.bed import SCurveBed, VirtualBed
from firmware_bridge.virtual.parts import Parts
from firmware_bridge.virtual.plumbing import Plumbing, Truth
from firmware_bridge.virtual.surroundings import Surroundings
from firmware_bridge.virtual.week import OPENING, Week

RING_ROWS = 16_384
FIRST_LOOK_MS = 2000
"""So long after a draw began the node looks at its counter."""
LOOK_EVERY_MS = 10_000
AT_ONCE = 2000
"""At most so many looks before others get their turn."""
LEAST_PAUSE_S, MOST_PAUSE_S = 0.004, 0.05


class VirtualCafe:
    """One café with one head, one node and, from `start_ms` on, a life of its own."""

    def __init__(
        self,
        *,
        start_ms: int,
        seed: int = 1,
        bed: VirtualBed | None = None,
        raw_ec25_us_cm: float = 720.0,
        pulses_per_l: float = 1000.0,
        inlet_probe: bool = True,
        busy: float = 1.0,
        opening: tuple[tuple[int, int], ...] = OPENING,
        utc_offset_ms: int = 0,
    ) -> None:
        week = Week(seed, busy=busy, opening=opening, utc_offset_ms=utc_offset_ms)
        self.plumbing = Plumbing(
            bed or SCurveBed(), week, Surroundings(seed), start_ms, raw_ec25_us_cm
        )
        self.parts = Parts(self.plumbing, seed, pulses_per_l, inlet_probe)
        self._start_ms = start_ms
        self._look_ms = start_ms
        self.node = node.Node(
            self.parts.conductivity,
            self.parts.thermometer,
            self.parts,
            self.parts,
            seed,
            RING_ROWS,
            "virtual cafe",
        )
        # when the host starts must not change what happens in the cafe; the line is a fast one
        for key, value in (("row-for-hello", "0"), ("resend-gap-ms", "1")):
            self.node.receive(frames.Setup(frames.SETUP, 0, 0, key, value).wire(), 0)

    def truth(self) -> Truth:
        """What is really so now."""
        return self.plumbing.truth()

    def fit_cartridge(self, bed: VirtualBed) -> None:
        """Somebody puts a new cartridge in."""
        self.plumbing.fit_cartridge(bed)

    @property
    def waiting_rows(self) -> int:
        """Rows the node has made that are not on the host's disk yet."""
        return int(self.node.newest() - self.node.confirmed())

    @property
    def next_ms(self) -> int:
        """When the node looks at its meters next."""
        due = self._start_ms + self.node.next_row_ms()
        draw = self.plumbing.draw
        if self._look_ms < draw.start_ms:
            look = min(draw.start_ms + FIRST_LOOK_MS, draw.stop_ms)
        else:
            look = min(self._look_ms + LOOK_EVERY_MS, draw.stop_ms)
        return max(min(due, look), self._look_ms)

    def look(self, line_ms: int) -> bytes:
        """The node's next look: what it sends."""
        self._look_ms = self.next_ms
        self.plumbing.advance(self._look_ms)
        return self.node.step(self._look_ms - self._start_ms, line_ms)

    async def run(self, pair: PtyPair, clock: Clock) -> None:
        """Live along with a clock, on one end of a cable, until cancelled."""
        then_ms, then_s = clock.now_ms(), time.monotonic()
        while True:
            line_ms = int(time.monotonic() * 1000)
            self.node.receive(pair.read(), line_ms)
            now_ms = clock.now_ms()
            behind = self._catch_up(pair, now_ms, line_ms)
            pair.write(self.node.serve(line_ms))
            now_s = time.monotonic()
            pace = (now_ms - then_ms) / max(now_s - then_s, 1e-6)
            then_ms, then_s = now_ms, now_s
            pause = 0.0 if behind else (self.next_ms - now_ms) / max(pace, 1.0)
            await asyncio.sleep(min(max(pause, LEAST_PAUSE_S), MOST_PAUSE_S))

    def _catch_up(self, pair: PtyPair, now_ms: int, line_ms: int) -> bool:
        """Live up to now; whether there is more to live through."""
        for _ in range(AT_ONCE):
            if self.next_ms > now_ms:
                return False
            pair.write(self.look(line_ms))
        return True


def rows_of_life(*, days: float, **cafe: Any) -> Rows:
    """The rows that a café's node makes in so many days, with no wire in between.

    `cafe` are the arguments of VirtualCafe. The first row is the base of the pulse count.
    """
    life = VirtualCafe(**cafe)
    start_ms: int = cafe["start_ms"]
    stop_ms = start_ms + round(days * 24 * 60 * MINUTE_MS)
    parser = frames.Parser()
    found: list[frames.Data] = []
    while life.next_ms <= stop_ms:
        for frame in parser.feed(life.look(0)):
            if isinstance(frame, frames.Data):
                life.node.receive(frames.Confirm(0, frame.boot, frame.seq).wire(), 0)
                found.append(frame)
    return _rows(found, start_ms)


def _rows(found: list[frames.Data], start_ms: int) -> Rows:
    if not found:
        return rows_of([])
    counts = np.array([row.pulses_1 for row in found], dtype=np.int64)
    return Rows(
        at_ms=np.array([start_ms + row.uptime_ms for row in found], dtype=np.int64),
        outlet_us_cm=_channel(found, frames.OUTLET_EC, [r.outlet_ec for r in found], 0.01),
        outlet_temp_c=_channel(found, frames.OUTLET_TEMP, [r.outlet_temp for r in found], 0.001),
        inlet_us_cm=_channel(found, frames.INLET_EC, [r.inlet_ec for r in found], 0.01),
        inlet_temp_c=_channel(found, frames.INLET_TEMP, [r.inlet_temp for r in found], 0.001),
        pulses=np.diff(counts, prepend=counts[:1]) % 2**32,
        flags=np.full(len(found), int(Flag.SIMULATED), dtype=np.int64),
    )


def _channel(found: list[frames.Data], channel: int, raw: list[int], scale: float) -> Any:
    values = np.array(raw, dtype=np.float64) * scale
    states = np.array([frames.channel_status(row.status, channel) for row in found])
    return np.where(states == frames.NO_READING, np.nan, values)
