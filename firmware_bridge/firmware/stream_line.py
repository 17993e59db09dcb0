"""The line to the host as a pair of streams: the USB port of a board, or a terminal.

Runs on the node (MicroPython).
"""

import select

from firmware_bridge.firmware.parts import Line

MOST = 256
"""Bytes taken at once."""


class StreamLine(Line):
    """Reads what is there and no more; writes all it is given."""

    def __init__(self, source: "BinaryIO", sink: "BinaryIO") -> None:  # type: ignore[name-defined] # noqa: F821
        self._source = source
        self._sink = sink
        self._poll = select.poll()
        self._poll.register(source, select.POLLIN)

    def read(self) -> bytes:
        """What came in."""
        got = bytearray()
        while len(got) < MOST and self._poll.poll(0):
            byte = self._source.read(1)
            if not byte:
                break
            got += byte
        return bytes(got)

    def write(self, data: bytes) -> None:
        """Send it."""
        self._sink.write(data)
