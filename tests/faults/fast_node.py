"""A node that makes a row every few milliseconds and keeps each until it is confirmed."""

from __future__ import annotations

import threading
import time
from pathlib import Path

from firmware_bridge.firmware import frames
from firmware_bridge.links.pty_pair import PtyPair

BURST = 64
FIRST_EC = 1000
"""Row n conducts n hundredths of 1 uS/cm more than this."""


class FastNode:
    """Speaks the wire's language on a pseudo-terminal, as fast as asked, in a thread of its own.

    Row n carries n in its conductivity. `confirmed` is what the host said is safe.
    """

    def __init__(self, link: Path, every_s: float = 0.01, boot: int = 0x00010007) -> None:
        self.pair = PtyPair(link)
        self.boot = boot
        self.made = 0
        self.confirmed = 0
        self._every_s = every_s
        self._begun = time.monotonic()
        self._rows: dict[int, bytes] = {}
        self._parser = frames.Parser()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    def quiet(self) -> None:
        """Make no more rows; still answer."""
        self._every_s = float("inf")

    def close(self) -> None:
        """Switch off."""
        self._stop.set()
        self._thread.join(20)
        self.pair.close()

    def _live(self) -> None:
        due = time.monotonic()
        while not self._stop.wait(0.002):
            for frame in self._parser.feed(self.pair.read()):
                self._hear(frame)
            now = time.monotonic()
            made = 0
            while now >= due and made < BURST:
                self._make()
                due += self._every_s
                made += 1

    def _make(self) -> None:
        self.made += 1
        row = frames.Data(
            1, self.boot, self.made, self._uptime_ms(), 0,
            FIRST_EC + self.made, 21_000, 84_650, 20_000, self.made, 0,
        ).wire()  # fmt: skip
        self._rows[self.made] = row
        self.pair.write(row)

    def _hear(self, frame: frames.Frame) -> None:
        if frame.kind == frames.HELLO_ASK:
            oldest = min(self._rows, default=self.made + 1)
            hello = frames.Hello(
                1, self.boot, self._uptime_ms(), oldest, self.made, self.confirmed, "fast"
            )
            self.pair.write(hello.wire())
        elif isinstance(frame, frames.RowRange) and frame.kind == frames.RESEND:
            for seq in range(frame.first, frame.last + 1):
                if seq in self._rows:
                    self.pair.write(self._rows[seq])
        elif isinstance(frame, frames.Confirm) and frame.boot == self.boot:
            for seq in range(self.confirmed + 1, frame.seq + 1):
                self._rows.pop(seq, None)
            self.confirmed = max(self.confirmed, frame.seq)

    def _uptime_ms(self) -> int:
        return round((time.monotonic() - self._begun) * 1000)
