"""The steps of the file's format from the first version on: ONE FILE a step, oldest first."""

from __future__ import annotations

from firmware_bridge.store.migration import Migration
from firmware_bridge.store.migrations import (
    s0001_first,
    s0002_hosts_and_thinning,
    s0003_alarm_journal,
    s0004_chain,
    s0005_box,
)

MIGRATIONS: tuple[Migration, ...] = (
    s0001_first.MIGRATION,
    s0002_hosts_and_thinning.MIGRATION,
    s0003_alarm_journal.MIGRATION,
    s0004_chain.MIGRATION,
    s0005_box.MIGRATION,
)
