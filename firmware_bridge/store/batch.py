"""What is handed to the store in one go, and what it answers."""

from __future__ import annotations

import msgspec

from analytics.samples import AlarmChange, AnyEvent, Draws, Estimate, Ints, Rows

NO_FRAME = -1
"""Stands in `frame_seq` where the source numbers nothing; such a row never counts as a double."""


class Taken(msgspec.Struct, frozen=True, kw_only=True):
    """Rows of one line as one boot of its node gave them, a bookkeeping number for each row.

    `boot_id` names one boot of the node; `uptime_ms[i]` is the node's own time since that boot,
    so that a row from before the clock was right can be dated later. `frame_seq[i]` is the node's
    number of the frame, counted from 1 in every boot (`NO_FRAME`: not numbered); a number of one
    line and boot that is in the store already is dropped and counted. Frames below `frames_from`
    can no longer be had from the node: nothing waits for them. The rows need not be in order of
    time: the store sorts them.
    """

    line_id: str
    rows: Rows
    boot_id: int
    uptime_ms: Ints
    frame_seq: Ints
    frames_from: int = 1


class Batch(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that becomes durable together: all of it, or nothing.

    `draws` are (line_id, cartridge_id, draws); `snapshots` are (line_id, at_ms, bytes) of the
    pipeline's state. `forget_snapshots` are (line_id, from_ms): snapshots of the line at or after
    that instant are void, because the past was changed; they go before the new ones are kept.
    `forget_draws` likewise, for draws that begin at or after an instant.
    `counters` are added to the site's counters of what was refused, lost or doubled.
    """

    readings: tuple[Taken, ...] = ()
    draws: tuple[tuple[str, str, Draws], ...] = ()
    estimates: tuple[tuple[str, Estimate], ...] = ()
    events: tuple[AnyEvent, ...] = ()
    alarms: tuple[tuple[str, AlarmChange], ...] = ()
    notices: tuple[tuple[str, str, int], ...] = ()
    """(notifier, key, at_ms) of notices that went out."""
    forget_snapshots: tuple[tuple[str, int], ...] = ()
    forget_draws: tuple[tuple[str, int], ...] = ()
    snapshots: tuple[tuple[str, int, bytes], ...] = ()
    counters: dict[str, int] = {}


class Stored(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to a batch once it is on the disk.

    Its rows got the numbers `first_seq` to `last_seq` (none: `last_seq` is `first_seq` - 1).
    `confirmed[boot_id]` is the highest frame number up to which every frame of that boot is
    durable or past having, for the boots in the batch that number their frames. `doubled` rows
    were in the store already.
    """

    first_seq: int
    last_seq: int
    confirmed: dict[int, int]
    doubled: int = 0
