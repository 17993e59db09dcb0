"""Rows of a site as they come, for watching and calibrating: from the site that runs, or read here.

A running site holds the ports, so its file is read (a second old at most). Otherwise the meters are
opened here, each with its own task; nothing is confirmed to a node, so it keeps every row for the
site that runs later.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Coroutine
from pathlib import Path
from typing import Any, Protocol

import msgspec
import numpy as np

from analytics.samples import Rows, join_rows, no_rows
from firmware_bridge.acquire import Acquire, Health
from firmware_bridge.clock import SystemClock
from firmware_bridge.config.wiring import Site
from firmware_bridge.firmware import frames
from firmware_bridge.links.shared import Shared
from firmware_bridge.meters import asked_of, meter_named, reading_task
from firmware_bridge.readings.joining import Joining
from firmware_bridge.readings.lot import Lot
from firmware_bridge.readings.node_driver import NodeDriver
from firmware_bridge.store.lock import WriterLock
from firmware_bridge.store.reader import Reader

FAR_MS = 1 << 61
KEPT_MOST = 20_000
ASK_NODE_EVERY_S = 1.0


class Sight(Protocol):
    """Where rows come from. Close it when done."""

    direct: bool

    def rows(self, line_id: str, from_ms: int) -> Rows:
        """Rows of a line from an instant on, in order of time."""
        ...

    def meter_rows(self) -> dict[str, Rows]:
        """The newest rows by meter, where meters are told apart; else by line."""
        ...

    def health(self) -> list[Health]:
        """How the meters' tasks are doing, where they run here."""
        ...

    def close(self) -> None:
        """Let go of everything."""
        ...


def open_sight(site: Site) -> Sight:
    """The site's rows, wherever they can be had now. Raises StoreError, ConfigError."""
    if WriterLock.is_held(Path(site.wiring.store_path)):
        return StoreSight(site)
    return DirectSight(site)


class StoreSight:
    """Rows out of the file of a site that runs."""

    direct = False

    def __init__(self, site: Site) -> None:
        self._site = site
        self._reader = Reader(Path(site.wiring.store_path))

    def rows(self, line_id: str, from_ms: int) -> Rows:
        """Rows of a line from an instant on."""
        return self._reader.rows(line_id, from_ms, FAR_MS)

    def meter_rows(self) -> dict[str, Rows]:
        """The last two minutes of each line."""
        since = SystemClock().now_ms() - 120_000
        return {line.line_id: self.rows(line.line_id, since) for line in self._site.setup.lines}

    def health(self) -> list[Health]:
        """The running site knows; here is nothing to say."""
        return []

    def close(self) -> None:
        """Close the reader."""
        self._reader.close()


class DirectSight:
    """Rows of meters that are read here, by the same tasks as in a running site."""

    direct = True

    def __init__(self, site: Site) -> None:
        self._turn = threading.Lock()
        self._lines: dict[str, Rows] = {line.line_id: no_rows() for line in site.setup.lines}
        self._meters: dict[str, Rows] = {}
        self._joining = {line.line_id: Joining() for line in site.setup.lines}
        self._tasks: list[Acquire] = []
        self._shared = Shared()
        self._work: list[Coroutine[Any, Any, None]] = []
        self._loop = asyncio.new_event_loop()
        self._stop = asyncio.Event()
        for wired in site.wiring.meters:
            self._join(site, wired)
        self._thread = threading.Thread(target=self._live, name="meters", daemon=True)
        self._thread.start()

    def rows(self, line_id: str, from_ms: int) -> Rows:
        """Rows of a line from an instant on."""
        with self._turn:
            rows = self._lines[line_id]
        return rows.pick(np.flatnonzero(rows.at_ms >= from_ms))

    def meter_rows(self) -> dict[str, Rows]:
        """What each meter said by itself."""
        with self._turn:
            return dict(self._meters)

    def health(self) -> list[Health]:
        """How each meter's task is doing."""
        return [task.health for task in self._tasks]

    def close(self) -> None:
        """End the tasks, close the ports."""
        self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(20)

    def _join(self, site: Site, wired: Any) -> None:
        clock = SystemClock()
        asked = asked_of(site, wired, clock, shared=self._shared)
        joined = meter_named(wired.driver).join(asked)
        self._meters[wired.meter_id] = no_rows()

        async def deliver(lot: Lot) -> None:
            self._take(wired.meter_id, lot)

        task = reading_task(asked, joined, deliver, every_s=0.2)
        self._tasks.append(task)
        self._work.append(task.run())
        if joined.life is not None:
            self._work.append(joined.life())
        if isinstance(joined.driver, NodeDriver):
            self._work.append(_ask_often(joined.driver))

    def _take(self, meter_id: str, lot: Lot) -> None:
        with self._turn:
            for piece in lot.taken:
                kept = join_rows(self._meters[meter_id], piece.rows)
                self._meters[meter_id] = kept.cut(max(len(kept) - KEPT_MOST, 0), len(kept))
            lot = self._joining[lot.line_id].join(
                meter_id, msgspec.structs.replace(lot, meter_id=meter_id)
            )
            for piece in lot.taken:
                kept = join_rows(self._lines[lot.line_id], piece.rows)
                self._lines[lot.line_id] = kept.cut(max(len(kept) - KEPT_MOST, 0), len(kept))

    def _live(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_until_complete(self._until_stopped())
        finally:
            self._loop.close()

    async def _until_stopped(self) -> None:
        tasks = [asyncio.create_task(work) for work in self._work]
        await self._stop.wait()
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def _ask_often(driver: NodeDriver) -> None:
    """A node sends a row when it is asked who it is: ask, so that standing water is seen too."""
    while True:
        await asyncio.sleep(ASK_NODE_EVERY_S)
        driver.say(frames.Ask(frames.HELLO_ASK, driver.node, "host"))
