"""How long and how much the site's file keeps."""

from __future__ import annotations

import msgspec


class Keeping(msgspec.Struct, frozen=True, kw_only=True):
    """What is kept: draws, estimates, alarms and facts for ever, readings as follows.

    Readings older than `rows_days` become values by the minute once every sink in `sinks` has
    confirmed them, and those go after `minutes_days`; values by the hour stay. Where the file would
    outgrow `limit_bytes`, or the disk is full, the oldest go first and sooner, sent or not.
    """

    limit_bytes: int = 2_000_000_000
    rows_days: float = 730.5
    minutes_days: float = 3652.5
    sinks: tuple[str, ...] = ()


class StoreHealth(msgspec.Struct, frozen=True, kw_only=True):
    """How the file stands: bytes in use of those it may use, what the disk has left.

    `full`: rows wait, or the oldest readings are given up to make room for the newest.
    """

    used_bytes: int = 0
    limit_bytes: int = 0
    disk_free_bytes: int = 0
    full: bool = False
