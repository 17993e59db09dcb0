"""Measured: how much goes through until it is on the disk and the sites have been told so."""

from __future__ import annotations

import asyncio
import time

from tests.fleet_load.crowd import Crowd, Link, Site
from tests.fleet_load.rig import Rig, differences, rig, rows_kept
from tests.fleet_load.steady import BEGIN_MS, arrive

LINKS = 12
SITES = 120
PLENTY = 10**9


def shared_links(port: int, sites: int, links: int, parcel: int, window: int) -> Crowd:
    """Sites that share a few connections; `window` parcels of each may wait for their receipt."""
    crowd = Crowd(port)
    for number in range(links):
        names = [f"site-{place:05d}" for place in range(number, sites, links)]
        mine = [Site(name, BEGIN_MS, parcel=parcel, mixed=False) for name in names]
        for site in mine:
            site.most = window * parcel
        Link(crowd, f"link-{number}", mine)
    return crowd


def ceiling(
    parcel: int = 60,
    window: int = 10,
    for_s: float = 20.0,
    workers: int = 1,
    *,
    postgresql: bool = False,
) -> dict[str, float]:
    """Rows a second that are confirmed to be durable, from end to end."""
    with rig(postgresql=postgresql) as at_work:
        at_work.work(workers)
        return asyncio.run(_ceiling(at_work, parcel, window, for_s))


async def _ceiling(at_work: Rig, parcel: int, window: int, for_s: float) -> dict[str, float]:
    crowd = shared_links(at_work.broker.port, SITES, LINKS, parcel, window)
    await arrive(crowd, 1000.0, 30.0)
    tending = asyncio.create_task(crowd.tend())
    for site in crowd.sites.values():
        site.made = PLENTY
    for link in crowd.links:
        link.pump()
    await crowd.until(lambda: crowd.safe_rows > 50 * parcel * LINKS, 60.0)
    crowd.waits.clear()
    before, rows, begun = at_work.cpu_s(), crowd.safe_rows, time.monotonic()
    own = time.process_time()
    await asyncio.sleep(for_s)
    spent, passed = time.monotonic() - begun, crowd.safe_rows - rows
    after, own = at_work.cpu_s(), time.process_time() - own
    for site in crowd.sites.values():
        site.made = site.sent
    await crowd.until(crowd.settled, 60.0)
    tending.cancel()
    p50, p99 = crowd.waits_s()
    some = dict(list(crowd.sites.items())[:6])
    with at_work.records() as records:
        wrong = differences(records, some)
        kept = rows_kept(records)
    made = sum(site.made for site in crowd.sites.values())
    await crowd.leave()
    return {
        "rows a second, durable": passed / spent,
        "messages a second, durable": passed / spent / parcel,
        "confirmed after, median, s": p50,
        "confirmed after, 99 %, s": p99,
        **{
            f"{part}, % of one core": 100.0 * (after[part] - before[part]) / spent for part in after
        },
        "load generator, % of one core": 100.0 * own / spent,
        "rows made and not kept": float(made - kept),
        "sites with a difference": float(len(wrong)),
    }


def flood(sites: int = 100, rows: int = 15_000, workers: int = 1) -> dict[str, float]:
    """Sites that were cut off for days send what they kept, all at once, as fast as they may."""
    with rig() as at_work:
        at_work.work(workers)
        return asyncio.run(_flood(at_work, sites, rows))


async def _flood(at_work: Rig, sites: int, rows: int) -> dict[str, float]:
    crowd = Crowd(at_work.broker.port)
    for number in range(sites):
        name = f"site-{number:05d}"
        Link(crowd, name, [Site(name, BEGIN_MS)])
    for site in crowd.sites.values():
        site.made = rows
    begun = time.monotonic()
    tending = asyncio.create_task(crowd.tend())
    await arrive(crowd, 2000.0, 60.0)
    await crowd.until(crowd.settled, 240.0)
    settled_s = time.monotonic() - begun
    tending.cancel()
    some = dict(list(crowd.sites.items())[:6])
    with at_work.records() as records:
        wrong, kept = differences(records, some), rows_kept(records)
    await crowd.leave()
    return {
        "sites": float(sites),
        "rows": float(sites * rows),
        "all safe after, s": settled_s,
        "rows a second, durable": sites * rows / settled_s,
        "rows made and not kept": float(sites * rows - kept),
        "sites with a difference": float(len(wrong)),
    }
