"""What was stored before anybody knew the time gets its date, once somebody does, or in the end."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import msgspec
import numpy as np
import structlog

from analytics.samples import DAY_MS, Flag
from firmware_bridge.clock import (
    SANE_FROM_MS,
    Clock,
    GatedClock,
    Known,
    VirtualClock,
    confirmed_by_network,
    name_of_start,
)
from firmware_bridge.readings.lot import Lot
from firmware_bridge.store.database import Store

log = structlog.get_logger(__name__)

LONGEST_WAIT_MS = 7 * DAY_MS
"""After so long without the time, all starts together, what waits is sent with guessed dates."""
LOOK_EVERY_MS = 60_000


class TrueTime:
    """Follows the site's clock. `clock` is the one to go by."""

    def __init__(self, store: Store, clock: GatedClock, host_no: int) -> None:
        self.clock = clock
        self._store = store
        self._host_no = host_no
        self._told = False
        self._look_ms = clock.monotonic_ms()

    async def turn(self) -> dict[str, int]:
        """Look at the clock; the earliest instant that rows were dated to, by line."""
        if self._told:
            return {}
        offset_ms = self.clock.wall_offset_ms
        if offset_ms is not None:
            changed = await asyncio.wrap_future(self._store.time_known(self._host_no, offset_ms))
            self._told = True
            if changed:
                log.info("clock.known", dated_from_ms=min(changed.values()))
            return changed
        return await self._wait()

    def seen(self, lot: Lot) -> Lot:
        """A lot as it is stored next: where dates are guessed for good, its rows say so.

        Rows that were made just before the time was known are dated at the next turn.
        """
        if not any((piece.rows.flags & Flag.CLOCK_UNSURE).any() for piece in lot.taken):
            return lot
        if not self.clock.guessing:
            self._told = False
            return lot
        taken = []
        for piece in lot.taken:
            flags = piece.rows.flags
            unsure = (flags & Flag.CLOCK_UNSURE) != 0
            guessed = (flags & ~np.int64(Flag.CLOCK_UNSURE)) | np.int64(Flag.DATE_GUESSED)
            rows = msgspec.structs.replace(piece.rows, flags=np.where(unsure, guessed, flags))
            taken.append(msgspec.structs.replace(piece, rows=rows))
        return msgspec.structs.replace(lot, taken=tuple(taken))

    async def _wait(self) -> dict[str, int]:
        now_ms = self.clock.monotonic_ms()
        if self.clock.guessing or now_ms < self._look_ms:
            return {}
        self._look_ms = now_ms + LOOK_EVERY_MS
        if await asyncio.wrap_future(self._store.undated_ms()) < LONGEST_WAIT_MS:
            return {}
        log.warning("clock.given-up", hint="Set this machine's clock, or give it a network.")
        self.clock.guessing = True
        return await asyncio.wrap_future(self._store.guess_time())


async def true_time(
    store: Store,
    clock: Clock,
    *,
    start: Callable[[], str] = name_of_start,
    confirmed: Callable[[], bool] = confirmed_by_network,
) -> TrueTime | None:
    """The gate before a machine's clock; None for a virtual clock, which is always right."""
    if isinstance(clock, VirtualClock):
        return None
    since_start_ms = clock.monotonic_ms()
    host = await asyncio.to_thread(store.begin_host, start(), since_start_ms, SANE_FROM_MS)
    believed = host.wall_offset_ms is not None and not host.guessed
    known = Known(floor_ms=host.floor_ms, base_ms=host.base_ms, believed=believed)
    gated = GatedClock(clock, known, confirmed)
    gated.guessing = host.guessed
    return TrueTime(store, gated, host.host_no)
