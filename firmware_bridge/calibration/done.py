"""What of a calibration is done, in a small file beside the site's: it can be left and taken up."""

from __future__ import annotations

import os
from pathlib import Path

import msgspec

from analytics.calibration import Jug, ProbePoint
from analytics.errors import StoreError

GOOD_FOR_MS = 24 * 3_600_000
"""Steps older than this are done again: probes move."""


class Done(msgspec.Struct, frozen=True, kw_only=True):
    """Points and jugs of one line so far, each probe's by side; `stored` names what is kept."""

    line_id: str
    begun_ms: int
    dry: dict[str, ProbePoint] = {}
    standard: dict[str, ProbePoint] = {}
    jugs_full: tuple[Jug, ...] = ()
    jugs_brew: tuple[Jug, ...] = ()
    stored: tuple[str, ...] = ()


class Notebook:
    """The file. A line's page of it is begun anew when it is too old or cannot be read."""

    def __init__(self, store_path: Path) -> None:
        self._path = store_path.with_name(store_path.name + ".calibration")

    def page(self, line_id: str, now_ms: int) -> Done:
        """What is done of this line."""
        found = self._read().get(line_id)
        if found is None or not 0 <= now_ms - found.begun_ms <= GOOD_FOR_MS:
            return Done(line_id=line_id, begun_ms=now_ms)
        return found

    def keep(self, done: Done) -> None:
        """Write it down. Raises StoreError."""
        pages = self._read() | {done.line_id: done}
        half = self._path.with_name(self._path.name + ".half")
        try:
            half.write_bytes(msgspec.json.format(msgspec.json.encode(pages)))
            os.replace(half, self._path)
        except OSError as fault:
            hint = "Run this as the user that runs the site."
            raise StoreError(f"{self._path}: {fault.strerror}", hint) from fault

    def forget(self, line_id: str, now_ms: int) -> Done:
        """Begin a line's page anew."""
        done = Done(line_id=line_id, begun_ms=now_ms)
        self.keep(done)
        return done

    def _read(self) -> dict[str, Done]:
        try:
            return msgspec.json.decode(self._path.read_bytes(), type=dict[str, Done])
        except (OSError, msgspec.MsgspecError):
            return {}
