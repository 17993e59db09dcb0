"""Measured: many sites at their everyday pace, and all of them coming back at once."""

from __future__ import annotations

import asyncio
import contextlib
import math
import time
from collections.abc import Iterator

from analytics.samples import DAY_MS
from tests.fleet_load.crowd import Crowd, Link, Site
from tests.fleet_load.rig import Rig, differences, rig, rows_kept

BEGIN_MS = (time.time_ns() // 1_000_000 - 60 * DAY_MS) // DAY_MS * DAY_MS
"""Rows begin two months ago: late enough to be kept as they came."""
ROWS_A_MESSAGE = 6
"""A row every ten seconds, a message a minute."""
SWING = 0.5
"""The busy hour sends half as much again as the middling one; a whole day passes in a run."""


def crowd_of(port: int, count: int, *, parcel: int = 60, mixed: bool = True) -> Crowd:
    """Sites with a connection each."""
    crowd = Crowd(port)
    for number in range(count):
        name = f"site-{number:05d}"
        Link(crowd, name, [Site(name, BEGIN_MS, parcel=parcel, mixed=mixed)])
    return crowd


async def arrive(crowd: Crowd, a_second: float, patience_s: float) -> float:
    """Everybody connects, so many a second; seconds until all are there."""
    begun = time.monotonic()
    waiting: set[asyncio.Task[None]] = set()
    for number, link in enumerate(crowd.links):
        waiting.add(asyncio.create_task(link.open()))
        ahead = number / a_second - (time.monotonic() - begun)
        if ahead > 0.005:
            await asyncio.sleep(ahead)
    await asyncio.gather(*waiting)
    await crowd.until(lambda: crowd.connected == len(crowd.links), patience_s)
    return time.monotonic() - begun


async def pace(crowd: Crowd, every_s: float, rows: int, for_s: float) -> int:
    """Each site makes some rows every so often, more in the busy hour; messages made."""
    begun, made, day = time.monotonic(), 0, 2.0 * math.pi / for_s
    links = crowd.links
    while (passed := time.monotonic() - begun) < for_s:
        swung = passed + SWING * (1.0 - math.cos(day * passed)) / day
        while made < swung * len(links) / every_s:
            link = links[made % len(links)]
            made += 1
            for site in link.sites:
                site.made += rows
            link.pump()
        await asyncio.sleep(0.02)
    return made


def steady(count: int = 15_000, for_s: float = 60.0, workers: int = 1) -> dict[str, float]:
    """Processor use of ingest and broker, and seconds until a message is visible."""
    with rig() as at_work, started(at_work, workers):
        return asyncio.run(_steady(at_work, count, for_s))


async def _steady(at_work: Rig, count: int, for_s: float) -> dict[str, float]:
    crowd = crowd_of(at_work.broker.port, count)
    arrived_s = await arrive(crowd, 1000.0, 120.0)
    tending = asyncio.create_task(crowd.tend())
    for site in crowd.sites.values():
        site.made = 1
    for link in crowd.links:
        link.pump()
    await crowd.until(crowd.settled, 120.0)
    crowd.waits.clear()
    before, begun = at_work.cpu_s(), time.monotonic()
    messages = await pace(crowd, 60.0, ROWS_A_MESSAGE, for_s)
    spent, after = time.monotonic() - begun, at_work.cpu_s()
    await crowd.until(crowd.settled, 60.0)
    tending.cancel()
    p50, p99 = crowd.waits_s()
    wrong = _held_against(at_work, crowd, 200)
    await crowd.leave()
    return {
        "sites": float(count),
        "all connected after, s": arrived_s,
        "messages a second": messages / spent,
        **{
            f"{part}, % of one core": 100.0 * (after[part] - before[part]) / spent for part in after
        },
        "visible after, median, s": p50,
        "visible after, 99 %, s": p99,
        "sites with a difference": wrong,
    }


def storm(count: int = 15_000, rows: int = 30, patience_s: float = 180.0) -> dict[str, float]:
    """Every site loses its connection at once, with rows waiting, and comes back."""
    with rig() as at_work, started(at_work, 1):
        return asyncio.run(_storm(at_work, count, rows, patience_s))


async def _storm(at_work: Rig, count: int, rows: int, patience_s: float) -> dict[str, float]:
    crowd = crowd_of(at_work.broker.port, count)
    await arrive(crowd, 1000.0, patience_s)
    tending = asyncio.create_task(crowd.tend())
    for site in crowd.sites.values():
        site.made = 6
    for link in crowd.links:
        link.pump()
    await crowd.until(crowd.settled, patience_s)
    before, begun = at_work.cpu_s(), time.monotonic()
    for link in crowd.links:
        for site in link.sites:
            site.made += rows
        link.drop()
    await crowd.until(lambda: crowd.connected < len(crowd.links) // 2, patience_s)
    await crowd.until(lambda: crowd.connected == len(crowd.links), patience_s)
    back_s = time.monotonic() - begun
    await crowd.until(crowd.settled, patience_s)
    settled_s = time.monotonic() - begun
    tending.cancel()
    after = at_work.cpu_s()
    wrong = _held_against(at_work, crowd, 200)
    with at_work.records() as records:
        kept = rows_kept(records)
    made = sum(site.made for site in crowd.sites.values())
    await crowd.leave()
    return {
        "sites": float(count),
        "all connected again after, s": back_s,
        "all rows safe after, s": settled_s,
        "rows made": float(made),
        "rows kept": float(kept),
        "sites with a difference": wrong,
        **{f"{part}, processor s": after[part] - before[part] for part in after},
    }


@contextlib.contextmanager
def started(at_work: Rig, workers: int) -> Iterator[None]:
    """Workers at work."""
    at_work.work(workers)
    yield


def _held_against(at_work: Rig, crowd: Crowd, most: int) -> float:
    """How many of some sites have not exactly what was made in the records."""
    step = max(len(crowd.sites) // most, 1)
    some = dict(list(crowd.sites.items())[::step])
    with at_work.records() as records:
        return float(len(differences(records, some)))
