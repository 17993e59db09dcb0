"""The box watched like a line: its disk, its clock, its sinks, as plain values for the alarms.

The pure part is the same as that of a line (rules, lives, journal); this fetches the values, takes
in what people did about such alarms, and stores what moved.
"""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Callable
from pathlib import Path

import structlog

from analytics.alarm import Host
from analytics.host_watch import HostWatch, follow_host
from analytics.samples import AlarmChange, RecordRescued
from analytics.setup import HostLimits
from analytics.snapshot import from_bytes, to_bytes
from firmware_bridge.clock import Clock
from firmware_bridge.forward.runner import SinkStatus
from firmware_bridge.lines import watch_key
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.reader import Reader

log = structlog.get_logger(__name__)

EVERY_S = 10.0
MB = 1_000_000
SITE = ""
"""The line of what belongs to no line."""


class HostLoop:
    """Looks at the box now and then. `sinks` and `full` are asked anew each time."""

    def __init__(
        self,
        store: Store,
        clock: Clock,
        limits: HostLimits,
        sinks: Callable[[], list[SinkStatus]],
        full: Callable[[], bool] = lambda: False,
    ) -> None:
        self._store = store
        self._clock = clock
        self._limits = limits
        self._sinks = sinks
        self._full = full
        self._moved: dict[str, tuple[int, int]] = {}
        self._watch: HostWatch | None = None
        self._ticks: int | None = None

    async def run(self, stop: asyncio.Event) -> None:
        """Look until told to stop."""
        reader = self._store.reader()
        try:
            while not stop.is_set():
                await self.look(reader)
                try:
                    async with asyncio.timeout(EVERY_S):
                        await stop.wait()
                except TimeoutError:
                    continue
        finally:
            reader.close()

    async def look(self, reader: Reader) -> tuple[AlarmChange, ...]:
        """One look: what moved is stored together with how the alarms then stand."""
        if self._watch is None:
            self._watch = await asyncio.to_thread(_kept, reader)
        host = await asyncio.to_thread(self._host, self._watch.at_ms, reader)
        acts = await asyncio.to_thread(reader.events, SITE, self._watch.at_ms + 1)
        watch, changes = follow_host(self._watch, host, tuple(acts))
        if changes:
            stored = self._store.submit(
                Batch(
                    alarms=tuple((SITE, change) for change in changes),
                    snapshots=((watch_key(SITE), 0, to_bytes(watch)),),
                )
            )
            await asyncio.wrap_future(stored)
        self._watch = watch
        return changes

    def _host(self, last_ms: int, reader: Reader) -> Host:
        """The box now. Where the clock stands behind, time goes on from the last look."""
        ticks = self._clock.monotonic_ms()
        since = 0 if self._ticks is None else ticks - self._ticks
        self._ticks = ticks
        return Host(
            at_ms=max(self._clock.now_ms(), last_ms + max(since, 1)),
            disk_free_mb=free_mb(self._store.path),
            store_full=self._full(),
            clock_sane=self._clock.is_sane(),
            sinks_late_s={sink.name: self._late_s(sink) for sink in self._sinks()},
            rescued_ms=rescued_ms(reader),
            limits=self._limits,
        )

    def _late_s(self, sink: SinkStatus) -> float:
        """For how long a sink with rows waiting has got nothing across, by real time."""
        now = self._clock.monotonic_ms()
        cursor, since = self._moved.get(sink.name, (-1, now))
        if sink.cursor != cursor or not sink.backlog:
            cursor, since = sink.cursor, now
        self._moved[sink.name] = (cursor, since)
        return (now - since) / 1000.0


def rescued_ms(reader: Reader) -> int | None:
    """When the record was last found damaged; None: never."""
    found = [e.at_ms for e in reader.events(SITE) if isinstance(e, RecordRescued)]
    return max(found, default=None)


def free_mb(path: Path) -> float | None:
    """Room left on the disk of a file, in MB; None where it cannot be told."""
    try:
        return shutil.disk_usage(path.parent).free / MB
    except OSError as fault:
        log.debug("disk.unknown", path=str(path), error=str(fault))
        return None


def _kept(reader: Reader) -> HostWatch:
    kept = reader.snapshot_before(watch_key(SITE), 0)
    found = from_bytes(kept[1], HostWatch) if kept is not None else None
    return found if found is not None else HostWatch()
