"""A hundred thousand frames from the node's real code in a real MicroPython, over a bad cable and
through kills of the node and restarts of the host, to the site's file: exact."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from types import SimpleNamespace

import pytest

from firmware_bridge.acquire import Acquire
from firmware_bridge.clock import VirtualClock
from firmware_bridge.firmware import frames
from firmware_bridge.meters import Asked
from firmware_bridge.meters.node_serial import join
from firmware_bridge.readings.lot import Lot, state_key
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from tests.firmware_bridge.firmware.bad_cable import BadCable, NodeProcess
from tests.firmware_bridge.firmware.on_node.steps import pulses_of

pytestmark = pytest.mark.timeout(600)

START = 1_757_923_200_000
STEPS = 100_000
EVENTS = 12
"""Kills of the node and restarts of the host, in turn."""


PACE = 20.0
"""The host's waits are so many times shorter, as the node's are."""


class Disk:
    """What was given to the store."""

    def __init__(self) -> None:
        self.rows: set[tuple[int, int]] = set()
        self.safe: dict[int, int] = {}
        self.doubled = 0


@asynccontextmanager
async def host(path: Path, port: str, disk: Disk) -> AsyncIterator[Store]:
    """The real driver on the port, and the site's file."""
    with Store.open(path, site_id="harbour-steps") as store:

        async def deliver(lot: Lot) -> None:
            batch = Batch(
                readings=lot.taken,
                snapshots=((lot.state_key, 0, lot.state),),
                counters=lot.counters,
            )
            for taken in lot.taken:
                disk.rows |= {(taken.boot_id, int(seq)) for seq in taken.frame_seq}
            stored = await asyncio.wrap_future(store.submit(batch))
            disk.doubled += stored.doubled
            disk.safe |= stored.confirmed
            for boot_id, seq in stored.confirmed.items():
                task.confirm(boot_id, seq)

        clock = VirtualClock(START, PACE)
        kept = store.reader().snapshot_before(state_key("bar"), 0)
        options = SimpleNamespace(
            port=port,
            baud=115_200,
            turbine=1,
            inputs="both",
            outlet_cell_constant_per_cm=1.0,
            inlet_cell_constant_per_cm=1.0,
        )
        asked = Asked(
            meter_id="node",
            line_id="bar",
            options=options,
            state=kept[1] if kept else b"",
            clock=clock,
        )
        node = join(asked)
        task = Acquire(
            "node", node.link, node.driver, deliver, clock=clock, every_s=0.4, wire=clock
        )
        running = asyncio.create_task(task.run())
        try:
            yield store
        finally:
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)


@pytest.fixture
def node(tmp_path: Path) -> Iterator[NodeProcess]:
    """The node, alive."""
    one = NodeProcess(tmp_path, STEPS)
    yield one
    one.close()


@pytest.fixture
def cable(node: NodeProcess) -> Iterator[BadCable]:
    """The cable, plugged in."""
    one = BadCable(node, seed=6)
    yield one
    one.close()


async def until(true: Callable[[], bool], node: NodeProcess) -> None:
    """Wait for a condition, as long as the node is well."""
    async with asyncio.timeout(400):
        while not true():
            assert node.fault() == ""
            await asyncio.sleep(0.02)


async def test_a_hundred_thousand_frames_are_stored_once(
    tmp_path: Path, node: NodeProcess, cable: BadCable
) -> None:
    """Noise, drops, twelve kills and restarts: stored is what arrived whole, each row once; the
    last start's rows are there to the last; the litres are those that ran, pulse by pulse."""
    chance, disk = random.Random(6), Disk()
    path = tmp_path / "site.db"
    event = 0
    while event < EVENTS:
        async with host(path, cable.pty.port, disk):
            await until(lambda: len(disk.rows) > 100, node)
            cable.badness = 0.01
            for _ in range(2):
                event += 1
                more = STEPS * event // (EVENTS + 1) + chance.randrange(500)
                await until(lambda more=more: len(disk.rows) > more, node)
                if event % 2:
                    node.restart()
    async with host(path, cable.pty.port, disk) as store:
        await until(lambda: node.over is not None, node)
        cable.badness = 0.0
        boot, newest = node.over or (0, 0)
        await until(lambda: disk.safe.get(boot) == newest, node)
        reader = store.reader()
        rows = reader.rows("bar", 0, 1 << 60)

    arrived = sound_rows(cable)
    assert disk.rows == arrived
    assert len(rows) == len(disk.rows)
    assert disk.doubled == 0
    assert sorted(seq for b, seq in disk.rows if b == boot) == list(range(1, newest + 1))
    assert int(rows.pulses.sum()) == sum(pulses_of(step) for step in range(1, STEPS + 1))
    assert len({b for b, _ in disk.rows}) == node.starts == EVENTS // 2 + 1
    assert len(rows) > 0.98 * STEPS
    assert cable.harmed > 200


def sound_rows(cable: BadCable) -> set[tuple[int, int]]:
    """Boot and number of every row that came out of the cable whole."""
    parser = frames.Parser()
    found = [frame for chunk in cable.delivered for frame in parser.feed(chunk)]
    return {(frame.boot, frame.seq) for frame in found if isinstance(frame, frames.Data)}
