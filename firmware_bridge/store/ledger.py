"""What the writer knows by heart: the newest number, the boots, the hours not yet packed."""

from __future__ import annotations

import sqlite3

import msgspec

from firmware_bridge.store.frames import Frames

TAIL, PART, HOUR = 0, 1, 2
"""Levels of a block: rows of one commit; joined tails of an hour; a whole hour."""

_ahead = msgspec.json.Decoder(tuple[tuple[int, int], ...])


class Boot:
    """One boot of the node of one line: its number here, and its frames in the store."""

    def __init__(self, boot_no: int, frames: Frames) -> None:
        self.boot_no = boot_no
        self.frames = frames


class Ledger:
    """Belongs to the writer thread; read anew from the file when a transaction was undone.

    `open_hours[line, hour]` counts the tails of an hour that has blocks below level HOUR;
    `newest_hour[line]` is the latest hour of the line; rows before `rows_from_hour[line]` have
    been thinned. `host` is the number and base of this machine's start, where rows may come whose
    clock is unsure.
    """

    def __init__(self, connection: sqlite3.Connection, host: tuple[int, int] | None = None) -> None:
        self.newest_seq = int(connection.execute("SELECT newest_seq FROM site").fetchone()[0])
        self.boots = {
            (line, boot_id): Boot(boot_no, Frames(done, _ahead.decode(ahead)))
            for boot_no, line, boot_id, done, ahead in connection.execute(
                "SELECT boot_no, line_id, boot_id, done_up_to, ahead FROM boots"
            )
        }
        self.open_hours: dict[tuple[str, int], int] = {
            (line, hour): tails
            for line, hour, tails in connection.execute(
                "SELECT line_id, hour, sum(level = 0) FROM blocks WHERE level < 2 "
                "GROUP BY line_id, hour"
            )
        }
        self.newest_hour: dict[str, int] = dict(
            connection.execute("SELECT line_id, max(hour) FROM blocks GROUP BY line_id")
        )
        self.rows_from_hour: dict[str, int] = dict(
            connection.execute("SELECT line_id, rows_from_hour FROM thinned")
        )
        self.counts: dict[str, int] = {}
        self.host = host

    def take(self, count: int) -> int:
        """Give out `count` numbers of the site; the first of them."""
        first = self.newest_seq + 1
        self.newest_seq += count
        return first

    def count(self, name: str, by: int = 1) -> None:
        """Add to a counter with this transaction."""
        if by:
            self.counts[name] = self.counts.get(name, 0) + by
