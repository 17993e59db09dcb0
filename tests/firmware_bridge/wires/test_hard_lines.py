"""What a line can do to the real driver on a real pseudo-terminal: said in clear words, counted,
nothing lost, and the reading task goes on."""

from __future__ import annotations

import asyncio
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import structlog

from analytics.errors import LinkError
from firmware_bridge.clock import VirtualClock
from firmware_bridge.firmware import frames, wires
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.links.serial_line import SerialLine
from tests.firmware_bridge.wires.boards import (
    Board,
    Disk,
    assert_exact,
    living,
    quiet,
    reading,
    until,
)
from tests.firmware_bridge.wires.uart import misread

pytestmark = pytest.mark.timeout(180)

NOBODY = 65534


def fast() -> VirtualClock:
    """The host's waits, twenty times shorter."""
    return VirtualClock(1_757_923_200_000, 20.0)


def said(log: list[Any], event: str) -> list[str]:
    """What was logged as this event."""
    return [f"{entry['fault']} {entry.get('hint', '')}" for entry in log if entry["event"] == event]


@pytest.mark.parametrize("bits", [16, 30, 32])
async def test_a_counter_that_wraps(bench: Any, pair: PtyPair, bits: int) -> None:
    """A hardware counter of 16, 30 or 32 bits passes its end while water runs; the count in the
    frames goes on, and passes 2^32 in its turn: not a pulse less."""
    bench.mask = 2**bits - 1
    board, disk = Board(bench, pair), Disk()
    bench.flow(2**bits - 100)
    board.node.step(1)  # what ran before anybody listened
    async with living(board), reading(pair.port, disk) as acquire:
        await until(lambda: board.counted > 400)
        await quiet(board, disk)

    assert_exact(board, disk)
    assert bench.count(0) < 2**15
    assert board.node.counted(0) == (2**bits - 100 + board.counted) % 2**32
    assert acquire.health.counts["counter_resets"] == 0


async def test_a_node_that_starts_every_minute(bench: Any, pair: PtyPair) -> None:
    """Ten starts, one a minute of the host's time: said once in clear words, counted, exact."""
    board, disk, wire = Board(bench, pair), Disk(), VirtualClock(1_757_923_200_000, 100.0)
    with structlog.testing.capture_logs() as log:
        async with living(board), reading(pair.port, disk, wire) as acquire:
            for minute in range(1, 11):
                await until(lambda: board.node.boot in {boot for boot, _ in disk.stored[-3:]})
                await until(lambda minute=minute: wire.monotonic_ms() >= 60_000 * minute)
                board.reset()
            await until(lambda: board.node.boot in {boot for boot, _ in disk.stored[-3:]})
            await quiet(board, disk)
            health = acquire.health

    assert_exact(board, disk)
    assert len({boot for boot, _ in disk.stored}) == 11
    assert health.counts["boots"] == 11
    (warning,) = said(log, "meter.advice")
    assert "starts anew again and again" in warning
    assert "supply" in warning
    assert health.advice


async def test_frames_at_ten_kilohertz(pair: PtyPair) -> None:
    """Twenty thousand frames at 10 kHz from another process: every one stored once, none asked
    for again in vain."""
    rows, disk = 20_000, Disk()
    os.set_blocking(pair.node_fd, True)
    async with reading(pair.port, disk) as acquire:
        await until(lambda: acquire.health.open)
        node = await asyncio.create_subprocess_exec(
            sys.executable, "-c", SENDER, str(pair.node_fd), str(rows), pass_fds=[pair.node_fd]
        )
        await until(lambda: len(disk.stored) >= rows)
        assert await node.wait() == 0

    assert disk.stored == [(77, seq) for seq in range(1, rows + 1)]
    assert disk.pulses == rows - 1
    assert acquire.health.counts["rows_lost"] == 0


SENDER = """
import os, sys, time
from firmware_bridge.firmware import frames, wires
fd, rows = int(sys.argv[1]), int(sys.argv[2])
os.write(fd, frames.Hello(1, 77, 0, 1, 0, 0, "fast").wire())
ready = [frames.Data(1, 77, s, s // 10, 0, 65000, 21500, 84600, 20300, s, 0).wire()
         for s in range(1, rows + 1)]
start = time.monotonic()
for seq, row in enumerate(ready, 1):
    while time.monotonic() < start + seq / 10_000:
        pass
    os.write(fd, row)
"""


async def test_right_frames_with_absurd_values(bench: Any, pair: PtyPair) -> None:
    """Sound CRC, impossible figures: no such figure is stored, each is counted, litres go on."""
    board, disk = Board(bench, pair), Disk()
    async with living(board), reading(pair.port, disk) as acquire:
        await until(lambda: len(disk.stored) > 5)
        bench.values[0] = (3_000_000_000, frames.GOOD)
        await until(lambda: acquire.health.counts["values_absurd"] > 20)
        bench.values[0] = (20_000, frames.GOOD)
        absurd = frames.Data(1, board.node.boot, 4_000_000_000, 2**47, 0, 0, 0, 0, 0, 2**31, 9)
        for _ in range(3):
            pair.write(absurd.wire())
        await quiet(board, disk)

    assert_exact(board, disk)


