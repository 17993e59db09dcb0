"""A node on a real pseudo-terminal, read by the real task: pulled plugs, restarts, two programs."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
import structlog

from analytics.errors import LinkError
from firmware_bridge.acquire import Acquire
from firmware_bridge.backoff import Backoff
from firmware_bridge.clock import SystemClock
from firmware_bridge.firmware import frames, node
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.readings.lot import Lot
from firmware_bridge.readings.node_driver import NodeDriver

CLOCK = SystemClock()


async def until(true: Callable[[], bool]) -> None:
    """Wait for a condition, 15 s at most."""
    async with asyncio.timeout(15):
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
async def reading(port: str, disk: Disk) -> AsyncIterator[Acquire]:
    """A host reads the port meanwhile, from the state on its disk."""
    acquire = Acquire(
        "node",
        SerialLine(port),
        NodeDriver("bar", state=disk.state),
        disk.take_over,
        clock=CLOCK,
        every_s=0.05,
        backoff=Backoff(0.02, 0.1),
    )
    disk.acquire = acquire
    task = asyncio.create_task(acquire.run())
    try:
        yield acquire
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


@pytest.fixture
def pair(tmp_path: Path) -> Any:
    """A cable whose port keeps its name."""
    cable = PtyPair(tmp_path / "node")
    yield cable
    cable.close()


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


async def test_rows_arrive_and_are_confirmed(bench: Any, pair: PtyPair) -> None:
    """What the node counts is delivered, and what was delivered is confirmed to the node."""
    board, disk = Board(bench, pair), Disk()
    async with living(board), reading(pair.port, disk) as acquire:
        await until(lambda: len(disk.stored) > 30)
        await quiet(board, disk)

        assert_exact(board, disk)
        assert acquire.health.open
        assert acquire.health.counts["frames"] > 30


async def test_noise_resets_and_restarts_on_a_real_port(bench: Any, pair: PtyPair) -> None:
    """Cut and garbled frames, node resets and host restarts: every pulse exactly once."""
    board, disk = Board(bench, pair), Disk()
    board.noise = 0.2
    async with living(board):
        for _ in range(4):
            more = len(disk.stored) + 25
            async with reading(pair.port, disk):
                await until(lambda more=more: len(disk.stored) > more)
                board.reset()
                await until(lambda more=more: len(disk.stored) > more + 10)
            await asyncio.sleep(0.1)
        async with reading(pair.port, disk):
            await quiet(board, disk)

    assert_exact(board, disk)


async def test_a_port_that_vanishes_and_returns(bench: Any, pair: PtyPair) -> None:
    """A pulled plug is reported once, retried, and nothing is missing afterwards."""
    board, disk = Board(bench, pair), Disk()
    with structlog.testing.capture_logs() as log:
        async with living(board), reading(pair.port, disk) as acquire:
            for _ in range(3):
                more = len(disk.stored) + 10
                await until(lambda more=more: len(disk.stored) > more)
                failures = acquire.health.failures
                pair.pull_out()
                await until(lambda failures=failures: acquire.health.failures >= failures + 3)
                assert not acquire.health.open
                pair.plug_in()
            await quiet(board, disk)

    assert_exact(board, disk)
    warnings = [entry for entry in log if entry["log_level"] == "warning"]
    back = [entry for entry in log if entry["event"] == "meter.back"]
    assert len(warnings) == 3
    assert len(back) == 3
    assert warnings[0]["hint"]


async def test_a_disk_that_refuses_costs_nothing(bench: Any, pair: PtyPair) -> None:
    """A lot that could not be stored is handed on again, in order, and counted as a fault."""
    board, disk = Board(bench, pair), Disk()
    disk.refuse = 3
    with structlog.testing.capture_logs():
        async with living(board), reading(pair.port, disk) as acquire:
            await until(lambda: len(disk.stored) > 20)
            await quiet(board, disk)
            assert acquire.health.faults == 3
            assert "disk full" in acquire.health.last_fault

    assert_exact(board, disk)


async def test_a_missing_port_says_so(tmp_path: Path) -> None:
    """The error names the port and the mend."""
    line = SerialLine(str(tmp_path / "nothing"))

    with pytest.raises(LinkError, match="nothing cannot be opened") as caught:
        await line.open()

    assert "plugged in" in caught.value.hint


async def test_two_programs_on_one_port(pair: PtyPair) -> None:
    """The second one is told that another program holds the port."""
    first, second = SerialLine(pair.port), SerialLine(pair.port)
    await first.open()

    with pytest.raises(LinkError) as caught:
        await second.open()
    first.close()

    assert "Another program" in caught.value.hint


async def test_a_reader_that_is_slow_stops_nothing(pair: PtyPair) -> None:
    """Bytes nobody takes are bounded, and reading goes on afterwards."""
    line = SerialLine(pair.port)
    await line.open()
    for _ in range(200):
        pair.write(b"x" * 30_000)
        await asyncio.sleep(0)
    first = await line.read()
    pair.write(b"end")
    tail = b""
    async with asyncio.timeout(15):
        while not tail.endswith(b"end"):
            tail = (tail + await line.read())[-3:]
            pair.write(b"")
    line.close()

    assert 0 < len(first) < 3_000_000
