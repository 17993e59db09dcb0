"""The logbook of a running site."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import msgspec

from analytics.samples import AnyEvent
from analytics.setup import SiteSetup
from firmware_bridge.clock import Clock
from firmware_bridge.logbook.acts import Desk, new_id, undone, written
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.chain import Chain, Entry, verify_chain
from firmware_bridge.store.reader import Reader


class Logbook:
    """Writes what people do and reads it back. One act at a time, so that no entry is taken back
    twice."""

    def __init__(self, setup: SiteSetup, reader: Reader, loop: SiteLoop, clock: Clock) -> None:
        self._setup = setup
        self._reader = reader
        self._loop = loop
        self._clock = clock
        self._one = asyncio.Lock()

    async def record(self, act: AnyEvent, who: str) -> Entry:
        """Write an act down, durable once this returns; where it corrects an entry, that one is
        withdrawn. Raises ActRefused with every fault; StoreError where the file fails."""
        act_id = act.event_id or new_id()
        named = act if act.event_id else _named(act, act_id)
        return await self._write(act_id, lambda: written(self._desk(), named, who))

    async def undo(self, event_id: str, who: str, reason: str = "") -> Entry:
        """Take an entry back by one of its own. Raises ActRefused, StoreError."""
        undo_id = f"undo-{event_id}"
        return await self._write(undo_id, lambda: undone(self._desk(), event_id, who, reason))

    async def entries(self, newest: int | None = None) -> list[Entry]:
        """The logbook in the order it was written."""
        return await asyncio.to_thread(self._reader.logbook, newest)

    async def check(self) -> Chain:
        """Whether anything was changed afterwards."""
        return verify_chain(await self.entries())

    async def _write(self, event_id: str, make: Callable[[], tuple[AnyEvent, ...]]) -> Entry:
        async with self._one:
            events = await asyncio.to_thread(make)
            if events:
                await self._loop.record(events)
            entry = await asyncio.to_thread(self._reader.entry, event_id)
        assert entry is not None  # it is on the disk
        return entry

    def _desk(self) -> Desk:
        return Desk(site=self._setup, reader=self._reader, now_ms=self._clock.now_ms())


def _named(act: AnyEvent, event_id: str) -> AnyEvent:
    return msgspec.structs.replace(act, event_id=event_id)