@pytest.mark.parametrize(("node", "host"), [(9600, 115_200), (115_200, 9600), (57_600, 115_200)])
async def test_two_paces(bench: Any, pair: PtyPair, node: int, host: int) -> None:
    """A node at another pace than the host: bytes without a frame are named as that, once; set
    right, everything arrives."""
    board, disk = Board(bench, pair), Disk()
    write = pair.write
    pair.write = lambda data: write(misread(data, node, host))  # type: ignore[method-assign]
    with structlog.testing.capture_logs() as log:
        async with living(board), reading(pair.port, disk, fast()) as acquire:
            await until(lambda: bool(acquire.health.advice))
            told = acquire.health
            pair.write = write  # type: ignore[method-assign]
            await until(lambda: len(disk.stored) > 10)
            await until(lambda: not acquire.health.advice)
            await quiet(board, disk)

    assert_exact(board, disk)
    assert told.open
    assert told.counts["frames"] == 0
    (warning,) = said(log, "meter.advice")
    assert "no frame is among them" in warning
    assert "`baud`" in warning
    assert len(said(log, "meter.advice-over")) == 1


async def test_a_node_of_another_version(pair: PtyPair) -> None:
    """Frames of another version are named as that, with the mend."""
    newer = bytes((0x01, 9)) + bytes(46)
    with structlog.testing.capture_logs() as log:
        async with reading(pair.port, Disk()) as acquire:
            while not acquire.health.advice:
                pair.write(wires.wrap(newer))
                await asyncio.sleep(0.02)

    assert acquire.health.counts["frames_other_version"] > 1
    assert "lastlitre firmware" in said(log, "meter.advice")[0]


async def test_a_port_where_nothing_comes(pair: PtyPair) -> None:
    """An open port that stays silent is told once, and the node is asked again meanwhile."""
    with structlog.testing.capture_logs() as log:
        async with reading(pair.port, Disk(), fast()) as acquire:
            await until(lambda: bool(acquire.health.advice))
            asked = frames.Parser().feed(pair.read())

    assert "TX goes to RX" in said(log, "meter.advice")[0]
    assert len([frame for frame in asked if frame.kind == frames.HELLO_ASK]) >= 3


async def test_what_the_nodes_self_test_says(bench: Any, pair: PtyPair) -> None:
    """A part that the node finds broken is told in the node's own words, until it is well."""
    board, disk = Board(bench, pair), Disk()
    with structlog.testing.capture_logs() as log:
        async with living(board), reading(pair.port, disk) as acquire:
            await until(lambda: len(disk.stored) > 3)
            bench.fault = "outlet probe: drive or ADC"
            board.node.test()
            await until(lambda: "outlet probe" in acquire.health.advice)
            bench.fault = ""
            board.node.test()
            await until(lambda: not acquire.health.advice)

    assert "Wiring" in said(log, "meter.advice")[0]


@contextmanager
def without_rights(port: str) -> Iterator[None]:
    """This process may not use the port for a while."""
    if os.geteuid() == 0:
        os.seteuid(NOBODY)
        try:
            yield
        finally:
            os.seteuid(0)
        return
    real = Path(port).resolve()
    real.chmod(0)
    try:
        yield
    finally:
        real.chmod(0o600)


async def test_a_port_this_user_may_not_use(bench: Any) -> None:
    """The missing right is named with the mend; the task waits and reads once it has it."""
    cable = PtyPair()
    os.chmod(cable.port, 0o600)
    board, disk = Board(bench, cable), Disk()
    with structlog.testing.capture_logs() as log:
        async with living(board):
            with without_rights(cable.port):
                with pytest.raises(LinkError, match="Permission denied"):
                    await SerialLine(cable.port).open()
                async with reading(cable.port, disk, fast()) as acquire:
                    await until(lambda: acquire.health.failures >= 3)
                    refused = acquire.health
            async with reading(cable.port, disk) as acquire:
                await until(lambda: len(disk.stored) > 5)
                await quiet(board, disk)
    cable.close()

    assert_exact(board, disk)
    assert not refused.open
    assert "Permission denied" in refused.last_fault
    (warning,) = said(log, "meter.link")[:1]
    assert "dialout" in warning


HOLDER = """
import sys, serial
line = serial.Serial(sys.argv[1], 115200, exclusive=True)
print("held", flush=True)
sys.stdin.read()
"""


async def test_another_process_on_the_port(bench: Any, pair: PtyPair) -> None:
    """While another program holds the port it gets no byte from us and we say who is in the way;
    once it lets go, what the node kept arrives."""
    board, disk = Board(bench, pair), Disk()
    words = (sys.executable, "-c", HOLDER, pair.port)
    pipe = asyncio.subprocess.PIPE
    other = await asyncio.create_subprocess_exec(*words, stdin=pipe, stdout=pipe)
    assert other.stdout is not None
    assert other.stdin is not None
    assert await other.stdout.readline() == b"held\n"
    with structlog.testing.capture_logs() as log:
        async with living(board), reading(pair.port, disk) as acquire:
            await until(lambda: acquire.health.failures >= 4)
            held_off = acquire.health
            other.stdin.close()
            assert await other.wait() == 0
            await until(lambda: len(disk.stored) > 5)
            await quiet(board, disk)

    assert_exact(board, disk)
    assert not held_off.open
    assert len([entry for entry in log if entry["log_level"] == "warning"]) == 1
    assert "Another program holds this port" in said(log, "meter.link")[0]
