"""What a node remembers over a reset: its counters, its settings, how often it started.

Runs on the node (MicroPython) and on the host (CPython).
"""

import struct

from firmware_bridge.firmware import wires
from firmware_bridge.firmware.parts import Memory

SETTINGS = (
    # key, value at first start, least, most
    ("node", 1, 1, 65535),
    ("heartbeat-ms", 60000, 1, 3600000),
    ("draw-ms", 10000, 1, 600000),
    ("resend-after-ms", 5000, 50, 3600000),
    ("resend-gap-ms", 10, 1, 10000),
    ("row-for-hello", 1, 0, 1),  # a host that has just started gets a row at once
    ("sample-ms", 1000, 1, 60000),  # from look to look
    ("probes", 2, 1, 2),
    ("ec-range", 0, 0, 3),  # 0: the node finds it
    ("drive-us", 250, 20, 5000),  # half a turn of the alternating drive
)
"""New ones come at the end: what an older node kept stays right."""

_HEAD = "<BHIIB"
_HEAD_SIZE = struct.calcsize(_HEAD)
_VERSION = 2


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
        count = len(self.settings)
        body = struct.pack(_HEAD, _VERSION, self.starts, self.counts[0], self.counts[1], count)
        for value in self.settings:
            body += struct.pack("<I", value)
        self._memory.save(body + struct.pack("<H", wires.crc16(body)))

    def note(self) -> None:
        """Note the counts against a reset."""
        self._memory.note(self.starts, self.counts[0], self.counts[1])

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
        body = data[:-2]
        if len(body) < _HEAD_SIZE or struct.pack("<H", wires.crc16(body)) != data[-2:]:
            return False
        version, self.starts, first, second, count = struct.unpack(_HEAD, body[:_HEAD_SIZE])
        if version != _VERSION or len(body) != _HEAD_SIZE + 4 * count:
            return False
        self.counts = [first, second]
        for place in range(min(count, len(SETTINGS))):
            start = _HEAD_SIZE + 4 * place
            value = struct.unpack("<I", body[start : start + 4])[0]
            if SETTINGS[place][2] <= value <= SETTINGS[place][3]:
                self.settings[place] = value
        noted = self._memory.noted()
        if noted is not None and noted[0] == self.starts:
            self.counts = [noted[1], noted[2]]
        return True
