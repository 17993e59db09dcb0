"""A meter of a site file at work: the real link, driver and task, rows gathered as they come."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

import numpy as np

from analytics.samples import Rows, join_rows, no_rows
from firmware_bridge.acquire import Acquire
from firmware_bridge.backoff import Backoff
from firmware_bridge.clock import Clock, SystemClock
from firmware_bridge.config.wiring import Site
from firmware_bridge.meters import asked_of, meter_named
from firmware_bridge.readings.lot import Lot
from tests.firmware_bridge.config.site_files import site_of

SITE = """
[site]
id = "harbour-steps"
name = "Harbour Steps"

[[line]]
id = "bar"
medium = "hydrogen"
capacity = "3600 dH*L"
k_factor = "{k_factor}"
probes = ["outlet", "inlet"]
"""


def site_with(meter: str, k_factor: str = "1000 pulse/L") -> Site:
    """A site with this meter."""
    return site_of(SITE.format(k_factor=k_factor) + meter)


class Rig:
    """What a meter delivered so far."""

    def __init__(self) -> None:
        self.lots: list[Lot] = []
        self.task: Acquire | None = None

    async def deliver(self, lot: Lot) -> None:
        """Take a lot over."""
        self.lots.append(lot)

    @property
    def rows(self) -> Rows:
        """All rows, in the order they came."""
        rows = no_rows()
        for lot in self.lots:
            for taken in lot.taken:
                rows = join_rows(rows, taken.rows)
        return rows

    @property
    def pulses(self) -> int:
        """Pulses counted so far."""
        pulses = self.rows.pulses
        return int(pulses[pulses > 0].sum())

    def newest(self, column: str) -> float:
        """The newest value of a column."""
        values = getattr(self.rows, column)
        return float(values[-1]) if len(values) else float("nan")

    def counted(self, name: str) -> int:
        """A counter, over all lots."""
        return sum(lot.counters.get(name, 0) for lot in self.lots)

    @property
    def health(self) -> Any:
        """How the task is doing."""
        assert self.task is not None
        return self.task.health

    async def until(self, true: Callable[[Rig], Any], what: str) -> None:
        """Wait for a condition, 15 s at most."""
        try:
            async with asyncio.timeout(15):
                while not true(self):  # noqa: ASYNC110 - what is waited for has no event
                    await asyncio.sleep(0.01)
        except TimeoutError:
            raise AssertionError(f"waited in vain: {what}; {self.health}") from None

    async def rows_more(self, count: int) -> None:
        """Wait for some more rows."""
        goal = len(self.rows) + count
        await self.until(lambda rig: len(rig.rows) >= goal, f"{count} more rows")


@asynccontextmanager
async def at_work(
    site: Site, *, state: bytes = b"", clock: Clock | None = None
) -> AsyncIterator[Rig]:
    """The first meter of a site is read meanwhile."""
    wired = site.wiring.meters[0]
    asked = asked_of(site, wired, clock or SystemClock(), state=state)
    joined = meter_named(wired.driver).join(asked)
    rig = Rig()
    rig.task = Acquire(
        wired.meter_id,
        joined.link,
        joined.driver,
        rig.deliver,
        clock=asked.clock,
        every_s=0.05,
        backoff=Backoff(0.02, 0.1),
    )
    task = asyncio.create_task(rig.task.run())
    try:
        yield rig
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


def flags_of(rows: Rows) -> list[int]:
    """All flags."""
    return [int(f) for f in np.asarray(rows.flags)]
