"""Alarms of a running site: one journal over restarts, late rows, acts and announcements."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.samples import (
    Acknowledged,
    AlarmChange,
    CartridgeFitted,
    Closure,
    Rows,
    Shelved,
)
from analytics.setup import HostLimits, SiteSetup
from dashboards.open_alarms import open_alarms
from firmware_bridge.clock import VirtualClock
from firmware_bridge.forward.runner import SinkStatus
from firmware_bridge.host import HostLoop
from firmware_bridge.live import Live
from firmware_bridge.readings.lot import Lot
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from tests.alarm_rows import between, hour, minutes, said, shop
from tests.makers import MONDAY_MS

pytestmark = pytest.mark.timeout(120)

SETUP = SiteSetup(site_id="harbour-steps", name="Harbour Steps", lines=(shop(),))


def act(alarm: str, line_id: str, who: str, now_ms: int, note: str = "") -> dict[str, Any]:
    """What every act on an alarm states."""
    told = {"at_ms": now_ms, "known_at_ms": now_ms, "event_id": f"{who}-{now_ms}"}
    return {**told, "alarm": alarm, "line_id": line_id, "who": who, "note": note}


def leaky() -> Rows:
    """A day and a half with a tap running from 22 to 1 o'clock."""
    return minutes(1.5, lambda c: c["pulses"].__setitem__(between(c, 22, 25), 50))


ROWS = leaky()


