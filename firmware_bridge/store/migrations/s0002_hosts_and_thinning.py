"""Which start of this machine heard a boot of a node, and from where on raw readings are kept.

`hosts.wall_offset_ms` + this machine's time since its start is UTC, once the clock was believed;
until then `base_ms` stands for it.
`boots.host_offset_ms` + a node's uptime is this machine's time since its start.
"""

from __future__ import annotations

from firmware_bridge.store.migration import Migration

MIGRATION = Migration(
    2,
    "starts of this machine, thinning of raw readings",
    (
        """CREATE TABLE hosts (
            host_no INTEGER PRIMARY KEY,
            host TEXT NOT NULL UNIQUE,
            base_ms INTEGER NOT NULL,
            last_ms INTEGER NOT NULL,
            wall_offset_ms INTEGER,
            guessed INTEGER NOT NULL DEFAULT 0)""",
        "ALTER TABLE boots ADD COLUMN host_no INTEGER",
        "ALTER TABLE boots ADD COLUMN host_offset_ms INTEGER",
        """CREATE TABLE thinned (
            line_id TEXT PRIMARY KEY,
            rows_from_hour INTEGER NOT NULL,
            minutes_from_hour INTEGER NOT NULL) WITHOUT ROWID""",
    ),
)
