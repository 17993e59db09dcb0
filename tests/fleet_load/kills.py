"""Measured: each part of the fleet killed without mercy while sites send; what is left is compared.

The end is a set comparison, row by row: what the sites made, no more and no less, is in the records
and, where there is one, in the time-series store.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable

from tests.fleet_load.ceiling import shared_links
from tests.fleet_load.crowd import Crowd
from tests.fleet_load.rig import Rig, differences, rig
from tests.fleet_load.steady import arrive
from tests.fleet_load.templates import LINE, kind_of, read_row, row_text

SITES, LINKS = 40, 8
AWAY_S = 1.5
"""A part that was killed stays away so long."""
PARTS = ("worker", "broker", "database", "series")


def kills(
    times: int = 1, parts: tuple[str, ...] = PARTS, run_s: float = 4.0, rows_a_second: int = 10
) -> dict[str, float]:
    """Kill each of these parts so often under load; seconds to settle, and what is not as made."""
    with rig(postgresql="database" in parts, series="series" in parts) as at_work:
        at_work.work(1)
        return asyncio.run(_kills(at_work, times, parts, run_s, rows_a_second))


async def _kills(
    at_work: Rig, times: int, parts: tuple[str, ...], run_s: float, rows_a_second: int
) -> dict[str, float]:
    crowd = shared_links(at_work.broker.port, SITES, LINKS, 20, 50)
    for site in crowd.sites.values():
        site.mixed = True
    await arrive(crowd, 1000.0, 30.0)
    tasks = [
        asyncio.create_task(crowd.tend()),
        asyncio.create_task(_keep_making(crowd, rows_a_second)),
    ]
    await crowd.until(lambda: crowd.safe_rows > SITES, 60.0)
    found: dict[str, float] = {}
    for part in parts:
        for _ in range(times):
            await asyncio.sleep(run_s)
            safe = crowd.safe_rows
            await _kill(at_work, part)
            back_s = await crowd.until(lambda safe=safe: crowd.safe_rows > safe, 90.0)  # type: ignore[misc]
            longest = max(found.get(f"{part}: rows safe again after, s", 0.0), back_s)
            found[f"{part}: rows safe again after, s"] = longest
        found[f"{part}: killed, times"] = float(times)
    tasks[1].cancel()
    found["all safe after the last, s"] = await crowd.until(crowd.settled, 120.0)
    tasks[0].cancel()
    await crowd.leave()
    found |= await asyncio.to_thread(_compared, at_work, crowd)
    return found


async def _keep_making(crowd: Crowd, a_second: int) -> None:
    """Every site makes some rows ten times a second."""
    begun, each = time.monotonic(), 0
    while True:
        wanted = round((time.monotonic() - begun) * a_second)
        for site in crowd.sites.values():
            site.made += wanted - each
        each = wanted
        for link in crowd.links:
            link.pump()
        await asyncio.sleep(0.1)


async def _kill(at_work: Rig, part: str) -> None:
    """Kill -9, and start again after a while."""
    kill, start = _of(at_work, part)
    await asyncio.to_thread(kill)
    await asyncio.sleep(AWAY_S)
    await asyncio.to_thread(start)


def _of(at_work: Rig, part: str) -> tuple[Callable[[], None], Callable[[], None]]:
    if part == "worker":
        return at_work.workers[0].kill, at_work.workers[0].start
    if part == "broker":
        return at_work.broker.kill, at_work.broker.start
    server = at_work.database if part == "database" else at_work.series
    assert server is not None
    return server.kill, server.start


def _compared(at_work: Rig, crowd: Crowd) -> dict[str, float]:
    with at_work.records() as records:
        wrong = differences(records, crowd.sites)
    found = {
        "rows made": float(sum(site.made for site in crowd.sites.values())),
        "sites with a difference in the records": float(len(wrong)),
    }
    if at_work.series is not None:
        found["values that differ in the series store"] = float(_series_differ(at_work, crowd))
    return found


def _series_differ(at_work: Rig, crowd: Crowd, patience_s: float = 240.0) -> int:
    """Values that are in the store and were not made, or the other way round, once nothing moves
    any more."""
    assert at_work.series is not None
    made = {
        (kind, name, site.name, row.at_ms, value)
        for site in crowd.sites.values()
        for seq in range(1, site.made + 1)
        for kind in (kind_of(seq, site.mixed),)
        for row in (read_row(row_text(seq, site.begin_ms, site.mixed)),)
        for name, value in row.numbers.items()
    }
    end_s = time.monotonic() + patience_s
    while (left := len(made ^ _stored(at_work))) and time.monotonic() < end_s:
        time.sleep(1.0)
    return left


def _stored(at_work: Rig) -> set[tuple[str, str, str, int, float]]:
    assert at_work.series is not None
    found: set[tuple[str, str, str, int, float]] = set()
    for name, tags, at_ms, value in at_work.series.samples():
        kind, _, figure = name.partition("_")
        told = dict(tag.split("=", 1) for tag in tags)
        if told.get("line") == LINE:
            found.add((kind, figure, told["site"], at_ms, value))
    return found
