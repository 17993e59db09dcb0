"""From the node to the site's file and back as a confirmation, over restarts of the host."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import numpy as np

from analytics.samples import HOUR_MS, Flag
from firmware_bridge.acquire import Acquire
from firmware_bridge.backoff import Backoff
from firmware_bridge.clock import VirtualClock
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.readings.lot import Lot, state_key
from firmware_bridge.readings.node_driver import NodeDriver
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.virtual.cafe import VirtualCafe, rows_of_life

START = 1_757_923_200_000
"""2025-09-15 08:00 UTC, a Monday."""


def kept_state(store: Store) -> bytes:
    """The driver's state of the line, as the last commit left it."""
    found = store.reader().snapshot_before(state_key("bar"), 0)
    return found[1] if found else b""


@asynccontextmanager
async def host(path: Path, port: str, clock: VirtualClock) -> AsyncIterator[Store]:
    """A host with the site's file: it stores, and confirms what is durable."""
    with Store.open(path, site_id="harbour-steps") as store:

        async def deliver(lot: Lot) -> None:
            batch = Batch(
                readings=lot.taken,
                snapshots=((lot.state_key, 0, lot.state),),
                counters=lot.counters,
            )
            stored = await asyncio.wrap_future(store.submit(batch))
            assert stored.doubled == 0
            for boot_id, seq in stored.confirmed.items():
                acquire.confirm(boot_id, seq)

        driver = NodeDriver("bar", state=kept_state(store), flags=Flag.SIMULATED)
        acquire = Acquire(
            "cafe",
            SerialLine(port),
            driver,
            deliver,
            clock=clock,
            every_s=0.05,
            backoff=Backoff(0.02, 0.1),
        )
        task = asyncio.create_task(acquire.run())
        try:
            yield store
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)


async def test_every_row_is_on_the_disk_once_over_restarts(tmp_path: Path) -> None:
    """A café's morning, the host stopped and started over and over: the file has what the café
    made, pulse by pulse, and the node was told that it is safe."""
    clock = VirtualClock(START, 3000.0)
    cafe, cable = VirtualCafe(start_ms=START, seed=8), PtyPair()
    living = asyncio.create_task(cafe.run(cable, clock))
    path = tmp_path / "site.db"
    for _ in range(5):
        async with host(path, cable.port, clock):
            await asyncio.sleep(0.5)
        await asyncio.sleep(0.2)
    async with host(path, cable.port, clock) as store:
        clock.speed = 0.0
        async with asyncio.timeout(15):
            while cafe.node.confirmed() < cafe.node.newest():  # noqa: ASYNC110 - no event for it
                await asyncio.sleep(0.02)
        stored = store.reader().rows("bar", START - HOUR_MS, clock.now_ms() + HOUR_MS)
        counters = store.reader().counters()
    living.cancel()
    await asyncio.gather(living, return_exceptions=True)
    cable.close()
    alone = rows_of_life(days=1.0, start_ms=START, seed=8)

    assert len(stored) == cafe.node.newest() > 100
    assert np.array_equal(stored.pulses, alone.pulses[: len(stored)])
    assert np.allclose(stored.outlet_us_cm, alone.outlet_us_cm[: len(stored)])
    assert counters["rows"] == len(stored)
    assert counters.get("rows_lost", 0) == 0
