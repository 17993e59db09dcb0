"""Faults on the way out, really made, as often as asked: what was lost, what came twice, how long.

Each function sets up real servers in a folder, does its fault `times` times while rows flow, lets
the site and the far end find each other again, and compares the two sets of rows.
"""

from __future__ import annotations

import asyncio
import random
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import msgspec

from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.sinks import line_protocol, mqtt
from tests import peers
from tests.firmware_bridge.forward.outbox import (
    CARD,
    EAGER,
    ListOutbox,
    forwarder,
    readings,
    running,
    until,
)
from tests.receiving import FarEnd, far_end

REMEMBERS = ("persistence true", "max_queued_messages 0")
"""A broker that keeps sessions, as far as its own file goes."""


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What a fault did; `recover_s` is the longest time from its end until all was confirmed.

    `repeated` are rows that were sent more than once; `missing_once` those the far side lacked
    before they were.
    """

    fault: str
    times: int
    rows: int
    lost: int
    doubled: int
    recover_s: float
    repeated: int
    missing_once: int = 0


def options(port: int) -> MqttOptions:
    """A broker on this machine; rows that nobody confirms are sent again soon."""
    return MqttOptions(host="127.0.0.1", port=port, answer_s=5.0, patience=EAGER)


def compared(
    fault: str, times: int, rows: int, held: Iterable[int], recover_s: float, **more: int
) -> Outcome:
    """The rows that were stored, 1 to `rows`, against those at the far end."""
    found = list(held)
    lost = set(range(1, rows + 1)) - set(found)
    return Outcome(
        fault=fault, times=times, rows=rows, lost=len(lost), doubled=len(found) - len(set(found)),
        recover_s=recover_s, **{"repeated": 0} | more,
    )  # fmt: skip


async def recovered(true: Callable[[], Any]) -> float:
    """Seconds until something is true."""
    start = time.monotonic()
    await until("the recovery", true, 90.0)
    return time.monotonic() - start


async def broker_killed_with_messages(folder: Path, times: int, rows: int = 2000) -> Outcome:
    """The receiver is away; the broker has acknowledged rows for it and is killed with them."""
    outbox, slowest, lacked = ListOutbox(), 0.0, 0
    with (
        peers.broker(folder / "broker", *REMEMBERS) as broker,
        far_end(broker.port, folder / "far.db") as far,
    ):
        async with running(forwarder(mqtt.SINK, options(broker.port), outbox)) as task:
            for turn in range(times):
                last = (turn + 1) * rows
                await asyncio.to_thread(far.stop)
                outbox.add(readings(last - rows + 1, last))
                await until("answers of the broker", lambda n=last: task.status.accepted == n)
                await asyncio.to_thread(broker.kill)
                await asyncio.to_thread(broker.start)
                lacked += last - len(far.numbers(CARD.site_id))
                await asyncio.to_thread(far.start)
                took = await recovered(lambda n=last: outbox.cursor("mqtt") == n)
                slowest = max(slowest, took)
            held = far.numbers(CARD.site_id)
    return compared(
        "broker killed with acknowledged messages", times, times * rows, held, slowest,
        repeated=task.status.repeated, missing_once=lacked,
    )  # fmt: skip


async def killed_at_random(folder: Path, times: int, seed: int = 5, rows: int = 1000) -> Outcome:
    """Broker or receiver killed at any moment while rows flow, and started again."""
    chance, outbox, slowest = random.Random(seed), ListOutbox(), 0.0
    with (
        peers.broker(folder / "broker", *REMEMBERS) as broker,
        far_end(broker.port, folder / "far.db") as far,
    ):
        async with running(forwarder(mqtt.SINK, options(broker.port), outbox)) as task:
            for turn in range(times):
                outbox.add(readings(turn * rows + 1, (turn + 1) * rows))
                victim: peers.Server | FarEnd = chance.choice([broker, far])
                await asyncio.sleep(chance.uniform(0.0, 0.4))
                await asyncio.to_thread(victim.kill)
                await asyncio.sleep(chance.uniform(0.0, 0.3))
                await asyncio.to_thread(victim.start)
                if turn % 4 == 3:
                    took = await recovered(lambda n=(turn + 1) * rows: outbox.cursor("mqtt") == n)
                    slowest = max(slowest, took)
            await until("all", lambda: outbox.cursor("mqtt") == times * rows)
            held = far.numbers(CARD.site_id)
    return compared(
        "broker or receiver killed while rows flow", times, times * rows, held, slowest,
        repeated=task.status.repeated,
    )  # fmt: skip


async def receiver_restored(folder: Path, times: int, rows: int = 1000) -> Outcome:
    """The receiver's file is replaced by a copy of before the last rows."""
    path, backup = folder / "far.db", folder / "backup.db"
    outbox, slowest = ListOutbox(), 0.0
    with (
        peers.broker(folder / "broker", *REMEMBERS) as broker,
        far_end(broker.port, path) as far,
    ):
        async with running(forwarder(mqtt.SINK, options(broker.port), outbox)) as task:
            for turn in range(times):
                await asyncio.to_thread(far.stop)
                shutil.copy(path, backup)
                await asyncio.to_thread(far.start)
                last = (turn + 1) * rows
                outbox.add(readings(last - rows + 1, last))
                await until("confirmation", lambda n=last: outbox.cursor("mqtt") == n)
                await asyncio.to_thread(far.stop)
                restore(backup, path)
                await asyncio.to_thread(far.start)
                took = await recovered(lambda n=last: len(far.numbers(CARD.site_id)) == n)
                slowest = max(slowest, took)
            await until("the cursor", lambda: outbox.cursor("mqtt") == times * rows)
            held = far.numbers(CARD.site_id)
    return compared(
        "receiver restored from an older file", times, times * rows, held, slowest,
        repeated=task.status.repeated,
    )  # fmt: skip


