"""A node on a real pseudo-terminal, read by the real task: pulled plugs, restarts, two programs."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
import structlog

from analytics.errors import LinkError
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

pytestmark = pytest.mark.timeout(120)


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
