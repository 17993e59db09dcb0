"""Several meters of one line as one: a row is everything read at one instant.

One meter leads: the one that counts water. Its rows take from the others what they said last, as
long as that is fresh; the others' own rows end there. While nobody leads, or the leader is silent,
every meter's rows go on by themselves.
"""

from __future__ import annotations

import msgspec
import numpy as np

from analytics.samples import CHANNELS, Flag, Rows
from firmware_bridge.readings.channels import VALUE_CHANNELS
from firmware_bridge.readings.lot import Lot
from firmware_bridge.store.batch import Taken

FRESH_MS = 15_000
"""A side meter's value holds this long: a probe is asked every few seconds."""
SILENT_MS = 60_000
"""A leader that has said nothing for this long leads no more."""


class Joining:
    """The meters of one line."""

    def __init__(self) -> None:
        self._leader = ""
        self._led_ms = 0
        self._counts = False
        self._board: dict[str, tuple[int, float, int]] = {}
        self._last_ms = 0

    def join(self, meter_id: str, lot: Lot) -> Lot:
        """The lot as it goes on: filled from the others, or emptied of rows that only fill."""
        taken, more = [], 0
        for piece in lot.taken:
            found = self._piece(meter_id, piece)
            more += 0 if found is not None else len(piece.rows)
            taken += [found] if found is not None else []
        counters = lot.counters | ({"rows_joined": more} if more else {})
        return msgspec.structs.replace(lot, taken=tuple(taken), counters=counters)

    def _piece(self, meter_id: str, piece: Taken) -> Taken | None:
        if not len(piece.rows):
            return piece
        self._elect(meter_id, piece.rows)
        if meter_id != self._leader:
            self._note(piece.rows)
            return None
        filled = self._filled(piece.rows)
        return msgspec.structs.replace(piece, rows=self._in_order(filled))

    def _elect(self, meter_id: str, rows: Rows) -> None:
        last_ms = int(rows.at_ms[-1])
        counts = bool((rows.pulses >= 0).any())
        silent = last_ms - self._led_ms > SILENT_MS
        if not self._leader or silent or (counts and not self._counts):
            self._leader, self._counts = meter_id, counts
        if meter_id == self._leader:
            self._led_ms = max(self._led_ms, last_ms)

    def _note(self, rows: Rows) -> None:
        """What a side meter said last, each channel with its instant and what is held against."""
        for channel in VALUE_CHANNELS:
            column = getattr(rows, channel.column)
            known = np.flatnonzero(np.isfinite(column))
            if len(known):
                place = known[-1]
                flags = int(rows.flags[place]) & int(channel.suspect)
                self._board[channel.column] = (
                    int(rows.at_ms[place]),
                    float(column[place]),
                    flags,
                )
            elif (rows.flags & int(channel.suspect)).any():
                self._board.pop(channel.column, None)

    def _filled(self, rows: Rows) -> Rows:
        columns = {name: getattr(rows, name) for name in CHANNELS}
        flags = rows.flags
        for name, (at_ms, value, held) in self._board.items():
            empty = ~np.isfinite(columns[name]) & (np.abs(rows.at_ms - at_ms) <= FRESH_MS)
            columns[name] = np.where(empty, value, columns[name])
            flags = np.where(empty, flags | held, flags)
        return msgspec.structs.replace(rows, flags=flags, **columns)

    def _in_order(self, rows: Rows) -> Rows:
        """Rows of meters with clocks of their own, never at one instant with another's row."""
        if not rows.flags[0] & int(Flag.CLOCK_UNSURE) and self._last_ms >= rows.at_ms[0]:
            near = self._last_ms - int(rows.at_ms[0]) < FRESH_MS
            if near:
                at = np.maximum(rows.at_ms, self._last_ms + 1 + np.arange(len(rows)))
                rows = msgspec.structs.replace(rows, at_ms=at)
        self._last_ms = max(self._last_ms, int(rows.at_ms[-1]))
        return rows