def restore(backup: Path, path: Path) -> None:
    """Put a backup in the place of a file and of what SQLite keeps beside it."""
    for leftover in path.parent.glob(f"{path.name}*"):
        leftover.unlink()
    shutil.copy(backup, path)


async def series_store_killed(
    folder: Path, times: int, rows: int = 1500, again_after_s: float = 4.0
) -> Outcome:
    """The time-series store is killed right after it took rows, and started again.

    More than one kill needs `again_after_s` above the store's own 10 s in memory, as it is in life.
    """
    outbox, slowest, lacked = ListOutbox(), 0.0, 0
    with peers.time_series_store(folder / "series") as store:
        given = line_protocol.LineProtocolOptions(url=store.url, again_after_s=again_after_s)
        async with running(forwarder(line_protocol.SINK, given, outbox)) as task:
            for turn in range(times):
                last = (turn + 1) * rows
                outbox.add(readings(last - rows + 1, last))
                await until("answers of the store", lambda n=last: task.status.accepted == n)
                await asyncio.to_thread(store.kill)
                await asyncio.to_thread(store.start)
                lacked += last - len(shown(store))
                took = await recovered(lambda n=last: outbox.cursor("line-protocol") == n)
                slowest = max(slowest, took)
        await until("all to be shown", lambda: len(shown(store)) >= times * rows)
        held = shown(store)
    return compared(
        "time-series store killed after its answer", times, times * rows, held, slowest,
        repeated=task.status.repeated, missing_once=lacked,
    )  # fmt: skip


def shown(store: peers.TimeSeriesStore) -> list[int]:
    """The numbers of the rows a time-series store shows with the right value."""
    expected = {(r.at_ms, r.numbers["outlet_us_cm"]): r.seq for r in readings(1, 60_000)}
    return [
        expected[at_ms, value]
        for name, _, at_ms, value in store.samples('reading_outlet_us_cm{site!=""}')
        if (at_ms, value) in expected
    ]


SCENES = (broker_killed_with_messages, killed_at_random, receiver_restored, series_store_killed)


def main() -> None:
    """Every fault so often: python -m tests.stream_faults [TIMES]."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    for scene in SCENES:
        with tempfile.TemporaryDirectory() as name:
            sys.stdout.write(f"{asyncio.run(scene(Path(name), times))}\n")


if __name__ == "__main__":
    main()
