"""The frames of node and host: one door to all of them, and the parser that finds them in bytes.

Runs on the node (MicroPython) and on the host (CPython). How a frame looks: kinds.py.
"""

from firmware_bridge.firmware import row_frames, talk_frames, wires
from firmware_bridge.firmware.kinds import *  # noqa: F403 - this file is the door to them
from firmware_bridge.firmware.kinds import VERSION
from firmware_bridge.firmware.row_frames import *  # noqa: F403
from firmware_bridge.firmware.row_frames import Frame
from firmware_bridge.firmware.talk_frames import *  # noqa: F403

_READERS = dict(row_frames.READERS)
_READERS.update(talk_frames.READERS)

DAMAGE = ("short", "oversize", "bad_code", "bad_crc", "bad_length", "other_version", "unknown_kind")
"""Kinds of damage: what stood between two zeros was too short to be a frame; too long; its code
bytes do not lead to its end; its CRC is wrong; CRC right but fields of another size; another
version of these frames; a kind this version does not know."""


class Parser:
    """Finds frames in whatever arrives. Bytes in, frames and counts out; never raises.

    How the bytes are cut into chunks changes nothing. `counts` has `frames` and one entry for each
    kind of DAMAGE.
    """

    def __init__(self) -> None:
        self.counts = {"frames": 0}
        for kind in DAMAGE:
            self.counts[kind] = 0
        self._tail = b""
        self._skipping = False

    def feed(self, chunk: bytes) -> "list[Frame]":
        """The frames that are complete now, in the order they came."""
        pieces = (self._tail + chunk).split(b"\0")
        self._tail = pieces.pop()
        found = []
        for piece in pieces:
            if self._skipping:
                self._skipping = False
            elif piece:
                frame = self._read(piece)
                if frame is not None:
                    found.append(frame)
        self._drop_endless()
        self.counts["frames"] += len(found)
        return found

    def damaged(self) -> int:
        """How many pieces were no sound frame."""
        return sum([self.counts[kind] for kind in DAMAGE])

    def _drop_endless(self) -> None:
        """Bytes without a zero must not pile up."""
        if self._skipping:
            self._tail = b""
        elif len(self._tail) > wires.MAX_WIRE:
            self._tail = b""
            self._skipping = True
            self.counts["oversize"] += 1

    def _read(self, piece: bytes) -> "Frame | None":
        body, damage = wires.unwrap(piece)
        if body is None:
            return self._refuse(damage)
        if body[1] != VERSION:
            return self._refuse("other_version")
        reader = _READERS.get(body[0])
        if reader is None:
            return self._refuse("unknown_kind")
        try:
            return reader(body)
        except ValueError:
            return self._refuse("bad_length")

    def _refuse(self, kind: str) -> "Frame | None":
        self.counts[kind] += 1
        return None
