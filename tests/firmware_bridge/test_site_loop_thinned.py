"""The site loop where rows have become values by the minute: draws stand in for them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analytics.samples import DAY_MS, HOUR_MS, DropTest, Estimate, Point
from analytics.setup import SiteSetup
from firmware_bridge.clock import VirtualClock
from firmware_bridge.live import Live
from firmware_bridge.readings.lot import Lot
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from firmware_bridge.store.keeping import Keeping
from tests.makers import DH, MONDAY_MS, cafe_rows, hydrogen_line, usual_facts
from tests.peers import eventually

pytestmark = pytest.mark.timeout(120)

SETUP = SiteSetup(site_id="harbour-steps", name="Harbour Steps", lines=(hydrogen_line(),))
ROWS = cafe_rows(3, seed=5)
KEEPING = Keeping(rows_days=1.0)
LATE = DropTest(
    at_ms=MONDAY_MS + 15 * HOUR_MS, event_id="l", point=Point.BLENDED, alkalinity_meq_l=5 * DH
)


async def lived(store: Store, facts: tuple[DropTest, ...]) -> None:
    """Three days in the store."""
    clock = VirtualClock(MONDAY_MS, 0.0)
    loop = SiteLoop(SETUP, store, clock, Live())
    await loop.recover((*usual_facts(), *facts))
    numbers = np.arange(len(ROWS), dtype=np.int64) + 1
    for place in range(0, len(ROWS), 1000):
        rows = ROWS.cut(place, min(place + 1000, len(ROWS)))
        taken = Taken(
            line_id="bar",
            rows=rows,
            boot_id=7,
            uptime_ms=rows.at_ms - MONDAY_MS,
            frame_seq=numbers[place : place + 1000],
        )
        lot = Lot(line_id="bar", taken=(taken,), state=b"{}", counters={})
        loop.deliver(lot, lambda boot, seq: None)
        await loop.turn()
    clock.advance(3 * DAY_MS + 60_000)
    await loop.turn()
    await loop.mend_now()


async def restarted(store: Store) -> SiteLoop:
    """Another loop on the file, its oldest rows thinned."""
    loop = SiteLoop(SETUP, store, VirtualClock(MONDAY_MS + 3 * DAY_MS + 60_000, 0.0), Live())
    store.submit(Batch()).result(20)
    reader = store.reader()
    eventually("thinning", lambda: reader.rows_from_ms("bar") > MONDAY_MS + DAY_MS)
    await loop.recover(())
    return loop


def figures(store: Store) -> list[tuple[int, object, object]]:
    found: list[Estimate] = store.reader().estimates("bar", 0, 1 << 60)
    return [(e.at_ms, e.remaining_l, e.outlet_mmol_l) for e in found]


async def test_a_fact_from_before_the_kept_rows_ends_in_the_same_estimates(tmp_path: Path) -> None:
    """A drop test of a day whose rows are thinned counts from that day on, and no draw is lost."""
    with Store.open(tmp_path / "a.db", site_id="harbour-steps") as store:
        await lived(store, (LATE,))
        expected, draws = figures(store), len(store.reader().draws("bar", 0, 1 << 60))
    with Store.open(tmp_path / "b.db", site_id="harbour-steps") as store:
        await lived(store, ())
        assert figures(store) != expected
    with Store.open(tmp_path / "b.db", site_id="harbour-steps", keeping=KEEPING) as store:
        loop = await restarted(store)
        loop.tell(LATE)
        await loop.turn()
        await loop.mend_now()

        assert len(store.reader().draws("bar", 0, 1 << 60)) == draws
        assert figures(store) == expected


async def test_without_snapshots_draws_stand_in_for_thinned_rows(tmp_path: Path) -> None:
    """A start that finds no state it can read comes to the same figures, no draw twice."""
    with Store.open(tmp_path / "a.db", site_id="harbour-steps") as store:
        await lived(store, ())
        expected, draws = figures(store), len(store.reader().draws("bar", 0, 1 << 60))
    with Store.open(tmp_path / "a.db", site_id="harbour-steps", keeping=KEEPING) as store:
        await restarted(store)
        found = figures(store)

        assert len(found) >= len(expected) - 1
        assert found == expected[: len(found)]
        assert len(store.reader().draws("bar", 0, 1 << 60)) == draws
