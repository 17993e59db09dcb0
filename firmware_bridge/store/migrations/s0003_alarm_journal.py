"""Changes of alarms with state, person and figures, and which notices went out."""

from __future__ import annotations

from firmware_bridge.store.migration import Migration

MIGRATION = Migration(
    3,
    "alarm changes with state, person and figures; notices that went out",
    (
        "ALTER TABLE alarms ADD COLUMN more TEXT NOT NULL DEFAULT '{}'",
        """CREATE TABLE notices (
            notifier TEXT NOT NULL,
            key TEXT NOT NULL,
            at_ms INTEGER NOT NULL,
            PRIMARY KEY (notifier, key)) WITHOUT ROWID""",
    ),
)
