"""What is wrong with a node's line, in words, from how it behaves. It is told the time.

noise       bytes come, no frame among them            the pace is wrong
version     frames of another version                  an old program is on the node
silence     the port is open and nothing comes         supply, wires, another port
restarts    a new boot again and again                 supply
self test   the node says itself what is broken
"""

from __future__ import annotations

from collections import deque

import msgspec

NOISE_BYTES, NOISE_MS = 300, 2000
SILENT_MS = 15_000
STARTS, STARTS_MS = 4, 600_000
"""So many new starts within ten minutes are not a few power cuts."""


class Advice(msgspec.Struct, frozen=True):
    """What is wrong, and what to do about it."""

    said: str
    hint: str


NOISE = Advice(
    "bytes come in, but no frame is among them",
    "Check `baud` in the site file against the node's line setting, and that a node is on this "
    "port.",
)
VERSION = Advice(
    "the node speaks another version of the frames",
    "Copy the newest program to it: lastlitre firmware FOLDER.",
)
SILENCE = Advice(
    "the port is open, but nothing comes",
    "Check the node's supply, that TX goes to RX at both ends, and that `port` names its port.",
)
RESTARTS = Advice(
    "the node starts anew again and again",
    "Check its supply and its plug, and that the box is dry. No litre is lost.",
)
TEST_HINT = "Check that part and its cable; the page Wiring shows how it is joined."


class LineWatch:
    """Watches one line from opening to opening."""

    def __init__(self) -> None:
        self._opened_ms: int | None = None
        self._noise_ms: int | None = None
        self._noise_bytes = 0
        self._heard = False
        self._sound = 0
        self._other = 0
        self._versions = 0
        self._starts: deque[int] = deque(maxlen=STARTS)
        self._test = ""

    @property
    def unheard(self) -> bool:
        """Whether nothing has come since the line was opened."""
        return not self._heard

    def opened(self) -> None:
        """The line is open anew; the time is told with the next question."""
        self._opened_ms = self._noise_ms = None
        self._heard = False

    def heard(self, size: int, sound: int, other_version: int, wire_ms: int) -> None:
        """So many bytes came; so many sound frames and frames of another version in all."""
        self._heard = True
        if sound != self._sound:
            self._sound = sound
            self._noise_ms, self._noise_bytes, self._versions = None, 0, 0
            return
        if self._noise_ms is None:
            self._noise_ms, self._noise_bytes = wire_ms, 0
        self._noise_bytes += size
        self._versions += other_version - self._other
        self._other = other_version

    def started(self, wire_ms: int) -> None:
        """The node has started anew."""
        self._starts.append(wire_ms)

    def tested(self, failed: int, text: str) -> None:
        """The node has tested itself."""
        self._test = (text or "something failed") if failed else ""

    def advice(self, wire_ms: int) -> Advice | None:
        """The worst that is wrong now."""
        if self._opened_ms is None:
            self._opened_ms = wire_ms
        if self._versions > 1:
            return VERSION
        if self._noise_ms is not None and self._noise_bytes >= NOISE_BYTES:
            if wire_ms - self._noise_ms >= NOISE_MS:
                return NOISE
        elif not self._heard and wire_ms - self._opened_ms >= SILENT_MS:
            return SILENCE
        if len(self._starts) == STARTS and wire_ms - self._starts[0] <= STARTS_MS:
            return RESTARTS
        return Advice(f"the node's self test: {self._test}", TEST_HINT) if self._test else None
