"""What the wires cost.

Rows parsed a second; share of a core that the reading task takes at a stated pace over a
pseudo-terminal (the node's end is another process); share of a core a whole virtual café takes.
"""

from __future__ import annotations

import asyncio
import os
import sys
import time
from types import SimpleNamespace

from firmware_bridge.clock import SystemClock, VirtualClock
from firmware_bridge.firmware import frames
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.meters import Asked, reading_task
from firmware_bridge.meters.node_serial import join
from firmware_bridge.meters.virtual_cafe import joined_to
from firmware_bridge.readings.lot import Lot
from firmware_bridge.virtual.cafe import VirtualCafe

SECONDS = 8.0


def row(seq: int) -> bytes:
    """A row as a node sends it, with plausible figures."""
    return frames.Data(
        1, 77, seq, 1000 * seq, 0, 65_000 + seq % 90, 21_500, 84_600 + seq % 70, 20_300, seq, 0
    ).wire()


def frames_a_second(rows: int = 100_000, chunk: int = 4096) -> float:
    """Rows parsed a second of CPU time, read in chunks of this many bytes."""
    data = b"".join(row(seq) for seq in range(1, rows + 1))
    parser = frames.Parser()
    found = 0
    start = time.process_time()
    for place in range(0, len(data), chunk):
        found += len(parser.feed(data[place : place + chunk]))
    spent = time.process_time() - start
    if found != rows:
        raise SystemExit(f"{found} rows found of {rows}")
    return rows / spent


def send(fd: int, hertz: float, seconds: float) -> None:
    """The node's end: rows at an even pace."""
    os.write(fd, frames.Hello(1, 77, 0, 1, 0, 0, "bench").wire())
    start = time.monotonic()
    for seq in range(1, int(hertz * seconds) + 1):
        wait = start + seq / hertz - time.monotonic()
        if wait > 0:
            time.sleep(wait)
        os.write(fd, row(seq))


async def share_of_a_core(hertz: float) -> tuple[float, int]:
    """CPU share of reading at this pace, and how many rows came."""
    cable = PtyPair()
    node_fd = cable.node_fd
    os.set_blocking(node_fd, True)
    options = SimpleNamespace(
        port=cable.port,
        baud=115_200,
        turbine=1,
        outlet_cell_constant_per_cm=1.0,
        inlet_cell_constant_per_cm=1.0,
    )
    asked = Asked(meter_id="node", line_id="bar", options=options, clock=SystemClock())
    got = 0

    async def deliver(lot: Lot) -> None:
        nonlocal got
        for taken in lot.taken:
            got += len(taken.rows)
            task.confirm(taken.boot_id, int(taken.frame_seq[-1]))

    task = reading_task(asked, join(asked), deliver)
    running = asyncio.create_task(task.run())
    await asyncio.sleep(0.3)
    words = ("send", str(node_fd), str(hertz), str(SECONDS + 1.0))
    node = await asyncio.create_subprocess_exec(
        sys.executable, __file__, *words, pass_fds=[node_fd]
    )
    await asyncio.sleep(0.8)
    start, wall = time.process_time(), time.monotonic()
    await asyncio.sleep(SECONDS)
    share = (time.process_time() - start) / (time.monotonic() - wall)
    await node.wait()
    await asyncio.sleep(1.0)
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    cable.close()
    return share, got


async def share_of_a_cafe(speed: float) -> tuple[float, float, float]:
    """CPU share of a café and its reading at this speed, rows a second, virtual seconds behind."""
    clock = VirtualClock(1_757_894_400_000, speed)
    cafe = VirtualCafe(start_ms=clock.now_ms())
    joined = joined_to(cafe, "bar", clock)
    asked = Asked(meter_id="cafe", line_id="bar", options=None, clock=clock)
    got, newest_ms = 0, 0

    async def deliver(lot: Lot) -> None:
        nonlocal got, newest_ms
        for taken in lot.taken:
            got += len(taken.rows)
            newest_ms = int(taken.rows.at_ms[-1])
            task.confirm(taken.boot_id, int(taken.frame_seq[-1]))

    task = reading_task(asked, joined, deliver)
    if joined.life is None:
        raise SystemExit("a cafe without a life")
    running = [asyncio.create_task(task.run()), asyncio.create_task(joined.life())]
    start, wall = time.process_time(), time.monotonic()
    await asyncio.sleep(SECONDS)
    passed = time.monotonic() - wall
    share = (time.process_time() - start) / passed
    behind = (clock.now_ms() - newest_ms) / 1000.0
    for one in running:
        one.cancel()
    await asyncio.gather(*running, return_exceptions=True)
    return share, got / passed, behind


def run() -> dict[str, float]:
    """Every figure by its name."""
    found: dict[str, float] = {}
    for chunk in (51, 512, 4096):
        found[f"frames parsed a second, chunks of {chunk} B"] = frames_a_second(chunk=chunk)
    for hertz in (10.0, 1000.0, 10_000.0):
        share, got = asyncio.run(share_of_a_core(hertz))
        found[f"% of a core at {hertz:.0f} rows/s"] = 100 * share
        found[f"rows come at {hertz:.0f} rows/s"] = got
    for speed in (1000.0, 10_000.0):
        share, rows, behind = asyncio.run(share_of_a_cafe(speed))
        found[f"% of a core, cafe at {speed:.0f} x"] = 100 * share
        found[f"rows/s, cafe at {speed:.0f} x"] = rows
        found[f"virtual s behind, cafe at {speed:.0f} x"] = behind
    return found


if __name__ == "__main__":
    if sys.argv[1:2] == ["send"]:
        send(int(sys.argv[2]), float(sys.argv[3]), float(sys.argv[4]))
    else:
        for name, figure in run().items():
            print(f"{name:48} {figure:,.4g}")
