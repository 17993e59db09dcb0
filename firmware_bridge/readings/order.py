"""Rows of one boot in the order they were made: doubles dropped, gaps asked for or given up."""

from __future__ import annotations

from firmware_bridge.firmware.frames import Data

ASK_EVERY_MS = 1000
ASK_ROWS = 512
TRIES = 20
"""A gap is asked for so often, the node being heard but not answering, before it is given up."""
LEAP = 1_000_000
"""A number so far ahead is believed when the next one agrees."""


class Order:
    """The rows of one boot. `next_seq` is the number that is handed out next."""

    def __init__(self, next_seq: int = 1) -> None:
        self.next_seq = next_seq
        self.newest = next_seq - 1
        self.doubled = 0
        self.lost = 0
        self.asked = 0
        self._held: dict[int, Data] = {}
        self._gone: list[tuple[int, int]] = []
        self._leapt: int | None = None
        self._asked_ms = -(2**62)
        self._tries = 0

    def begin(self, oldest: int) -> None:
        """Nothing before this number is waited for: it was made before anybody listened."""
        first = min(self._held, default=oldest)
        self.next_seq = max(self.next_seq, min(first, oldest))
        self.newest = max(self.newest, self.next_seq - 1)

    def add(self, row: Data, wire_ms: int) -> bool:
        """A row came in; whether it is a new one."""
        seq = row.seq
        if seq < self.next_seq or seq in self._held:
            self.doubled += 1
            return False
        if seq > self.newest + LEAP and not self._agrees(seq):
            return False
        if seq < self.newest:  # a gap is being filled: let it go on
            self._tries = 0
            self._asked_ms = wire_ms
        self._held[seq] = row
        self.newest = max(self.newest, seq)
        return True

    def gone(self, first: int, last: int) -> None:
        """The node does not hold these rows any more."""
        if first <= last and last >= self.next_seq and (first, last) not in self._gone:
            self._gone.append((first, last))

    def holds_up_to(self, newest: int) -> None:
        """The node has made rows up to this number."""
        if newest <= self.newest + LEAP:
            self.newest = max(self.newest, newest)

    def ready(self) -> list[Data]:
        """Rows whose turn it is, in order; each is handed out once."""
        out: list[Data] = []
        while True:
            row = self._held.pop(self.next_seq, None)
            if row is not None:
                out.append(row)
                self.next_seq += 1
            elif not self._pass_over_gone():
                break
        if out:
            self._tries = 0
        return out

    def wish(self, wire_ms: int, *, alive: bool) -> tuple[int, int] | None:
        """The rows to ask for now, first and last, or None.

        `alive`: the node was heard since the last wish. A gap that a living node leaves unanswered
        is given up at last.
        """
        gap = self._gap()
        if gap is None:
            self._tries = 0
            return None
        if wire_ms - self._asked_ms < ASK_EVERY_MS:
            return None
        if self._tries >= TRIES:
            self._tries = 0
            self.gone(*gap)
            return None
        self._tries += alive
        self.asked += 1
        self._asked_ms = wire_ms
        return gap[0], min(gap[1], gap[0] + ASK_ROWS - 1)

    def close(self) -> list[Data]:
        """The boot is over: what is held, in order; what is missing will not come."""
        out = self.ready()
        for seq in sorted(self._held):
            self.lost += seq - self.next_seq
            self.next_seq = seq + 1
            out.append(self._held[seq])
        self._held.clear()
        return out

    def _gap(self) -> tuple[int, int] | None:
        if self.next_seq > self.newest or self.next_seq in self._held:
            return None
        last = min(self._held) - 1 if self._held else self.newest
        return self.next_seq, last

    def _pass_over_gone(self) -> bool:
        for place, (first, last) in enumerate(self._gone):
            if first <= self.next_seq <= last:
                on = min((seq for seq in self._held if seq <= last), default=last + 1)
                self.lost += on - self.next_seq
                self.next_seq = on
                self.newest = max(self.newest, on - 1)
                return True
            if last < self.next_seq:
                del self._gone[place]
                return self._pass_over_gone()
        return False

    def _agrees(self, seq: int) -> bool:
        before, self._leapt = self._leapt, seq
        return before is not None and 0 < seq - before <= 64
