"""Sinks: how far each is done, what it refused, and its way into the rows."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Protocol

import msgspec

from firmware_bridge.store.out_row import OutRow
from firmware_bridge.store.outgoing import Outgoing


class Rejected(msgspec.Struct, frozen=True, kw_only=True):
    """A row a sink refused: its number, the sink's reason, and the row as it was sent."""

    seq: int
    reason: str
    row: OutRow


class Moments(Protocol):
    """Whatever lends a connection that sees one state of the file."""

    def at_one_moment(self) -> AbstractContextManager[sqlite3.Connection]:
        """The connection, inside one transaction."""
        ...


Settle = Callable[[str, int, dict[int, tuple[str, str]]], None]

_write = msgspec.json.Encoder()
_read = msgspec.json.Decoder(OutRow)


class StoreOutbox:
    """The store as an `Outbox`; may be used from several threads.

    Rows come in the order of their numbers. A reading whose clock was unsure holds back what
    comes after it until its boot is dated (`Store.redate`): it must not leave under a false date.
    """

    def __init__(self, moments: Moments, settle_in_store: Settle) -> None:
        self._moments = moments
        self._settle = settle_in_store
        self._outgoing = Outgoing()
        self._one_at_a_time = threading.Lock()

    def read(self, after_seq: int, limit: int) -> list[OutRow]:
        """Rows numbered above `after_seq`, oldest first, at most `limit`."""
        with self._one_at_a_time, self._moments.at_one_moment() as connection:
            return self._outgoing.rows(connection, after_seq, limit)

    def cursor(self, sink: str) -> int:
        """The last number the sink is done with; 0 when it never ran."""
        with self._moments.at_one_moment() as connection:
            return all_cursors(connection).get(sink, 0)

    def settle(self, sink: str, up_to_seq: int, rejected: dict[int, str]) -> None:
        """Move the cursor (also back) and keep refused rows with their reasons; waits for the disk.

        Raises StoreError where the file cannot be written; the cursor has not moved then.
        """
        kept = {seq: (reason, self._as_text(seq)) for seq, reason in rejected.items()}
        self._settle(sink, up_to_seq, kept)

    def newest(self) -> int:
        """The highest number given so far; 0 when nothing was stored yet."""
        with self._moments.at_one_moment() as connection:
            return newest(connection)

    def _as_text(self, seq: int) -> str:
        row = next((row for row in self.read(seq - 1, 1) if row.seq == seq), None)
        if row is None:
            raise ValueError(f"no row has the number {seq}")
        return _write.encode(row).decode()


def settle(
    connection: sqlite3.Connection,
    sink: str,
    up_to_seq: int,
    rejected: dict[int, tuple[str, str]],
) -> None:
    """In the writer's transaction: the cursor, and the refused rows as (reason, row as JSON)."""
    connection.execute(
        "INSERT INTO cursors (sink, up_to_seq) VALUES (?, ?) "
        "ON CONFLICT (sink) DO UPDATE SET up_to_seq = excluded.up_to_seq",
        (sink, up_to_seq),
    )
    connection.executemany(
        "INSERT OR REPLACE INTO rejected (sink, seq, reason, row) VALUES (?, ?, ?, ?)",
        [(sink, seq, reason, row) for seq, (reason, row) in sorted(rejected.items())],
    )


def all_cursors(connection: sqlite3.Connection) -> dict[str, int]:
    """The number every sink is done with."""
    return dict(connection.execute("SELECT sink, up_to_seq FROM cursors ORDER BY sink"))


def rejected_by(connection: sqlite3.Connection, sink: str) -> list[Rejected]:
    """The rows a sink refused, by number."""
    found = connection.execute(
        "SELECT seq, reason, row FROM rejected WHERE sink = ? ORDER BY seq", (sink,)
    )
    return [Rejected(seq=seq, reason=reason, row=_read.decode(row)) for seq, reason, row in found]


def rejected_counts(connection: sqlite3.Connection) -> dict[str, int]:
    """How many rows every sink refused, for the life of the file."""
    return dict(connection.execute("SELECT sink, count(*) FROM rejected GROUP BY sink"))


def newest(connection: sqlite3.Connection) -> int:
    """The highest number given so far."""
    return int(connection.execute("SELECT newest_seq FROM site").fetchone()[0])
