"""The random id of the record, by which a far reader tells two boxes of one name apart."""

from __future__ import annotations

from firmware_bridge.store.migration import Migration

MIGRATION = Migration(
    5,
    "the random id of the record",
    ("ALTER TABLE site ADD COLUMN box TEXT NOT NULL DEFAULT ''",),
)
