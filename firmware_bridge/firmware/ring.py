"""Rows the host has not confirmed yet: kept in a ring, sent again oldest first and paced.

Runs on the node (MicroPython) and on the host (CPython).
"""

from firmware_bridge.firmware import frames

HOST_SILENT_MS = 60000
SLOW = 50
"""Old rows go out this many times slower while no host is heard."""
BURST = 16
"""At most so many old rows in one step."""


class Ring:
    """The newest rows, packed; a row's number says where it lies."""

    def __init__(self, rows: int) -> None:
        self.rows = rows
        self.newest = 0
        self._bytes = bytearray(rows * frames.DATA_SIZE)

    def oldest(self) -> int:
        """The lowest number still held (1 when nothing was put in)."""
        return max(1, self.newest - self.rows + 1)

    def put(self, body: bytes) -> None:
        """Keep the next row, over the oldest one when full."""
        self.newest += 1
        place = self.newest % self.rows * frames.DATA_SIZE
        self._bytes[place : place + frames.DATA_SIZE] = body

    def get(self, seq: int) -> bytes:
        """The row with this number, which must be held."""
        place = seq % self.rows * frames.DATA_SIZE
        return bytes(self._bytes[place : place + frames.DATA_SIZE])


class Resend:
    """Which old rows go out again, and when."""

    def __init__(self, ring: Ring) -> None:
        self._ring = ring
        self._asked_next = 1
        self._asked_last = 0
        self._place = 0
        self._until = 0
        self._last_ms = 0
        self._waiting_since = 0
        self.confirmed = 0
        self.heard_ms = -HOST_SILENT_MS

    def row_made(self, line_ms: int) -> None:
        """A new row waits for its confirmation."""
        if self.confirmed == self._ring.newest - 1:
            self._waiting_since = line_ms

    def confirm(self, seq: int, line_ms: int) -> None:
        """All up to this number is durable."""
        if self.confirmed < seq <= self._ring.newest:
            self.confirmed = seq
            self._waiting_since = line_ms

    def ask(self, first: int, last: int) -> None:
        """The host wants these rows again. A new wish takes the place of the one before."""
        self._asked_next = first
        self._asked_last = last

    def due(self, line_ms: int, after_ms: int, gap_ms: int) -> "list[int]":
        """Numbers of the old rows to send now."""
        silent = line_ms - self.heard_ms >= HOST_SILENT_MS
        gap = gap_ms * SLOW if silent else gap_ms
        allowed = min((line_ms - self._last_ms) // gap, BURST)
        found = []  # type: list[int]
        while len(found) < allowed:
            seq = self._next(line_ms, after_ms)
            if seq == 0:
                break
            found.append(seq)
        if found:
            self._last_ms = line_ms
        return found

    def _next(self, line_ms: int, after_ms: int) -> int:
        seq = max(self._asked_next, self._ring.oldest())
        if seq <= self._asked_last:
            self._asked_next = seq + 1
            return seq
        return self._next_unconfirmed(line_ms, after_ms)

    def _next_unconfirmed(self, line_ms: int, after_ms: int) -> int:
        first = max(self.confirmed + 1, self._ring.oldest())
        self._place = max(self._place, first)
        if self._place > self._until:
            if first > self._ring.newest or line_ms - self._waiting_since < after_ms:
                return 0
            self._place = first
            self._until = self._ring.newest
        self._place += 1
        if self._place > self._until:
            self._waiting_since = line_ms
        return self._place - 1
