"""Two copies of what is kept: a power cut while one is written leaves the other.

Runs on the node (MicroPython) and on the host (CPython).

    copy    number u32 | length u16 | bytes ... | CRC-16        the higher number is the newer one
"""

import struct

from firmware_bridge.firmware import wires
from firmware_bridge.firmware.parts import Memory

_HEAD = "<IH"
_HEAD_SIZE = struct.calcsize(_HEAD)


class TwoCopies(Memory):
    """A memory in two files `path`.0 and `path`.1, written in turn."""

    def __init__(self, path: str) -> None:
        self._path = path
        self.number = 0
        self._next = 0

    def load(self) -> bytes:
        """The newest copy that is whole."""
        found = [self._read(0), self._read(1)]
        newest = 0
        if found[1] is not None and (found[0] is None or _later(found[1][0], found[0][0])):
            newest = 1
        copy = found[newest]
        self._next = 1 - newest if copy is not None else 0
        self.number = copy[0] if copy is not None else 0
        return b"" if copy is None else copy[1]

    def save(self, data: bytes) -> None:
        """Write over the older copy."""
        self.number = (self.number + 1) & 0xFFFFFFFF
        body = struct.pack(_HEAD, self.number, len(data)) + data
        with open(self._name(self._next), "wb") as file:
            file.write(body + struct.pack("<H", wires.crc16(body)))
        self._next = 1 - self._next

    def _name(self, place: int) -> str:
        return self._path + "." + str(place)

    def _read(self, place: int) -> "tuple[int, bytes] | None":
        """Number and bytes of a copy; None when it is not there or not whole."""
        try:
            with open(self._name(place), "rb") as file:
                copy = file.read()
        except OSError:
            return None
        if len(copy) < _HEAD_SIZE + 2:
            return None
        number, size = struct.unpack(_HEAD, copy[:_HEAD_SIZE])
        body = copy[: _HEAD_SIZE + size]
        if copy[len(body) :] != struct.pack("<H", wires.crc16(body)):
            return None
        return number, body[_HEAD_SIZE:]


def _later(one: int, other: int) -> bool:
    """Whether a copy's number is the later one, over the wrap too."""
    return 0 < (one - other) & 0xFFFFFFFF < 0x80000000
