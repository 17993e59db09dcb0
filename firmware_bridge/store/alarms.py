"""Changes of alarms, one row each."""

from __future__ import annotations

import sqlite3
from typing import Any

import msgspec

from analytics.errors import StoreDamaged
from analytics.samples import AlarmChange
from firmware_bridge.store.ledger import Ledger

COLUMNS = "at_ms, alarm, change, priority, text, more"
MORE = ("state", "who", "word", "until_ms", "numbers")
"""What a change has beside its own columns, as JSON."""

_write = msgspec.json.Encoder()
_read: msgspec.json.Decoder[dict[str, Any]] = msgspec.json.Decoder(dict[str, Any])


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
        f"INSERT INTO alarms (seq, line_id, {COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            ledger.take(1),
            line_id,
            change.at_ms,
            change.alarm,
            change.change,
            change.priority,
            change.text,
            _more_of(change),
        ),
    )


def _more_of(change: AlarmChange) -> str:
    return _write.encode({name: getattr(change, name) for name in MORE}).decode()


def change_of(
    at_ms: int, alarm: str, change: str, priority: str, text: str, more: str
) -> AlarmChange:
    """A change from its `COLUMNS`; raises StoreDamaged where it is not whole."""
    try:
        told = _read.decode(more)
        return msgspec.convert(
            told
            | {
                "at_ms": at_ms,
                "alarm": alarm,
                "change": change,
                "priority": priority,
                "text": text,
            },
            AlarmChange,
        )
    except msgspec.MsgspecError as exc:
        raise StoreDamaged(
            f"a change of an alarm cannot be read: {exc}", "Restore the site's file from a backup."
        ) from exc


def changes_of(
    connection: sqlite3.Connection, line_id: str | None, from_ms: int, to_ms: int
) -> list[KnownChange]:
    """Changes at instants in [from_ms, to_ms), in the order they were stored."""
    found = connection.execute(
        f"SELECT seq, line_id, {COLUMNS} FROM alarms "
        "WHERE at_ms >= ? AND at_ms < ? AND (? IS NULL OR line_id = ?) ORDER BY seq",
        (from_ms, to_ms, line_id, line_id),
    )
    return [
        KnownChange(seq=seq, line_id=line, change=change_of(*columns))
        for seq, line, *columns in found
    ]


def changes_after(connection: sqlite3.Connection, seq: int) -> list[KnownChange]:
    """Changes numbered above `seq`, in the order they were stored."""
    found = connection.execute(
        f"SELECT seq, line_id, {COLUMNS} FROM alarms WHERE seq > ? ORDER BY seq", (seq,)
    )
    return [
        KnownChange(seq=number, line_id=line, change=change_of(*columns))
        for number, line, *columns in found
    ]
