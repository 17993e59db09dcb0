"""One batch into the open transaction: numbers given out, everything in its table."""

from __future__ import annotations

import sqlite3

from firmware_bridge.store import (
    alarms,
    counters,
    draws,
    estimates,
    events,
    notices,
    readings,
    snapshots,
)
from firmware_bridge.store.batch import NO_FRAME, Batch, Stored, Taken
from firmware_bridge.store.ledger import Ledger


def write_batch(connection: sqlite3.Connection, ledger: Ledger, batch: Batch) -> Stored:
    """Write a batch; the answer is true once the transaction is on the disk."""
    first = ledger.newest_seq + 1
    doubled = sum(readings.append(connection, ledger, taken) for taken in batch.readings)
    for line_id, from_ms in batch.forget_draws:
        draws.forget(connection, line_id, from_ms)
    for line_id, cartridge_id, drawn in batch.draws:
        draws.append(connection, ledger, line_id, cartridge_id, drawn)
    for line_id, estimate in batch.estimates:
        estimates.append(connection, ledger, line_id, estimate)
    for event in batch.events:
        events.append(connection, ledger, event)
    for line_id, change in batch.alarms:
        alarms.append(connection, ledger, line_id, change)
    for notifier, key, at_ms in batch.notices:
        notices.append(connection, notifier, key, at_ms)
    for line_id, from_ms in batch.forget_snapshots:
        snapshots.forget(connection, line_id, from_ms)
    for line_id, at_ms, state in batch.snapshots:
        snapshots.append(connection, line_id, at_ms, state)
    counters.add(connection, batch.counters)
    return Stored(
        first_seq=first,
        last_seq=ledger.newest_seq,
        confirmed=_confirmed(ledger, batch.readings),
        doubled=doubled,
    )


def finish(connection: sqlite3.Connection, ledger: Ledger) -> None:
    """Write what the ledger gathered during the transaction."""
    counters.add(connection, ledger.counts)
    ledger.counts.clear()
    connection.execute("UPDATE site SET newest_seq = ?", (ledger.newest_seq,))


def _confirmed(ledger: Ledger, readings_taken: tuple[Taken, ...]) -> dict[int, int]:
    """For a node with several lines, what is durable of all its lines in the batch."""
    confirmed: dict[int, int] = {}
    for taken in readings_taken:
        if len(taken.rows) and int(taken.frame_seq.max()) > NO_FRAME:
            done = ledger.boots[taken.line_id, taken.boot_id].frames.done_up_to
            confirmed[taken.boot_id] = min(done, confirmed.get(taken.boot_id, done))
    return confirmed
