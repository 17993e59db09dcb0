"""Changes of alarms, one row each."""

from __future__ import annotations

import sqlite3

import msgspec

from analytics.samples import AlarmChange
from firmware_bridge.store.ledger import Ledger


class KnownChange(msgspec.Struct, frozen=True, kw_only=True):
    """A change of an alarm with its number in the site and its line."""

    seq: int
    line_id: str
    change: AlarmChange


def append(
    connection: sqlite3.Connection, ledger: Ledger, line_id: str, change: AlarmChange
) -> None:
    """Store a change, unless the same change of the alarm at the same instant is there."""
    same = connection.execute(
        "SELECT 1 FROM alarms WHERE line_id = ? AND at_ms = ? AND alarm = ? AND change = ?",
        (line_id, change.at_ms, change.alarm, change.change),
    ).fetchone()
    if same:
        ledger.count("alarm_changes_doubled")
        return
    connection.execute(
        "INSERT INTO alarms (seq, line_id, at_ms, alarm, change, priority, text) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        (ledger.take(1), line_id, *msgspec.structs.astuple(change)),
    )


def changes_of(
    connection: sqlite3.Connection, line_id: str | None, from_ms: int, to_ms: int
) -> list[KnownChange]:
    """Changes at instants in [from_ms, to_ms), in the order they were stored."""
    found = connection.execute(
        "SELECT seq, line_id, at_ms, alarm, change, priority, text FROM alarms "
        "WHERE at_ms >= ? AND at_ms < ? AND (? IS NULL OR line_id = ?) ORDER BY seq",
        (from_ms, to_ms, line_id, line_id),
    )
    return [
        KnownChange(
            seq=seq,
            line_id=line,
            change=AlarmChange(
                at_ms=at_ms, alarm=alarm, change=change, priority=priority, text=text
            ),
        )
        for seq, line, at_ms, alarm, change, priority, text in found
    ]
