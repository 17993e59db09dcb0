"""How far the site's numbers may have been given out, kept apart from the database.

Receivers know a row by its site and number, so no number may be given twice, not even after the
database was damaged or an older one was put in its place. Beside it lies a file that is always at
or above the highest number given: it is moved ahead before the numbers below it are used.

    two slots, written in turn:  number, 20 digits  blank  CRC-32 of the digits, 8 hex  newline
"""

from __future__ import annotations

import os
import zlib
from pathlib import Path

AHEAD = 200
"""So many numbers are promised at once: one write to the disk for as many rows."""
UNKNOWN_AHEAD = 1_000_000_000
"""Passed over where nothing tells how far the numbers had come: ten years of a row every third of
a second."""
SLOT = 30


class Promised:
    """The file beside a database. `up_to` is the number it states."""

    def __init__(self, database: Path) -> None:
        """Read or begin the file; raises OSError where that cannot be done."""
        self.path = promised_beside(database)
        self._descriptor = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600)
        found = _slots(os.pread(self._descriptor, 2 * SLOT, 0))
        self.known = bool(found)
        self.up_to, self._slot = max(found, default=(0, 1))

    def reach(self, number: int) -> None:
        """Promise at least `number`, on the disk, before it is used."""
        if number > self.up_to:
            self._write(number + AHEAD)

    def settle(self, number: int) -> None:
        """State exactly the last number used, at a clean end."""
        if number != self.up_to:
            self._write(number)
            self._write(number)  # the higher of both slots holds

    def close(self) -> None:
        """Let the file go."""
        os.close(self._descriptor)

    def _write(self, number: int) -> None:
        digits = f"{number:020d}"
        body = f"{digits} {zlib.crc32(digits.encode()):08x}\n".encode()
        self._slot = 1 - self._slot
        os.pwrite(self._descriptor, body, self._slot * SLOT)
        os.fsync(self._descriptor)
        if not self.known:  # the other slot too, so that later writes need no room on the disk
            os.pwrite(self._descriptor, body, (1 - self._slot) * SLOT)
            os.fsync(self._descriptor)
        self.known = True
        self.up_to = number


def promised_beside(database: Path) -> Path:
    """The file with the numbers promised for a database."""
    return database.with_name(database.name + ".numbers")


def read_promised(database: Path) -> int | None:
    """The highest number promised beside a database; None where that is not known."""
    try:
        found = _slots(promised_beside(database).read_bytes())
    except OSError:
        return None
    return max(found)[0] if found else None


def _slots(data: bytes) -> list[tuple[int, int]]:
    """(number, slot) of every slot that is whole."""
    found = []
    for slot in (0, 1):
        body = data[slot * SLOT : (slot + 1) * SLOT]
        digits, check = body[:20], body[21:29]
        if len(body) == SLOT and digits.isdigit() and check == b"%08x" % zlib.crc32(digits):
            found.append((int(digits), slot))
    return found
