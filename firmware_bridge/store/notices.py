"""Notices about alarms that went out, so that none goes out again after a restart."""

from __future__ import annotations

import sqlite3


def append(connection: sqlite3.Connection, notifier: str, key: str, at_ms: int) -> None:
    """Note that a notice went out; the first time counts."""
    connection.execute(
        "INSERT OR IGNORE INTO notices (notifier, key, at_ms) VALUES (?, ?, ?)",
        (notifier, key, at_ms),
    )


def sent_by(connection: sqlite3.Connection, notifier: str) -> dict[str, int]:
    """Keys of the notices that went out by a notifier, and when."""
    return dict(
        connection.execute("SELECT key, at_ms FROM notices WHERE notifier = ?", (notifier,))
    )
