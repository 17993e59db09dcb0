"""The site loop: what comes late, twice or after a restart ends in the same estimates."""

from __future__ import annotations

import asyncio
from pathlib import Path

import numpy as np
import pytest

from analytics.samples import DAY_MS, AnyEvent, DropTest, Estimate, Point, Rows, Withdrawn
from analytics.setup import SiteSetup
from firmware_bridge.clock import VirtualClock
from firmware_bridge.live import Live
from firmware_bridge.readings.lot import Lot
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.batch import Taken
from firmware_bridge.store.database import Store
from tests.makers import DH, MONDAY_MS, cafe_rows, hydrogen_line, usual_facts

pytestmark = pytest.mark.timeout(120)

SETUP = SiteSetup(site_id="harbour-steps", name="Harbour Steps", lines=(hydrogen_line(),))
ROWS = cafe_rows(2, seed=5)
END = MONDAY_MS + 2 * DAY_MS
LATE = DropTest(
    at_ms=MONDAY_MS + DAY_MS + 1000, event_id="late", point=Point.BLENDED, alkalinity_meq_l=5 * DH
)


def lot(start: int, stop: int) -> Lot:
    """Rows of the cafe as a node numbers them, from 1 on."""
    rows = ROWS.cut(start, stop)
    numbers = np.arange(start, stop, dtype=np.int64) + 1
    taken = Taken(
        line_id="bar",
        rows=Rows(**{name: getattr(rows, name).copy() for name in rows.__struct_fields__}),
        boot_id=7,
        uptime_ms=rows.at_ms - MONDAY_MS,
        frame_seq=numbers,
    )
    return Lot(line_id="bar", taken=(taken,), state=b"{}", counters={})


class Site:
    """A loop over a file, turned by hand."""

    def __init__(self, path: Path) -> None:
        self.store = Store.open(path, site_id="harbour-steps")
        self.clock = VirtualClock(MONDAY_MS, 0.0)
        self.loop = SiteLoop(SETUP, self.store, self.clock, Live())
        self.confirmed: list[tuple[int, int]] = []

    async def begin(self, facts: tuple[AnyEvent, ...] = ()) -> None:
        await self.loop.recover(facts)

    async def take(self, start: int, stop: int) -> None:
        self.loop.deliver(lot(start, stop), lambda boot, seq: self.confirmed.append((boot, seq)))
        await self.loop.turn()

    async def end(self) -> list[Estimate]:
        """Let the clock run to the end, mend what came late, and read what is known now."""
        self.clock.advance(END + 60_000 - self.clock.now_ms())
        await self.loop.turn()
        await self.loop.mend_now()
        reader = self.store.reader()
        found = reader.estimates("bar", 0, 1 << 60)
        reader.close()
        return found

    def close(self) -> None:
        self.store.close()


def figures(estimates: list[Estimate]) -> list[tuple[int, object, object]]:
    return [(e.at_ms, e.remaining_l, e.outlet_mmol_l) for e in estimates]


async def straight(path: Path, facts: tuple[AnyEvent, ...]) -> list[Estimate]:
    site = Site(path)
    await site.begin(facts)
    for start in range(0, len(ROWS), 1500):
        await site.take(start, min(start + 1500, len(ROWS)))
    found = await site.end()
    site.close()
    return found


async def test_rows_are_confirmed_only_once_they_are_on_the_disk(tmp_path: Path) -> None:
    """The meter is told the highest frame without a gap before it."""
    site = Site(tmp_path / "a.sqlite")
    await site.begin(usual_facts())
    await site.take(0, 100)
    await site.take(150, 200)
    assert site.confirmed == [(7, 100), (7, 100)]
    await site.take(100, 150)
    assert site.confirmed[-1] == (7, 200)
    site.close()


async def test_late_rows_end_in_the_same_estimates(tmp_path: Path) -> None:
    """A hole filled afterwards gives what it would have given in order."""
    expected = figures(await straight(tmp_path / "a.sqlite", usual_facts()))
    site = Site(tmp_path / "b.sqlite")
    await site.begin(usual_facts())
    await site.take(0, 1000)
    await site.take(1800, len(ROWS))
    await site.take(1000, 1800)
    found = figures(await site.end())
    site.close()

    assert found == expected


async def test_a_fact_told_late_ends_in_the_same_estimates(tmp_path: Path) -> None:
    """A drop test entered a day later counts from its own day on; what was shown then stays."""
    expected = figures(await straight(tmp_path / "a.sqlite", (*usual_facts(), LATE)))
    site = Site(tmp_path / "b.sqlite")
    await site.begin(usual_facts())
    await site.take(0, len(ROWS))
    shown = site.store.reader().latest_estimate("bar")
    assert shown is not None
    site.loop.tell(LATE)
    found = await site.end()
    assert figures(found) == expected
    assert site.store.reader().estimate_as_known("bar", shown.at_ms, shown.at_ms) == shown
    site.close()


async def test_a_restart_goes_on_where_the_file_stands(tmp_path: Path) -> None:
    """A loop that died without a word is followed by one that gives the same estimates."""
    expected = figures(await straight(tmp_path / "a.sqlite", usual_facts()))
    first = Site(tmp_path / "b.sqlite")
    await first.begin(usual_facts())
    await first.take(0, 2000)
    first.close()
    second = Site(tmp_path / "b.sqlite")
    await second.begin(usual_facts())
    await second.take(2000, len(ROWS))
    found = figures(await second.end())
    second.close()

    assert found == expected


async def test_a_fact_taken_back_ends_in_the_estimates_without_it(tmp_path: Path) -> None:
    """Told, weighed, withdrawn: every figure is as if it had never been told.

    An instant that only the fact had called for keeps what was shown then.
    """
    expected = figures(await straight(tmp_path / "a.sqlite", usual_facts()))
    site = Site(tmp_path / "b.sqlite")
    await site.begin((*usual_facts(), LATE))
    await site.take(0, len(ROWS))
    with_it = figures(await site.end())
    undo = Withdrawn(at_ms=LATE.at_ms, line_id="bar", event_id="undo-late", withdraws="late")
    taken = asyncio.create_task(site.loop.record((undo,)))
    await asyncio.sleep(0)
    await site.loop.turn()
    await taken
    found = figures(await site.end())
    site.close()

    instants = {at_ms for at_ms, *_ in expected}

    assert [f for f in with_it if f[0] in instants] != expected
    assert [f for f in found if f[0] in instants] == expected
    assert found[-1] == expected[-1]
