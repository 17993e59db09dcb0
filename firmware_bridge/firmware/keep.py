"""What a node remembers over a reset: its counters, its settings, how often it started.

Runs on the node (MicroPython) and on the host (CPython).
"""

import struct

from firmware_bridge.firmware import wires

SETTINGS = (
    # key, value at first start, least, most
    ("node", 1, 1, 65535),
    ("heartbeat-ms", 60000, 1, 3600000),
    ("draw-ms", 10000, 1, 600000),
    ("resend-after-ms", 5000, 50, 3600000),
    ("resend-gap-ms", 10, 1, 10000),
    ("row-for-hello", 1, 0, 1),  # a host that has just started gets a row at once
)


class Memory:
    """A few bytes that outlive a reset. `save` is all or nothing."""

    def load(self) -> bytes:
        """What was saved last; empty when nothing was."""
        raise NotImplementedError

    def save(self, data: bytes) -> None:
        """Keep these bytes."""
        raise NotImplementedError


class Keep:
    """Counters, settings and the number of starts, kept in the memory with a CRC."""

    def __init__(self, memory: Memory) -> None:
        self._memory = memory
        self.starts = 0
        self.counts = [0, 0]
        self.settings = [setting[1] for setting in SETTINGS]
        self.new = not self._load()

    def save(self) -> None:
        """Put everything in the memory."""
        body = struct.pack("<BHII", 1, self.starts & 0xFFFF, self.counts[0], self.counts[1])
        for value in self.settings:
            body += struct.pack("<I", value)
        self._memory.save(body + struct.pack("<H", wires.crc16(body)))

    def setting(self, key: str) -> int:
        """The value in force."""
        return self.settings[self.place(key)]

    def place(self, key: str) -> int:
        """Where a setting stands, -1 when there is none of this name."""
        for place in range(len(SETTINGS)):
            if SETTINGS[place][0] == key:
                return place
        return -1

    def change(self, place: int, value: str) -> bool:
        """Put a setting at this place in force and keep it; False when it is no allowed number."""
        if not value.isdigit() or len(value) > 9:
            return False
        number = int(value)
        if not SETTINGS[place][2] <= number <= SETTINGS[place][3]:
            return False
        self.settings[place] = number
        self.save()
        return True

    def _load(self) -> bool:
        data = self._memory.load()
        size = 11 + 4 * len(SETTINGS)
        if len(data) != size + 2 or data[0] != 1:
            return False
        body = data[:size]
        if wires.crc16(body) != struct.unpack("<H", data[size:])[0]:
            return False
        _, self.starts, first, second = struct.unpack("<BHII", body[:11])
        self.counts = [first, second]
        for place in range(len(SETTINGS)):
            start = 11 + 4 * place
            self.settings[place] = struct.unpack("<I", body[start : start + 4])[0]
        return True
