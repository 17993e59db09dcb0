"""Worker, broker and database of a fleet killed while rows flow: what was lost, what came twice.

    python -m tests.fleet_faults [TIMES]

Sites are real sinks with rows that never end, workers are processes of their own on one shared
subscription. What the sites were told is safe is compared with what the records hold.
"""

from __future__ import annotations

import asyncio
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from contextlib import AsyncExitStack, ExitStack
from pathlib import Path
from typing import Any

import msgspec

from firmware_bridge.fleet.records.engine import open_records
from firmware_bridge.forward.sink import SiteCard
from firmware_bridge.forward.sinks import mqtt
from tests import peers
from tests.child import Child
from tests.firmware_bridge.fleet.sites_speak import kept
from tests.firmware_bridge.forward.outbox import ListOutbox, forwarder, readings, running, until
from tests.fleet_working import working
from tests.postgres import Postgres, postgres
from tests.stream_faults import options

SITES = ("harbour-steps", "mill-lane", "old-quay")
BROKER = ("persistence true", "max_queued_messages 0")


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What came of the kills: rows stored at the sites, rows missing in the records though
    confirmed, rows that are there twice (the reading fails then), rows sent more than once."""

    records: str
    kills: dict[str, int]
    rows: int
    lost: int
    repeated: int
    recover_s: float


async def killed_at_random(
    folder: Path, times: int, database: Postgres | None, seed: int = 7, rows: int = 300
) -> Outcome:
    """Anything is killed at any moment, now and then all at once confirmed; compared at the end."""
    chance, kills, slowest = random.Random(seed), dict[str, int](), 0.0
    url = f"sqlite:///{folder / 'fleet.sqlite'}" if database is None else database.new_database()
    with ExitStack() as parts:
        broker = parts.enter_context(peers.broker(folder / "broker", *BROKER))
        workers = [parts.enter_context(working(broker.port, url)) for _ in range(2)]
        victims: dict[str, peers.Server | Child] = {"broker": broker}
        victims |= {f"worker {n}": worker for n, worker in enumerate(workers, start=1)}
        victims |= {} if database is None else {"database": database}
        async with AsyncExitStack() as sites:
            boxes = {site: ListOutbox() for site in SITES}
            tasks = [
                await sites.enter_async_context(
                    running(forwarder(mqtt.SINK, options(broker.port), box, card=card(site)))
                )
                for site, box in boxes.items()
            ]
            order = [name for _ in range(times) for name in victims]
            chance.shuffle(order)
            for turn, name in enumerate(order[:times], start=1):
                for box in boxes.values():
                    box.add(readings((turn - 1) * rows + 1, turn * rows))
                await asyncio.sleep(chance.uniform(0.0, 0.4))
                await asyncio.to_thread(victims[name].kill)
                await asyncio.sleep(chance.uniform(0.0, 0.5))
                await asyncio.to_thread(victims[name].start)
                kills[name] = kills.get(name, 0) + 1
                if turn % 4 == 0 or turn == times:
                    slowest = max(slowest, await all_confirmed(boxes.values(), turn * rows))
            repeated = sum(task.status.repeated for task in tasks)
        with open_records(url) as records:
            wanted = set(range(1, times * rows + 1))
            lost = sum(len(wanted - set(kept(records, site))) for site in SITES)
    return Outcome(
        records="SQLite" if database is None else "PostgreSQL", kills=kills,
        rows=times * rows * len(SITES), lost=lost, repeated=repeated, recover_s=round(slowest, 1),
    )  # fmt: skip


SENT_AGAIN_S = 180.0
"""Rows whose confirmation was lost with a broker go again after 30 s, and 60 s after that."""


async def database_away(folder: Path, database: Postgres, away_s: float, rows: int = 600) -> int:
    """The database is stopped for a while; rows stored meanwhile that are missing in the end."""
    url = database.new_database()
    with (
        peers.broker(folder / "broker", *BROKER) as broker,
        working(broker.port, url),
        open_records(url) as records,
    ):
        box = ListOutbox()
        async with running(forwarder(mqtt.SINK, options(broker.port), box, card=card(SITES[0]))):
            box.add(readings(1, rows))
            await all_confirmed([box], rows)
            await asyncio.to_thread(database.stop)
            box.add(readings(rows + 1, 2 * rows))
            await asyncio.sleep(away_s)
            before = box.cursor("mqtt")
            await asyncio.to_thread(database.start)
            await all_confirmed([box], 2 * rows)
        assert before <= rows, "rows were confirmed that nobody could keep"
        return 2 * rows - len(kept(records, SITES[0]))


def card(site: str) -> SiteCard:
    """A site's card."""
    return SiteCard(site_id=site, name=site.title(), box=f"{hash(site) % 2**32:016x}")


async def all_confirmed(boxes: Iterable[ListOutbox], up_to: int) -> float:
    """Seconds until every site was told that all its rows are safe."""
    start = time.monotonic()
    for box in boxes:
        await until("confirmation", lambda box=box: box.cursor("mqtt") == up_to, SENT_AGAIN_S)
    return time.monotonic() - start


def scenes(times: int) -> Iterable[tuple[str, Callable[[Path], Any]]]:
    """Every fault, each in a folder of its own."""
    yield "SQLite", lambda folder: killed_at_random(folder, times, None)
    with postgres() as database:
        yield "PostgreSQL", lambda folder: killed_at_random(folder, times, database)
        yield "PostgreSQL away", lambda folder: database_away(folder, database, 5.0 * times)


def main() -> None:
    """Every fault so often."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    for name, scene in scenes(times):
        with tempfile.TemporaryDirectory() as folder:
            sys.stdout.write(f"{name}: {asyncio.run(scene(Path(folder)))}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
