"""The chain of the logbook: every event carries the digest of itself and all before it."""

from __future__ import annotations

from firmware_bridge.store.migration import Migration

MIGRATION = Migration(
    4,
    "the chain of the logbook",
    ("ALTER TABLE events ADD COLUMN digest TEXT",),
)
