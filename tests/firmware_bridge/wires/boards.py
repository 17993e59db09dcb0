"""A node on a pseudo-terminal and a host that reads it: what the tests of hard lines share."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

from firmware_bridge.acquire import Acquire
from firmware_bridge.backoff import Backoff
from firmware_bridge.clock import Clock, SystemClock
from firmware_bridge.firmware import frames, node
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.readings.lot import Lot
from firmware_bridge.readings.node_driver import NodeDriver

CLOCK = SystemClock()


async def until(true: Callable[[], bool]) -> None:
    """Wait for a condition, a minute at most: machines may be busy."""
    async with asyncio.timeout(60):
        while not true():  # noqa: ASYNC110 - what is waited for has no event
            await asyncio.sleep(0.01)


class Disk:
    """What was delivered, and the state that came with it; each lot is confirmed at once."""

    def __init__(self) -> None:
        self.state = b""
        self.stored: list[tuple[int, int]] = []
        self.pulses = 0
        self.acquire: Acquire | None = None
        self.refuse = 0

    async def take_over(self, lot: Lot) -> None:
        """Store a lot, unless the disk is to fail."""
        await asyncio.sleep(0)
        if self.refuse:
            self.refuse -= 1
            raise OSError("disk full")
        self.state = lot.state
        for taken in lot.taken:
            self.stored += [(taken.boot_id, int(seq)) for seq in taken.frame_seq]
            self.pulses += int(taken.rows.pulses.sum())
            assert self.acquire is not None
            self.acquire.confirm(taken.boot_id, int(taken.frame_seq[-1]))


class Board:
    """A node that lives on a pseudo-terminal, a row every 20 ms while water runs."""

    def __init__(self, bench: Any, pair: PtyPair) -> None:
        self.bench = bench
        self.pair = pair
        self.counted = 0
        self.flowing = True
        self.chance = random.Random(3)
        self.noise = 0.0
        self.reset()

    def reset(self) -> None:
        """The node starts."""
        self.node: node.Node = self.bench.start(self.chance.randrange(65536), 2000)
        self.start_ms = CLOCK.monotonic_ms()
        settings = (("draw-ms", "20"), ("heartbeat-ms", "1000"), ("resend-after-ms", "500"))
        for key, value in settings:
            self.node.receive(frames.Setup(frames.SETUP, 0, 0, key, value).wire(), 0)

    async def live(self) -> None:
        """Step every few milliseconds."""
        while True:
            if self.flowing and self.node.newest():
                self.bench.flow(3)
                self.counted += 3
            now_ms = CLOCK.monotonic_ms() - self.start_ms
            self.node.receive(self.pair.read(), now_ms)
            out = self.node.step(now_ms)
            if out and self.chance.random() < self.noise:
                out = out[: self.chance.randrange(len(out))] + self.chance.randbytes(9)
            self.pair.write(out)
            await asyncio.sleep(0.005)


@asynccontextmanager
async def living(board: Board) -> AsyncIterator[None]:
    """The board lives meanwhile."""
    task = asyncio.create_task(board.live())
    try:
        yield
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


@asynccontextmanager
async def reading(port: str, disk: Disk, wire: Clock = CLOCK) -> AsyncIterator[Acquire]:
    """A host reads the port meanwhile, from the state on its disk; `wire` paces its waits."""
    acquire = Acquire(
        "node",
        SerialLine(port),
        NodeDriver("bar", state=disk.state),
        disk.take_over,
        clock=CLOCK,
        every_s=0.05,
        backoff=Backoff(0.02, 0.1),
        wire=wire,
    )
    disk.acquire = acquire
    task = asyncio.create_task(acquire.run())
    try:
        yield acquire
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def quiet(board: Board, disk: Disk) -> None:
    """Water stops and everything has arrived."""
    board.flowing = False
    board.noise = 0.0
    await until(lambda: disk.pulses >= board.counted)
    await until(lambda: board.node.confirmed() == board.node.newest())


def last_boot(board: Board, disk: Disk) -> list[int]:
    """The stored rows of the boot that runs now."""
    return [seq for boot, seq in disk.stored if boot == board.node.boot]


def assert_exact(board: Board, disk: Disk) -> None:
    """Every pulse once, no row twice, every row of this boot there."""
    assert disk.pulses == board.counted
    assert len(set(disk.stored)) == len(disk.stored)
    assert last_boot(board, disk) == list(range(1, len(last_boot(board, disk)) + 1))
    assert len(last_boot(board, disk)) >= board.node.confirmed()