class Site:
    """A loop over a file, turned by hand."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.clock = VirtualClock(MONDAY_MS, 0.0)
        self.begin()

    def begin(self) -> None:
        """Start the process."""
        self.store = Store.open(self.path, site_id="harbour-steps")
        self.loop = SiteLoop(SETUP, self.store, self.clock, Live())

    async def take(self, from_h: float, until_h: float) -> None:
        """Rows of these hours, as they come."""
        first, last = np.searchsorted(ROWS.at_ms, (hour(from_h), hour(until_h)), side="right")
        rows = ROWS.cut(int(first), int(last))
        taken = Taken(
            line_id="bar",
            rows=Rows(**{name: getattr(rows, name).copy() for name in rows.__struct_fields__}),
            boot_id=7,
            uptime_ms=rows.at_ms - MONDAY_MS,
            frame_seq=np.arange(first, last, dtype=np.int64) + 1,
        )
        lot = Lot(line_id="bar", taken=(taken,), state=b"{}", counters={})
        self.clock.advance(max(hour(until_h) + 2000 - self.clock.now_ms(), 0))
        self.loop.deliver(lot, lambda *_: None)
        await self.loop.turn()

    async def wait(self, until_h: float) -> None:
        """Let time pass without rows."""
        self.clock.advance(hour(until_h) + 2000 - self.clock.now_ms())
        await self.loop.turn()

    async def crash(self) -> None:
        """End without a word, start again on the same file."""
        self.store.close()
        self.begin()
        await self.loop.recover(())

    def changes(self, line_id: str | None = "bar") -> list[AlarmChange]:
        """The journal as stored."""
        reader = self.store.reader()
        found = [known.change for known in reader.alarm_changes(line_id)]
        reader.close()
        return found


async def begun(path: Path) -> Site:
    site = Site(path)
    new = CartridgeFitted(at_ms=MONDAY_MS, event_id="a", cartridge_id="HS-1", litres_before=0.0)
    await site.loop.recover((new,))
    return site


async def test_journal_is_the_same_with_crashes_in_the_middle(tmp_path: Path) -> None:
    """Before the leak, in its delay, while it stands: every change once."""
    straight, broken = await begun(tmp_path / "a.sqlite"), await begun(tmp_path / "b.sqlite")
    hours = [0, 20, 22.3, 22.6, 23, 24, 26.3, 30, 36]
    for number, (start, end) in enumerate(pairwise(hours)):
        await straight.take(start, end)
        await broken.take(start, end)
        if number:
            await broken.crash()
    told = straight.changes()
    again = broken.changes()
    straight.store.close()
    broken.store.close()

    assert said(told, "leak") == [("raised", 22.75), ("cleared", 26.5)]
    assert again == told


async def test_rows_that_come_late_leave_no_alarm_standing_for_ever(tmp_path: Path) -> None:
    """A gap was told; its rows come after it, then the box restarts: the journal still ends it."""
    site = await begun(tmp_path / "a.sqlite")
    await site.take(0, 8)
    await site.wait(9)
    await site.take(9, 9.5)
    await site.take(8, 9)
    await site.loop.mend_now()
    await site.crash()
    await site.take(9.5, 10)
    changes = site.changes()
    site.store.close()

    assert said(changes, "data-gap")[0] == ("raised", 8.25)
    assert [c.change for c in changes if c.alarm == "data-gap"] == ["raised", "cleared"]
    assert open_alarms(changes, (), hour(10)) == ()


async def test_acts_are_dated_facts_and_count_once_over_a_crash(tmp_path: Path) -> None:
    """Acknowledged and shelved, then a crash: who, why and until stay, and nothing comes twice."""
    site = await begun(tmp_path / "a.sqlite")
    await site.take(0, 23)
    site.loop.tell(Acknowledged(**act("leak", "bar", "Ben", site.clock.now_ms())))
    await site.take(23, 23.2)
    until = hour(28)
    site.loop.tell(
        Shelved(**act("leak", "bar", "Ada", site.clock.now_ms(), "plumber"), until_ms=until)
    )
    await site.take(23.2, 23.5)
    await site.crash()
    await site.take(23.5, 30)
    changes = site.changes()
    site.store.close()

    assert [(c.change, c.who, c.text) for c in changes if c.alarm == "leak"] == [
        ("raised", "", ""),
        ("acknowledged", "Ben", ""),
        ("shelved", "Ada", "plumber"),
        ("unshelved", "", ""),
    ]
    assert [c.until_ms for c in changes if c.change == "shelved"] == [until]
    assert changes[-1].state == "normal"


async def test_an_announcement_told_after_its_beginning_counts_from_then(tmp_path: Path) -> None:
    """A closure entered at noon for the whole day suppresses what comes after noon."""
    site = await begun(tmp_path / "a.sqlite")
    await site.take(0, 20)
    site.loop.tell(
        Closure(at_ms=hour(19), known_at_ms=hour(20), until_ms=hour(40), event_id="closure")
    )
    await site.take(20, 36)
    changes = site.changes()
    site.store.close()

    assert "leak" in {c.alarm for c in changes}
    assert not {"no-flow", "water-stood"} & {c.alarm for c in changes}


# --- the box --------------------------------------------------------------------------------------


class Box:
    """A host loop whose sinks and store are as a test says."""

    def __init__(self, path: Path) -> None:
        self.clock = VirtualClock(MONDAY_MS, 0.0)
        self.store = Store.open(path, site_id="harbour-steps")
        self.sinks: list[SinkStatus] = []
        self.full = False
        self.loop = self.made()

    def made(self) -> HostLoop:
        """A loop that knows nothing but the store."""
        limits = HostLimits(disk_free_mb=0.0, sink_late_s=3600.0)
        return HostLoop(self.store, self.clock, limits, lambda: self.sinks, lambda: self.full)

    async def look(self, seconds: float) -> list[tuple[str, str]]:
        """Let time pass, look, and tell what moved."""
        self.clock.advance(seconds * 1000)
        reader = self.store.reader()
        found = await self.loop.look(reader)
        reader.close()
        return [(c.alarm, c.change) for c in found]


async def test_full_store_and_late_sink_are_told_once_and_end(tmp_path: Path) -> None:
    """After their delays, journalled under no line, over a restart, until they are over."""
    box = Box(tmp_path / "a.sqlite")
    box.full = True
    box.sinks = [SinkStatus(name="stream", backlog=10, cursor=5)]
    assert await box.look(1) == []
    assert await box.look(61) == [("disk-low", "raised")]
    assert await box.look(3600) == [("sink-behind", "raised")]
    box.loop = box.made()
    assert await box.look(10) == []
    box.full = False
    box.sinks = [SinkStatus(name="stream", backlog=0, cursor=15)]
    await box.look(10)
    assert set(await box.look(700)) == {("disk-low", "cleared"), ("sink-behind", "cleared")}
    reader = box.store.reader()
    lines = {known.line_id for known in reader.alarm_changes()}
    reader.close()
    box.store.close()

    assert lines == {""}


async def test_alarms_of_the_box_are_acknowledged_like_others(tmp_path: Path) -> None:
    """An act without a line is about the box."""
    box = Box(tmp_path / "a.sqlite")
    box.full = True
    await box.look(1)
    await box.look(61)
    seen = Acknowledged(**act("disk-low", "", "Ben", box.clock.now_ms() + 1))
    box.store.submit(Batch(events=(seen,))).result()

    assert await box.look(5) == [("disk-low", "acknowledged")]
    assert await box.look(5) == []
    box.store.close()
